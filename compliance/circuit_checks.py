"""Each circuit held against its limits: drop, fuse, place of the fuse."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from compliance.ampacity import ampacity_a, largest_fuse_a, next_fuse_a
from compliance.findings import (
    VERDICT_ORDER,
    Finding,
    Step,
    Verdict,
    finding,
    held_against,
    verdict,
)
from compliance.inputs import Circuit
from compliance.loads import circuit_name, circuit_ohm
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table
from compliance.wiring import CONDUCTOR_C, STANDARD_AREAS_MM2, withstand_s

ASSUMED_INSULATION_C = 60.0
"""What is taken outside the engine space where nobody recorded the insulation."""

XLPE_C = 90.0
"""From this rating on an insulation counts as cross-linked, IEC 60364-4-43 (memory)."""

DROP_SOURCE = "3 % ABYC E-11 and ISO 10133 (published), 5 % common practice"
REACH_SOURCE = "200 mm: ISO 10133 (from memory) and guides to AS/NZS 3001.2 5.4 (read)"


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
        judged = [*_drop(tree, at), *_pull(at), *_fuse(at), *_reach(at)]
        findings += judged
        verdicts = {f.verdict for f in judged}
        figures = {
            "current_a": at.current_a,
            "drop_v": at.drop_v,
            "drop_percent": at.drop_percent,
            "limit_percent": at.limit_percent,
            "fuse_minimum_a": fuse_minimum_a(at),
            "ampacity_a": circuit_ampacity_a(at.circuit),
            "fault_a": at.fault_a,
            "verdict": next((v for v in VERDICT_ORDER if v in verdicts), "unknown"),
        }
        answers[key] = {n: v for n, v in figures.items() if v is not None}
    return answers, findings


def circuit_ampacity_a(circuit: Circuit) -> float | None:
    """Give what a circuit's cable carries where it lies, None where not known. [A]"""
    if circuit.area_mm2 is None:
        return None
    if circuit.insulation_c is None and circuit.engine_space:
        return None
    return ampacity_a(
        circuit.area_mm2,
        circuit.insulation_c or ASSUMED_INSULATION_C,
        engine_space=circuit.engine_space,
    )


def fuse_minimum_a(at: AtCircuit) -> float | None:
    """Give the smallest fuse for what a circuit carries, short pulls let be. [A]"""
    if at.current_a is None or at.short_time:
        return None
    return at.current_a / float(table("fuses")["load_factor"]["value"])


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
            source=DROP_SOURCE,
        )
    elif limit is not None and at.drop_percent is not None:
        said = held_against(at.drop_percent, limit, "%", least_places=1)
        outcome = verdict(at.drop_percent, limit)
        yield finding(
            "circuit-drop",
            circuit.key,
            outcome,
            f"{name} drops {at.drop_v:.2f} V at {at.current_a:.1f} A: {said}",
            value=at.drop_percent,
            limit=limit,
            unit="%",
            source=DROP_SOURCE,
            would_clear=_larger_cable(tree, at) if outcome == "over" else None,
            working=_drop_working(tree, at),
        )


def _collapse(tree: SupplyTree, at: AtCircuit) -> Finding:
    """Say that no steady state exists, as a stop where the power itself hangs."""
    name = circuit_name(at.circuit)
    loads = [tree.items[k].load for k in at.circuit.feeds if k in tree.items]
    own = any(
        load is not None and (load.kind == "power" or not tree.has_power(at))
        for load in loads
    )
    return finding(
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
        would_clear=_larger_cable(tree, at) if own else None,
    )


def _larger_cable(tree: SupplyTree, at: AtCircuit) -> str:
    """Give the smallest standard cable, here or in a feeder, that clears the drop."""
    walk: Circuit | None = at.circuit
    while walk is not None:
        for area in STANDARD_AREAS_MM2:
            if area > (walk.area_mm2 or 0) and _clears(tree, at, walk, area):
                return (
                    f"Fit {area:g} mm² instead of {walk.area_mm2:g} mm² for "
                    f"{circuit_name(walk)}."
                )
        walk = tree.circuits.get(walk.source or "")
    return "Shorten the run or split the loads: no single larger cable is enough."


