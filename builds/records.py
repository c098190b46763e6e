"""Build records from outside: read, refused with every fault, or made a build."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.models import BuildJob, Circuit, LineItem
from builds.record_values import known
from builds.records_kept import not_kept
from builds.services import jobs
from builds.services.checks import refresh_checks
from builds.services.tasks import plan_tasks
from builds.snapshots import take_record
from compliance.record import RecordError, parse_record
from compliance.record_links import START
from workshop.models import Customer, SwitchPosition, Vehicle
from workshop.saving import save_clean


def fault_lines(error: RecordError) -> str:
    """Write each fault of a record on one line of its own."""
    lines = [f"{path}: {said}" if path else said for path, said in error.faults]
    return "\n".join(" ".join(line.split()) for line in lines)


@contextmanager
def at(path: str) -> Iterator[None]:
    """Say where in the record it stands what a model refuses."""
    try:
        yield
    except ValidationError as error:
        if not hasattr(error, "error_dict"):
            raise
        raise ValidationError(
            [
                f"{path if name == '__all__' else f'{path}.{name}'.lstrip('.')}: {sentence}"
                for name, sentences in error.message_dict.items()
                for sentence in sentences
            ]
        ) from error


def stated(value: Any) -> Any:
    """Leave out what is given as null, which says as little as leaving it out."""
    if isinstance(value, Mapping):
        return {k: stated(v) for k, v in value.items() if v is not None}
    return [stated(v) for v in value] if isinstance(value, list | tuple) else value


def decimal(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(value))


def millimetres(value: float | None) -> int | None:
    return None if value is None else round(value * 1000)


@transaction.atomic
def import_record(*, data: Mapping[str, Any], customer: Customer) -> BuildJob:
    """Make a new build from a record, all of it or nothing."""
    given = parse_record(data)
    data = stated(data)
    _check_supply_items(data)
    _check_places(data)
    build = _build(data, customer)
    items = _items(build, data)
    circuits = _circuits(build, data.get("supply", {}), items)
    _hang_loads(data.get("supply", {}), items, circuits)
    for item in items.values():
        plan_tasks(item=item)
    refresh_checks(build=build)
    if lost := not_kept(given, parse_record(take_record(build))):
        raise ValidationError(lost)
    return build


def _build(data: Mapping[str, Any], customer: Customer) -> BuildJob:
    system_v = data.get("supply", {}).get("system_v", 12)
    with at("vehicle"):
        vehicle = _vehicle(data["vehicle"], customer, int(system_v))
    use, trailer = data.get("use", {}), data.get("trailer", {})
    inside, roof = _luggage(use, "inside"), _luggage(use, "roof")
    with at("trailer"):
        towed = _trailer(trailer, customer) if trailer else None
    with at(""):
        return jobs.open_build(
            title=f"Imported: {vehicle.model}"[:120],
            customer=customer,
            vehicle=vehicle,
            trailer=towed,
            jurisdiction=data.get("jurisdiction", ""),
            people=use.get("people"),
            person_kg=decimal(use.get("person_kg")),
            luggage_kg=decimal(inside.get("mass_kg")),
            luggage_x_mm=millimetres(inside.get("x_m")),
            roof_luggage_kg=decimal(roof.get("mass_kg")),
            roof_luggage_x_mm=millimetres(roof.get("x_m")),
            hitched=use.get("hitched", False),
            trailer_mass_kg=decimal(trailer.get("mass_kg")),
            trailer_ball_kg=decimal(trailer.get("ball_kg")),
            hitch_moment_kgm=decimal(trailer.get("hitch_moment_kgm")),
            ambient_c=decimal(use.get("ambient_c")),
            latitude_deg=decimal(use.get("latitude_deg")),
            month=use.get("month"),
            drive_h_per_day=decimal(use.get("drive_h_per_day")),
            days=use.get("days"),
        )


def _luggage(use: Mapping[str, Any], where: str) -> Mapping[str, Any]:
    """Give the first load that lies on the roof, or the first that does not."""
    loads = use.get("luggage", [])
    found = (r for r in loads if (r.get("zone") == "roof") == (where == "roof"))
    return next(found, {})


def _vehicle(record: Mapping[str, Any], customer: Customer, system_v: int) -> Vehicle:
    ratings, base = record.get("ratings", {}), record.get("base", {})
    fuel: Mapping[str, Any] = next(
        (t for t in record.get("tanks", []) if t["key"] == "fuel"), {}
    )
    alternator, start = record.get("alternator", {}), record.get("start_battery", {})
    # A label is written "maker model · plate" on export.
    name, _, plate = record["label"].partition(" · ")
    maker, _, model = name.partition(" ")
    vehicle = Vehicle(
        customer=customer,
        maker=maker[:60],
        model=(model or maker)[:80],
        plate=plate[:15],
        body_type="dual-cab-ute",
        vin=record.get("vin", ""),
        category=record.get("category", ""),
        wheelbase_mm=millimetres(record.get("wheelbase_m")),
        track_mm=millimetres(record.get("track_m")),
        ball_overhang_mm=millimetres(record.get("ball_overhang_m")),
        base_definition=base.get("definition", ""),
        base_mass_kg=decimal(base.get("mass_kg")),
        base_front_kg=decimal(base.get("front_kg")),
        base_rear_kg=decimal(base.get("rear_kg")),
        base_fuel_l=decimal(base.get("fuel_l")),
        base_people=base.get("people"),
        scale_interval_kg=decimal(base.get("scale_interval_kg")),
        base_left_kg=decimal(base.get("left_kg")),
        cg_height_mm=millimetres(base.get("cg_z_m")),
        fuel_type=fuel.get("fluid", ""),
        fuel_tank_l=decimal(fuel.get("capacity_l")),
        fuel_tank_x_mm=millimetres(fuel.get("x_m")),
        seats=[
            known(
                key=seat["key"],
                x_mm=millimetres(seat["x_m"]),
                y_mm=millimetres(seat.get("y_m")),
            )
            for seat in record.get("seats", [])
        ],
        system_v=system_v,
        alternator_a=alternator.get("rated_a"),
        alternator_variable=alternator.get("variable_voltage"),
        alternator_own_load_a=alternator.get("own_load_a"),
        start_battery_ah=start.get("capacity_ah"),
        standby_a=decimal(start.get("standby_a")),
        **{name: decimal(value) for name, value in ratings.items()},
    )
    save_clean(vehicle)
    for order, place in enumerate(record.get("switch_positions", [])):
        with at(f"vehicle.switch_positions[{order}]"):
            save_clean(
                SwitchPosition(
                    vehicle=vehicle,
                    key=place["key"],
                    panel=place["panel"],
                    label=place.get("label", ""),
                    order=order,
                )
            )
    return vehicle


def _trailer(record: Mapping[str, Any], customer: Customer) -> Vehicle:
    return save_clean(
        Vehicle(
            customer=customer,
            maker="Imported",
            model="trailer",
            body_type="plant-trailer",
            atm_kg=decimal(record.get("atm_kg")),
            gtm_kg=decimal(record.get("gtm_kg")),
            ball_to_axle_mm=millimetres(record.get("ball_to_axle_m")),
        )
    )


def _items(build: BuildJob, data: Mapping[str, Any]) -> dict[str, LineItem]:
    places = {p.key: p for p in build.vehicle.switch_positions.all()}
    roles = _supply_roles(data.get("supply", {}))
    items = {}
    for n, record in enumerate(data.get("items", [])):
        with at(f"items[{n}]"):
            item = _item(build, record, roles.get(record["key"], {}), places)
            items[item.key] = save_clean(item)
    for record in data.get("items", []):
        items[record["key"]].carried_by = items.get(record.get("carried_by", ""))
    roof = _luggage(data.get("use", {}), "roof")
    build.roof_luggage_on = items.get(roof.get("carried_by", ""))
    save_clean(build)
    return items


def _item(
    build: BuildJob,
    record: Mapping[str, Any],
    supply: dict[str, Any],
    places: Mapping[str, SwitchPosition],
) -> LineItem:
    load, switch = record.get("load", {}), record.get("switch", {})
    removed, tank = record.get("removes", [])[:1], record.get("tank", {})
    raises = dict(record.get("raises", {}))
    paper = raises.pop("evidence", None)
    position = places.get(switch.get("position", ""))
    return LineItem(
        build=build,
        key=record["key"],
        label=record["label"],
        kind=record["kind"],
        zone=record["zone"],
        supplied_by=record.get("supplied_by", "workshop"),
        mass_kg=decimal(record.get("mass_kg")),
        mass_half_width_kg=decimal(record.get("mass_half_width_kg")),
        x_mm=millimetres(record.get("x_m")),
        x_half_width_mm=millimetres(record.get("x_half_width_m")),
        y_mm=millimetres(record.get("y_m")),
        z_mm=millimetres(record.get("z_m")),
        removes_label=removed[0]["label"] if removed else "",
        removes_mass_kg=decimal(removed[0]["mass_kg"]) if removed else None,
        removes_x_mm=millimetres(removed[0].get("x_m")) if removed else None,
        tank_fluid=tank.get("fluid", ""),
        tank_capacity_l=decimal(tank.get("capacity_l")),
        carrier_limit_kg=decimal(record.get("carrier_limit_kg")),
        raises=raises,
        raise_paper=paper or "",
        load_kind=load.get("kind", ""),
        current_a=decimal(load.get("current_a")),
        power_w=decimal(load.get("power_w")),
        efficiency=decimal(load.get("efficiency")),
        hours_per_day=decimal(load.get("hours_per_day")),
        duty=str(load.get("duty", "")),
        standby_a=decimal(load.get("standby_a")),
        limit_percent=decimal(load.get("limit_percent")),
        short_time=load.get("short_time", False),
        supply=supply,
        switch_kind=switch.get("kind", "position") if "switch" in record else "",
        switch_position=position,
        interlock=switch.get("interlock", ""),
    )


def _supply_roles(supply: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    roles: dict[str, dict[str, Any]] = {}
    for role, listed in (
        ("battery", "batteries"),
        ("charger", "chargers"),
        ("panel", "panels"),
    ):
        for record in supply.get(listed, []):
            facts = {k: v for k, v in record.items() if k not in ("key", "from", "to")}
            roles[record["key"]] = {"role": role, **facts}
    return roles


def _circuits(
    build: BuildJob, supply: Mapping[str, Any], items: Mapping[str, LineItem]
) -> dict[str, Circuit]:
    # An item and the circuit that feeds it may share a key; only these are sources.
    own = [*supply.get("batteries", []), *supply.get("panels", [])]
    sources = {record["key"]: items[record["key"]] for record in own}
    made: dict[str, Circuit] = {}
    waiting = list(supply.get("circuits", []))
    while waiting:
        # The record was checked for loops, so each round makes at least one.
        record = next(
            r
            for r in waiting
            if r["from"] == "start" or r["from"] in sources or r["from"] in made
        )
        waiting.remove(record)
        n = supply["circuits"].index(record)
        circuit = Circuit(
            build=build,
            key=record["key"],
            label=record.get("label") or record["key"],
            fed_by_start_battery=record["from"] == "start",
            fed_by_item=sources.get(record["from"]),
            fed_by_circuit=made.get(record["from"]),
            fuse_a=decimal(record.get("fuse_a")),
            fuse_kind=record.get("fuse_kind", ""),
            fuse_place=record.get("fuse_place", ""),
            fuse_to_source_mm=millimetres(record.get("fuse_to_source_m")),
            area_mm2=decimal(record.get("area_mm2")),
            run_m=decimal(record.get("run_m")),
            insulation_c=int(record.get("insulation_c", 105)),
            engine_space=record.get("engine_space", False),
        )
        with at(f"supply.circuits[{n}]"):
            made[circuit.key] = save_clean(circuit)
    return made


def _hang_loads(
    supply: Mapping[str, Any],
    items: Mapping[str, LineItem],
    circuits: Mapping[str, Circuit],
) -> None:
    charged = {c["key"]: c["to"] for c in supply.get("chargers", [])}
    charged |= {p["key"]: p["to"] for p in supply.get("panels", []) if "to" in p}
    for key, to in charged.items():
        items[key].charges = items[to]
    for record in supply.get("circuits", []):
        circuit = circuits[record["key"]]
        root = circuit
        while root.fed_by_circuit is not None:
            root = root.fed_by_circuit
        source = root.fed_by_item.key if root.fed_by_item else ""
        for key in record.get("feeds", []):
            if charged.get(source) == key:
                items[source].output_circuit = circuit
            elif source and charged.get(key) == source:
                items[key].output_circuit = circuit
            else:
                items[key].circuit = circuit
    for item in items.values():
        save_clean(item)


def _check_supply_items(data: Mapping[str, Any]) -> None:
    """Refuse a record whose supply parts a build cannot hang on its items."""
    keys = {item["key"] for item in data.get("items", [])}
    supply = data.get("supply", {})
    fed = {key for c in supply.get("circuits", []) for key in c.get("feeds", [])}
    faults = []
    if supply.get("system_v", 12) not in (12, 24):
        faults.append("supply.system_v: a build is a 12 V or a 24 V one.")
    for listed in ("batteries", "chargers", "panels"):
        for n, record in enumerate(supply.get(listed, [])):
            path, key = f"supply.{listed}[{n}]", record["key"]
            if key not in keys:
                faults.append(f"{path}.key: {key} is no item of this record.")
            if listed == "chargers" and record["to"] == START:
                faults.append(f"{path}.to: in a build a charger charges an item.")
            if record.get("kind") == "dc-dc" and key not in fed:
                faults.append(f"{path}.from: no circuit feeds {key} from there.")
    if faults:
        raise ValidationError(faults)


def _check_places(data: Mapping[str, Any]) -> None:
    """Refuse a switch place that two items take, as every other way in does."""
    first: dict[str, int] = {}
    for n, item in enumerate(data.get("items", [])):
        place = item.get("switch", {}).get("position")
        if place and first.setdefault(place, n) != n:
            raise ValidationError(
                f"items[{n}].switch.position: {place} is already taken by "
                f"items[{first[place]}]."
            )
