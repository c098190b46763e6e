"""Builds: opening one, changing it, and moving it from stage to stage."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from builds.models import STAGES, BuildJob, Stage
from builds.money import totals_of
from builds.services.checks import refresh_checks
from builds.services.line_items import require_open
from builds.services.stages import blockers
from compliance.towing import full_restoration_kgm
from workshop.models import Person, Role, Site
from workshop.saving import apply_version, save_clean, set_fields


def _next_number(today: date) -> str:
    stem = f"B{today:%y}-"
    last = (
        BuildJob.objects.select_for_update()
        .filter(number__startswith=stem)
        .order_by("-number")
        .values_list("number", flat=True)
        .first()
    )
    return f"{stem}{int(last[len(stem) :]) + 1 if last else 1:04d}"


def _check_trailer(build: BuildJob) -> None:
    if build.vehicle.is_trailer and build.trailer is not None:
        raise ValidationError({"trailer": "A trailer does not tow another one here."})
    if build.trailer is not None and not build.trailer.is_trailer:
        raise ValidationError({"trailer": f"{build.trailer} is not a trailer."})
    if build.hitched and build.trailer is None and build.trailer_mass_kg is None:
        raise ValidationError(
            {"hitched": "Choose the trailer it tows, or enter its mass."}
        )
    mass_kg, ball_kg = build.trailer_mass_kg, build.trailer_ball_kg
    if mass_kg is not None and ball_kg is not None and ball_kg > mass_kg:
        said = "This is more than the trailer's own mass."
        raise ValidationError({"trailer_ball_kg": said})
    if build.hitch_moment_kgm and build.trailer is None:
        said = "Choose the trailer whose hitch this is."
        raise ValidationError({"hitch_moment_kgm": said})
    most = _most_hitch_moment_kgm(build)
    if most is not None and (build.hitch_moment_kgm or 0) > most:
        said = (
            f"This puts back more than the ball takes off the front axle: at most "
            f"{most:,.0f} kg m."
        )
        raise ValidationError({"hitch_moment_kgm": said})


def _most_hitch_moment_kgm(build: BuildJob) -> float | None:
    """Give what puts the front axle back as it was without the trailer, if known."""
    if build.trailer is None or build.trailer_ball_kg is None:
        return None
    overhang_mm = build.vehicle.ball_overhang_mm
    to_axle_mm = build.trailer.ball_to_axle_mm
    if overhang_mm is None or to_axle_mm is None:
        return None
    return full_restoration_kgm(
        float(build.trailer_ball_kg), overhang_mm / 1000, to_axle_mm / 1000
    )


def _place_roof_luggage(build: BuildJob) -> None:
    """Put what lies on the roof where its rack is, unless its own place is said."""
    rack = build.roof_luggage_on
    if rack is not None and rack.build_id != build.pk:
        said = "Choose an item of this build."
        raise ValidationError({"roof_luggage_on": said})
    if not build.roof_luggage_kg or build.roof_luggage_x_mm is not None:
        return
    if rack is None or rack.x_mm is None:
        said = "Say where it lies, or choose a rack whose place is known."
        raise ValidationError({"roof_luggage_x_mm": said})
    build.roof_luggage_x_mm = rack.x_mm


@transaction.atomic
def open_build(*, people_assigned: Any = (), **fields: Any) -> BuildJob:
    """Start a build at the enquiry stage, with the next number of the year."""
    build = set_fields(BuildJob(), fields)
    build.number = _next_number(timezone.localdate())
    build.tax_percent = Site.current().tax_percent
    _check_trailer(build)
    _place_roof_luggage(build)
    save_clean(build)
    build.people_assigned.set(people_assigned)
    refresh_checks(build=build)
    return build


@transaction.atomic
def update_build(
    *, build: BuildJob, version: int | None = None, **fields: Any
) -> BuildJob:
    """Change what was said about a build; refused from a stale page."""
    require_open(build)
    apply_version(build, version, build.number)
    people = fields.pop("people_assigned", None)
    old_vehicle_id = build.vehicle_id
    set_fields(build, fields)
    if build.vehicle_id != old_vehicle_id and build.items.exists():
        raise ValidationError(
            {
                "vehicle": "Items are already placed on this vehicle. "
                "Start a new build for another one."
            }
        )
    _check_trailer(build)
    _place_roof_luggage(build)
    save_clean(build)
    if people is not None:
        build.people_assigned.set(people)
    refresh_checks(build=build)
    return build


@transaction.atomic
def record_approval(
    *, build: BuildJob, approved_by: str, approved_on: date
) -> BuildJob:
    """Keep who said yes, when, and to what sum."""
    require_open(build)
    apply_version(build, None, build.number)
    if STAGES.index(build.stage) < STAGES.index(Stage.QUOTED):
        raise ValidationError("Give the estimate first, then note who approved it.")
    if approved_on > timezone.localdate():
        raise ValidationError({"approved_on": "This date is still to come."})
    build.approved_by, build.approved_on = approved_by, approved_on
    build.approved_total = totals_of(build).total
    return save_clean(build)


@transaction.atomic
def move_stage(
    *, build: BuildJob, to: Stage, by: Person, handed_over_to: str = ""
) -> BuildJob:
    """Move a build one stage on, or back; refused with what is missing."""
    apply_version(build, None, build.number)
    if build.set_aside_at is not None:
        raise ValidationError(f"{build.number} is set aside. Take it up again first.")
    here, there = STAGES.index(build.stage), STAGES.index(to)
    if build.stage == Stage.HANDED_OVER or there == here or there > here + 1:
        raise ValidationError(
            f"A build that is {build.get_stage_display().lower()} cannot go to "
            f"“{Stage(to).label}”."
        )
    if there > here:
        missing = blockers(build=build, to=to, by=by)
        if missing:
            raise ValidationError([b.sentence for b in missing])
        if to == Stage.RELEASED:
            build.released_by, build.released_at = by, timezone.now()
        if to == Stage.HANDED_OVER:
            if not handed_over_to.strip():
                raise ValidationError(
                    {"handed_over_to": "Enter who took the vehicle over."}
                )
            build.handed_over_to = handed_over_to.strip()
            build.handed_over_at = timezone.now()
    elif build.stage == Stage.RELEASED:
        if by.role != Role.MANAGER:
            raise ValidationError("A manager takes a release back.")
        build.released_by = build.released_at = None
    build.stage = to
    save_clean(build)
    refresh_checks(build=build)
    return build
