"""Fuses held against their place: near the source, and at each end that is one."""

from collections.abc import Iterator
from dataclasses import replace

from compliance.changes import told
from compliance.findings import (
    Change,
    Finding,
    Verdict,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.inputs import Circuit
from compliance.loads import circuit_name
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table

BOTH_SOURCE = "a fuse at each end that is a source; common practice"


def _reach_source(tree: SupplyTree) -> str:
    settings = tree.record.settings
    own = settings.mark("fuse_reach_m") == "workshop rule"
    if own:
        return settings.source("fuse_reach_m")
    entries = ("reach", "reach_most")
    return "; ".join(f"{citation('fuses', e)} ({mark('fuses', e)})" for e in entries)


def check_reach(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    """
    Hold the cable between a source and its fuse against what is allowed.

    Parameters
    ----------
    tree : SupplyTree
        The supply.
    at : AtCircuit
        A circuit; one without a fuse and one of a panel is let be.

    Yields
    ------
    Finding
        ``circuit-reach``.

    References
    ----------
    tables/fuses.toml, reach.
    """
    circuit, name = at.circuit, circuit_name(at.circuit)
    if circuit.fuse_a is None or at.root in tree.panels or _is_far_end(tree, circuit):
        return
    limit, away = tree.figure("fuse_reach_m"), circuit.fuse_to_source_m
    outcome: Verdict = verdict(away, limit)
    said = f"{name}: measure from its source to the fuse along the cable."
    if away is not None:
        said = f"{name}, from its source to the fuse: "
        said += held_against(1000 * away, 1000 * limit, "mm")
    # Some codes allow more inside an enclosure or a sheath, so up to the most that any
    # of them allows somebody decides on the spot.
    far = outcome == "over"
    most = float(table("fuses")["reach_most"]["value"])
    enclosed = far and verdict(away, max(most, limit)) == "within"
    if enclosed and away is not None:
        said = (
            f"{name}: {1000 * away:.0f} mm of cable from its source to the fuse, where "
        )
        said += f"{1000 * limit:.0f} mm may be open; look whether it is enclosed."
    judged = finding(
        "circuit-reach",
        circuit.key,
        "not proven" if enclosed else outcome,
        said,
        value=away,
        limit=limit,
        unit="m",
        source=_reach_source(tree),
        working=(tree.figure_step("fuse_reach_m"),),
    )
    if far:
        judged = told(judged, [_nearer(tree, circuit)])
    if enclosed:
        cover = ", or enclose the cable up to it as the code allows."
        sentence = (judged.would_clear or "").removesuffix(".") + cover
        judged = replace(judged, would_clear=sentence)
    yield judged


def _nearer(tree: SupplyTree, circuit: Circuit) -> Way:
    limit = tree.figure("fuse_reach_m")
    change = Change("circuits", circuit.key, "fuse_to_source_m", limit)
    return Way(f"bring the fuse within {1000 * limit:.0f} mm", (change,))


def check_both_ends(tree: SupplyTree) -> Iterator[Finding]:
    """
    Look for a fuse at each battery of a connection between two.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Yields
    ------
    Finding
        ``circuit-both-ends``, one for each circuit between a battery and a DC-DC
        charger, and for each that joins two batteries.

    References
    ----------
    Common practice: whatever joins two sources is fed into a short from both.
    """
    for circuit in tree.circuits.values():
        feeds = sorted(circuit.feeds)
        joined = [k for k in feeds if k in tree.batteries]
        between = [
            k for k in feeds if k in tree.chargers and tree.chargers[k].kind == "dc-dc"
        ]
        root = tree.roots[circuit.key]
        if joined and root not in tree.panels:
            yield _joined(tree, circuit, joined[0])
        elif between and root not in tree.panels:
            yield _battery_end(tree, circuit, between[0])


def _is_far_end(tree: SupplyTree, circuit: Circuit) -> bool:
    """Say whether a circuit's fuse stands for the battery it leads to."""
    joins = any(key in tree.batteries for key in circuit.feeds)
    return joins and tree.tops[circuit.key] != circuit.key


def _joined(tree: SupplyTree, circuit: Circuit, battery: str) -> Finding:
    """
    Look for a fuse at each end of a cable between two batteries.

    A circuit has one fuse, so such a cable is two circuits in the record: the one from
    the first battery with its fuse there, and behind it the one that leads to the second
    with the fuse there, as far from the first circuit's end as it is.
    """
    here, there = tree.source_name(tree.roots[circuit.key]), tree.source_name(battery)
    top, limit = tree.circuits[tree.tops[circuit.key]], tree.figure("fuse_reach_m")
    second = _is_far_end(tree, circuit) and circuit.fuse_a is not None
    run, at = circuit.run_m, circuit.fuse_to_source_m
    away = None if run is None or at is None else max(run - at, 0.0)
    name, first = circuit_name(circuit), circuit_name(top)
    outcome: Verdict = verdict(away, limit)
    said = f"{name} joins {here} and {there}: "
    clear = f"Put the fuse of {name} within {1000 * limit:.0f} mm of {there}."
    if not second or top.fuse_a is None:
        outcome, away = "over", None
        said += "it needs a fuse at both, and one is recorded at most."
        clear = f"Fit a second fuse at {there} and enter that end as a circuit of its "
        clear += f"own behind {first}, with its fuse and how far along it that is."
    elif away is None:
        said += f"enter its run and how far along it the fuse at {there} is."
    else:
        said += f"fuse from {there} at " + held_against(1000 * away, 1000 * limit, "mm")
    judged = finding(
        "circuit-both-ends",
        circuit.key,
        outcome,
        said,
        value=away,
        limit=limit if away is not None else None,
        unit="m",
        source=BOTH_SOURCE,
        working=(tree.figure_step("fuse_reach_m"),),
    )
    return told(judged, (), clear) if outcome == "over" else judged


def _battery_end(tree: SupplyTree, circuit: Circuit, charger: str) -> Finding:
    """Look for the fuse at the battery on the way to one side of a charger."""
    top, limit = tree.circuits[tree.tops[circuit.key]], tree.figure("fuse_reach_m")
    battery, name = tree.source_name(tree.roots[circuit.key]), tree.name_of(charger)
    away = top.fuse_to_source_m
    outcome = verdict(away, limit) if top.fuse_a is not None else "unknown"
    most = max(float(table("fuses")["reach_most"]["value"]), limit)
    enclosed = outcome == "over" and verdict(away, most) == "within"
    said = f"{circuit_name(circuit)}, between {battery} and {name}, both fed: "
    if top.fuse_a is None:
        said += f"enter the fuse of {circuit_name(top)} at {battery}."
    elif away is None:
        said += f"measure how far the fuse of {circuit_name(top)} is from {battery}."
    elif enclosed:
        said += (
            f"fuse {1000 * away:.0f} mm from {battery}, where {1000 * limit:.0f} mm "
        )
        said += "of cable may be open; look whether it is enclosed."
    else:
        said += f"fuse from {battery} at "
        said += held_against(1000 * away, 1000 * limit, "mm")
    judged = finding(
        "circuit-both-ends",
        circuit.key,
        "not proven" if enclosed else outcome,
        said,
        value=away if top.fuse_a is not None else None,
        limit=limit,
        unit="m",
        source=BOTH_SOURCE,
        working=(tree.figure_step("fuse_reach_m"),),
    )
    return told(judged, [_nearer(tree, top)]) if outcome == "over" else judged
