"""What would bring an overdrawn battery back: more sun, more battery, one load less."""

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

from compliance.batteries import charge_edges_c, moved_out
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

CHARGERS_A = (10, 15, 20, 25, 30, 40, 50, 60, 80, 100)
"""Outputs that chargers come in. [A]"""

Row = TypeVar("Row")
Judge = Callable[[BuildRecord], Iterable[Finding]]
Holds = Callable[[float, Cycle], bool]
"""Whether a capacity [Ah] is enough for a cycle; the first guess."""


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

    def holds(capacity_ah: float, cycle: Cycle) -> bool:
        short = max(0.0, -cycle.day().net_ah) * days.days
        return verdict(short, capacity_ah * days.usable_ratio) == "within"

    return _tried(tree, days, key, judge, holds)


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

    return _tried(tree, days, key, judge, holds)


def _tried(
    tree: SupplyFacts, days: BatteryDays, key: str, judge: Judge, holds: Holds
) -> list[Way]:
    """Give the ways that clear it, those first that take up what is lost."""

    def clear(ways: Iterable[Way]) -> list[Way]:
        return [way for way in ways if clears(tree.record, way, key, judge)]

    ways = clear(_more_taken(tree, days))[:1]
    if not ways and not days.stopped:
        ways = clear([*_more_sun(tree, days, holds), *_more_battery(tree, days, holds)])
    return [*ways, *clear(_one_load_less(tree, days, holds))]


def _more_taken(tree: SupplyFacts, days: BatteryDays) -> Iterator[Way]:
    """Give what lets the battery take more of what sun and driving offer."""
    battery, limit = days.battery, days.limit
    if days.day.refused_ah and tree.in_engine_space(battery):
        yield moved_out(battery)
    elif days.day.refused_ah and limit.by == "temperature":
        cell_c = tree.cell_c(battery)
        assert cell_c is not None
        for temp in sorted(charge_edges_c(battery), key=lambda t: (abs(t - cell_c), t)):
            change = Change("use", "", "ambient_c", temp)
            yield Way(f"keep its cells near {temp:g} °C to charge it", (change,))
    elif days.day.refused_ah and limit.by == "sheet":
        most = float(math.ceil(days.cycle.most_a()))
        change = Change("batteries", battery.key, "charge_limit_a", most)
        yield Way(f"fit a battery that takes {most:g} A", (change,))
    if days.day.capped_ah:
        yield from _larger_charger(tree, days)


def _larger_charger(tree: SupplyFacts, days: BatteryDays) -> Iterator[Way]:
    chargers = [c for c in tree.into[days.battery.key] if c.kind == "dc-dc"]
    largest = max(chargers, key=lambda c: (c.out_a, c.key))
    for amps in CHARGERS_A:
        if amps > largest.out_a:
            change = Change("chargers", largest.key, "out_a", float(amps))
            said = f"fit a charger of {amps:d} A instead of {tree.name_of(largest.key)}"
            yield Way(said, (change,))


def _first(rows: Sequence[Row], fits: Callable[[Row], bool]) -> list[Row]:
    """First of ascending rows that fits, where all above it do too; none if none."""
    place = bisect_left(rows, True, key=fits)
    return list(rows[place : place + 1])


def _more_sun(tree: SupplyFacts, days: BatteryDays, holds: Holds) -> Iterator[Way]:
    panels = tree.panels_of.get(days.battery.key, ())
    rated = math.fsum(panel.power_w for panel in panels)
    if not rated:
        return
    largest = max(panels, key=lambda panel: (panel.power_w, panel.key))
    cycle, capacity_ah = days.cycle, days.battery.capacity_ah

    def sunny(more_w: float) -> bool:
        solar_ah = cycle.solar_ah * (1 + more_w / rated)
        return holds(capacity_ah, replace(cycle, solar_ah=solar_ah))

    for more in _first(MORE_W, sunny):
        change = Change("panels", largest.key, "power_w", largest.power_w + more)
        yield Way(f"add {more:,d} W of panel", (change,))


def _more_battery(tree: SupplyFacts, days: BatteryDays, holds: Holds) -> Iterator[Way]:
    battery = days.battery
    larger = [float(size) for size in SIZES_AH if size > battery.capacity_ah]
    for size in _first(larger, lambda capacity_ah: holds(capacity_ah, days.cycle)):
        change = Change("batteries", battery.key, "capacity_ah", size)
        said = f"fit {size:g} Ah instead of {battery.capacity_ah:g} Ah"
        yield Way(f"{said} for {tree.source_name(battery.key)}", (change,))


def _one_load_less(tree: SupplyFacts, days: BatteryDays, holds: Holds) -> Iterator[Way]:
    cycle, capacity_ah = days.cycle, days.battery.capacity_ah

    def enough(load: tuple[float, str]) -> bool:
        less = replace(cycle, load_a=cycle.load_a - load[0] / 24)
        return holds(capacity_ah, less)

    loads = [(ah, key) for key, ah in days.drawn.parts if key in tree.items]
    for _, key in _first(sorted(loads), enough):
        change = Change("items", key, "load", None)
        yield Way(f"leave out {tree.name_of(key)}", (change,))
