"""Rows of the database to the open build record: the only bridge to the core.

Millimetres become metres and decimals become floats here and nowhere else.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from builds.models import BuildJob, Circuit, LineItem
from compliance.assess import RULESET
from workshop.models import SwitchPosition, Vehicle

Record = dict[str, Any]


def known(**values: object) -> dict[str, Any]:
    """Keep what is known; a missing value is left out of a record, never 0."""
    return {
        name: float(value) if isinstance(value, Decimal) else value
        for name, value in values.items()
        if value is not None and value != "" and value != {} and value != []
    }


def metres(length_mm: int | None) -> float | None:
    return None if length_mm is None else length_mm / 1000


def ratings_record(sheet: Vehicle) -> Record:
    return known(
        gvm_kg=sheet.gvm_kg,
        front_axle_kg=sheet.front_axle_kg,
        rear_axle_kg=sheet.rear_axle_kg,
        gcm_kg=sheet.gcm_kg,
        braked_towing_kg=sheet.braked_towing_kg,
        ball_kg=sheet.ball_kg,
        roof_kg=sheet.roof_kg,
    )


def vehicle_record(vehicle: Vehicle, places: Iterable[SwitchPosition]) -> Record:
    """Describe the vehicle as its plate and its type sheet have it."""
    tanks = []
    if vehicle.fuel_tank_l and vehicle.fuel_tank_x_mm is not None:
        tanks.append(
            known(
                key="fuel",
                fluid=vehicle.fuel_type or "diesel",
                capacity_l=vehicle.fuel_tank_l,
                x_m=metres(vehicle.fuel_tank_x_mm),
            )
        )
    return known(
        label=str(vehicle),
        vin=vehicle.vin,
        category=vehicle.category,
        wheelbase_m=metres(vehicle.wheelbase_mm),
        track_m=metres(vehicle.track_mm),
        ball_overhang_m=metres(vehicle.ball_overhang_mm),
        ratings=ratings_record(vehicle),
        base=known(
            definition=vehicle.base_definition,
            mass_kg=vehicle.base_mass_kg,
            front_kg=vehicle.base_front_kg,
            rear_kg=vehicle.base_rear_kg,
            fuel_l=vehicle.base_fuel_l,
            people=vehicle.base_people,
            scale_interval_kg=vehicle.scale_interval_kg,
        ),
        seats=[
            known(
                key=seat["key"],
                x_m=metres(seat["x_mm"]),
                y_m=metres(seat.get("y_mm")),
            )
            for seat in vehicle.seats
        ],
        tanks=tanks,
        alternator=known(
            rated_a=vehicle.alternator_a,
            variable_voltage=vehicle.alternator_variable,
            own_load_a=vehicle.alternator_own_load_a,
        ),
        start_battery=known(
            capacity_ah=vehicle.start_battery_ah, standby_a=vehicle.standby_a
        ),
        switch_positions=[
            known(key=place.key, panel=place.panel, label=place.label)
            for place in places
        ],
    )


@dataclass(frozen=True, slots=True)
class Keys:
    """Keys of items and circuits by their id, so that no row is fetched twice."""

    items: Mapping[int, str]
    circuits: Mapping[int, Circuit]


def load_record(item: LineItem) -> Record:
    if not item.load_kind:
        return {}
    duty: float | str | None = None
    if item.duty:
        duty = item.duty if item.duty == "fridge" else float(item.duty)
    times = item.quantity
    return known(
        kind=item.load_kind,
        current_a=item.current_a and item.current_a * times,
        power_w=item.power_w and item.power_w * times,
        efficiency=item.efficiency,
        hours_per_day=item.hours_per_day,
        duty=duty,
        standby_a=item.standby_a and item.standby_a * times,
        limit_percent=item.limit_percent,
        short_time=item.short_time or None,
    )


def item_record(item: LineItem, places: Mapping[int, str]) -> Record:
    """Describe one line, all its pieces together; ``places`` are switch keys by id."""
    times = item.quantity
    removes = []
    if item.removes_mass_kg:
        removes.append(
            known(
                label=item.removes_label or "original part",
                mass_kg=item.removes_mass_kg,
                x_m=metres(item.removes_x_mm),
            )
        )
    switch = {}
    if item.switch_kind:
        switch = known(
            kind=item.switch_kind,
            position=places.get(item.switch_position_id or 0),
            interlock=item.interlock,
        )
    tank = {}
    if item.tank_fluid and item.tank_capacity_l:
        tank = known(fluid=item.tank_fluid, capacity_l=item.tank_capacity_l * times)
    raises = known(**item.raises)
    if raises and item.raise_paper:
        raises["evidence"] = item.raise_paper
    return known(
        key=item.key,
        label=item.label,
        kind=item.kind,
        zone=item.zone,
        supplied_by=item.supplied_by,
        mass_kg=None if item.mass_kg is None else item.mass_kg * times,
        mass_half_width_kg=None
        if item.mass_half_width_kg is None
        else item.mass_half_width_kg * times,
        x_m=metres(item.x_mm),
        y_m=metres(item.y_mm),
        z_m=metres(item.z_mm),
        removes=removes,
        tank=tank,
        raises=raises,
        load=load_record(item),
        switch=switch,
    )


def source_key(circuit: Circuit, keys: Keys) -> str | None:
    """Name what feeds a circuit: ``start``, a battery's key or a circuit's key."""
    if circuit.fed_by_start_battery:
        return "start"
    if circuit.fed_by_item_id:
        return keys.items[circuit.fed_by_item_id]
    if circuit.fed_by_circuit_id:
        return keys.circuits[circuit.fed_by_circuit_id].key
    return None


def root_key(circuit: Circuit | None, keys: Keys) -> str | None:
    """Follow the feeders up to the battery; ``None`` when the chain is open."""
    seen: set[int] = set()
    while circuit is not None and circuit.pk not in seen:
        seen.add(circuit.pk)
        if circuit.fed_by_circuit_id is None:
            return source_key(circuit, keys)
        circuit = keys.circuits.get(circuit.fed_by_circuit_id)
    return None


def circuit_record(circuit: Circuit, keys: Keys, feeds: list[str]) -> Record:
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
    if source := source_key(circuit, keys):
        record["from"] = source
    return record


def takes_current(item: LineItem) -> bool:
    """A load or the input of a charger; boards and batteries only pass it on."""
    return bool(item.load_kind) or item.supply_role == "charger"


def supply_record(items: list[LineItem], circuits: list[Circuit]) -> Record:
    keys = Keys({i.pk: i.key for i in items}, {c.pk: c for c in circuits})
    batteries, chargers, panels = [], [], []
    feeds: dict[int | None, list[str]] = {}
    for item in items:
        if takes_current(item):
            feeds.setdefault(item.circuit_id, []).append(item.key)
        if item.output_circuit_id:
            feeds.setdefault(item.output_circuit_id, []).append(item.key)
        facts = {k: v for k, v in item.supply.items() if k != "role"}
        to = keys.items.get(item.charges_id or 0)
        if item.supply_role == "battery" and "capacity_ah" in facts:
            facts["capacity_ah"] = facts["capacity_ah"] * item.quantity
            batteries.append(known(key=item.key, **facts))
        elif item.supply_role == "charger" and to is not None:
            record = known(key=item.key, to=to, **facts)
            if root := root_key(keys.circuits.get(item.circuit_id or 0), keys):
                record["from"] = root
            chargers.append(record)
        elif item.supply_role == "panel":
            facts["power_w"] = facts.get("power_w", 0) * item.quantity
            panels.append(known(key=item.key, to=to, **facts))
    return known(
        system_v=12,
        batteries=batteries,
        chargers=chargers,
        panels=panels,
        circuits=[circuit_record(c, keys, feeds.get(c.pk, [])) for c in circuits],
    )


def use_record(build: BuildJob) -> Record:
    luggage = []
    if build.luggage_kg and build.luggage_x_mm is not None:
        luggage.append(known(mass_kg=build.luggage_kg, x_m=metres(build.luggage_x_mm)))
    return known(
        people=build.people,
        person_kg=build.person_kg,
        luggage=luggage,
        hitched=build.hitched,
        ambient_c=build.ambient_c,
        latitude_deg=build.latitude_deg,
        month=build.month,
        drive_h_per_day=build.drive_h_per_day,
        days=build.days,
    )


def scenarios(build: BuildJob) -> list[Record]:
    """The states a coordinator asks after besides the customer's own use."""
    found: list[Record] = [
        {
            "key": "driver-only",
            "people": 1,
            "fuel_ratio": 0.25,
            "water_ratio": 0.0,
            "hitched": False,
        }
    ]
    if build.hitched and build.people:
        full = {"people": build.people, "fuel_ratio": 1.0, "water_ratio": 1.0}
        found.append({"key": "loaded-unhitched", **full, "hitched": False})
    return found


