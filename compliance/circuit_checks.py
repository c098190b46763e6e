"""Each circuit held against its limits: its drop, and all that is said of it."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from compliance.changes import told
from compliance.findings import (
    VERDICT_ORDER,
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.fuse_checks import (
    check_fuse,
    circuit_ampacity_a,
    fuse_minimum_a,
)
from compliance.inputs import Circuit
from compliance.loads import circuit_name, circuit_ohm
from compliance.pull_checks import check_pull
from compliance.reach_checks import check_reach
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table
from compliance.wiring import STANDARD_AREAS_MM2

CRITICAL_SOURCE = "critical circuits of ABYC E-11 and ISO 10133 (published)"

MOST_CABLES = 2
"""Cables that are offered, so that a shorter run is still told beside them."""

SHORTEST_M = 0.3
"""No run is asked to be shorter than this."""


def check_circuits(tree: SupplyTree) -> tuple[dict[str, Any], list[Finding]]:
    """
    Judge every circuit of a build.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Returns
    -------
    tuple of dict and list of Finding
        The figures of each circuit by its key, and the findings.

    References
    ----------
    See the functions that compute each quantity.
    """
    answers: dict[str, Any] = {}
    findings: list[Finding] = []
    for key, at in tree.solved.items():
        judged = [
            *_drop(tree, at),
            *_pull_drop(tree, at),
            *check_pull(tree, at),
            *check_fuse(tree, at),
            *check_reach(tree, at),
        ]
        findings += judged
        verdicts = {f.verdict for f in judged}
        figures = {
            "current_a": at.current_a,
            "drop_v": at.drop_v,
            "drop_percent": at.drop_percent,
            "limit_percent": at.limit_percent,
            "fuse_minimum_a": fuse_minimum_a(tree, at),
            "ampacity_a": circuit_ampacity_a(at.circuit),
            "fault_a": at.fault_a,
            "verdict": next((v for v in VERDICT_ORDER if v in verdicts), "unknown"),
        }
        answers[key] = {n: v for n, v in figures.items() if v is not None}
    return answers, findings


def _drop(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    circuit, name, limit = at.circuit, circuit_name(at.circuit), at.limit_percent
    if at.collapses:
        yield _collapse(tree, at)
    elif at.missing:
        yield finding(
            "circuit-drop",
            circuit.key,
            "unknown",
            f"{name}: enter {at.missing.removesuffix(f' of {name}')}.",
            limit=limit,
            unit="%",
            source=_drop_source(tree, circuit),
        )
    elif limit is not None and at.drop_percent is not None:
        said = held_against(at.drop_percent, limit, "%", least_places=1)
        outcome = verdict(at.drop_percent, limit)
        if outcome == "over" and not _stops(tree, at):
            outcome = "not proven"
            said = said.rpartition(":")[0] + " of common practice; try whether its "
            said += "load works so, or clear it."
        judged = finding(
            "circuit-drop",
            circuit.key,
            outcome,
            f"{name} drops {at.drop_v:.2f} V at {at.current_a:.1f} A: {said}",
            value=at.drop_percent,
            limit=limit,
            unit="%",
            source=_drop_source(tree, circuit),
            working=_drop_working(tree, at),
        )
        yield judged if outcome == "within" else _with_ways(tree, at, judged)


def _stops(tree: SupplyTree, at: AtCircuit) -> bool:
    """
    Say whether a drop over its limit stops the vehicle.

    A maker's or the workshop's own limit does, and any at a charger or a fridge, which
    fail their owner on the first trip. The common practice for a lamp or a pump is held
    for comfort: over it somebody looks, unless the drop is so large that nothing runs.
    """
    assert at.drop_percent is not None
    if verdict(at.drop_percent, float(table("fuses")["drop_most"]["value"])) == "over":
        return True
    return any(
        tree.is_firm(key, limit[1]) and verdict(at.drop_percent, limit[0]) == "over"
        for key in at.circuit.feeds
        if (limit := tree.drop_limit(key)) is not None
    )


def _pull_drop(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    """Say what a short pull drops at its own end, held to its maker's limit or 20 %."""
    loads = [tree.items[k].load for k in at.circuit.feeds if k in tree.items]
    short = [load for load in loads if load is not None and load.short_time]
    pull = at.pull
    if not short or pull is None or pull.drop_percent is None or not pull.current_a:
        return
    stated = [load.limit_percent for load in short if load.limit_percent is not None]
    limit = min(stated) if stated else float(table("fuses")["pull_drop"]["value"])
    outcome = verdict(pull.drop_percent, limit)
    said = f"{circuit_name(at.circuit)} drops {pull.drop_v:.2f} V in a pull at "
    said += f"{pull.current_a:.0f} A: "
    if outcome == "over" and not stated:
        # Nobody stated what this motor needs, so somebody has to find out.
        outcome = "not proven"
        said += f"{pull.drop_percent:.1f} %, where {limit:g} % is common practice; "
        said += "ask its maker what it pulls at that voltage."
    else:
        said += held_against(pull.drop_percent, limit, "%", least_places=1)
    source = "line item" if stated else citation("fuses", "pull_drop")
    step = Step(
        label="Drop allowed in a short pull",
        formula="as recorded" if stated else "planning figure",
        value=limit,
        unit="%",
        source=source,
        mark="given" if stated else mark("fuses", "pull_drop"),
    )
    judged = finding(
        "pull-drop",
        at.circuit.key,
        outcome,
        said,
        value=pull.drop_percent,
        limit=limit,
        unit="%",
        source=source,
        working=(*_drop_working(tree, pull), step),
    )
    held = replace(pull, limit_percent=limit)
    yield _with_ways(tree, held, judged) if outcome != "within" else judged


