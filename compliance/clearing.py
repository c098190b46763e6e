"""The smallest single change that brings an overload back, computed and tried."""

import math
from collections.abc import Iterator
from dataclasses import replace

from compliance.findings import verdict
from compliance.inputs import BuildRecord, Item
from compliance.laden import USE, Laden
from compliance.load import Axle, AxleLoads

MOVABLE_ZONES = frozenset({"cargo", "roof"})
"""Where things stand that can be put elsewhere; the rest is bolted to one place."""

CLEAR_OF_SEAT_M = 0.5
"""Room kept behind the rearmost seat. Common practice, no source."""

STEP_M = 0.05


def lighten(excess_kg: float, where: str) -> str:
    """
    Say how much to take out where each kilogram counts fully.

    Parameters
    ----------
    excess_kg : float
        What is over, tolerance included, > 0. [kg]
    where : str
        Such as ``out of the vehicle``.

    Returns
    -------
    str
        A sentence with whole kilograms, rounded up so that it is enough.

    Examples
    --------
    >>> lighten(11.2, "off the roof")
    'Take 12 kg off the roof.'
    """
    return f"Take {math.ceil(excess_kg - 1e-6):,d} kg {where}."


def clear_axle(
    record: BuildRecord,
    axle: Axle,
    limits_kg: tuple[float | None, float | None],
    expanded_kg: tuple[float, float],
) -> str:
    """
    Say what brings an overloaded axle back in the customer's use.

    Parameters
    ----------
    record : BuildRecord
        The build as it is, every mass and place known.
    axle : {"front", "rear"}
        The axle that is over.
    limits_kg : tuple of (float or None, float or None)
        Limits of the front and the rear axle. [kg]
    expanded_kg : tuple of (float, float)
        Expanded uncertainties of the front and the rear axle. [kg]

    Returns
    -------
    str
        Move the heaviest thing that can be moved, if trying it clears this axle and
        loads the other no further than it may be; otherwise take mass out over it.

    References
    ----------
    Derived: moving m by s changes the axles by m s / L.
    """
    loads = Laden(record).state(USE).axles
    assert loads is not None
    over = loads.front_kg if axle == "front" else loads.rear_kg
    index = 0 if axle == "front" else 1
    limit = limits_kg[index]
    assert limit is not None
    excess = over + expanded_kg[index] - limit
    if axle == "rear":
        for item, shift_m in _moves(record, excess):
            tried = Laden(_moved(record, item, shift_m)).state(USE).axles
            if tried and _fits(tried, loads, limits_kg, expanded_kg):
                return f"Move {item.label} {shift_m:.2f} m forward."
    return lighten(excess, f"out over the {axle} axle")


def _moves(record: BuildRecord, excess_kg: float) -> Iterator[tuple[Item, float]]:
    """Things that can come far enough forward, heaviest first, and how far."""
    wheelbase_m = record.vehicle.wheelbase_m
    assert wheelbase_m is not None
    seats = [seat.x_m for seat in record.vehicle.seats]
    foremost = min(seats) - CLEAR_OF_SEAT_M if seats else -wheelbase_m / 2
    movable = [
        item for item in record.items if item.zone in MOVABLE_ZONES and item.mass_kg
    ]
    for item in sorted(movable, key=lambda i: (-(i.mass_kg or 0.0), i.key)):
        assert item.mass_kg is not None
        assert item.x_m is not None
        # What its tank holds moves along, so trying it may show a shorter way.
        exact = excess_kg * wheelbase_m / item.mass_kg
        shift_m = math.ceil(exact / STEP_M - 1e-9) * STEP_M
        if item.x_m + shift_m <= foremost:
            yield item, shift_m


def _moved(record: BuildRecord, item: Item, shift_m: float) -> BuildRecord:
    assert item.x_m is not None
    there = replace(item, x_m=item.x_m + shift_m)
    items = tuple(there if i.key == item.key else i for i in record.items)
    return replace(record, items=items)


def _fits(
    tried: AxleLoads,
    before: AxleLoads,
    limits_kg: tuple[float | None, float | None],
    expanded_kg: tuple[float, float],
) -> bool:
    front = verdict(tried.front_kg, limits_kg[0], expanded_kg[0])
    rear = verdict(tried.rear_kg, limits_kg[1], expanded_kg[1])
    same = verdict(before.front_kg, limits_kg[0], expanded_kg[0])
    return rear == "within" and front in ("within", same)
