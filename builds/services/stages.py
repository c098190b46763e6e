"""What each stage asks for before a build may enter it."""

from __future__ import annotations

from collections.abc import Callable

from django.urls import reverse

from builds.card import card_state
from builds.handover import pack_digest
from builds.models import BuildJob, PackState, Stage
from builds.money import totals_of, unrated_work
from builds.services.checks import report_of
from builds.services.coverage import Blocker, coverage_gaps, item_page
from workshop.models import Person, Role


def _page(name: str, build: BuildJob) -> str:
    return reverse(name, args=[build.pk])


def _specified(build: BuildJob, by: Person) -> list[Blocker]:
    found = []
    if not build.items.exists():
        found.append(
            Blocker("Add at least one line item.", _page("build", build) + "#items")
        )
    if build.people is None or build.person_kg is None:
        found.append(
            Blocker(
                "Say how many people ride along and what one weighs.",
                _page("build-edit", build),
            )
        )
    return found


def _quoted(build: BuildJob, by: Person) -> list[Blocker]:
    found = [
        Blocker(f"{item.label} has no price.", item_page(item))
        for item in build.items.all()
        if item.supplied_by == "workshop" and item.price is None
    ]
    rates = reverse("site") if by.role == Role.MANAGER else _page("build", build)
    found += [
        Blocker(f"{skill} work has no rate: a manager sets it under Workshop.", rates)
        for skill in unrated_work(build)
    ]
    for finding in report_of(build=build).results["findings"]:
        if finding["severity"] == "stop":
            found.append(Blocker(finding["sentence"], _finding_url(build, finding)))
    return found


def _finding_url(build: BuildJob, finding: dict[str, str]) -> str:
    return _page("build", build) + f"#finding-{finding['key'].replace('.', '-')}"


def _approved(build: BuildJob, by: Person) -> list[Blocker]:
    page = _page("build", build) + "#approval"
    if not build.approved_by or build.approved_on is None:
        return [Blocker("Note who approved the estimate, and when.", page)]
    if build.approved_total != totals_of(build).total:
        return [
            Blocker(
                "The total has changed since it was approved: ask the customer again.",
                page,
            )
        ]
    return []


def _booked(build: BuildJob, by: Person) -> list[Blocker]:
    wanted = {
        "Choose a bay.": build.bay_id,
        "Set the day it is booked in.": build.booked_in_on,
        "Set the day it is promised.": build.promised_on,
    }
    page = _page("build-edit", build) + "#booking"
    return [Blocker(text, page) for text, value in wanted.items() if value is None]


def _in_work(build: BuildJob, by: Person) -> list[Blocker]:
    if not build.people_assigned.exists():
        return [
            Blocker("Say who works on it.", _page("build-edit", build) + "#booking")
        ]
    return []


def _fitted(build: BuildJob, by: Person) -> list[Blocker]:
    page = _page("job-card", build)
    found = []
    for row in card_state(build).tasks:
        if row.task.withdrawn:
            continue
        anchor = f"{page}#task-{row.task.pk}"
        if row.open_steps:
            found.append(
                Blocker(f"{row.task.title}: {row.open_steps} steps to tick.", anchor)
            )
        found += [
            Blocker(f"{row.task.title}: fault open, “{fault.text}”", anchor)
            for fault in row.open_faults
        ]
        found += [
            Blocker(f"{row.task.title}: {sentence}", anchor)
            for sentence in row.bad_readings
        ]
    return found


def _released(build: BuildJob, by: Person) -> list[Blocker]:
    found = coverage_gaps(build=build)
    for finding in report_of(build=build).results["findings"]:
        if finding["severity"] == "stop":
            found.append(Blocker(finding["sentence"], _finding_url(build, finding)))
    found += _fitted(build, by)
    found += _approved(build, by)
    if by.role != Role.MANAGER:
        found.append(Blocker("A manager releases the vehicle.", _page("build", build)))
    return found


def _handed_over(build: BuildJob, by: Person) -> list[Blocker]:
    printed = build.packs.filter(final=True, state=PackState.READY)
    page = _page("pack", build)
    if not printed.exists():
        return [Blocker("Print the final handover pack.", page)]
    if not printed.filter(digest=pack_digest(build, final=True)).exists():
        return [
            Blocker(
                "The record has changed since the final pack was printed: print it again.",
                page,
            )
        ]
    return []


NEEDS: dict[str, Callable[[BuildJob, Person], list[Blocker]]] = {
    Stage.SPECIFIED: _specified,
    Stage.QUOTED: _quoted,
    Stage.APPROVED: _approved,
    Stage.BOOKED: _booked,
    Stage.IN_WORK: _in_work,
    Stage.FITTED: _fitted,
    Stage.RELEASED: _released,
    Stage.HANDED_OVER: _handed_over,
}


def blockers(*, build: BuildJob, to: str, by: Person) -> list[Blocker]:
    """List what stands between a build and a stage, each with where it is settled."""
    return NEEDS[to](build, by) if to in NEEDS else []
