"""Fuses held against their load and their cable."""

from collections.abc import Iterator
from dataclasses import replace

from compliance.ampacity import ampacity_a, largest_fuse_a, next_fuse_a
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
from compliance.inputs import Circuit
from compliance.loads import circuit_name
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table
from compliance.wiring import STANDARD_AREAS_MM2

ASSUMED_INSULATION_C = 60.0
"""What is taken outside the engine space where nobody recorded the insulation."""

FUSE_SOURCE = f"{citation('fuses')}; {citation('ampacity_iso10133')}"


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


def fuse_minimum_a(tree: SupplyTree, at: AtCircuit) -> float | None:
    """Give the smallest fuse for what a circuit carries, short pulls let be. [A]"""
    if at.current_a is None or at.short_time:
        return None
    if at.root in tree.panels:
        return at.current_a * float(table("fuses")["panel_ratio"]["value"])
    return at.current_a / tree.figure("fuse_load_factor")


def fuse_kind(circuit: Circuit) -> str:
    """Name the kind of a circuit's fuse as the tables do; empty where none is given."""
    return (circuit.fuse_kind or "").lower()


def kinds_made(rating: float) -> list[str]:
    """Give the kinds of fuse that are made in a rating."""
    made: dict[str, list[float]] = table("fuses")["kinds"]["value"]
    return [kind for kind, (low, high) in made.items() if low <= rating <= high]


def _check_kind(circuit: Circuit) -> Iterator[Finding]:
    """Say where no fuse of the kind is made in the rating that is recorded."""
    made: dict[str, list[float]] = table("fuses")["kinds"]["value"]
    kind, fuse = fuse_kind(circuit), circuit.fuse_a
    if fuse is None or kind not in made or kind in kinds_made(fuse):
        return
    low, high = made[kind]
    judged = finding(
        "fuse-kind",
        circuit.key,
        "not proven",
        f"{circuit_name(circuit)}: {kind} fuses are made from {low:g} to {high:g} A, "
        f"{fuse:g} A is recorded; read it off the fuse.",
        value=fuse,
        limit=high,
        unit="A",
        source=f"{citation('fuses', 'kinds')} ({mark('fuses', 'kinds')})",
    )
    ways = [
        Way(
            f"fit a {other} fuse of {fuse:g} A",
            (Change("circuits", circuit.key, "fuse_kind", other),),
        )
        for other in kinds_made(fuse)
    ]
    yield told(judged, ways, "No kind of fuse is made in that rating.")


