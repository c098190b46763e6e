"""Run the calculation core on what is stored, and keep its answer."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.models import OPEN_STAGES, BuildJob, CheckReport
from builds.record_values import Record
from builds.snapshots import digest_of, take_record
from compliance.assess import RULESET, calculate
from compliance.record import RecordError
from workshop.models import Vehicle


@transaction.atomic
def refresh_checks(*, build: BuildJob) -> CheckReport:
    """Check the build as stored and keep the findings, in the caller's transaction."""
    return _store(build, take_record(build))


def _store(build: BuildJob, record: Record) -> CheckReport:
    try:
        results = calculate(record)
    except RecordError as error:
        # Forms and constraints stop these earlier; what slips past undoes the save.
        raise ValidationError(
            [f"{path}: {sentence}" for path, sentence in error.faults]
        ) from error
    # The old results are replaced unread: they are the bulk of the row.
    stored = CheckReport.objects.defer("results").filter(build=build).first()
    report = stored or CheckReport()
    report.build = build  # so that build.report is this one, not one read before
    report.ruleset = RULESET
    report.digest = digest_of(record)
    report.results = results
    report.save()
    return report


def report_of(*, build: BuildJob) -> CheckReport:
    """Return findings that answer for the build as it stands now.

    Services check on every save; a write that went round them (a shell, a restored
    backup, new rules) is noticed by the record's digest and checked here. What was
    released keeps its findings, whatever becomes of the vehicle or the workshop's
    figures later.
    """
    report = CheckReport.objects.filter(build=build).first()
    if build.stage not in OPEN_STAGES and report and report.ruleset == RULESET:
        return report
    record = take_record(build)
    if report is None or report.digest != digest_of(record):
        with transaction.atomic():
            report = _store(build, record)
    return report


def recheck_vehicle(*, vehicle: Vehicle) -> None:
    """Check every open build that a vehicle or trailer takes part in."""
    builds = BuildJob.objects.filter(stage__in=OPEN_STAGES)
    for build in builds.filter(vehicle=vehicle) | builds.filter(trailer=vehicle):
        refresh_checks(build=build)
