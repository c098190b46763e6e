"""One battery through the customer's days: what is drawn, what comes in, how low."""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from compliance.batteries import Limit, absorbs_ratio, temperature_limit
from compliance.energy import Cycle, Day, fridge_duty, state_of_charge
from compliance.findings import Step
from compliance.inputs import Battery, Charger, Item, Panel
from compliance.loads import mean_a
from compliance.sun import MID_MONTH_DAY, extraterrestrial, panel_wh, peak_sun_h
from compliance.supply_facts import SupplyFacts
from compliance.tables import citation, mark


@dataclass(slots=True)
class Drawn:
    """What is drawn from one battery in a day, by item or charger, and what is missing."""

    parts: list[tuple[str, float]] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)

    @property
    def total_ah(self) -> float:
        """All of them, whatever their order. [Ah]"""
        return math.fsum(charge for _, charge in self.parts)


@dataclass(slots=True)
class Sunshine:
    """What a battery's panels bring in a day, losses of the panels taken off."""

    ah: float = 0.0
    daylight_h: float = 12.0
    apart_ratio: float = 0.0
    steps: tuple[Step, ...] = ()
    missing: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class ChargeLimit:
    """The most that a battery takes, what sets it, and in words why."""

    amps: float
    by: Literal["sheet", "temperature", "size"]
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryDays:
    """A battery's days, followed hour by hour, and what they were computed from."""

    battery: Battery
    drawn: Drawn
    sun: Sunshine
    day: Day
    cycle: Cycle
    limit: ChargeLimit
    chargers_a: float
    days: int
    usable_ratio: float
    soc: list[float]
    steps: tuple[Step, ...]

    @property
    def stopped(self) -> bool:
        """Whether the temperature of its cells stops all charging."""
        return self.limit.by == "temperature" and not self.limit.amps


def battery_days(tree: SupplyFacts, battery: Battery) -> BatteryDays | list[str]:
    """
    Follow one battery through the customer's days.

    Parameters
    ----------
    tree : SupplyFacts
        The supply.
    battery : Battery
        The battery.

    Returns
    -------
    BatteryDays or list of str
        Its days; where something is missing, what to enter.

    References
    ----------
    Charge balance, derived; see ``state_of_charge``.
    """
    drawn, sun = daily_loads(tree, battery), sunshine(tree, battery)
    missing = [*drawn.missing, *sun.missing, *_use_gaps(tree, battery)]
    if missing:
        return list(dict.fromkeys(missing))
    use, coulombic = tree.record.use, f"coulombic_ratio_{battery.chemistry}"
    ratio, days = tree.figure(coulombic), use.days or 1
    limit, drive_a = _charge_limit(tree, battery), _drive_a(tree, battery)
    cycle = Cycle(
        load_a=drawn.total_ah / 24,
        solar_ah=sun.ah * ratio,
        daylight_h=sun.daylight_h,
        drive_a=drive_a * ratio,
        drive_h=use.drive_h_per_day or 0.0,
        chargers_a=drive_a * ratio,
        apart_ratio=sun.apart_ratio,
        charge_limit_a=limit.amps,
        absorbs_ratio=absorbs_ratio(battery.chemistry),
    )
    usable, usable_step = tree.usable(battery)
    steps = [usable_step, tree.figure_step(coulombic)]
    if battery.chemistry != "lfp":
        steps.append(tree.figure_step("lead_charge_rate_c"))
    return BatteryDays(
        battery=battery,
        drawn=drawn,
        sun=sun,
        day=cycle.day(),
        cycle=cycle,
        limit=limit,
        chargers_a=drive_a,
        days=days,
        usable_ratio=usable,
        soc=state_of_charge(battery.capacity_ah, cycle, days),
        steps=tuple(steps),
    )


def _charge_limit(tree: SupplyFacts, battery: Battery) -> ChargeLimit:
    """Give the most a battery takes, by its own limit, kind and temperature."""
    own, cell_c = battery.charge_limit_a, tree.cell_c(battery)
    amps = tree.charge_limit_a(battery, cell_c)
    if own is not None and own < amps:
        said = f"it takes no more than {own:g} A, the battery's own limit"
        return ChargeLimit(own, "sheet", said)
    if cell_c is None or (amps and battery.chemistry != "lfp"):
        said = f"a battery of its kind and size takes no more than {amps:,.1f} A"
        return ChargeLimit(amps, "size", said)
    said = f"its cells at {cell_c:g} °C "
    low, high = (temperature_limit(battery, x)[0] for x in CHARGE_LIMITS)
    if amps:
        said += f"take no more than {amps:,.1f} A"
    elif cell_c < low:
        said += f"are too cold to be charged, {low:g} °C is the least"
    else:
        said += f"are too hot to be charged, {high:g} °C is the most"
    return ChargeLimit(amps, "temperature", said)


CHARGE_LIMITS: tuple[Limit, Limit] = ("charge_min", "charge_max")


def _drive_a(tree: SupplyFacts, battery: Battery) -> float:
    """Give what driving brings; panels on the same chargers bring no more. [A]"""
    return math.fsum(c.out_a for c in _driven_into(tree, battery))


def _driven_into(tree: SupplyFacts, battery: Battery) -> list[Charger]:
    return [c for c in tree.into.get(battery.key, ()) if _driven(c)]


def _driven(charger: Charger) -> bool:
    """Say whether a charger is taken to run while it is driven, and only then."""
    return charger.kind == "dc-dc"


