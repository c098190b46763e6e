"""Line items: the only code that writes them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.models import (
    FACT_FIELDS,
    BuildJob,
    Circuit,
    LineItem,
    Package,
    PartType,
    PlaceRef,
    SwitchKind,
)
from builds.services.checks import refresh_checks
from builds.services.circuits import (
    SOURCES,
    circuit_for,
    main_feed_for,
    output_circuit_for,
    source_of,
)
from builds.services.tasks import plan_tasks, withdraw_tasks
from compliance.record_geometry import HIGHEST_PILE
from workshop.models import Vehicle
from workshop.saving import apply_version, free_key, save_clean, set_fields


def require_open(build: BuildJob) -> None:
    if build.set_aside_at is not None:
        raise ValidationError(f"{build.number} is set aside. Take it up again first.")
    if not build.is_open:
        raise ValidationError(
            f"{build.number} is {build.get_stage_display().lower()}: it can no longer "
            "be changed. Start a new build on the same vehicle."
        )


def place_x_mm(part_ref: str, dx_mm: int, vehicle: Vehicle) -> int | None:
    """Turn a place beside a reference point into millimetres from the front axle."""
    length = vehicle.wheelbase_mm
    overhang = vehicle.rear_overhang_mm
    ball = vehicle.ball_overhang_mm
    reference: dict[str, int | None] = {
        PlaceRef.FRONT_AXLE: 0,
        PlaceRef.FRONT_END: vehicle.front_overhang_mm,
        PlaceRef.REAR_AXLE: None if length is None else -length,
        PlaceRef.MID_WHEELBASE: None if length is None else -length // 2,
        PlaceRef.REAR_END: None
        if length is None or overhang is None
        else -length - overhang,
        PlaceRef.TOW_BALL: None if length is None or ball is None else -length - ball,
        PlaceRef.TRAILER_AXLE: 0,
    }
    base = reference[part_ref]
    return None if base is None else base + dx_mm


def raised_ratings(part: PartType, vehicle: Vehicle) -> dict[str, float]:
    """Turn '+300' over the original rating into the rating that is aimed at."""
    found: dict[str, float] = {}
    for name, delta in part.raises.items():
        original = getattr(vehicle, name, None)
        if original is not None:
            found[name] = float(original) + float(delta)
    return found


def draft_from_part(*, build: BuildJob, part: PartType, quantity: int = 1) -> LineItem:
    """Make the line a part brings to this vehicle, without saving it."""
    vehicle = build.vehicle
    item = LineItem(build=build, part=part, label=part.name, quantity=quantity)
    for name in FACT_FIELDS:
        setattr(item, name, getattr(part, name))
    item.raises = raised_ratings(part, vehicle)
    item.x_mm = place_x_mm(part.place_ref, part.dx_mm, vehicle)
    item.y_mm, item.z_mm = part.dy_mm, part.dz_mm
    if part.removes_mass_kg:
        dx = part.dx_mm if part.removes_dx_mm is None else part.removes_dx_mm
        item.removes_x_mm = place_x_mm(part.place_ref, dx, vehicle)
    item.switch_kind = part.switch_kind
    item.key = _free_item_key(build, item.label)
    return item


def _free_item_key(build: BuildJob, label: str) -> str:
    # A battery's or panel's key is never a circuit's: both say what feeds a circuit.
    taken = set(build.items.values_list("key", flat=True))
    taken |= set(build.circuits.values_list("key", flat=True))
    return free_key(label, taken, "item")


def _hook_up(item: LineItem) -> None:
    """Give a charger or a panel what it charges where only one thing fits."""
    if item.charges_id or item.supply_role not in ("charger", "panel"):
        return
    wanted = "battery" if item.supply_role == "charger" else "charger"
    fits = [other for other in item.build.items.all() if other.supply_role == wanted]
    if item.supply_role == "panel":
        fits = [o for o in fits if o.supply.get("solar_input_w")]
    if len(fits) == 1:
        item.charges = fits[0]


def _check_places(item: LineItem) -> None:
    build = item.build
    place = item.switch_position
    if place is not None:
        if place.vehicle_id != build.vehicle_id:
            raise ValidationError(
                {"switch_position": "That switch place belongs to another vehicle."}
            )
        other = build.items.filter(switch_position=place).exclude(pk=item.pk).first()
        if other is not None:
            raise ValidationError(
                {
                    "switch_position": f"{place} is already taken by {other.label}. "
                    "Choose another place or move that item first."
                }
            )
        if item.switch_kind != SwitchKind.POSITION:
            raise ValidationError(
                {"switch_kind": "A switch place is chosen, so say that it needs one."}
            )
    for name in ("circuit", "output_circuit"):
        circuit = getattr(item, name)
        if circuit is not None and circuit.build_id != build.pk:
            raise ValidationError({name: "That circuit belongs to another build."})
    if item.charges is not None and (
        item.charges.build_id != build.pk or item.charges_id == item.pk
    ):
        raise ValidationError({"charges": "Choose another item of this build."})
    _check_charging(item)
    _check_sources(item)
    _check_carrier(item)
    if item.pk and item.supply_role not in SOURCES and item.fed_circuits.exists():
        names = ", ".join(item.fed_circuits.values_list("label", flat=True))
        said = f"It feeds {names}, so it stays a battery or a panel."
        raise ValidationError({"supply": said})


def _check_carrier(item: LineItem) -> None:
    """Let an item stand on another one of its build, never on itself in the end."""
    under: LineItem | None = item.carried_by
    if under is not None and under.build_id != item.build_id:
        raise ValidationError({"carried_by": "Choose another item of this build."})
    pile = 0
    while under is not None:
        if under.pk == item.pk:
            said = "It cannot stand on itself."
            if pile:
                said = f"{item.carried_by} itself stands on this one."
            raise ValidationError({"carried_by": said})
        under, pile = under.carried_by, pile + 1
        if pile > HIGHEST_PILE:
            raise ValidationError(
                {"carried_by": f"That is more than {HIGHEST_PILE} things on another."}
            )


def _check_sources(item: LineItem) -> None:
    """Hold each circuit of an item to where it has to start."""
    feeder = None if item.circuit is None else source_of(item.circuit)
    draws = item.load_kind or item.supply_role == "charger"
    if feeder is not None and feeder.supply_role == "panel" and draws:
        said = f"This starts at {feeder.label}, and a panel feeds only its charger. "
        said += "Name it there as the circuit between the two."
        raise ValidationError({"circuit": said})
    if item.output_circuit is None:
        return
    start = source_of(item.output_circuit)
    wanted = item if item.supply_role == "panel" else item.charges
    if wanted is not None and (start is None or start.pk != wanted.pk):
        where = "this panel" if wanted == item else wanted.label
        raise ValidationError(
            {"output_circuit": f"Choose a circuit that is fed from {where}."}
        )


def _check_charging(item: LineItem) -> None:
    """Hold a charger to a battery, a panel to a charger, before the core must refuse."""
    wanted = {"charger": "battery", "panel": "charger"}.get(item.supply_role)
    if wanted is None or item.charges is None:
        return
    if item.charges.supply_role != wanted:
        raise ValidationError({"charges": f"This is no {wanted}: choose one."})
    if item.supply.get("kind") == "dc-dc" and item.circuit is None:
        raise ValidationError(
            {
                "circuit": "A DC-DC charger draws from a battery: "
                "choose the circuit that feeds it."
            }
        )


def _save(item: LineItem) -> LineItem:
    _check_places(item)
    return save_clean(item)


@transaction.atomic
def add_line_item(*, build: BuildJob, **fields: Any) -> LineItem:
    """Add a line that was typed in."""
    require_open(build)
    item = set_fields(LineItem(build=build), fields)
    item.key = _free_item_key(build, item.label)
    _hook_up(item)
    _save(item)
    plan_tasks(item=item)
    refresh_checks(build=build)
    return item


@transaction.atomic
def add_part(
    *,
    build: BuildJob,
    part: PartType,
    quantity: int = 1,
    supplied_by: str = "workshop",
    fields: dict[str, Any] | None = None,
    check: bool = True,
) -> LineItem:
    """Add a line from the catalogue, its protected supply and its tasks with it."""
    require_open(build)
    item = draft_from_part(build=build, part=part, quantity=quantity)
    item.supplied_by = supplied_by
    set_fields(item, fields or {})
    _hook_up(item)
    if item.circuit is None:
        item.circuit = circuit_for(item=item, part=part)
    _save(item)
    main_feed_for(item=item, part=part)
    if output := output_circuit_for(item=item, part=part):
        item.output_circuit = output
        _save(item)
    plan_tasks(item=item)
    if check:
        refresh_checks(build=build)
    return item


@transaction.atomic
def add_package(*, build: BuildJob, package: Package) -> list[LineItem]:
    """Add every part of a package; all of them or none."""
    added = [
        add_part(build=build, part=row.part, quantity=row.quantity, check=False)
        for row in package.parts.select_related("part")
    ]
    refresh_checks(build=build)
    return added


@transaction.atomic
def update_line_item(
    *, item: LineItem, version: int | None = None, **fields: Any
) -> LineItem:
    require_open(item.build)
    apply_version(item, version, item.label)
    set_fields(item, fields)
    _save(item)
    plan_tasks(item=item)
    refresh_checks(build=item.build)
    return item


@transaction.atomic
def remove_line_item(*, item: LineItem) -> None:
    """Take a line off; work already recorded on it stays in the log."""
    build = item.build
    require_open(build)
    fed = list(item.fed_circuits.all()) + list(
        Circuit.objects.filter(charged_by_items=item)
    )
    fed = [
        c
        for c in fed
        if c.items.exclude(pk=item.pk).exists()
        or c.charged_by_items.exclude(pk=item.pk).exclude(charges=item).exists()
        or c.branches.exists()
    ]
    if fed:
        names = ", ".join(c.label for c in fed)
        raise ValidationError(
            f"{item.label} feeds {names}. Feed these from something else first."
        )
    if charged := list(item.chargers.values_list("label", flat=True)):
        raise ValidationError(
            f"{', '.join(charged)} charges {item.label}. Change that first."
        )
    withdraw_tasks(item=item)
    own = [c for c in (item.circuit, item.output_circuit) if c is not None]
    # A battery may hang on a circuit it feeds; that circuit could not go first.
    item.circuit = item.output_circuit = None
    item.save(update_fields=["circuit", "output_circuit"])
    item.fed_circuits.all().delete()
    item.delete()
    for circuit in build.circuits.filter(pk__in=[c.pk for c in own]):
        if not (
            circuit.items.exists()
            or circuit.branches.exists()
            or circuit.charged_by_items.exists()
        ):
            circuit.delete()
    refresh_checks(build=build)