def _drop_source(tree: SupplyTree, circuit: Circuit) -> str:
    """Name where the limit comes from, the workshop's and the item's own as such."""
    limit = tree.limit(circuit)
    if limit is None:
        return citation("conductors")
    step = limit[1]
    if step.mark in ("workshop rule", "given"):
        return step.source
    if step == tree.figure_step("drop_limit_charging_percent"):
        return CRITICAL_SOURCE
    return f"{step.source} ({step.mark})"


def _collapse(tree: SupplyTree, at: AtCircuit) -> Finding:
    """Say that no steady state exists, as a stop where the power itself hangs."""
    name = circuit_name(at.circuit)
    loads = [tree.items[k].load for k in at.circuit.feeds if k in tree.items]
    own = any(
        load is not None and (load.kind == "power" or not tree.has_power(at))
        for load in loads
    )
    judged = finding(
        "circuit-drop",
        at.circuit.key,
        "over" if own else "unknown",
        f"{name} cannot be supplied: over its cables this load has no steady state."
        if own
        else f"{name}: its voltage is not known while a load beside it cannot be "
        "supplied.",
        limit=at.limit_percent,
        unit="%",
        source="Kirchhoff's laws; no real root (derived)",
    )
    return _with_ways(tree, at, judged) if own else judged


def _with_ways(tree: SupplyTree, at: AtCircuit, judged: Finding) -> Finding:
    return told(
        judged,
        [*_larger_cable(tree, at), *_shorter_run(tree, at)],
        "Shorten the run or split the loads: no single larger cable is enough.",
    )


def _way_up(tree: SupplyTree, at: AtCircuit) -> Iterator[Circuit]:
    """A circuit and its feeders towards the source."""
    walk: Circuit | None = at.circuit
    while walk is not None:
        yield walk
        walk = tree.circuits.get(walk.source or "")


