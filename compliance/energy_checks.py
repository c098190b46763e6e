"""The build's batteries held against the customer's days."""

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from compliance.batteries import moved_out
from compliance.battery_checks import left_open
from compliance.changes import changed, told
from compliance.energy import autonomy_days, hours_to_reserve
from compliance.energy_days import BatteryDays, battery_days
from compliance.energy_ways import day_ways, lowest_ways
from compliance.findings import Finding, Step, finding, held_against, verdict
from compliance.inputs import Battery, BuildRecord
from compliance.supply import SupplyTree
from compliance.tables import citation, mark


def check_energy(tree: SupplyTree) -> tuple[dict[str, Any], list[Finding]]:
    """
    Follow the build's batteries through the customer's days.

    Parameters
    ----------
    tree : SupplyTree
        The supply.

    Returns
    -------
    tuple of dict and list of Finding
        ``day`` and ``soc`` of each battery by its key, and the findings of all; those
        of further batteries than the first carry their key.

    References
    ----------
    See the functions that compute each quantity.
    """
    answers: dict[str, Any] = {}
    findings: list[Finding] = []
    for place, battery in enumerate(tree.record.supply.batteries):
        subject = battery.key if place else "vehicle"
        days = battery_days(tree, battery)
        judged = _judge(tree, battery, days, subject)
        if isinstance(days, list):
            answers[battery.key] = {"day": {}, "soc": {}}
        else:
            judged = [_with_ways(tree, days, f, subject) for f in judged]
            answers[battery.key] = {"day": _day(days), "soc": _soc(days)}
        findings += judged
    return answers, findings


def _judge(
    tree: SupplyTree, battery: Battery, days: BatteryDays | list[str], subject: str
) -> list[Finding]:
    if isinstance(days, list):
        rules = (("energy-day", "Ah"), ("soc-minimum", "% drawn"))
        return [_unknown(rule, subject, unit, days) for rule, unit in rules]
    judged = [_judge_day(tree, subject, days), _judge_lowest(tree, subject, days)]
    if all(f.verdict == "within" for f in judged) or not tree.in_engine_space(battery):
        return judged
    # Moved out of the engine space, it is judged without the air that is taken there.
    other = SupplyTree(changed(tree.record, moved_out(battery).changes))
    moved = other.batteries[battery.key]
    outside = _judge(other, moved, battery_days(other, moved), subject)
    suits = {f.key for f in outside if f.verdict == "within"}
    why = tree.taken_air(battery)
    return [left_open(f, why) if f.key in suits else f for f in judged]


def _with_ways(
    tree: SupplyTree, days: BatteryDays, judged: Finding, subject: str
) -> Finding:
    """Look for what clears an overdrawn battery, each way tried on a copy."""
    if judged.verdict == "within":
        return judged

    def again(record: BuildRecord) -> list[Finding]:
        other = SupplyTree(record)
        battery = other.batteries[days.battery.key]
        return _judge(other, battery, battery_days(other, battery), subject)

    assert judged.value is not None
    assert judged.limit is not None
    if not judged.key.startswith("energy-day"):
        ways = lowest_ways(tree, days, judged.key, again)
        return told(
            judged,
            ways,
            _otherwise(days)
            or "Charge earlier or longer, draw less, or fit a larger battery.",
        )
    more = math.ceil(10 * (judged.value - judged.limit) / days.days - 1e-9) / 10
    otherwise = _otherwise(days) or (
        f"Bring in {more:,.1f} Ah a day more, draw that much less, or stay fewer days."
    )
    found = told(judged, day_ways(tree, days, judged.key, again), otherwise)
    if found.ways:
        sentence = f"{more:,.1f} Ah a day are missing: {_lower(found.would_clear)}"
        found = replace(found, would_clear=sentence)
    return found


def _otherwise(days: BatteryDays) -> str:
    """Say what is left where the temperature of the cells stops all charging."""
    if not days.stopped:
        return ""
    return (
        "Keep its cells at temperatures that they may be charged at, bring in more "
        "and draw less."
    )


def _lower(sentence: str | None) -> str:
    assert sentence
    return sentence[0].lower() + sentence[1:]


