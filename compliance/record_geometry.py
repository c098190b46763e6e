"""Faults of a record that geometry or arithmetic rules out: places and masses."""

from collections.abc import Iterator

from compliance.inputs import (
    BuildRecord,
    Item,
    Luggage,
    RemovedPart,
    Seat,
    Tank,
    Trailer,
)

Fault = tuple[str, str]

OVERHANG_M = 6.0
"""Nothing on a vehicle is further beyond an axle than this."""

LONGEST_WHEELBASE_M = 12.0
HALF_WIDTH_M = 2.0
"""Half of the widest vehicle that uses a road, and what hangs on its side."""

HIGHEST_M = 5.0
HIGHEST_CENTRE_M = 3.0
HIGHEST_PILE = 10

LONGEST_ROW = 12
"""Circuits one behind another; no vehicle has so many boards in a row."""

Placed = Item | RemovedPart | Tank | Seat | Luggage


def geometry_faults(record: BuildRecord) -> list[Fault]:
    """
    Find places and masses that cannot be.

    Parameters
    ----------
    record : BuildRecord
        A record whose single values are sound.

    Returns
    -------
    list of (path, sentence)
        Empty when everything is where a vehicle can have it. What could be, but is
        odd, such as a front axle rated above the GVM, is no fault.
    """
    return [
        *_place_faults(record),
        *_pile_faults(record),
        *_row_faults(record),
        *_base_faults(record),
        *_battery_faults(record),
        *(_trailer_faults(record.trailer) if record.trailer else ()),
    ]


def _place_faults(record: BuildRecord) -> Iterator[Fault]:
    length = record.vehicle.wheelbase_m or LONGEST_WHEELBASE_M
    for path, thing in _placed(record):
        x_m, y_m, z_m = thing.x_m, thing.y_m, getattr(thing, "z_m", None)
        if x_m is not None and not -length - OVERHANG_M <= x_m <= OVERHANG_M:
            where = "ahead of the front axle" if x_m > 0 else "behind the front axle"
            yield f"{path}.x_m", f"is {abs(x_m):g} m {where}. Check the unit."
        if y_m is not None and abs(y_m) > HALF_WIDTH_M:
            yield f"{path}.y_m", f"is {abs(y_m):g} m off the middle. Check the unit."
        if z_m is not None and not 0 <= z_m <= HIGHEST_M:
            yield f"{path}.z_m", f"is {z_m:g} m above the ground. Check the unit."


def _placed(record: BuildRecord) -> Iterator[tuple[str, Placed]]:
    for index, seat in enumerate(record.vehicle.seats):
        yield f"vehicle.seats[{index}]", seat
    for index, tank in enumerate(record.vehicle.tanks):
        yield f"vehicle.tanks[{index}]", tank
    for index, luggage in enumerate(record.use.luggage):
        yield f"use.luggage[{index}]", luggage
    for index, item in enumerate(record.items):
        if item.zone != "trailer":
            yield f"items[{index}]", item
        for place, part in enumerate(item.removes):
            yield f"items[{index}].removes[{place}]", part


def _pile_faults(record: BuildRecord) -> Iterator[Fault]:
    on = {item.key: item.carried_by for item in record.items}
    for index, item in enumerate(record.items):
        at, count = item.carried_by, 0
        while at is not None and count <= HIGHEST_PILE:
            at, count = on.get(at), count + 1
        if count > HIGHEST_PILE:
            said = f"stands on more than {HIGHEST_PILE} things, one on another."
            yield f"items[{index}].carried_by", said


def _row_faults(record: BuildRecord) -> Iterator[Fault]:
    before = {circuit.key: circuit.source for circuit in record.supply.circuits}
    for index, circuit in enumerate(record.supply.circuits):
        at: str | None = circuit.key
        count = 0
        while at in before and count <= LONGEST_ROW:
            at, count = before[at], count + 1
        if count > LONGEST_ROW:
            said = f"is behind {LONGEST_ROW} circuits in a row. Feed it from nearer."
            yield f"supply.circuits[{index}].from", said
            return


def _base_faults(record: BuildRecord) -> Iterator[Fault]:
    base = record.vehicle.base
    axles = (base.front_kg, base.rear_kg)
    total = base.mass_kg
    if total is None and None not in axles:
        total = sum(axle or 0.0 for axle in axles)
    for name, axle in zip(("front", "rear"), axles, strict=True):
        if axle is not None and total is not None and axle > total:
            said = f"is more than the {total:,g} kg of the whole vehicle."
            yield f"vehicle.base.{name}_kg", said
    if base.left_kg is not None and total is not None and base.left_kg > total:
        said = f"is more than the {total:,g} kg of the whole vehicle."
        yield "vehicle.base.left_kg", said
    if base.cg_z_m is not None and base.cg_z_m > HIGHEST_CENTRE_M:
        yield "vehicle.base.cg_z_m", f"is {base.cg_z_m:g} m. Check the unit."


def _battery_faults(record: BuildRecord) -> Iterator[Fault]:
    for index, battery in enumerate(record.supply.batteries):
        for use in ("charge", "discharge"):
            low: float | None = getattr(battery, f"{use}_min_c")
            high: float | None = getattr(battery, f"{use}_max_c")
            if low is not None and high is not None and low > high:
                said = f"is {high:g} °C, below the {use}_min_c of {low:g} °C."
                yield f"supply.batteries[{index}].{use}_max_c", said


def _trailer_faults(trailer: Trailer) -> Iterator[Fault]:
    mass, ball = trailer.mass_kg, trailer.ball_kg
    if mass is not None and ball is not None and ball > mass:
        yield "trailer.ball_kg", f"is more than the trailer's own {mass:,g} kg."
