"""What stores, charges, hands on and draws current, as the record has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builds.models import Circuit, LineItem
from builds.record_values import Record, known, metres


@dataclass(frozen=True, slots=True)
class Rows:
    """Items and circuits by their id, so that no row is fetched twice."""

    items: Mapping[int, LineItem]
    circuits: Mapping[int, Circuit]


def source_key(circuit: Circuit, rows: Rows) -> str | None:
    """Name what feeds a circuit: ``start``, or a battery's, panel's or circuit's key."""
    if circuit.fed_by_start_battery:
        return "start"
    if circuit.fed_by_item_id:
        return rows.items[circuit.fed_by_item_id].key
    if circuit.fed_by_circuit_id:
        return rows.circuits[circuit.fed_by_circuit_id].key
    return None


def battery_key(circuit: Circuit | None, rows: Rows) -> str | None:
    """Follow the feeders up to a battery; ``None`` when the chain is open or a panel's."""
    seen: set[int] = set()
    while circuit is not None and circuit.pk not in seen:
        seen.add(circuit.pk)
        if circuit.fed_by_circuit_id is None:
            source = rows.items.get(circuit.fed_by_item_id or 0)
            if source is not None and source.supply_role == "panel":
                return None
            return source_key(circuit, rows)
        circuit = rows.circuits.get(circuit.fed_by_circuit_id)
    return None


def circuit_record(circuit: Circuit, rows: Rows, feeds: list[str]) -> Record:
    record = known(
        key=circuit.key,
        label=circuit.label,
        fuse_a=circuit.fuse_a,
        fuse_kind=circuit.fuse_kind,
        fuse_place=circuit.fuse_place,
        fuse_to_source_m=metres(circuit.fuse_to_source_mm),
        area_mm2=circuit.area_mm2,
        run_m=circuit.run_m,
        insulation_c=circuit.insulation_c,
        engine_space=circuit.engine_space,
        feeds=feeds,
    )
    if source := source_key(circuit, rows):
        record["from"] = source
    return record


def takes_current(item: LineItem) -> bool:
    """A load or the input of a charger; boards and batteries only pass it on."""
    return bool(item.load_kind) or item.supply_role == "charger"


def feeds_of(rows: Rows) -> dict[int, list[str]]:
    """Name what hangs on each circuit, by the circuit's id."""
    found: dict[int, list[str]] = {}
    for item in rows.items.values():
        if item.circuit_id and takes_current(item):
            found.setdefault(item.circuit_id, []).append(item.key)
        # A charger hangs on its battery's tree too, and on that of each panel it has.
        end: LineItem | None = item
        if item.supply_role == "panel":
            end = rows.items.get(item.charges_id or 0)
        feeds = found.setdefault(item.output_circuit_id or 0, [])
        if end is not None and end.key not in feeds:
            feeds.append(end.key)
    return found


ADDED_UP = {
    "capacity_ah",
    "charge_limit_a",
    "discharge_limit_a",
    "out_a",
    "solar_input_w",
    "power_w",
    "short_circuit_a",
}
"""Facts of one piece that several pieces side by side have together."""


def supply_facts(item: LineItem) -> Record:
    """Give what a battery, charger or panel states, all pieces of the line together."""
    facts = {name: value for name, value in item.supply.items() if name != "role"}
    for name in ADDED_UP & facts.keys():
        facts[name] *= item.quantity
    if "internal_mohm" in facts:
        facts["internal_mohm"] /= item.quantity
    return known(key=item.key, **facts)


def supply_record(
    items: list[LineItem], circuits: list[Circuit], system_v: int
) -> Record:
    rows = Rows({i.pk: i for i in items}, {c.pk: c for c in circuits})
    batteries, chargers, panels = [], [], []
    for item in items:
        charged = rows.items.get(item.charges_id or 0)
        if item.supply_role == "battery" and "capacity_ah" in item.supply:
            batteries.append(supply_facts(item))
        elif item.supply_role == "charger" and charged is not None:
            record = supply_facts(item) | {"to": charged.key}
            circuit = rows.circuits.get(item.circuit_id or 0)
            if battery := battery_key(circuit, rows):
                record["from"] = battery
            chargers.append(record)
        elif item.supply_role == "panel":
            panel = {"power_w": 0, **supply_facts(item)}
            panels.append(panel | known(to=charged and charged.key))
    feeds = feeds_of(rows)
    return known(
        system_v=system_v,
        batteries=batteries,
        chargers=chargers,
        panels=panels,
        circuits=[circuit_record(c, rows, feeds.get(c.pk, [])) for c in circuits],
    )