def check_fuse(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    """
    Hold a circuit's fuse between its load and its cable.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.
    at : AtCircuit
        The circuit.

    Yields
    ------
    Finding
        ``circuit-fuse``, none for a short pull without a fuse; ``fuse-kind`` where no
        such fuse is made.

    References
    ----------
    tables/fuses.toml and tables/ampacity_iso10133.toml.
    """
    yield from _check_kind(at.circuit)
    if at.circuit.fuse_a is None and at.root in tree.panels:
        yield _no_fuse(tree, at)
    elif at.circuit.fuse_a is not None or not at.short_time:
        judged = _judge_fuse(tree, at)
        if judged.verdict == "over":
            ways = [w for w in _other_fuse(tree, at) if _fits(tree, at, w)]
            judged = told(judged, ways, _no_way(tree, at))
        yield judged


def _judge_fuse(tree: SupplyTree, at: AtCircuit) -> Finding:
    circuit, name = at.circuit, circuit_name(at.circuit)
    fuse, amps = circuit.fuse_a, circuit_ampacity_a(circuit)
    least = fuse_minimum_a(tree, at)
    value, limit, outcome = fuse, amps, verdict(fuse, amps)
    if fuse is None:
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
    return finding(
        "circuit-fuse",
        circuit.key,
        outcome,
        said,
        value=value,
        limit=limit,
        unit="A",
        source=FUSE_SOURCE,
        working=_fuse_working(tree, at),
    )


def _no_fuse(tree: SupplyTree, at: AtCircuit) -> Finding:
    """Judge the cable of a panel without a fuse by what the panel can give at most."""
    name, amps = circuit_name(at.circuit), circuit_ampacity_a(at.circuit)
    least = fuse_minimum_a(tree, at)
    outcome = verdict(least, amps)
    said = f"{name}: enter {_wanted(at)}."
    if least is not None and amps is not None:
        said = (
            f"{name}, 1.25 times what its panel gives into a short against what its "
            f"cable carries: {_amps(least, amps)} A panel alone gives no more, so a "
            "fuse is not needed where the charger lets nothing back."
        )
    judged = finding(
        "circuit-fuse",
        at.circuit.key,
        outcome,
        said,
        value=least,
        limit=amps,
        unit="A",
        source=f"{citation('fuses', 'panel_ratio')}; {citation('ampacity_iso10133')}",
        working=_fuse_working(tree, at),
    )
    if outcome != "over" or least is None:
        return judged
    ways = [Way(f"fit {area:g} mm²", _area(at, area)) for area in _carrying(at, least)]
    return told(judged, ways[:1], "Split the panels: no standard cable carries them.")


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


def _area(at: AtCircuit, area_mm2: float) -> tuple[Change, ...]:
    return (Change("circuits", at.circuit.key, "area_mm2", area_mm2),)


def _carrying(at: AtCircuit, amps: float) -> Iterator[float]:
    """Standard areas that carry a current where the circuit lies, smallest first."""
    for area in STANDARD_AREAS_MM2:
        carries = circuit_ampacity_a(replace(at.circuit, area_mm2=area))
        if carries is not None and carries >= amps:
            yield area


def _other_fuse(tree: SupplyTree, at: AtCircuit) -> Iterator[Way]:
    """Give the fuse, or the cable and the fuse, that fits both load and cable."""
    circuit, least = at.circuit, fuse_minimum_a(tree, at)
    amps = circuit_ampacity_a(circuit) or 0.0

    def fuse_of(rating: float) -> tuple[str, tuple[Change, ...]]:
        fuse = Change("circuits", circuit.key, "fuse_a", rating)
        kind, made = fuse_kind(circuit), kinds_made(rating)
        if not kind or not made or kind in made:
            return f"a {rating:g} A fuse", (fuse,)
        other = Change("circuits", circuit.key, "fuse_kind", made[0])
        return f"a {rating:g} A {made[0]} fuse", (fuse, other)

    if least is None:
        # The load is not known or pulls for seconds; the cable alone says how much.
        largest = largest_fuse_a(amps)
        assert largest is not None
        said, changes = fuse_of(largest)
        yield Way(f"fit at most {said}", changes)
        return
    fuse = next_fuse_a(least)
    if fuse is None:
        return
    said, changes = fuse_of(fuse)
    if fuse <= amps:
        yield Way(f"fit {said}", changes)
        return
    for area in _carrying(at, fuse):
        yield Way(f"fit {area:g} mm² and {said}", (*_area(at, area), *changes))
        return


def _fits(tree: SupplyTree, at: AtCircuit, way: Way) -> bool:
    """Try a fuse, and a cable with it where the way changes that too."""
    members = {change.member: change.value for change in way.changes}
    area = members.get("area_mm2")
    now: AtCircuit | None = at
    if isinstance(area, float | int) and at.drop_v is not None:
        now = tree.solved_with(replace(at.circuit, area_mm2=float(area)), at)
    assert now is not None
    circuit = replace(at.circuit, **members)  # type: ignore[arg-type]
    tried = _judge_fuse(tree, replace(now, circuit=circuit))
    # Without its load a fuse is not judged, but it is no longer over.
    return tried.verdict in ("within", "unknown")


def _no_way(tree: SupplyTree, at: AtCircuit) -> str:
    if next_fuse_a(fuse_minimum_a(tree, at) or 0.0) is None:
        return "Split the loads: no fuse of the series is large enough."
    return "Split the loads: no standard cable carries such a fuse."


def _fuse_working(tree: SupplyTree, at: AtCircuit) -> tuple[Step, ...]:
    circuit, least = at.circuit, fuse_minimum_a(tree, at)
    amps = circuit_ampacity_a(circuit)
    steps: list[Step] = []
    if least is not None:
        factor, formula = tree.figure_step("fuse_load_factor"), "{:.1f} A / {:g}"
        if panel := tree.panels.get(at.root):
            steps += tree.panel_a(panel)[1]
            factor, formula = _panel_ratio(), "{:.1f} A × {:g}"
        steps += [
            factor,
            Step(
                label="Smallest fuse for the load",
                formula=formula.format(at.current_a, factor.value),
                value=least,
                unit="A",
                source=factor.source,
                mark=factor.mark,
            ),
        ]
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


def _panel_ratio() -> Step:
    return Step(
        label="Lasting current of a panel over its short-circuit current",
        formula="planning figure",
        value=float(table("fuses")["panel_ratio"]["value"]),
        unit="",
        source=citation("fuses", "panel_ratio"),
        mark=mark("fuses", "panel_ratio"),
    )
