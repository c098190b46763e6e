"""The battery through the customer's days: what is drawn, what comes in, how low."""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from compliance.batteries import absorbs_ratio, charge_limit_a
from compliance.energy import (
    Cycle,
    Day,
    autonomy_days,
    fridge_duty,
    hours_to_reserve,
    planning,
    state_of_charge,
)
from compliance.findings import Finding, Step, finding, held_against, verdict
from compliance.inputs import Battery, Charger, Item, Panel
from compliance.loads import mean_a
from compliance.sun import MID_MONTH_DAY, extraterrestrial, panel_wh, peak_sun_h
from compliance.supply import SupplyTree
from compliance.tables import citation, mark


@dataclass(slots=True)
class Drawn:
    """What loads draw from one battery in a day, by item, and what is missing."""

    parts: list[tuple[str, float]] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)

    @property
    def total_ah(self) -> float:
        """All of them. [Ah]"""
        return sum(charge for _, charge in self.parts)


@dataclass(slots=True)
class Sunshine:
    """What a battery's panels bring in a day, losses of the panels taken off."""

    ah: float = 0.0
    daylight_h: float = 12.0
    steps: tuple[Step, ...] = ()
    missing: list[str] = field(default_factory=list)


def check_energy(
    tree: SupplyTree,
) -> tuple[dict[str, Any], dict[str, Any], list[Finding]]:
    """
    Follow the build's batteries through the customer's days.

    Parameters
    ----------
    tree : SupplyTree
        The supply.

    Returns
    -------
    tuple of dict, dict and list of Finding
        ``day`` and ``soc`` of the first battery as the open record's answer names
        them, and the findings of all; those of further batteries carry their key.

    References
    ----------
    See the functions that compute each quantity.
    """
    day: dict[str, Any] = {}
    soc: dict[str, Any] = {}
    findings: list[Finding] = []
    for place, battery in enumerate(tree.record.supply.batteries):
        subject = battery.key if place else "vehicle"
        found_day, found_soc, judged = _battery_days(tree, battery, subject)
        findings += judged
        if not place:
            day, soc = found_day, found_soc
    return day, soc, findings


def _battery_days(
    tree: SupplyTree, battery: Battery, subject: str
) -> tuple[dict[str, Any], dict[str, Any], list[Finding]]:
    drawn, sun = daily_loads(tree, battery), sunshine(tree, battery)
    missing = [*drawn.missing, *sun.missing, *_use_gaps(tree, battery)]
    missing = list(dict.fromkeys(missing))
    if missing:
        rules = (("energy-day", "Ah"), ("soc-minimum", "% drawn"))
        return {}, {}, [_unknown(r, subject, unit, missing) for r, unit in rules]
    ratio = planning("coulombic_ratio", battery.chemistry)
    drive_h, drive_a = tree.record.use.drive_h_per_day or 0.0, _drive_a(tree, battery)
    day = Day(drawn.total_ah, sun.ah * ratio, drive_a * drive_h * ratio)
    cycle = Cycle(
        load_a=day.load_ah / 24,
        solar_ah=day.solar_ah,
        daylight_h=sun.daylight_h,
        drive_a=drive_a * ratio,
        drive_h=drive_h,
        chargers_a=_chargers_a(tree, battery) * ratio,
        charge_limit_a=_charge_limit_a(tree, battery),
        absorbs_ratio=absorbs_ratio(battery.chemistry),
    )
    soc = state_of_charge(battery.capacity_ah, cycle, tree.record.use.days or 1)
    usable = battery.usable_ratio or planning("usable_ratio", battery.chemistry)
    answer = {
        "load_ah": day.load_ah,
        "solar_ah": day.solar_ah,
        "drive_ah": day.drive_ah,
        "net_ah": day.net_ah,
    }
    lasts = autonomy_days(battery.capacity_ah * usable, day.load_ah)
    if lasts is not None:
        answer["autonomy_days"] = lasts
    working = tuple(_working(drawn, sun, day))
    balance = _judge_day(tree, subject, day, battery.capacity_ah * usable, working)
    lowest = _judge_lowest(tree, battery, subject, min(soc), usable)
    return answer, _soc(soc, usable), [balance, lowest]


def _charge_limit_a(tree: SupplyTree, battery: Battery) -> float:
    """Give the most a battery takes, by its own limit, kind and temperature. [A]"""
    own = math.inf if battery.charge_limit_a is None else battery.charge_limit_a
    ambient = tree.record.use.ambient_c
    return min(own, charge_limit_a(battery.chemistry, battery.capacity_ah, ambient))


