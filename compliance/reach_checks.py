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

REACH_SOURCE = "200 mm: ISO 10133 (from memory) and guides to AS/NZS 3001.2 5.4 (read)"
BOTH_SOURCE = "a fuse at each end that is a source; common practice"


def _reach_source(tree: SupplyTree) -> str:
    settings = tree.record.settings
    own = settings.mark("fuse_reach_m") == "workshop rule"
    return settings.source("fuse_reach_m") if own else REACH_SOURCE


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
    if circuit.fuse_a is None or at.root in tree.panels:
        return
    limit, away = tree.figure("fuse_reach_m"), circuit.fuse_to_source_m
    outcome: Verdict = verdict(away, limit)
    said = f"{name}: measure from its source to the fuse along the cable."
    if away is not None:
        said = f"{name}, from its source to the fuse: "
        said += held_against(1000 * away, 1000 * limit, "mm")
    # Guides allow more inside an enclosure, so somebody decides on the spot.
    far = outcome == "over"
    judged = finding(
        "circuit-reach",
        circuit.key,
        "not proven" if far else outcome,
        said,
        value=away,
        limit=limit,
        unit="m",
        source=_reach_source(tree),
        working=(tree.figure_step("fuse_reach_m"),),
    )
    if far:
        judged = told(judged, [_nearer(tree, circuit)])
        enclosed = ", or enclose the cable up to it as the code allows."
        sentence = (judged.would_clear or "").removesuffix(".") + enclosed
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


def _joined(tree: SupplyTree, circuit: Circuit, battery: str) -> Finding:
    """Say that one fuse cannot stand at both ends of a cable."""
    here, there = tree.source_name(tree.roots[circuit.key]), tree.source_name(battery)
    judged = finding(
        "circuit-both-ends",
        circuit.key,
        "not proven",
        f"{circuit_name(circuit)} joins {here} and {there}: its fuse protects from the "
        f"side of {here} only.",
        source=BOTH_SOURCE,
    )
    return told(
        judged,
        (),
        f"Fit a second fuse at {there}, and note where it is on the circuit.",
    )


def _battery_end(tree: SupplyTree, circuit: Circuit, charger: str) -> Finding:
    """Look for the fuse at the battery on the way to one side of a charger."""
    top, limit = tree.circuits[tree.tops[circuit.key]], tree.figure("fuse_reach_m")
    battery, name = tree.source_name(tree.roots[circuit.key]), tree.name_of(charger)
    away = top.fuse_to_source_m
    outcome = verdict(away, limit) if top.fuse_a is not None else "unknown"
    said = f"{circuit_name(circuit)}, between {battery} and {name}, both fed: "
    if top.fuse_a is None:
        said += f"enter the fuse of {circuit_name(top)} at {battery}."
    elif away is None:
        said += f"measure how far the fuse of {circuit_name(top)} is from {battery}."
    else:
        said += f"fuse from {battery} at "
        said += held_against(1000 * away, 1000 * limit, "mm")
    judged = finding(
        "circuit-both-ends",
        circuit.key,
        "not proven" if outcome == "over" else outcome,
        said,
        value=away if top.fuse_a is not None else None,
        limit=limit,
        unit="m",
        source=BOTH_SOURCE,
        working=(tree.figure_step("fuse_reach_m"),),
    )
    return told(judged, [_nearer(tree, top)]) if outcome == "over" else judged
