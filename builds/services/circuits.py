"""Circuits: what feeds each load, through which fuse and which cable."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.models import BuildJob, Circuit, LineItem, PartType
from builds.services.checks import refresh_checks
from workshop.saving import apply_version, free_key, save_clean, set_fields

START_FED = {
    "air-control",
    "brake-controller",
    "dash-camera",
    "driving-lamps",
    "heavy-duty-plug",
    "light-bar",
    "light-bar-roof",
    "powered-steps",
    "reversing-alarm",
    "reversing-camera",
    "reversing-lamps",
    "trailer-wiring",
    "winch",
}
"""Kinds that hang on the vehicle's own supply. Common practice, no source."""


SOURCES = ("battery", "panel")
"""Items of a build that a circuit may start at."""


def _free_circuit_key(build: BuildJob, label: str) -> str:
    taken = set(build.circuits.values_list("key", flat=True)) | {"start"}
    taken |= set(build.items.values_list("key", flat=True))
    return free_key(label, taken, "circuit")


def main_feed_for(*, item: LineItem, part: PartType) -> Circuit | None:
    """Make the fused main feed a battery from the catalogue brings with it."""
    if item.supply_role != "battery" or part.fuse_a is None:
        return None
    circuit = _draft(item, part, label=f"Main feed, {item.label}")
    circuit.fed_by_item = item
    circuit.fuse_place = "at the battery"
    circuit.fuse_to_source_mm = 150
    circuit.key = _free_circuit_key(item.build, circuit.label)
    return save_clean(circuit)


def output_circuit_for(*, item: LineItem, part: PartType) -> Circuit | None:
    """Make the circuit between a charger and its battery, or a panel and its charger.

    A charger's is fused at the battery, like its input; how long it is nobody knows
    before it is measured, and the checks ask for it.
    """
    if item.charges is None or item.supply_role not in ("charger", "panel"):
        return None
    circuit = _draft(item, part, label=f"Output, {item.label}")
    circuit.engine_space = circuit.engine_space or item.charges.zone == "under-bonnet"
    if item.supply_role == "panel":
        circuit.fed_by_item = item
        circuit.fuse_place = f"before {item.charges.label}"[:80]
    else:
        circuit.fed_by_item = item.charges
        circuit.fuse_place = f"at {item.charges.label}"[:80]
        circuit.fuse_to_source_mm = 150
        circuit.run_m = None
    circuit.key = _free_circuit_key(item.build, circuit.label)
    return save_clean(circuit)


def circuit_for(*, item: LineItem, part: PartType) -> Circuit | None:
    """Make the protected supply a catalogue part needs, from where one would feed it.

    What the engine bay or the driving of the vehicle needs hangs on the start
    battery, as does the input of a DC-DC charger; the rest hangs on a distribution
    board, else on the aux battery's main feed. Without an aux battery there is
    nothing to feed it from yet, and the checks say so.
    """
    role = item.supply_role
    passes_on = not role and part.fuse_a is not None and item.zone != "trailer"
    if part.kind == "solar-inlet":
        passes_on = False  # its current comes from outside
    if not (item.load_kind or passes_on or role in ("charger", "board")):
        return None
    if role == "charger" and item.supply.get("kind") != "dc-dc":
        return None
    circuit = _draft(item, part, label=item.label)
    from_start = (
        role == "charger"
        or part.kind in START_FED
        or item.zone in ("front", "under-bonnet")
    )
    if from_start:
        circuit.fed_by_start_battery = True
        circuit.fuse_place = "at the start battery"
        circuit.fuse_to_source_mm = 150
    elif not _feed_from_aux(circuit, item.build, role):
        return None
    circuit.key = _free_circuit_key(item.build, item.label)
    return save_clean(circuit)


def _draft(item: LineItem, part: PartType, *, label: str) -> Circuit:
    return Circuit(
        build=item.build,
        label=label[:80],
        fuse_a=part.fuse_a,
        fuse_kind=part.fuse_kind,
        area_mm2=part.area_mm2,
        run_m=part.run_m,
        engine_space=item.zone in ("under-bonnet", "front"),
    )


