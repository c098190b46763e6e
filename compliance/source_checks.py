"""Batteries, chargers, alternator and fuses held against what they can do."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from compliance.batteries import standby_days
from compliance.battery_checks import check_batteries, held
from compliance.changes import clears, told
from compliance.charger_checks import check_chargers
from compliance.findings import (
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.inputs import BuildRecord, Charger
from compliance.interrupt_checks import check_interrupts
from compliance.pull_checks import check_pulls
from compliance.reach_checks import check_both_ends
from compliance.supply import SupplyTree
from compliance.tables import citation

STAND_LONGER = (
    "Switch fitted loads off with the ignition, feed them from the other battery, or "
    "keep the start battery charged."
)


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
        *_standby(tree),
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


def _judge_alternator(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the alternator hot, and hot at idle, against all that is asked of it."""
    chargers = _from_alternator(tree)
    taken = math.fsum(tree.charger_a(c) for c in chargers)
    if not taken:
        return
    alternator = tree.record.vehicle.alternator
    own, rated = alternator.own_load_a, alternator.rated_a
    demand = None if own is None else taken + own
    ask = "Alternator: enter its rating and what the vehicle itself draws."
    for rule, name, words in (
        ("alternator", "alternator_hot_ratio", "hot"),
        ("alternator-idle", "alternator_idle_ratio", "hot, at idle"),
    ):
        gives = None if rated is None else rated * tree.figure(name)
        label = f"Alternator, {words}, with the vehicle's own load"
        judged = held(rule, "vehicle", label, demand, gives, ask, citation("energy"))
        if own is not None and rated is not None:
            known = [step for c in chargers for step in tree.charger_steps(c)]
            steps = [*_shares(own, taken), *dict.fromkeys(known)]
            steps += [tree.figure_step(name), _gives(tree, name, words, rated)]
            source = tree.record.settings.source(name)
            judged = replace(judged, working=tuple(steps), source=source)
        elif rule == "alternator-idle":
            # What is missing is said once.
            return
        if rule == "alternator-idle" and judged.verdict == "over":
            # Nobody idles all day, and many chargers wait for more voltage.
            judged = replace(judged, verdict="not proven", severity="check")
        yield judged


def _shares(own: float, taken: float) -> Iterator[Step]:
    for label, formula, amps in (
        ("The vehicle itself", "as recorded", own),
        ("DC-DC chargers", "at lowest input voltage", taken),
    ):
        given = label == "The vehicle itself"
        yield Step(
            label=label,
            formula=formula,
            value=amps,
            unit="A",
            source="as recorded" if given else "power balance",
            mark="given" if given else "derived",
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
    largest = max(_from_alternator(tree), key=lambda c: (c.out_a, c.key))
    amps = math.floor(largest.out_a * (1 - excess / tree.charger_a(largest)) + 1e-9)
    idle = judged.key == "alternator-idle"
    ways = []
    if amps > 0:
        change = Change("chargers", largest.key, "out_a", float(amps))
        at_idle = " while it idles" if idle else ""
        said = f"let {tree.name_of(largest.key)} give no more than {amps:d} A{at_idle}"
        ways.append(Way(said, (change,)))
    ratio = "alternator_idle_ratio" if idle else "alternator_hot_ratio"
    rated = float(math.ceil(judged.value / tree.figure(ratio) - 1e-9))
    fit = Change("alternator", "", "rated_a", rated)
    ways.append(Way(f"fit an alternator of {rated:g} A", (fit,)))

    def again(record: BuildRecord) -> Iterable[Finding]:
        return _judge_alternator(SupplyTree(record))

    return told(judged, [w for w in ways if clears(tree.record, w, judged.key, again)])


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


def _fitted_standby_a(tree: SupplyTree) -> float:
    """Give what loads on the start battery draw while it stands. [A]"""
    loads = [item.load for item in tree.fed_from.get("start", ())]
    return math.fsum(load.standby_a or 0.0 for load in loads if load is not None)


def _standby(tree: SupplyTree) -> Iterator[Finding]:
    for judged in _judge_standby(tree):
        yield _stand(tree, judged) if judged.verdict == "over" else judged


def _judge_standby(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the start battery of the standing vehicle against not starting."""
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    fitted = _fitted_standby_a(tree)
    if not fitted and not start.standby_a:
        return
    asks = [
        ask
        for ask, value in (
            ("the start battery's capacity", start.capacity_ah),
            ("what the standing vehicle draws", start.standby_a),
            ("how many days it stands", days),
        )
        if value is None
    ]
    lasts = None
    said = f"Start battery of the standing vehicle: enter {'; '.join(asks)}."
    if start.capacity_ah is not None and start.standby_a is not None:
        ratio = tree.figure("standby_no_start_ratio")
        lasts = standby_days(start.capacity_ah, start.standby_a + fitted, ratio)
    if days is not None and lasts is not None:
        said = "Start battery, days standing against days until it no longer starts: "
        said += held_against(days, lasts, "d", least_places=1)
    yield finding(
        "standby",
        "vehicle",
        verdict(days, lasts),
        said,
        value=days,
        limit=lasts,
        unit="d",
        source=citation("energy"),
        working=(
            tree.figure_step("standby_no_start_ratio"),
            Step(
                label="Fitted loads while it stands",
                formula="sum of standby currents",
                value=fitted,
                unit="A",
                source="line items",
                mark="given",
            ),
        ),
    )


def _stand(tree: SupplyTree, judged: Finding) -> Finding:
    """Say how long it may stand and what it may draw for the days asked."""
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    assert judged.limit is not None
    assert start.capacity_ah is not None
    assert start.standby_a is not None
    assert days is not None

    def again(record: BuildRecord) -> Iterable[Finding]:
        return _judge_standby(SupplyTree(record))

    ways = []
    share = tree.figure("standby_no_start_ratio")
    spare_a = share * start.capacity_ah / (24 * days) - start.standby_a
    spare_ma = math.floor(1000 * spare_a + 1e-9)
    loads = [i for i in tree.fed_from.get("start", ()) if i.load and i.load.standby_a]
    for item in sorted(
        loads, key=lambda i: ((i.load and i.load.standby_a) or 0, i.key)
    ):
        assert item.load is not None
        off = Change("items", item.key, "load", replace(item.load, standby_a=0.0))
        ways.append(Way(f"switch {item.label} off while it stands", (off,)))
    whole = math.floor(judged.limit + 1e-9)
    stand = Way(
        f"let it stand no more than {whole:d} d", (Change("use", "", "days", whole),)
    )
    tried = [w for w in ways[-2:] if clears(tree.record, w, judged.key, again)][:1]
    if whole >= 1 and clears(tree.record, stand, judged.key, again):
        tried.append(stand)
    found = told(judged, tried, STAND_LONGER)
    if spare_ma > 0:
        allowed = f" Fitted loads may draw {spare_ma:,d} mA for {days} d."
        found = replace(found, would_clear=f"{found.would_clear}{allowed}")
    return found