def _clears(tree: SupplyTree, at: AtCircuit, walk: Circuit, area: float) -> bool:
    """
    Try a larger cable in one place of the way to a circuit.

    An estimate with today's currents sorts out most sizes before a full solution: what
    holds its power draws less behind a larger cable, what follows the voltage draws
    more, so the estimate is allowed a tenth.
    """
    # A short pull has no limit of its own, but it must be supplied at all.
    limit = 100.0 if at.limit_percent is None else at.limit_percent
    changed = replace(walk, area_mm2=area)
    current = tree.current_a(walk.key, at.state)
    own, new = circuit_ohm(walk), circuit_ohm(changed)
    assert own is not None
    assert new is not None
    if at.drop_v is not None and current is not None:
        left = 100 * (at.drop_v - current * (own - new)) / tree.record.supply.system_v
        if left > 1.1 * limit:
            return False
    return verdict(tree.drop_percent_with(changed, at), limit) == "within"


def _drop_working(tree: SupplyTree, at: AtCircuit) -> tuple[Step, ...]:
    steps = []
    walk: Circuit | None = at.circuit
    while walk is not None:
        current, ohm = tree.current_a(walk.key, at.state), circuit_ohm(walk)
        assert current is not None
        assert ohm is not None
        extra = f" + {walk.extra_ohm:g} Ω" if walk.extra_ohm else ""
        steps.append(
            Step(
                label=f"{circuit_name(walk)}: {walk.area_mm2:g} mm²",
                formula=f"{current:.1f} A × (2 × {walk.run_m:g} m × R′ at "
                f"{CONDUCTOR_C:g} °C{extra})",
                value=current * ohm,
                unit="V",
                source=citation("conductors"),
                mark=mark("conductors"),
            )
        )
        walk = tree.circuits.get(walk.source or "")
    steps.append(
        Step(
            label="Share of the system voltage",
            formula=f"100 × drop / {tree.record.supply.system_v:g} V",
            value=at.drop_percent,
            unit="%",
            source="derived",
            mark="derived",
        )
    )
    return tuple(steps)


def _fuse(at: AtCircuit) -> Iterator[Finding]:
    circuit, name = at.circuit, circuit_name(at.circuit)
    fuse, amps, least = circuit.fuse_a, circuit_ampacity_a(circuit), fuse_minimum_a(at)
    value, limit, outcome = fuse, amps, verdict(fuse, amps)
    if fuse is None:
        if at.short_time:
            return
        said = f"{name}: enter its fuse."
    elif outcome == "over":
        said = f"{name}, fuse against what its cable carries: " + _amps(value, limit)
    elif least is not None and verdict(least, fuse) == "over":
        value, limit, outcome = least, fuse, "over"
        said = f"{name}, fuse for {at.current_a:.1f} A against the one fitted: "
        said += _amps(value, limit)
    elif outcome == "within" and (least is not None or at.short_time):
        said = f"{name}, fuse against what its cable carries: " + _amps(value, limit)
    else:
        # A fuse that fits the cable is still not judged without its load.
        outcome = "unknown"
        said = f"{name}: its {fuse:g} A fuse cannot be judged yet; enter {_wanted(at)}."
    yield finding(
        "circuit-fuse",
        circuit.key,
        outcome,
        said,
        value=value,
        limit=limit,
        unit="A",
        source=f"{citation('fuses')}; {citation('ampacity_iso10133')}",
        would_clear=_other_fuse(at) if outcome == "over" else None,
        working=_fuse_working(at),
    )


def _pull(at: AtCircuit) -> Iterator[Finding]:
    """Hold the longest single pull against what a short pull's cable stands."""
    circuit, amps = at.circuit, at.current_a
    if not at.short_time or not amps or circuit.area_mm2 is None:
        return
    data = table("fuses")
    longest = float(data["short_pull"]["value"])
    rated = circuit.insulation_c or ASSUMED_INSULATION_C
    k = float(data["withstand_k"]["value"]["xlpe" if rated >= XLPE_C else "pvc"])
    stands = withstand_s(circuit.area_mm2, amps, k)
    outcome = verdict(longest, stands)
    yield finding(
        "circuit-pull",
        circuit.key,
        outcome,
        f"{circuit_name(circuit)}, one pull at {amps:.0f} A against what "
        f"{circuit.area_mm2:g} mm² stands: {held_against(longest, stands, 's')}",
        value=longest,
        limit=stands,
        unit="s",
        source=f"{citation('fuses', 'short_pull')}; {citation('fuses', 'withstand_k')}",
        would_clear="Fit a larger cable." if outcome == "over" else None,
        working=(
            Step(
                label="The cable stands it for",
                formula=f"({k:g} × {circuit.area_mm2:g} mm² / {amps:.0f} A)²",
                value=stands,
                unit="s",
                source=citation("fuses", "withstand_k"),
                mark=mark("fuses", "withstand_k"),
            ),
        ),
    )