def _day(days: BatteryDays) -> dict[str, Any]:
    day = days.day
    answer = {
        "load_ah": day.load_ah,
        "solar_ah": day.solar_ah,
        "drive_ah": day.drive_ah,
        "net_ah": day.net_ah,
    }
    usable_ah = days.battery.capacity_ah * days.usable_ratio
    lasts = autonomy_days(usable_ah, day.load_ah)
    if lasts is not None:
        answer["autonomy_days"] = lasts
    return answer


def _soc(days: BatteryDays) -> dict[str, Any]:
    soc = days.soc
    answer: dict[str, Any] = {
        "hourly": [
            {"hour": hour, "soc_ratio": ratio}
            for hour, ratio in enumerate(soc, start=1)
        ],
        "minimum_ratio": min(soc),
    }
    touched = hours_to_reserve(soc, 1 - days.usable_ratio)
    if touched is not None:
        answer["hours_to_reserve"] = touched
    return answer


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


def _over(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _judge_day(tree: SupplyTree, subject: str, days: BatteryDays) -> Finding:
    """Hold what the days take out of the battery against what it may give."""
    day, usable_ah = days.day, days.battery.capacity_ah * days.usable_ratio
    short = max(0.0, -day.net_ah) * days.days
    net = f"{day.net_ah:+,.1f} Ah a day".replace("-", "−") + _not_taken(days)
    said = f"{net}: no less comes in than is drawn."
    if short:
        said = f"{net}; short over {_over(days.days)}, against what may be used: "
        said += held_against(short, usable_ah, "Ah", least_places=1)
    return finding(
        "energy-day",
        subject,
        verdict(short, usable_ah),
        said,
        value=short,
        limit=usable_ah,
        unit="Ah",
        source=citation("energy"),
        working=(*_working(tree, days), *days.steps),
    )


def _judge_lowest(tree: SupplyTree, subject: str, days: BatteryDays) -> Finding:
    name = tree.source_name(days.battery.key)
    # Held as depth of discharge, so that more is worse as everywhere else.
    value, limit = 100 * (1 - min(days.soc)), 100 * days.usable_ratio
    return finding(
        "soc-minimum",
        subject,
        verdict(value, limit),
        f"{name}, from full, drawn at the deepest over {_over(days.days)}"
        f"{_not_taken(days)}: " + held_against(value, limit, "%"),
        value=value,
        limit=limit,
        unit="% drawn",
        source="hour by hour, charge balance (derived)",
        working=days.steps,
    )


def _not_taken(days: BatteryDays) -> str:
    """Say how much of what sun and driving offer is lost, and why."""
    said = ""
    for lost, why in (
        (
            days.day.capped_ah,
            f"the charger that sun and driving share gives {days.chargers_a:g} A",
        ),
        (days.day.refused_ah, days.limit.why),
    ):
        if lost >= LEAST_LOST_AH:
            said += f", {lost:,.1f} Ah a day offered but not taken ({why})"
    return said


LEAST_LOST_AH = 0.05
"""Less than this is not worth a word. [Ah]"""


def _working(tree: SupplyTree, days: BatteryDays) -> Iterator[Step]:
    for key, charge in sorted(days.drawn.parts, key=lambda part: (-part[1], part[0])):
        yield Step(
            label=tree.name_of(key),
            formula="A × h × duty + standby",
            value=charge,
            unit="Ah",
            source="line item",
            mark="given",
        )
        if key in tree.chargers:
            yield from tree.charger_steps(tree.chargers[key])[:2]
    yield from days.sun.steps
    yield Step(
        label="Driving",
        formula="charger A × h × charge efficiency",
        value=days.cycle.drive_a * days.cycle.drive_h,
        unit="Ah",
        source=citation("energy"),
        mark=mark("energy"),
    )
    lost = days.day.capped_ah + days.day.refused_ah
    if lost >= LEAST_LOST_AH:
        yield Step(
            label="Offered but not taken",
            formula="hour by hour, by the chargers and by the battery",
            value=lost,
            unit="Ah",
            source="charge balance",
            mark="derived",
        )
