"""What would bring an overdrawn battery back: more sun, more battery, one load less."""

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from compliance.changes import clears
from compliance.energy import Cycle, state_of_charge
from compliance.energy_days import BatteryDays
from compliance.findings import Change, Finding, Way, verdict
from compliance.inputs import BuildRecord
from compliance.supply_facts import SupplyFacts

MORE_W = (20, 40, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500, 600, 800, 1000)
"""Power of panels that may be added. [W]"""

SIZES_AH = (
    *(50, 60, 75, 80, 90, 100, 110, 120, 125, 135, 150, 160, 180, 200, 240, 250, 280),
    *(300, 350, 400, 450, 500, 600, 700, 800, 1000, 1200),
)
"""Capacities that batteries and pairs of them come in. [Ah]"""

Row = TypeVar("Row")
Judge = Callable[[BuildRecord], Iterable[Finding]]
Enough = Callable[[float, float], bool]
"""Whether a capacity [Ah] and a daily gain [Ah] are enough; the first guess."""


def day_ways(tree: SupplyFacts, days: BatteryDays, key: str, judge: Judge) -> list[Way]:
    """
    Find what closes the gap of a day's balance.

    Parameters
    ----------
    tree : SupplyFacts
        The supply.
    days : BatteryDays
        The battery's days as they are.
    key : str
        The finding to clear.
    judge : callable
        Gives the findings of the battery in a record.

    Returns
    -------
    list of Way
        Each tried on a copy of the record.

    References
    ----------
    Derived: charge balance.
    """

    def enough(capacity_ah: float, gain_ah: float) -> bool:
        short = max(0.0, -days.day.net_ah - gain_ah) * days.days
        return verdict(short, capacity_ah * days.usable_ratio) == "within"

    def sunny(gain_ah: float) -> bool:
        return enough(days.battery.capacity_ah, gain_ah)

    return _tried(tree, days, key, judge, (enough, sunny))


def lowest_ways(
    tree: SupplyFacts, days: BatteryDays, key: str, judge: Judge
) -> list[Way]:
    """
    Find what keeps the lowest charge of the days above the reserve.

    Parameters
    ----------
    tree : SupplyFacts
        The supply.
    days : BatteryDays
        The battery's days as they are.
    key : str
        The finding to clear.
    judge : callable
        Gives the findings of the battery in a record.

    Returns
    -------
    list of Way
        Each tried on a copy of the record.

    References
    ----------
    Derived: charge balance, hour by hour.
    """

    def holds(capacity_ah: float, cycle: Cycle) -> bool:
        lowest = min(state_of_charge(capacity_ah, cycle, days.days))
        return verdict(100 * (1 - lowest), 100 * days.usable_ratio) == "within"

    def enough(capacity_ah: float, gain_ah: float) -> bool:
        less = replace(days.cycle, load_a=days.cycle.load_a - gain_ah / 24)
        return holds(capacity_ah, less)

    def sunny(gain_ah: float) -> bool:
        more = replace(days.cycle, solar_ah=days.cycle.solar_ah + gain_ah)
        return holds(days.battery.capacity_ah, more)

    return _tried(tree, days, key, judge, (enough, sunny))


def _tried(
    tree: SupplyFacts,
    days: BatteryDays,
    key: str,
    judge: Judge,
    guesses: tuple[Enough, Callable[[float], bool]],
) -> list[Way]:
    enough, sunny = guesses
    ways = [
        *_more_sun(tree, days, sunny),
        *_more_battery(tree, days, enough),
        *_one_load_less(tree, days, enough),
    ]
    return [way for way in ways if clears(tree.record, way, key, judge)]


def _first(rows: Sequence[Row], fits: Callable[[Row], bool]) -> list[Row]:
    """First of ascending rows that fits, where all above it do too; none if none."""
    place = bisect_left(rows, True, key=fits)
    return list(rows[place : place + 1])


def _more_sun(
    tree: SupplyFacts, days: BatteryDays, sunny: Callable[[float], bool]
) -> Iterable[Way]:
    panels = tree.panels_of.get(days.battery.key, ())
    rated = math.fsum(panel.power_w for panel in panels)
    if not rated:
        return
    largest = max(panels, key=lambda panel: (panel.power_w, panel.key))
    ah_per_w = days.day.solar_ah / rated
    for more in _first(MORE_W, lambda watts: sunny(watts * ah_per_w)):
        change = Change("panels", largest.key, "power_w", largest.power_w + more)
        yield Way(f"add {more:,d} W of panel", (change,))


def _more_battery(
    tree: SupplyFacts, days: BatteryDays, enough: Enough
) -> Iterable[Way]:
    battery = days.battery
    larger = [float(size) for size in SIZES_AH if size > battery.capacity_ah]
    for size in _first(larger, lambda capacity_ah: enough(capacity_ah, 0.0)):
        change = Change("batteries", battery.key, "capacity_ah", size)
        said = f"fit {size:g} Ah instead of {battery.capacity_ah:g} Ah"
        yield Way(f"{said} for {tree.source_name(battery.key)}", (change,))


def _one_load_less(
    tree: SupplyFacts, days: BatteryDays, enough: Enough
) -> Iterable[Way]:
    capacity_ah = days.battery.capacity_ah
    loads = [(ah, key) for key, ah in days.drawn.parts if key in tree.items]
    for _, key in _first(sorted(loads), lambda load: enough(capacity_ah, load[0])):
        change = Change("items", key, "load", None)
        yield Way(f"leave out {tree.name_of(key)}", (change,))