def _amps(value: float | None, limit: float | None) -> str:
    assert value is not None
    assert limit is not None
    return held_against(value, limit, "A", least_places=1)


def _wanted(at: AtCircuit) -> str:
    circuit = at.circuit
    if circuit.area_mm2 is None:
        return "its cable area"
    if circuit_ampacity_a(circuit) is not None:
        name = circuit_name(circuit)
        gap = at.missing.removesuffix(f" of {name}")
        return gap or "a cable over which its load can be supplied"
    if circuit.insulation_c is None and circuit.engine_space:
        return "the temperature rating of its insulation"
    return "a cable that the table of ampacities allows there"


def _other_fuse(at: AtCircuit) -> str:
    """Give the fuse, or the cable and the fuse, that fits both load and cable."""
    circuit, amps = at.circuit, circuit_ampacity_a(at.circuit)
    least = fuse_minimum_a(at)
    if least is None:
        # The load is not known or pulls for seconds; the cable alone says how much.
        largest = largest_fuse_a(amps or 0.0)
        return (
            f"Fit at most a {largest:g} A fuse." if largest else "Fit a larger cable."
        )
    fuse = next_fuse_a(least)
    if fuse is None:
        return "Split the loads: no fuse of the series is large enough."
    if amps is not None and fuse <= amps:
        return f"Fit a {fuse:g} A fuse."
    for area in STANDARD_AREAS_MM2:
        carries = circuit_ampacity_a(replace(circuit, area_mm2=area))
        if carries is not None and carries >= fuse:
            return f"Fit {area:g} mm² and a {fuse:g} A fuse."
    return "Split the loads: no standard cable carries such a fuse."


def _fuse_working(at: AtCircuit) -> tuple[Step, ...]:
    circuit, least = at.circuit, fuse_minimum_a(at)
    amps = circuit_ampacity_a(circuit)
    steps = []
    if least is not None:
        factor = table("fuses")["load_factor"]["value"]
        steps.append(
            Step(
                label="Smallest fuse for the load",
                formula=f"{at.current_a:.1f} A / {factor:g}",
                value=least,
                unit="A",
                source=f"load factor {factor:g}",
                mark="common practice",
            )
        )
    if amps is not None:
        assumed = "" if circuit.insulation_c else " taken, none recorded"
        space = ", engine space" if circuit.engine_space else ""
        steps.append(
            Step(
                label=f"What {circuit.area_mm2:g} mm² carries",
                formula=f"{circuit.insulation_c or ASSUMED_INSULATION_C:g} °C "
                f"insulation{assumed}{space}",
                value=amps,
                unit="A",
                source=citation("ampacity_iso10133"),
                mark=mark("ampacity_iso10133"),
            )
        )
    return tuple(steps)


def _reach(at: AtCircuit) -> Iterator[Finding]:
    circuit, name = at.circuit, circuit_name(at.circuit)
    if circuit.fuse_a is None:
        return
    limit, away = float(table("fuses")["reach"]["value"]), circuit.fuse_to_source_m
    outcome: Verdict = verdict(away, limit)
    clear = None
    if away is None:
        said = f"{name}: measure from its source to the fuse along the cable."
    else:
        said = f"{name}, from its source to the fuse: " + held_against(
            1000 * away, 1000 * limit, "mm"
        )
    if outcome == "over":
        # Guides allow more inside an enclosure, so somebody decides on the spot.
        outcome = "not proven"
        clear = (
            f"Bring the fuse within {1000 * limit:.0f} mm, or enclose the cable up to "
            "it as the code allows."
        )
    yield finding(
        "circuit-reach",
        circuit.key,
        outcome,
        said,
        value=away,
        limit=limit,
        unit="m",
        source=REACH_SOURCE,
        would_clear=clear,
    )
