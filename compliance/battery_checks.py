"""Batteries held against what they give, what they take, and where they stand."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from compliance.batteries import (
    Limit,
    charge_edges_c,
    moved_out,
    temperature_limit,
)
from compliance.changes import clears, told
from compliance.energy_days import CHARGE_LIMITS
from compliance.findings import (
    Change,
    Finding,
    Verdict,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.inputs import Battery, BuildRecord, Item
from compliance.supply import SupplyTree
from compliance.tables import citation


def held(
    rule: str,
    subject: str,
    label: str,
    demand: float | None,
    limit: float | None,
    ask: str,
    source: str,
) -> Finding:
    """Hold a current against what a source gives; ``ask`` is said while unknown."""
    said = ask
    if demand is not None and limit is not None:
        said = f"{label}: {held_against(demand, limit, 'A', least_places=1)}"
    return finding(
        rule,
        subject,
        verdict(demand, limit),
        said,
        value=demand,
        limit=limit,
        unit="A",
        source=source,
    )


def left_open(judged: Finding, why: str) -> Finding:
    """Leave open what would be over, saying why instead of by how much."""
    if judged.verdict != "over":
        return judged
    said = f"{judged.sentence.rpartition(': ')[0]}: {why}"
    return replace(judged, verdict="not proven", severity="check", sentence=said)


OWN_LIMIT = "the battery's own limit, as recorded"


def check_batteries(tree: SupplyTree) -> Iterator[Finding]:
    """
    Judge each battery by its currents, its temperatures and its place.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Yields
    ------
    Finding
        ``battery-discharge``, ``battery-charge``, ``battery-temperature`` and
        ``battery-place``.

    References
    ----------
    The battery's own sheet; tables/batteries.toml.
    """
    for battery in tree.record.supply.batteries:
        yield _discharge(tree, battery)
        if incoming_a(tree, battery):
            yield _charge(tree, battery)
            yield from _temperature(tree, battery)
        yield _place(tree, battery)


def incoming_a(tree: SupplyTree, battery: Battery) -> float:
    """Give what all chargers of a battery bring together. [A]"""
    return math.fsum(c.out_a for c in tree.into.get(battery.key, ()))


def demand_a(tree: SupplyTree, battery: Battery) -> float | None:
    """Give what all loads draw at once, and the largest short pull with them."""
    lasting: list[float | None] = []
    pulls: list[float | None] = [0.0]
    for key in tree.by_root.get(battery.key, ()):
        at = tree.solved[key]
        if at.circuit.source == battery.key:
            lasting.append(at.drawn_a)
        if at.short_time:
            pulls.append(at.current_a)
    known = [amps for amps in lasting if amps is not None]
    pulled = [amps for amps in pulls if amps is not None]
    if len(known) < len(lasting) or len(pulled) < len(pulls):
        return None
    return math.fsum(known) + max(pulled)


def _judge_discharge(tree: SupplyTree, battery: Battery) -> Finding:
    name, demand = tree.source_name(battery.key), demand_a(tree, battery)
    ask = f"{name}: enter its largest discharge current."
    if demand is None:
        ask = f"{name}: the current drawn is not known until its circuits are."
    return held(
        "battery-discharge",
        battery.key,
        f"{name}, everything on at once",
        demand,
        battery.discharge_limit_a,
        ask,
        OWN_LIMIT,
    )


def _discharge(tree: SupplyTree, battery: Battery) -> Finding:
    judged = _judge_discharge(tree, battery)
    if judged.verdict != "over":
        return judged

    def again(record: BuildRecord) -> Iterable[Finding]:
        return [_judge_discharge(SupplyTree(record), battery)]

    ways = _less_drawn(tree, battery, judged)
    tried = [w for w in ways if clears(tree.record, w, judged.key, again)]
    assert judged.value is not None
    needed = math.ceil(judged.value)
    return told(
        judged,
        tried[:1],
        f"Fit a battery that gives {needed:,d} A, or take loads off it.",
    )


def _less_drawn(tree: SupplyTree, battery: Battery, judged: Finding) -> Iterator[Way]:
    """Single loads that free enough by today's currents, the smallest first."""
    assert judged.value is not None
    assert judged.limit is not None
    excess = judged.value - judged.limit
    sized: list[tuple[float, str, Item]] = []
    for item in tree.fed_from.get(battery.key, ()):
        circuit = tree.circuit_of[item.key]
        drawn = tree.solved[circuit.key].current_a
        if item.load is not None and drawn is not None and drawn >= excess:
            sized.append((drawn, item.key, item))
    for _, key, item in sorted(sized, key=lambda row: row[:2])[:3]:
        yield Way(f"leave out {item.label}", (Change("items", key, "load", None),))


def _judge_charge(tree: SupplyTree, battery: Battery) -> Finding:
    name = tree.source_name(battery.key)
    return held(
        "battery-charge",
        battery.key,
        f"{name}, all chargers together",
        incoming_a(tree, battery),
        battery.charge_limit_a,
        f"{name}: enter its largest charge current.",
        OWN_LIMIT,
    )


def _charge(tree: SupplyTree, battery: Battery) -> Finding:
    judged = _judge_charge(tree, battery)
    if judged.verdict != "over":
        return judged
    assert judged.value is not None
    assert judged.limit is not None

    def again(record: BuildRecord) -> Iterable[Finding]:
        return [_judge_charge(SupplyTree(record), battery)]

    largest = max(tree.into[battery.key], key=lambda c: (c.out_a, c.key))
    amps = math.floor(largest.out_a - (judged.value - judged.limit) + 1e-9)
    ways = []
    if amps > 0:
        change = Change("chargers", largest.key, "out_a", float(amps))
        said = f"set {tree.name_of(largest.key)} down to {amps:d} A"
        ways.append(Way(f"{said}, or fit a smaller one", (change,)))
    tried = [w for w in ways if clears(tree.record, w, judged.key, again)]
    needed = math.ceil(judged.value)
    return told(
        judged,
        tried,
        f"Fit smaller chargers, or a battery that takes {needed:,d} A.",
    )