def _chargers_a(tree: SupplyTree, battery: Battery) -> float:
    """Give what sun and driving can bring together: panels may share a charger. [A]"""
    if any(panel.to is None for panel in tree.record.supply.panels):
        return math.inf
    chargers = [c for c in tree.chargers.values() if c.to == battery.key]
    return sum(c.out_a for c in chargers if c.kind != "shore")


def _drive_a(tree: SupplyTree, battery: Battery) -> float:
    return sum(c.out_a for c in _driven(tree) if c.to == battery.key)


def _driven(tree: SupplyTree) -> list[Charger]:
    """Chargers that are taken to run while the vehicle is driven, and only then."""
    return [c for c in tree.chargers.values() if c.kind == "dc-dc"]


def _use_gaps(tree: SupplyTree, battery: Battery) -> Iterator[str]:
    use = tree.record.use
    driven = any(battery.key in (c.source, c.to) for c in _driven(tree))
    if driven and use.drive_h_per_day is None:
        yield "how many hours a day it is driven"
    if use.days is None:
        yield "how many days it stands away from mains"


def _unknown(rule: str, subject: str, unit: str, missing: list[str]) -> Finding:
    asks = missing[:3]
    if len(missing) > 3:
        asks.append(f"and {len(missing) - 3} more")
    what = "The day's balance" if rule == "energy-day" else "The lowest charge"
    return finding(
        rule,
        subject,
        "unknown",
        f"{what} is not known yet: enter {'; '.join(asks)}.",
        unit=unit,
        source="charge balance (derived)",
    )


def daily_loads(tree: SupplyTree, battery: Battery) -> Drawn:
    """
    Add up what hangs on a battery over one day.

    Parameters
    ----------
    tree : SupplyTree
        The supply.
    battery : Battery
        Whose loads count; short pulls such as a winch's do not.

    Returns
    -------
    Drawn
        Charge by item; where something is missing, its words.

    References
    ----------
    Sum of I h duty and of standby outside those hours; derived.
    """
    drawn = Drawn()
    for key, root in tree.fed_by.items():
        item = tree.items[key]
        if root != battery.key or item.load is None or item.load.short_time:
            continue
        charge = _item_ah(tree, battery, item)
        if isinstance(charge, str):
            drawn.missing.append(charge)
        else:
            drawn.parts.append((item.label, charge))
    drive_h, volts = tree.record.use.drive_h_per_day, tree.source_v(battery.key)
    for charger in _driven(tree):
        if charger.source == battery.key and drive_h is not None:
            amps = tree.charger_a(charger, volts)
            drawn.parts.append((tree.name_of(charger.key), amps * drive_h))
    return drawn


def _item_ah(tree: SupplyTree, battery: Battery, item: Item) -> float | str:
    """Charge one item draws in a day, or what is missing to know it. [Ah]"""
    load = item.load
    assert load is not None
    if load.hours_per_day is None:
        return f"hours a day {item.label} runs"
    amps = mean_a(load, tree.source_v(battery.key), tree.scale)
    if amps is None:
        return f"what {item.label} draws"
    duty = 1.0 if load.duty is None else load.duty
    if duty == "fridge":
        ambient = tree.record.use.ambient_c
        if ambient is None:
            return "the air temperature of the trip"
        duty = fridge_duty(ambient)
    standby = (load.standby_a or 0.0) * (24 - load.hours_per_day)
    return amps * load.hours_per_day * duty + standby


def sunshine(tree: SupplyTree, battery: Battery) -> Sunshine:
    """
    Add up what a battery's panels bring in a day of the trip's month.

    Parameters
    ----------
    tree : SupplyTree
        The supply; a panel without a charger counts for the first battery.
    battery : Battery
        The battery they fill.

    Returns
    -------
    Sunshine
        Charge and daylight; where latitude or month is missing, its words.

    Notes
    -----
    All panels of one charger together give no more than it takes and puts out.

    References
    ----------
    FAO-56 equations 21 and 35 (published); panel losses common practice.
    """
    panels: dict[str, list[Panel]] = defaultdict(list)
    for panel in tree.record.supply.panels:
        first = tree.record.supply.batteries[0].key
        to = first if panel.to is None else tree.chargers[panel.to].to
        if to == battery.key:
            panels[panel.to or ""].append(panel)
    use = tree.record.use
    if not panels:
        return Sunshine()
    if use.latitude_deg is None or use.month is None:
        return Sunshine(missing=["latitude and month of the trip"])
    hours = peak_sun_h(use.latitude_deg, use.month, planning("sunshine_ratio"))
    daylight = extraterrestrial(use.latitude_deg, MID_MONTH_DAY[use.month - 1])
    watts = sum(_panel_w(tree, to, group) for to, group in panels.items())
    ah = panel_wh(watts, hours, 1.0) / tree.source_v(battery.key)
    steps = (
        Step(
            label="Sun on a flat panel",
            formula="(0.25 + 0.50 n/N) Ra / 3.6",
            value=hours,
            unit="h",
            source="FAO-56 equations 21 and 35; n/N 0.6 by common practice",
            mark="published",
        ),
        Step(
            label="From the panels",
            formula="W × derate × h / V, no more than the charger takes",
            value=ah,
            unit="Ah",
            source=citation("energy"),
            mark=mark("energy"),
        ),
    )
    return Sunshine(ah, daylight.daylight_h, steps)