def _use_gaps(tree: SupplyFacts, battery: Battery) -> Iterator[str]:
    use = tree.record.use
    driven = any(
        _driven(c)
        for c in (*tree.into.get(battery.key, ()), *tree.out_of.get(battery.key, ()))
    )
    if driven and use.drive_h_per_day is None:
        yield "how many hours a day it is driven"
    if use.days is None:
        yield "how many days it stands away from mains"


def daily_loads(tree: SupplyFacts, battery: Battery) -> Drawn:
    """
    Add up what hangs on a battery over one day.

    Parameters
    ----------
    tree : SupplyFacts
        The supply.
    battery : Battery
        Whose loads count; short pulls such as a winch's do not.

    Returns
    -------
    Drawn
        Charge by key of item or charger; where something is missing, its words.

    References
    ----------
    Sum of I h duty and of standby outside those hours; derived.
    """
    drawn = Drawn()
    for item in tree.fed_from.get(battery.key, ()):
        if item.load is None or item.load.short_time:
            continue
        charge = _item_ah(tree, battery, item)
        if isinstance(charge, str):
            drawn.missing.append(charge)
        else:
            drawn.parts.append((item.key, charge))
    drive_h, volts = tree.record.use.drive_h_per_day, tree.source_v(battery.key)
    for charger in tree.out_of.get(battery.key, ()):
        if _driven(charger) and drive_h is not None:
            amps = tree.charger_a(charger, volts)
            drawn.parts.append((charger.key, amps * drive_h))
    return drawn


def _item_ah(tree: SupplyFacts, battery: Battery, item: Item) -> float | str:
    """Charge one item draws in a day, or what is missing to know it. [Ah]"""
    load = item.load
    assert load is not None
    if load.hours_per_day is None:
        return f"hours a day {item.label} runs"
    amps = running_a(tree, battery.key, item)
    if isinstance(amps, str):
        return amps
    standby = (load.standby_a or 0.0) * (24 - load.hours_per_day)
    return amps * load.hours_per_day + standby


def running_a(tree: SupplyFacts, source: str, item: Item) -> float | str:
    """
    Give what an item draws on the whole while it is on.

    Parameters
    ----------
    tree : SupplyFacts
        The supply.
    source : str
        Key of the battery it hangs on, ``start`` for the one of the engine.
    item : Item
        With a load.

    Returns
    -------
    float or str
        Current times duty, or what is missing to know it. [A]

    References
    ----------
    Derived; the duty of a fridge is common practice.
    """
    load = item.load
    assert load is not None
    amps = mean_a(load, tree.source_v(source), tree.scale)
    if amps is None:
        return f"what {item.label} draws"
    duty = 1.0 if load.duty is None else load.duty
    if duty == "fridge":
        ambient = tree.record.use.ambient_c
        if ambient is None:
            return "the air temperature of the trip"
        duty = fridge_duty(ambient)
    return amps * duty


def sunshine(tree: SupplyFacts, battery: Battery) -> Sunshine:
    """
    Add up what a battery's panels bring in a day of the trip's month.

    Parameters
    ----------
    tree : SupplyFacts
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
    for panel in tree.panels_of.get(battery.key, ()):
        panels[panel.to or ""].append(panel)
    use = tree.record.use
    if not panels:
        return Sunshine()
    if use.latitude_deg is None or use.month is None:
        return Sunshine(missing=["latitude and month of the trip"])
    hours = peak_sun_h(use.latitude_deg, use.month, tree.figure("sunshine_ratio"))
    daylight = extraterrestrial(use.latitude_deg, MID_MONTH_DAY[use.month - 1])
    by_charger = {to: _panel_w(tree, to, group) for to, group in panels.items()}
    watts = math.fsum(by_charger.values())
    shared = [by_charger[c.key] for c in _driven_into(tree, battery) if c.key in panels]
    ah = panel_wh(watts, hours, 1.0) / tree.source_v(battery.key)
    derates = {p.derate: p for group in panels.values() for p in group}
    steps = (
        tree.figure_step("sunshine_ratio"),
        Step(
            label="Sun on a flat panel",
            formula="(0.25 + 0.50 n/N) Ra / 3.6",
            value=hours,
            unit="h",
            source="FAO-56 equations 21 and 35",
            mark="published",
        ),
        *(_derate(tree, panel)[1] for panel in derates.values()),
        Step(
            label="From the panels",
            formula="W × derate × h / V, no more than the charger takes",
            value=ah,
            unit="Ah",
            source=citation("energy"),
            mark=mark("energy"),
        ),
    )
    apart_ratio = 1 - math.fsum(shared) / watts if watts else 1.0
    return Sunshine(ah, daylight.daylight_h, apart_ratio, steps)


def _derate(tree: SupplyFacts, panel: Panel) -> tuple[float, Step]:
    return tree.own_or_figure(panel.derate, "panel_derate", "Yield of this panel")


def _panel_w(tree: SupplyFacts, to: str, panels: list[Panel]) -> float:
    """Power of a charger's panels in full sun, by what it can take. [W]"""
    rated = math.fsum(p.power_w for p in panels)
    watts = math.fsum(p.power_w * _derate(tree, p)[0] for p in panels)
    charger = tree.chargers.get(to)
    if charger is None:
        return watts
    if charger.solar_input_w and rated > charger.solar_input_w:
        watts *= charger.solar_input_w / rated
    most_v = charger.out_v or tree.figure("charger_output_v") * tree.scale
    return min(watts, charger.out_a * most_v)