def _feed_from_aux(circuit: Circuit, build: BuildJob, role: str) -> bool:
    if role != "board":
        for item in build.items.select_related("circuit").exclude(circuit=None):
            if item.supply_role == "board" and item.zone != "under-bonnet":
                circuit.fed_by_circuit = item.circuit
                circuit.fuse_place = f"on {item.label}"[:80]
                circuit.fuse_to_source_mm = 0
                return True
    batteries = [i for i in build.items.all() if i.supply_role == "battery"]
    if not batteries:
        return False
    feed = batteries[0].fed_circuits.order_by("pk").first()
    if feed is not None:
        circuit.fed_by_circuit = feed
    else:
        circuit.fed_by_item = batteries[0]
    circuit.fuse_place = f"beside {batteries[0].label}"[:80]
    circuit.fuse_to_source_mm = 150
    return True


def _check(circuit: Circuit) -> None:
    if not (
        circuit.fed_by_start_battery
        or circuit.fed_by_item_id
        or circuit.fed_by_circuit_id
    ):
        raise ValidationError("Choose what feeds this circuit.")
    source = circuit.fed_by_circuit
    seen = {circuit.pk}
    while source is not None:
        if source.build_id != circuit.build_id:
            raise ValidationError(
                {"fed_by_circuit": "That circuit belongs to another build."}
            )
        if source.pk in seen:
            raise ValidationError(
                {"fed_by_circuit": f"{source.label} is itself fed from this circuit."}
            )
        seen.add(source.pk)
        source = source.fed_by_circuit
    own = circuit.fed_by_item
    if own is not None and (
        own.build_id != circuit.build_id or own.supply_role not in SOURCES
    ):
        raise ValidationError(
            {"fed_by_item": "Choose a battery or panel of this build."}
        )
    _check_panel(circuit)


def source_of(circuit: Circuit) -> LineItem | None:
    """Follow the feeders to the battery or panel of the build that a circuit starts at."""
    seen: set[int] = set()
    while circuit.fed_by_circuit is not None and circuit.pk not in seen:
        seen.add(circuit.pk)
        circuit = circuit.fed_by_circuit
    return circuit.fed_by_item


def _check_panel(circuit: Circuit) -> None:
    """Hold that nothing but a panel's charger draws from a panel."""
    panel = source_of(circuit)
    if panel is None or panel.supply_role != "panel" or circuit.pk is None:
        return
    waiting = [circuit]
    while waiting:
        below = waiting.pop()
        waiting += below.branches.all()
        for item in below.items.all():
            if item.load_kind or item.supply_role == "charger":
                raise ValidationError(
                    {
                        "fed_by_item": f"{item.label} hangs on this circuit, and a "
                        "panel feeds only its charger. Move it first."
                    }
                )


def _require_open(build: BuildJob) -> None:
    if not build.is_open:
        raise ValidationError(f"{build.number} can no longer be changed.")


@transaction.atomic
def add_circuit(*, build: BuildJob, **fields: Any) -> Circuit:
    _require_open(build)
    circuit = set_fields(Circuit(build=build), fields)
    circuit.key = _free_circuit_key(build, circuit.label)
    _check(circuit)
    save_clean(circuit)
    refresh_checks(build=build)
    return circuit


@transaction.atomic
def update_circuit(
    *, circuit: Circuit, version: int | None = None, **fields: Any
) -> Circuit:
    _require_open(circuit.build)
    apply_version(circuit, version, circuit.label)
    set_fields(circuit, fields)
    _check(circuit)
    save_clean(circuit)
    refresh_checks(build=circuit.build)
    return circuit


@transaction.atomic
def remove_circuit(*, circuit: Circuit) -> None:
    """Take a circuit away; refused while something still hangs on it."""
    build = circuit.build
    _require_open(build)
    hanging = [i.label for i in circuit.items.all()]
    hanging += [i.label for i in circuit.charged_by_items.all()]
    hanging += [c.label for c in circuit.branches.all()]
    if hanging:
        raise ValidationError(
            f"{circuit.label} still feeds {', '.join(hanging)}. Move these first."
        )
    circuit.delete()
    refresh_checks(build=build)
