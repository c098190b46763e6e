"""Facts of a build that the record and the core's answer already hold."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum
from typing import Any

from compliance.inputs import BuildRecord, Item
from compliance.law.registry import Registry
from compliance.law.values import cleaned
from compliance.ratings import governing_ratings
from compliance.tables import table

Facts = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class ItemFacts:
    """
    One line item as rules see it.

    ``types`` are its item types; ``known`` is False for a kind nobody put in the
    table. ``values`` are its ``i.`` facts, ``unread`` the names it carries that no
    rule reads.
    """

    key: str
    label: str
    kind: str
    types: frozenset[str]
    known: bool
    values: Facts
    unread: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BuildFacts:
    """The facts of the build itself (``b.``, ``t.``, ``v.``) and of its items."""

    values: Facts
    items: tuple[ItemFacts, ...] = ()


def facts_of(
    record: BuildRecord,
    answer: Mapping[str, Any],
    registry: Registry,
    answers: Facts | None = None,
) -> BuildFacts:
    """
    Gather what is known of a build for the rules.

    Parameters
    ----------
    record : BuildRecord
        The build. An item's own ``facts`` are taken by name, without their ``i.``.
    answer : Mapping
        What ``compliance.assess`` gives for that record. [kg]
    registry : Registry
        Facts and kinds of the rule book.
    answers : Mapping of str to object, optional
        What people answered, looked up or measured, by full name (``b.``, ``t.``,
        ``v.``), with ``b.docs`` the codes of the papers on file. They fill what
        record and core leave open; a number of the core is not overridden.

    Returns
    -------
    BuildFacts
        Only what is known: an absent name is unknown, never zero or no.

    Notes
    -----
    Loads are those of the customer's own use, as the core judges them. Ratings are
    those that count today; ``v.plate_`` names are the maker's, before any upgrade.
    What a build fits is closed: without an item of a type it fits none. What is on
    the vehicle is not, unless it is known to have arrived unmodified.

    References
    ----------
    Derived: names of the open build record.
    """
    items = tuple(_item(item, record, registry) for item in record.items)
    given = {n: _clean(registry, n, v) for n, v in (answers or {}).items()}
    known = {**_vehicle(record), **_trailer(record), **_loads(answer)}
    known |= _masses(record, items) | _fitted(items)
    guessed = _untouched(items, given.get("v.prior_modifications"))
    values = {**_known(guessed), **_known(given), **_known(known)}
    return BuildFacts(values, items)


def item_types(
    item: Item, record: BuildRecord, registry: Registry, facts: Facts
) -> tuple[frozenset[str], bool]:
    """
    Give the item types of a line item.

    Parameters
    ----------
    item, record : Item, BuildRecord
        The item and the build it belongs to.
    registry : Registry
        Its table of kinds.
    facts : Mapping
        The item's own ``i.`` facts. A type that hangs on a fact which is not known
        is given too, so that the rule asks.

    Returns
    -------
    tuple of (frozenset of str, bool)
        The types, and whether the kind is in the table.
    """
    info = registry.kinds.get(item.kind)
    types = set(info.types) if info else set()
    if info and info.also and facts.get(info.also.fact) in (None, info.also.value):
        types.add(info.also.type)
    if item.raises is not None:
        for rating, type_ in registry.raises.items():
            aim = getattr(item.raises.ratings, rating)
            plate = getattr(record.vehicle.ratings, rating)
            if aim is not None and (plate is None or aim > plate):
                types.add(type_)
    return frozenset(types), info is not None


def _clean(registry: Registry, name: str, value: object) -> object:
    info = registry.facts.get(name)
    return None if info is None else cleaned(value, info.kind, info.choices)


def _known(facts: Facts) -> dict[str, object]:
    return {name: value for name, value in facts.items() if value is not None}


def _mm(value: float | None) -> float | None:
    return None if value is None else value * 1000


def _vehicle(record: BuildRecord) -> dict[str, object]:
    vehicle, ratings = record.vehicle, governing_ratings(record)
    plate = vehicle.ratings
    planned = [
        item.raises.ratings.gvm_kg
        for item in record.items
        if item.raises is not None and item.raises.ratings.gvm_kg is not None
    ]
    gvm = ratings["gvm_kg"].governs_kg
    towing = ratings["braked_towing_kg"].governs_kg
    people = record.use.people
    each = record.use.person_kg
    return {
        "v.category": vehicle.category,
        "v.wheelbase_mm": _mm(vehicle.wheelbase_m),
        "v.gvm_kg": gvm,
        "v.max_laden_kg": gvm,
        "v.front_axle_limit_kg": ratings["front_axle_kg"].governs_kg,
        "v.rear_axle_limit_kg": ratings["rear_axle_kg"].governs_kg,
        "v.roof_limit_kg": ratings["roof_kg"].governs_kg,
        "v.btc_kg": towing,
        "v.btc_stated": None if towing is None else True,
        "v.plate_gvm_kg": plate.gvm_kg,
        "v.plate_gcm_kg": plate.gcm_kg,
        "v.plate_btc_kg": plate.braked_towing_kg,
        "v.seats_before": float(len(vehicle.seats)) if vehicle.seats else None,
        "b.new_gvm_kg": max(planned, default=None),
        "b.passengers_kg": None
        if people is None or each is None
        else max(people - 1, 0) * each,
        "b.mass_in_running_order_kg": vehicle.base.mass_kg
        if vehicle.base.definition == "running-order"
        else None,
    }


def _trailer(record: BuildRecord) -> dict[str, object]:
    trailer = record.trailer
    if trailer is None:
        return {}
    return {
        "b.trailer_towed": True,
        "b.coupling_vertical_kg": trailer.ball_kg,
        "t.loaded_kg": trailer.mass_kg,
        "t.atm_kg": trailer.atm_kg,
        "t.gtm_kg": trailer.gtm_kg,
    }


def _loads(answer: Mapping[str, Any]) -> dict[str, object]:
    load = answer.get("load", {})
    use = load.get("scenarios", {}).get("use", {})
    return {
        "b.total_kg": use.get("total_kg"),
        "b.front_axle_kg": use.get("front_kg"),
        "b.rear_axle_kg": use.get("rear_kg"),
        "b.roof_mass_kg": use.get("roof_kg"),
        "b.gvm_used_kg": load.get("worst", {}).get("gvm", {}).get("limit_kg"),
    }


def _masses(record: BuildRecord, items: tuple[ItemFacts, ...]) -> dict[str, object]:
    fitted = [item.mass_kg for item in record.items]
    removed = fsum(part.mass_kg for item in record.items for part in item.removes)
    racks = [
        item
        for item, facts in zip(record.items, items, strict=True)
        if "roof_rack" in facts.types
    ]
    added = _sum(fitted)
    return {
        "b.optional_equipment_kg": added,
        "b.added_mass_kg": None if added is None else added - removed,
        "b.rack_mass_kg": _sum([rack.mass_kg for rack in racks]) if racks else None,
        "b.rack_limit_kg": _least([rack.carrier_limit_kg for rack in racks]),
    }


def _sum(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return fsum(known) if len(known) == len(values) else None


def _least(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return min(known) if known and len(known) == len(values) else None


def _fitted(items: tuple[ItemFacts, ...]) -> dict[str, object]:
    """What this build fits follows from its items; a kind nobody knows could be any."""
    types = frozenset[str]().union(*(item.types for item in items))
    closed = False if all(item.known for item in items) else None
    return {
        "b.front_bar_fitted": True if "bull_bar" in types else closed,
        "b.windscreen_replaced": True if "windscreen" in types else closed,
        "b.tyre_size_changed": None if types & {"tyre", "wheel"} else closed,
    }


_LIFTS = {"suspension_kit", "spring", "shock_absorber", "air_spring", "spring_block"}
_LAMPS = {"driving_lamp", "light_bar", "light_bar_roof"}


def _untouched(items: tuple[ItemFacts, ...], prior: object) -> dict[str, object]:
    """Of a vehicle that arrived unmodified, what its items alone decide."""
    if prior is not False or not all(item.known for item in items):
        return {}
    types = frozenset[str]().union(*(item.types for item in items))
    counted = [item.values.get("i.counted_as") for item in items if item.types & _LAMPS]
    lamps = [count if isinstance(count, float) else None for count in counted]
    return {
        "b.suspension_change_mm": None if types & _LIFTS else 0.0,
        "b.body_lift_mm": None if "body_lift" in types else 0.0,
        "b.additional_driving_lamps": _sum(lamps),
    }


_PLACES = {"under-bonnet": "under_bonnet", "front": "outside", "underneath": "outside"}
_CARRIERS = {"drawer", "fridge_slide", "canopy", "tool_box"}


def _item(item: Item, record: BuildRecord, registry: Registry) -> ItemFacts:
    battery = next((b for b in record.supply.batteries if b.key == item.key), None)
    own = {f"i.{name}": value for name, value in item.facts.items()}
    known = {
        "i.chemistry": battery.chemistry if battery else None,
        "i.fuse_distance_mm": _fuse_distance(item.key, record),
        "i.new_gcm_kg": item.raises.ratings.gcm_kg if item.raises else None,
        "i.new_btc_kg": item.raises.ratings.braked_towing_kg if item.raises else None,
    }
    values = _known(
        {name: _clean(registry, name, value) for name, value in own.items()}
    )
    values |= _known(known)
    types, in_table = item_types(item, record, registry, values)
    # What a person says of the part comes before what its place suggests.
    suggested = {
        "i.location": _PLACES.get(item.zone),
        "i.laden_mass_kg": _laden(item, types),
        "i.mounted_on": _mount(item, record, registry),
    }
    values = {**_known(suggested), **values}
    unread = tuple(name[2:] for name in own if name not in registry.facts)
    return ItemFacts(item.key, item.label, item.kind, types, in_table, values, unread)


def _fuse_distance(key: str, record: BuildRecord) -> float | None:
    """The longest unfused cable on a battery; unknown while one of them is."""
    cables = [c.fuse_to_source_m for c in record.supply.circuits if c.source == key]
    known = [length for length in cables if length is not None]
    return max(known) * 1000 if known and len(known) == len(cables) else None


def _laden(item: Item, types: frozenset[str]) -> float | None:
    """The item with its tank full and, for a carrier, all it may carry."""
    held = 0.0
    if item.tank is not None:
        density = item.tank.density_kg_per_l
        if density is None:
            density = float(table("masses")[item.tank.fluid]["value"])
        held = item.tank.capacity_l * density
    carried = item.carrier_limit_kg
    if carried is None and not types & _CARRIERS:
        carried = 0.0
    return _sum([item.mass_kg, held, carried])


def _mount(item: Item, record: BuildRecord, registry: Registry) -> str | None:
    carrier = next((i for i in record.items if i.key == item.carried_by), None)
    if carrier is not None:
        info = registry.kinds.get(carrier.kind)
        types = info.types if info else ()
        return next((t for t in types if t in ("bull_bar", "nudge_bar")), None)
    return "roof" if item.zone == "roof" else None
