"""Batteries, chargers, alternator and fuses held against what they can do."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from compliance.battery_checks import check_batteries, held, left_open
from compliance.changes import clears, told
from compliance.charger_checks import check_chargers
from compliance.energy_days import running_a
from compliance.findings import (
    Change,
    Finding,
    Mark,
    Step,
    Way,
    finding,
)
from compliance.inputs import BuildRecord, Charger, Item
from compliance.interrupt_checks import check_interrupts
from compliance.pull_checks import check_pulls
from compliance.reach_checks import check_both_ends
from compliance.standby_checks import check_standby
from compliance.supply import SupplyTree
from compliance.tables import citation


def check_sources(tree: SupplyTree) -> tuple[dict[str, Any], list[Finding]]:
    """
    Judge what a build's batteries, chargers and alternator are asked for.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Returns
    -------
    tuple of dict and list of Finding
        ``sources`` as the open record's answer names them, and the findings.

    References
    ----------
    See the functions that compute each quantity.
    """
    findings = [
        *check_batteries(tree),
        *_alternator(tree),
        *check_interrupts(tree),
        *check_both_ends(tree),
        *check_pulls(tree),
        *_unfed_loads(tree),
        *check_chargers(tree),
        *check_standby(tree),
    ]
    answers: dict[str, Any] = {}
    for judged in findings:
        name = _answer_name(judged)
        if name is not None:
            figures = {
                "demand_a": judged.value,
                "limit_a": judged.limit,
                "verdict": judged.verdict,
            }
            answers[name] = {n: v for n, v in figures.items() if v is not None}
    return answers, findings


def _answer_name(judged: Finding) -> str | None:
    match judged.key.partition(".")[0]:
        case "battery-discharge" | "charger-input":
            return judged.subject
        case "battery-charge":
            return f"{judged.subject}-charge"
        case "alternator" | "alternator-idle" as name:
            return name
        case _:
            return None


def _from_alternator(tree: SupplyTree) -> list[Charger]:
    return [c for c in tree.chargers.values() if c.kind == "dc-dc" and _at_start(c)]


def _at_start(charger: Charger) -> bool:
    return charger.source == "start"


def _alternator(tree: SupplyTree) -> Iterator[Finding]:
    for judged in _judge_alternator(tree):
        if judged.value is None or judged.limit is None or judged.verdict == "within":
            yield judged
        else:
            yield _with_ways(tree, judged)


def _on_start(tree: SupplyTree) -> list[Item]:
    """Give the items on the start battery that may run for long while driving."""
    items = tree.fed_from.get("start", ())
    return [i for i in items if i.load is not None and not i.load.short_time]


def _judge_alternator(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the alternator hot, and hot at idle, against all that is asked of it."""
    chargers = _from_alternator(tree)
    taken = math.fsum(tree.charger_a(c) for c in chargers)
    loads = [(i, running_a(tree, "start", i)) for i in _on_start(tree)]
    if not taken and not loads:
        return
    alternator = tree.record.vehicle.alternator
    own, rated = alternator.own_load_a, alternator.rated_a
    gaps = [amps for _, amps in loads if isinstance(amps, str)]
    if own is None or rated is None:
        gaps.insert(0, "its rating and what the vehicle itself draws")
    if own is None or rated is None or gaps:
        # What is missing is said once.
        ask = f"Alternator: enter {', '.join(dict.fromkeys(gaps))}."
        yield held("alternator", "vehicle", "", None, None, ask, citation("energy"))
        return
    drawn = [(i, amps) for i, amps in loads if not isinstance(amps, str)]
    rests = math.fsum(_rests_a(tree, i, amps) for i, amps in drawn)
    shares = tuple(_shares(own, taken, [(i.label, amps) for i, amps in drawn]))
    known = [step for c in chargers for step in tree.charger_steps(c)]
    demand = math.fsum(float(share.value or 0.0) for share in shares)
    for rule, name, words in (
        ("alternator", "alternator_hot_ratio", "hot"),
        ("alternator-idle", "alternator_idle_ratio", "hot, at idle"),
    ):
        gives, source = rated * tree.figure(name), tree.record.settings.source(name)
        label = f"Alternator, {words}, with the vehicle's own load"
        judged = held(rule, "vehicle", label, demand, gives, "", source)
        steps = (*shares, *dict.fromkeys(known), tree.figure_step(name))
        judged = replace(judged, working=(*steps, _gives(tree, name, words, rated)))
        yield _opened(judged, gives, demand - rests)