def _judge_temperature(tree: SupplyTree, battery: Battery) -> Finding | None:
    """Hold the chargers against what the cells take at the air around them."""
    cell_c, name = tree.cell_c(battery), tree.source_name(battery.key)
    if cell_c is None:
        return None
    takes = tree.charge_limit_a(battery, cell_c)
    if battery.chemistry != "lfp" and takes:
        # The rate of a lead-acid battery hardly depends on its temperature.
        return None
    incoming = incoming_a(tree, battery)
    said = held_against(incoming, takes, "A", least_places=1)
    judged = finding(
        "battery-temperature",
        battery.key,
        verdict(incoming, takes),
        f"{name}, all chargers together with its cells at {cell_c:g} °C: {said}",
        value=incoming,
        limit=takes,
        unit="A",
        source=citation("batteries"),
        working=tuple(temperature_limit(battery, limit)[1] for limit in CHARGE_LIMITS),
    )
    return left_open(
        judged,
        tree.taken_air(battery)
        or "the air of the trip is not the temperature of its cells: look whether "
        "charging stops or is cut back.",
    )


def _temperature(tree: SupplyTree, battery: Battery) -> Iterator[Finding]:
    judged = _judge_temperature(tree, battery)
    if judged is None or judged.verdict == "within":
        yield from [judged] if judged is not None else []
        return

    def again(record: BuildRecord) -> Iterable[Finding]:
        other = SupplyTree(record)
        tried = _judge_temperature(other, other.batteries[battery.key])
        return [] if tried is None else [tried]

    offered = [*_warmer(tree, battery)]
    if tree.in_engine_space(battery):
        offered = [moved_out(battery)]
    ways = [w for w in offered if clears(tree.record, w, judged.key, again)]
    yield told(
        judged,
        ways[:1],
        "Make sure that charging stops outside the battery's own temperature "
        "limits, or keep it where its cells stay within them.",
    )


def _warmer(tree: SupplyTree, battery: Battery) -> Iterator[Way]:
    """Temperatures at which a battery may take more, the nearest first."""
    cell_c, edges = tree.cell_c(battery), charge_edges_c(battery)
    assert cell_c is not None
    for temp in sorted(edges, key=lambda temp: (abs(temp - cell_c), temp)):
        yield Way(
            f"make sure that it is charged only with its cells near {temp:g} °C",
            (Change("use", "", "ambient_c", temp),),
        )


def _place(tree: SupplyTree, battery: Battery) -> Finding:
    judged = _judge_place(tree, battery)
    if judged.verdict == "within" or not tree.in_engine_space(battery):
        return judged

    def again(record: BuildRecord) -> Iterable[Finding]:
        other = SupplyTree(record)
        return [_judge_place(other, other.batteries[battery.key])]

    way = moved_out(battery)
    tried = [way] if clears(tree.record, way, judged.key, again) else []
    return told(
        judged,
        tried,
        "Move it out of the engine space, and enter the air temperature of the trip.",
    )


def _judge_place(tree: SupplyTree, battery: Battery) -> Finding:
    """Hold the air where a battery stands against the temperatures it may have."""
    name = tree.source_name(battery.key)
    if tree.in_engine_space(battery):
        return _judge_engine_space(tree, battery, name)
    air = tree.record.use.ambient_c
    limits: tuple[Limit, Limit] = ("discharge_min", "discharge_max")
    (low, low_step), (high, high_step) = (temperature_limit(battery, x) for x in limits)
    said = f"{name}: enter the air temperature of the trip."
    outcome: Verdict = "unknown"
    value, limit = air, high
    if air is not None:
        cold = air < low
        # What the cells have of the air is not known, so it is looked at.
        outcome = "within" if low <= air <= high else "not proven"
        value, limit = air, low if cold else high
        said = f"{name}, air of {air:g} °C against {low:g} to {high:g} °C"
        said += " that it may give current at"
        said += "." if outcome == "within" else _NOT_THE_CELLS
    judged = finding(
        "battery-place",
        battery.key,
        outcome,
        said,
        value=value,
        limit=limit,
        unit="°C",
        source=low_step.source,
        working=(low_step, high_step),
    )
    if outcome != "not proven":
        return judged
    return told(judged, (), "Keep its cells within these temperatures.")


_NOT_THE_CELLS = ": the air is not the temperature of its cells, so measure there."


def _judge_engine_space(tree: SupplyTree, battery: Battery, name: str) -> Finding:
    air, air_step = (
        tree.figure("engine_space_air_c"),
        tree.figure_step("engine_space_air_c"),
    )
    hot: tuple[Limit, Limit] = ("charge_max", "discharge_max")
    limit, step = min(
        (temperature_limit(battery, x) for x in hot), key=lambda pair: pair[0]
    )
    said = (
        f"{name} in the engine space, air after a hot stop against what it may have: "
    )
    said += held_against(air, limit, "°C")
    judged = finding(
        "battery-place",
        battery.key,
        verdict(air, limit),
        said,
        value=air,
        limit=limit,
        unit="°C",
        source=f"{air_step.source}; {step.source}",
        working=(air_step, step),
    )
    if step.mark == "given":
        # The battery's own sheet makes it a stop.
        said = f"{judged.sentence} The {tree.taken_air(battery)}"
        return judged if judged.verdict == "within" else replace(judged, sentence=said)
    why = f"{tree.taken_air(battery)} Look at the battery's own sheet."
    return left_open(judged, why)