def items_of(build: BuildJob) -> list[LineItem]:
    """Every line of a build in walk-around order, with all a page shows of it."""
    return list(
        build.items.walk_around().select_related(
            "part", "circuit", "switch_position", "charges", "output_circuit"
        )
    )


def circuits_of(build: BuildJob) -> list[Circuit]:
    return list(build.circuits.select_related("fed_by_item", "fed_by_circuit"))


RECORD_FIELDS = [
    "key",
    "label",
    "kind",
    "zone",
    "quantity",
    "supplied_by",
    "mass_kg",
    "mass_half_width_kg",
    "x_mm",
    "y_mm",
    "z_mm",
    "removes_label",
    "removes_mass_kg",
    "removes_x_mm",
    "tank_fluid",
    "tank_capacity_l",
    "raises",
    "raise_paper",
    "load_kind",
    "current_a",
    "power_w",
    "efficiency",
    "hours_per_day",
    "duty",
    "standby_a",
    "limit_percent",
    "short_time",
    "supply",
    "switch_kind",
    "switch_position_id",
    "interlock",
    "circuit_id",
    "output_circuit_id",
    "charges_id",
]
"""What the record holds of a line; texts for the owner are left in the database."""


def take_record(build: BuildJob) -> Record:
    """Picture the build as it is stored; the same few queries for any size."""
    items = list(build.items.walk_around().only("build_id", *RECORD_FIELDS))
    circuits = list(build.circuits.all())
    switch_positions = list(build.vehicle.switch_positions.all())
    places = {place.pk: place.key for place in switch_positions}
    record: Record = {
        "format": "build-record",
        "version": 1,
        **known(jurisdiction=build.jurisdiction),
        "vehicle": vehicle_record(build.vehicle, switch_positions),
        "items": [item_record(item, places) for item in items],
        "supply": supply_record(items, circuits),
        "use": use_record(build),
        "scenarios": scenarios(build),
    }
    if build.trailer is not None:
        record["trailer"] = known(
            mass_kg=build.trailer_mass_kg,
            ball_kg=build.trailer_ball_kg,
            atm_kg=build.trailer.atm_kg,
            gtm_kg=build.trailer.gtm_kg,
            ball_to_axle_m=metres(build.trailer.ball_to_axle_mm),
        )
    return record


def digest_of(record: Record) -> str:
    """Name a record together with the rules that judge it."""
    text = json.dumps(record, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(f"{RULESET}\n{text}".encode()).hexdigest()
