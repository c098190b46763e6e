"""Rows of the database to the open build record: the only bridge to the core.

Millimetres become metres and decimals become floats here and in what this uses, nowhere
else: ``supply_snapshots.py`` for the supply, ``record_values.py`` for the values.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping

from builds.models import BuildJob, Circuit, LineItem
from builds.record_values import Record, known, metres
from builds.supply_snapshots import supply_record
from compliance.assess import RULESET
from compliance.settings import SETTINGS
from workshop.models import Site, SwitchPosition, Vehicle


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
            left_kg=vehicle.base_left_kg,
            cg_z_m=metres(vehicle.cg_height_mm),
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


def item_record(
    item: LineItem, places: Mapping[int, str], items: Mapping[int, LineItem]
) -> Record:
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
    carrier = items.get(item.carried_by_id or 0)
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
        x_half_width_m=metres(item.x_half_width_mm),
        y_m=metres(item.y_mm),
        z_m=metres(item.z_mm),
        removes=removes,
        tank=tank,
        carrier_limit_kg=item.carrier_limit_kg and item.carrier_limit_kg * times,
        carried_by=carrier and carrier.key,
        raises=raises,
        load=load_record(item),
        switch=switch,
    )


def luggage_records(build: BuildJob, items: Mapping[int, LineItem]) -> list[Record]:
    """Describe what lies inside, and what lies on the roof."""
    found = []
    if build.luggage_kg and build.luggage_x_mm is not None:
        found.append(known(mass_kg=build.luggage_kg, x_m=metres(build.luggage_x_mm)))
    rack = items.get(build.roof_luggage_on_id or 0)
    if build.roof_luggage_kg and build.roof_luggage_x_mm is not None:
        found.append(
            known(
                mass_kg=build.roof_luggage_kg,
                x_m=metres(build.roof_luggage_x_mm),
                zone="roof",
                carried_by=rack and rack.key,
            )
        )
    return found


def use_record(build: BuildJob, items: Mapping[int, LineItem]) -> Record:
    return known(
        people=build.people,
        person_kg=build.person_kg,
        luggage=luggage_records(build, items),
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
    "x_half_width_mm",
    "y_mm",
    "z_mm",
    "carrier_limit_kg",
    "carried_by_id",
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
    by_id = {item.pk: item for item in items}
    circuits = list(build.circuits.all())
    switch_positions = list(build.vehicle.switch_positions.all())
    places = {place.pk: place.key for place in switch_positions}
    record: Record = {
        "format": "build-record",
        "version": 1,
        **known(jurisdiction=build.jurisdiction, settings=own_figures()),
        "vehicle": vehicle_record(build.vehicle, switch_positions),
        "items": [item_record(item, places, by_id) for item in items],
        "supply": supply_record(items, circuits, build.vehicle.system_v),
        "use": use_record(build, by_id),
        "scenarios": scenarios(build),
    }
    if build.trailer is not None:
        record["trailer"] = known(
            mass_kg=build.trailer_mass_kg,
            ball_kg=build.trailer_ball_kg,
            atm_kg=build.trailer.atm_kg,
            gtm_kg=build.trailer.gtm_kg,
            ball_to_axle_m=metres(build.trailer.ball_to_axle_mm),
            hitch_moment_kgm=build.hitch_moment_kgm,
        )
    return record


def own_figures() -> dict[str, float]:
    """Give the figures the workshop has set for itself, by their names in the record."""
    own = Site.current().own_figures
    return {name: own[name] for name in sorted(own.keys() & SETTINGS.keys())}


def digest_of(record: Record) -> str:
    """Name a record together with the rules that judge it."""
    text = json.dumps(record, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(f"{RULESET}\n{text}".encode()).hexdigest()
