"""Circuits: what feeds each load, through which fuse and which cable."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.models import BuildJob, Circuit, LineItem, PartType
from builds.services.checks import refresh_checks
from workshop.saving import free_key, save_clean, set_fields

START_FED = {"winch", "snorkel", "brake-controller", "reversing-camera"}
"""Kinds that hang on the vehicle's own supply. Common practice, no source."""


def _free_circuit_key(build: BuildJob, label: str) -> str:
    taken = set(build.circuits.values_list("key", flat=True)) | {"start"}
    taken |= set(build.items.values_list("key", flat=True))
    return free_key(label, taken, "circuit")


def circuit_for(*, item: LineItem, part: PartType) -> Circuit | None:
    """Make the protected supply a catalogue part needs, from where one would feed it.

    A charger that is fed by the vehicle and a winch hang on the start battery; a
    board hangs on the aux battery; everything else on the board, else on the
    battery. Without an aux battery there is nothing to feed it from yet, and the
    checks say so.
    """
    build = item.build
    role = item.supply_role
    if not (item.load_kind or role in ("charger", "board")):
        return None
    if role == "charger" and item.supply.get("kind") != "dc-dc":
        return None
    circuit = Circuit(
        build=build,
        label=item.label[:80],
        fuse_a=part.fuse_a,
        fuse_kind=part.fuse_kind,
        area_mm2=part.area_mm2,
        run_m=part.run_m,
        engine_space=item.zone in ("under-bonnet", "front"),
    )
    if role == "charger" or part.kind in START_FED:
        circuit.fed_by_start_battery = True
        circuit.fuse_place = "at the start battery"
        circuit.fuse_to_source_mm = 150
    elif not _feed_from_aux(circuit, build, role):
        return None
    circuit.key = _free_circuit_key(build, item.label)
    return save_clean(circuit)


def _feed_from_aux(circuit: Circuit, build: BuildJob, role: str) -> bool:
    items = list(build.items.select_related("circuit"))
    if role != "board":
        boards = [i for i in items if i.supply_role == "board" and i.circuit]
        if boards:
            circuit.fed_by_circuit = boards[0].circuit
            circuit.fuse_place = f"on {boards[0].label}"[:80]
            circuit.fuse_to_source_mm = 0
            return True
    batteries = [i for i in items if i.supply_role == "battery"]
    if not batteries:
        return False
    circuit.fed_by_item = batteries[0]
    circuit.fuse_place = f"at {batteries[0].label}"[:80]
    circuit.fuse_to_source_mm = 150
    return True


def _check(circuit: Circuit) -> None:
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
    battery = circuit.fed_by_item
    if battery is not None and (
        battery.build_id != circuit.build_id or battery.supply_role != "battery"
    ):
        raise ValidationError({"fed_by_item": "Choose a battery of this build."})


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
def update_circuit(*, circuit: Circuit, **fields: Any) -> Circuit:
    _require_open(circuit.build)
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