def _opened(judged: Finding, gives: float, over_drive_a: float) -> Finding:
    """Leave open what is over for a while only."""
    if judged.key == "alternator-idle":
        # Nobody idles all day, and many chargers wait for more voltage.
        return left_open(judged, AT_IDLE)
    if over_drive_a > gives:
        return judged
    # For that while the start battery gives the rest.
    said = f"all on at once, {over_drive_a:.1f} A over the whole drive: look at what "
    return left_open(judged, f"{said}runs together.")


def _rests_a(tree: SupplyTree, item: Item, amps: float) -> float:
    """Part of a load's current that falls away over the whole of a day's drive. [A]"""
    assert item.load is not None
    hours, driven = item.load.hours_per_day, tree.record.use.drive_h_per_day
    if hours is None or not driven:
        return 0.0
    return amps * max(0.0, 1 - hours / driven)


AT_IDLE = (
    "at idle only: look whether the charger cuts back, and what need not be on then."
)


def _shares(own: float, taken: float, loads: list[tuple[str, float]]) -> Iterator[Step]:
    rows: list[tuple[str, str, float, str, Mark]] = [
        ("The vehicle itself", "as recorded", own, "as recorded", "given")
    ]
    if taken:
        at = "at lowest input voltage"
        rows.append(("DC-DC chargers", at, taken, "power balance", "derived"))
    rows += [(name, "A × duty", amps, "line item", "given") for name, amps in loads]
    for label, formula, amps, source, mark in rows:
        yield Step(
            label=label,
            formula=formula,
            value=amps,
            unit="A",
            source=source,
            mark=mark,
        )


def _gives(tree: SupplyTree, name: str, words: str, rated: float) -> Step:
    ratio, settings = tree.figure(name), tree.record.settings
    return Step(
        label=f"It gives {words}",
        formula=f"{ratio:g} × {rated:g} A",
        value=ratio * rated,
        unit="A",
        source=settings.source(name),
        mark=settings.mark(name),
    )


def _with_ways(tree: SupplyTree, judged: Finding) -> Finding:
    """Say the largest charger and the smallest alternator that fit, both tried."""
    assert judged.value is not None
    assert judged.limit is not None
    excess = judged.value - judged.limit
    idle = judged.key == "alternator-idle"
    ways = []
    for largest in sorted(
        _from_alternator(tree), key=lambda c: (c.out_a, c.key), reverse=True
    )[:1]:
        amps = math.floor(largest.out_a * (1 - excess / tree.charger_a(largest)) + 1e-9)
        if amps <= 0:
            break
        change = Change("chargers", largest.key, "out_a", float(amps))
        at_idle = " while it idles" if idle else ""
        said = f"let {tree.name_of(largest.key)} give no more than {amps:d} A{at_idle}"
        ways.append(Way(said, (change,)))
    ratio = "alternator_idle_ratio" if idle else "alternator_hot_ratio"
    rated = float(math.ceil(judged.value / tree.figure(ratio) - 1e-9))
    own = tree.record.vehicle.alternator.rated_a
    if own is not None and rated <= LARGER * own:
        fit = Change("alternator", "", "rated_a", rated)
        ways.append(Way(f"fit an alternator of {rated:g} A", (fit,)))

    def again(record: BuildRecord) -> Iterable[Finding]:
        return _judge_alternator(SupplyTree(record))

    tried = [way for way in ways if clears(tree.record, way, judged.key, again)]
    return told(judged, tried, "See that not all of it runs at once.")


LARGER = 1.5
"""No alternator so much larger is offered for a vehicle. Common practice."""


def _unfed_loads(tree: SupplyTree) -> Iterator[Finding]:
    for item in tree.items.values():
        if item.load is not None and item.key not in tree.fed_by:
            yield finding(
                "load-unfed",
                item.key,
                "unknown",
                f"{item.label} draws current but hangs on no circuit: choose what feeds it.",
                source="every load has a protected supply; common practice",
            )
