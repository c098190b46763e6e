"""Whether each fuse can break the current its battery gives into a short."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from compliance.changes import told
from compliance.findings import (
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.fuse_checks import fuse_kind, kinds_made
from compliance.loads import circuit_name
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table

BEHIND = "Put these behind a fuse that breaks it."
OTHERWISE = (
    "Ask for the battery's own short-circuit figure, or put these behind a fuse that "
    "breaks it."
)


def check_interrupts(tree: SupplyTree) -> Iterator[Finding]:
    """
    Hold the fuses of each battery against its short-circuit current, in one go.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Yields
    ------
    Finding
        One for each battery that has a fuse.

    References
    ----------
    Interrupt ratings of tables/fuses.toml; see ``fault_current_a``.
    """
    for root, keys in tree.by_root.items():
        fused = [tree.solved[k] for k in keys if tree.circuits[k].fuse_a is not None]
        if fused and root not in tree.panels:
            judged, weak = _interrupt(tree, root, fused)
            yield _with_way(tree, root, fused, judged, weak) if weak else judged


def _breaks() -> dict[str, float]:
    ratings: dict[str, float] = table("fuses")["interrupt"]["value"]
    return ratings


def _interrupt(
    tree: SupplyTree, root: str, fused: list[AtCircuit]
) -> tuple[Finding, list[AtCircuit]]:
    ratings = _breaks()
    known = [
        (at, at.fault_a, float(ratings[fuse_kind(at.circuit)]))
        for at in fused
        if fuse_kind(at.circuit) in ratings and at.fault_a is not None
    ]
    weak = [at for at, fault, breaks in known if verdict(fault, breaks) == "over"]
    judged = {at.circuit.key for at, _, _ in known}
    unknown = [at for at in fused if at.circuit.key not in judged]
    fault, limit = None, None
    if known:
        _, fault, limit = max(known, key=lambda row: row[1] / row[2])
    name, outcome = tree.source_name(root), verdict(fault, limit)
    if weak:
        # Without its figure the resistance of the cells is planned, that of the joints
        # always; so only a wide margin over a recorded figure decides.
        assert limit is not None
        wide = limit * float(table("fuses")["interrupt_margin"]["value"])
        outcome = verdict(fault, wide) if _is_given(tree, root) else "not proven"
        outcome = "over" if outcome == "over" else "not proven"
        said = (
            f"{name}: a short may give about {fault:,.0f} A, where a fuse breaks "
            f"{limit:,.0f} A ({_names(weak)})."
        )
    elif unknown:
        outcome = "unknown"
        fault = limit = None
        said = (
            f"{name}: enter the fuse kind and the feeder's cable for {_names(unknown)}."
        )
    else:
        assert fault is not None
        assert limit is not None
        said = f"{name}, current into a short against what its fuses break: "
        said += held_against(fault, limit, "A")
    found = finding(
        "circuit-interrupt",
        root,
        outcome,
        said,
        value=fault,
        limit=limit,
        unit="A",
        source=citation("fuses", "interrupt"),
        working=tuple(_interrupt_step(*row) for row in known),
    )
    return found, weak


def _is_given(tree: SupplyTree, root: str) -> bool:
    """Say whether a battery's internal resistance is recorded."""
    battery = tree.batteries.get(root)
    return battery is not None and bool(battery.internal_mohm)


def _with_way(
    tree: SupplyTree,
    root: str,
    fused: list[AtCircuit],
    judged: Finding,
    weak: list[AtCircuit],
) -> Finding:
    """Say the kinds of fuse that break it, and put them in on a copy."""
    kinds = {at.circuit.key: _sufficient(at) for at in weak}
    worst = max(at.fault_a or 0.0 for at in weak)
    strongest = [kind for kind, amps in _ordered() if amps >= worst]
    otherwise = BEHIND if _is_given(tree, root) else OTHERWISE
    if None in kinds.values():
        if strongest:
            otherwise = otherwise.removesuffix(".")
            otherwise += (
                f": {strongest[0]}, where its maker states that it protects them."
            )
        return told(judged, (), otherwise)
    changes = tuple(Change("circuits", k, "fuse_kind", v) for k, v in kinds.items())
    said = ", ".join(sorted({str(kind) for kind in kinds.values()}))
    way = Way(f"fit {said} instead for {_names(weak)}", changes)
    tried = [
        replace(at, circuit=replace(at.circuit, fuse_kind=kinds[at.circuit.key]))
        if at.circuit.key in kinds
        else at
        for at in fused
    ]
    again, _ = _interrupt(tree, root, tried)
    return told(judged, [way] if again.verdict == "within" else [], otherwise)


@cache
def _ordered() -> list[tuple[str, float]]:
    return sorted(((k, float(v)) for k, v in _breaks().items()), key=lambda kv: kv[1])


def _sufficient(at: AtCircuit) -> str | None:
    """Kind of fuse that breaks the fault and is made in the rating, weakest first."""
    made = kinds_made(at.circuit.fuse_a or 0.0)
    for kind, amps in _ordered():
        if amps >= (at.fault_a or 0.0) and kind in made:
            return kind
    return None


def _names(circuits: list[AtCircuit]) -> str:
    names = [circuit_name(at.circuit) for at in circuits[:3]]
    if len(circuits) > 3:
        names.append(f"{len(circuits) - 3} more")
    return ", ".join(names)


def _interrupt_step(at: AtCircuit, fault: float, breaks: float) -> Step:
    return Step(
        label=circuit_name(at.circuit),
        formula=f"V / R to the fuse; its {fuse_kind(at.circuit)} fuse breaks {breaks:,.0f} A",
        value=fault,
        unit="A",
        source=citation("energy"),
        mark=mark("energy"),
    )
