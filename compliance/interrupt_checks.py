"""Whether each fuse can break the current its battery gives into a short."""

from collections.abc import Iterator

from compliance.findings import Finding, Step, finding, held_against, verdict
from compliance.loads import circuit_name
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table


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
    for root in dict.fromkeys(tree.roots.values()):
        fused = [
            at
            for at in tree.solved.values()
            if at.root == root and at.circuit.fuse_a is not None
        ]
        if fused:
            yield _interrupt(tree, root, fused)


def _interrupt(tree: SupplyTree, root: str, fused: list[AtCircuit]) -> Finding:
    ratings: dict[str, float] = table("fuses")["interrupt"]["value"]
    known = [
        (at, at.fault_a, float(ratings[at.circuit.fuse_kind or ""]))
        for at in fused
        if at.circuit.fuse_kind in ratings and at.fault_a is not None
    ]
    weak = [at for at, fault, breaks in known if verdict(fault, breaks) == "over"]
    judged = {at.circuit.key for at, _, _ in known}
    unknown = [at for at in fused if at.circuit.key not in judged]
    fault, limit = None, None
    if known:
        _, fault, limit = max(known, key=lambda row: row[1] / row[2])
    name, outcome, clear = tree.source_name(root), verdict(fault, limit), None
    if weak:
        # The resistance of cells and joints is a planning figure.
        outcome = "not proven"
        said = (
            f"{name}: a short may give about {fault:,.0f} A, where a fuse breaks "
            f"{limit:,.0f} A ({_names(weak)})."
        )
        clear = (
            "Ask for the battery's own short-circuit figure, or put these behind a "
            "fuse that breaks it."
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
    return finding(
        "circuit-interrupt",
        root,
        outcome,
        said,
        value=fault,
        limit=limit,
        unit="A",
        source=citation("fuses"),
        would_clear=clear,
        working=tuple(_interrupt_step(*row) for row in known),
    )


def _names(circuits: list[AtCircuit]) -> str:
    names = [circuit_name(at.circuit) for at in circuits[:3]]
    if len(circuits) > 3:
        names.append(f"{len(circuits) - 3} more")
    return ", ".join(names)


def _interrupt_step(at: AtCircuit, fault: float, breaks: float) -> Step:
    return Step(
        label=circuit_name(at.circuit),
        formula=f"V / R to the fuse; its {at.circuit.fuse_kind} fuse breaks {breaks:,.0f} A",
        value=fault,
        unit="A",
        source=citation("energy"),
        mark=mark("energy"),
    )