def _larger_cable(tree: SupplyTree, at: AtCircuit) -> Iterator[Way]:
    """Give the smallest standard cable that clears the drop, here and in a feeder."""
    found = 0
    for walk in _way_up(tree, at):
        if found == MOST_CABLES:
            return
        for area in STANDARD_AREAS_MM2:
            larger = replace(walk, area_mm2=area)
            if area > (walk.area_mm2 or 0) and _clears(tree, at, walk, larger):
                said = f"fit {area:g} mm² instead of {walk.area_mm2:g} mm² for "
                change = Change("circuits", walk.key, "area_mm2", area)
                yield Way(said + circuit_name(walk), (change,))
                found += 1
                break


def _shorter_run(tree: SupplyTree, at: AtCircuit) -> Iterator[Way]:
    """Give the longest run, here or in a feeder, that clears the drop."""
    limit = at.limit_percent
    if at.drop_v is None or limit is None:
        return
    excess_v = at.drop_v - limit / 100 * tree.nominal_v(at.root)
    for walk in _way_up(tree, at):
        current, ohm = tree.current_a(walk.key, at.state), _ohm(tree, walk)
        assert walk.run_m is not None
        cable_ohm = ohm - walk.extra_ohm
        if not current or not cable_ohm:
            continue
        run_m = walk.run_m * (1 - excess_v / current / cable_ohm)
        run_m = int(10 * run_m) / 10
        if run_m >= SHORTEST_M and _clears(tree, at, walk, replace(walk, run_m=run_m)):
            change = Change("circuits", walk.key, "run_m", run_m)
            yield Way(
                f"bring the run of {circuit_name(walk)} down to {run_m:g} m", (change,)
            )
            return


def _ohm(tree: SupplyTree, circuit: Circuit) -> float:
    ohm = circuit_ohm(circuit, tree.conductor_c)
    assert ohm is not None
    return ohm


def _clears(tree: SupplyTree, at: AtCircuit, walk: Circuit, other: Circuit) -> bool:
    """
    Try another cable in one place of the way to a circuit.

    An estimate with today's currents sorts out most sizes before a full solution: what
    holds its power draws less behind a larger cable, what follows the voltage draws
    more, so the estimate is allowed a tenth.
    """
    # A short pull has no limit of its own, but it must be supplied at all.
    limit = 100.0 if at.limit_percent is None else at.limit_percent
    current = tree.current_a(walk.key, at.state)
    if at.drop_v is not None and current is not None:
        saved_v = current * (_ohm(tree, walk) - _ohm(tree, other))
        left = 100 * (at.drop_v - saved_v) / tree.nominal_v(at.root)
        if left > 1.1 * limit:
            return False
    now = tree.solved_with(other, at)
    return now is not None and verdict(now.drop_percent, limit) == "within"


def _drop_working(tree: SupplyTree, at: AtCircuit) -> tuple[Step, ...]:
    steps: list[Step] = []
    for walk in _way_up(tree, at):
        current, ohm = tree.current_a(walk.key, at.state), _ohm(tree, walk)
        assert current is not None
        extra = f" + {walk.extra_ohm:g} Ω" if walk.extra_ohm else ""
        steps.append(
            Step(
                label=f"{circuit_name(walk)}: {walk.area_mm2:g} mm²",
                formula=f"{current:.1f} A × (2 × {walk.run_m:g} m × R′ at "
                f"{tree.conductor_c:g} °C{extra})",
                value=current * ohm,
                unit="V",
                source=citation("conductors"),
                mark=mark("conductors"),
            )
        )
    panel, limit = tree.panels.get(at.root), tree.limit(at.circuit)
    if panel is not None:
        steps += [*tree.panel_a(panel)[1], tree.panel_v(panel)[1]]
    steps.append(tree.figure_step("conductor_c"))
    steps += [limit[1]] if limit else []
    whose = "panel's" if panel is not None else "system"
    steps.append(
        Step(
            label=f"Share of the {whose} voltage",
            formula=f"100 × drop / {tree.nominal_v(at.root):g} V",
            value=at.drop_percent,
            unit="%",
            source="derived",
            mark="derived",
        )
    )
    return tuple(steps)