def _panel_w(tree: SupplyTree, to: str, panels: list[Panel]) -> float:
    """Power of a charger's panels in full sun, by what it can take. [W]"""
    rated = sum(p.power_w for p in panels)
    watts = sum(p.power_w * (p.derate or planning("panel_derate")) for p in panels)
    charger = tree.chargers.get(to)
    if charger is None:
        return watts
    if charger.solar_input_w and rated > charger.solar_input_w:
        watts *= charger.solar_input_w / rated
    most_v = charger.out_v or planning("charger_output") * tree.scale
    return min(watts, charger.out_a * most_v)


def _soc(soc: list[float], usable: float) -> dict[str, Any]:
    answer: dict[str, Any] = {
        "hourly": [
            {"hour": hour, "soc_ratio": ratio}
            for hour, ratio in enumerate(soc, start=1)
        ],
        "minimum_ratio": min(soc),
    }
    touched = hours_to_reserve(soc, 1 - usable)
    if touched is not None:
        answer["hours_to_reserve"] = touched
    return answer


def _days(tree: SupplyTree) -> tuple[int, str]:
    days = tree.record.use.days or 1
    return days, "1 day" if days == 1 else f"{days} days"


def _judge_day(
    tree: SupplyTree,
    subject: str,
    day: Day,
    usable_ah: float,
    working: tuple[Step, ...],
) -> Finding:
    """Hold what the days take out of the battery against what it may give."""
    days, over = _days(tree)
    short = max(0.0, -day.net_ah) * days
    outcome = verdict(short, usable_ah)
    net = f"{day.net_ah:+,.1f} Ah a day".replace("-", "−")
    said = f"{net}: no less comes in than is drawn."
    if short:
        said = f"{net}; short over {over}, against what may be used: "
        said += held_against(short, usable_ah, "Ah", least_places=1)
    clear = None
    if outcome == "over":
        more = math.ceil(10 * (short - usable_ah) / days) / 10
        clear = f"Bring in {more:,.1f} Ah a day more, draw that much less, or stay fewer days."
    return finding(
        "energy-day",
        subject,
        outcome,
        said,
        value=short,
        limit=usable_ah,
        unit="Ah",
        source=citation("energy"),
        would_clear=clear,
        working=working,
    )


def _judge_lowest(
    tree: SupplyTree, battery: Battery, subject: str, lowest: float, usable: float
) -> Finding:
    # Held as depth of discharge, so that more is worse as everywhere else.
    value, limit = 100 * (1 - lowest), 100 * usable
    outcome = verdict(value, limit)
    _, over = _days(tree)
    name = tree.source_name(battery.key)
    clear = None
    if outcome == "over":
        clear = "Charge earlier or longer, draw less, or fit a larger battery."
    return finding(
        "soc-minimum",
        subject,
        outcome,
        f"{name}, from full, drawn at the deepest over {over}: "
        + held_against(value, limit, "%"),
        value=value,
        limit=limit,
        unit="% drawn",
        source="hour by hour, charge balance (derived)",
        would_clear=clear,
    )


def _working(drawn: Drawn, sun: Sunshine, day: Day) -> Iterator[Step]:
    for label, charge in sorted(drawn.parts, key=lambda part: -part[1]):
        yield Step(
            label=label,
            formula="A × h × duty + standby",
            value=charge,
            unit="Ah",
            source="line item",
            mark="given",
        )
    yield from sun.steps
    yield Step(
        label="Driving",
        formula="charger A × h × charge efficiency",
        value=day.drive_ah,
        unit="Ah",
        source=citation("energy"),
        mark=mark("energy"),
    )
