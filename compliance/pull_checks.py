"""Short pulls and inverters: what the cable stands, what the battery gives them."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from compliance.ampacity import next_fuse_a
from compliance.batteries import peukert_hours
from compliance.changes import clears, told
from compliance.energy import planning
from compliance.findings import (
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.fuse_checks import ASSUMED_INSULATION_C, circuit_ampacity_a
from compliance.inputs import BuildRecord, Circuit, Item
from compliance.loads import circuit_name, mean_a
from compliance.supply import AtCircuit, SupplyTree
from compliance.tables import citation, mark, table
from compliance.wiring import STANDARD_AREAS_MM2, withstand_s

XLPE_C = 90.0
"""From this rating on an insulation counts as cross-linked, IEC 60364-4-43 (memory)."""


def check_pull(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    """
    Hold the longest single pull against what a short pull's cable stands.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.
    at : AtCircuit
        A circuit; one behind which no short pull hangs is let be.

    Yields
    ------
    Finding
        ``circuit-pull`` for the cable, ``pull-fuse`` for a fuse.

    References
    ----------
    See ``withstand_s``; the longest pull is a maker's (published). How long a fuse
    carries more than its rating: tables/fuses.toml, pull_over_fuse (from memory).
    """
    pull = at.pull
    if pull is None or not pull.current_a:
        return
    if at.circuit.area_mm2 is not None:
        judged = _judge_pull(pull)
        if judged.verdict == "over":
            judged = told(judged, _larger_cable(tree, pull), "Fit a larger cable.")
        yield judged
    if at.circuit.fuse_a is not None:
        yield _judge_fuse(pull, at.circuit.fuse_a, pull.current_a)


def _judge_fuse(pull: AtCircuit, fuse: float, amps: float) -> Finding:
    """Hold a pull against what the fuse carries for its seconds."""
    circuit, times = pull.circuit, float(table("fuses")["pull_over_fuse"]["value"])
    name, once = circuit_name(circuit), float(table("fuses")["short_pull"]["value"])
    said = f"{name}, one pull at {amps:.0f} A through its {fuse:g} A fuse: "
    outcome = verdict(amps, times * fuse)
    if outcome == "over":
        said += f"more than {times:g} times its rating, it opens within seconds."
    elif verdict(amps, fuse) == "over":
        # Between its rating and its gate only the maker's curve says for how long.
        outcome = "not proven"
        said += f"not known to carry it for {once:g} s; read the fuse maker's curve."
    else:
        said += "no more than its rating."
    judged = finding(
        "pull-fuse",
        circuit.key,
        outcome,
        said,
        value=amps,
        limit=times * fuse,
        unit="A",
        source=citation("fuses", "pull_over_fuse"),
        working=(
            Step(
                label="A fuse opens within seconds above",
                formula=f"{times:g} × {fuse:g} A",
                value=times * fuse,
                unit="A",
                source=citation("fuses", "pull_over_fuse"),
                mark=mark("fuses", "pull_over_fuse"),
            ),
        ),
    )
    return told(judged, *_carries(circuit, amps)) if outcome != "within" else judged


def _carries(circuit: Circuit, amps: float) -> tuple[list[Way], str]:
    """Give the fuse that carries a pull for good, where the cable allows it."""
    rating, most = next_fuse_a(amps), circuit_ampacity_a(circuit)
    if rating is not None and most is not None and rating <= most:
        change = Change("circuits", circuit.key, "fuse_a", rating)
        return [Way(f"fit a {rating:g} A fuse", (change,))], ""
    return [], (
        "Bring the pull straight from its battery on a cable of its own, behind a fuse "
        f"whose maker's curve carries {amps:.0f} A for the time of a pull."
    )


def _judge_pull(at: AtCircuit) -> Finding:
    circuit, amps = at.circuit, at.current_a
    assert amps is not None
    assert circuit.area_mm2 is not None
    data = table("fuses")
    longest = float(data["short_pull"]["value"])
    rated = circuit.insulation_c or ASSUMED_INSULATION_C
    k = float(data["withstand_k"]["value"]["xlpe" if rated >= XLPE_C else "pvc"])
    stands = withstand_s(circuit.area_mm2, amps, k)
    return finding(
        "circuit-pull",
        circuit.key,
        verdict(longest, stands),
        f"{circuit_name(circuit)}, one pull at {amps:.0f} A against what "
        f"{circuit.area_mm2:g} mm² stands: {held_against(longest, stands, 's')}",
        value=longest,
        limit=stands,
        unit="s",
        source=f"{citation('fuses', 'short_pull')}; {citation('fuses', 'withstand_k')}",
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


def _larger_cable(tree: SupplyTree, at: AtCircuit) -> Iterator[Way]:
    for area in STANDARD_AREAS_MM2:
        if area <= (at.circuit.area_mm2 or 0.0):
            continue
        circuit = replace(at.circuit, area_mm2=area)
        now: AtCircuit | None = replace(at, circuit=circuit)
        if at.drop_v is not None:
            now = tree.solved_with(circuit, at)
        if now is not None and _judge_pull(now).verdict == "within":
            change = Change("circuits", circuit.key, "area_mm2", area)
            yield Way(f"fit {area:g} mm²", (change,))
            return


def check_pulls(tree: SupplyTree) -> Iterator[Finding]:
    """
    Say for how long a battery carries each short pull, and hold inverters to it.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Yields
    ------
    Finding
        ``pull-time`` of each short pull, ``inverter`` of each inverter.

    References
    ----------
    Peukert's law (published); an inverter at the voltage where it cuts off.
    """
    for key, root in tree.fed_by.items():
        item = tree.items[key]
        if item.load is None or root in tree.panels:
            continue
        if item.load.short_time:
            yield _pull_time(tree, item, root)
        elif item.load.kind == "power" and item.load.efficiency is not None:
            yield from _with_power(tree, item)


def _battery(tree: SupplyTree, root: str) -> tuple[float | None, float, Step]:
    """Capacity of a battery, the share that may go, and where that comes from."""
    battery = tree.batteries.get(root)
    if battery is not None:
        return battery.capacity_ah, *tree.usable(battery)
    share = tree.figure("standby_no_start_ratio")
    step = tree.figure_step("standby_no_start_ratio")
    return tree.record.vehicle.start_battery.capacity_ah, share, step


def _pull_time(tree: SupplyTree, item: Item, root: str) -> Finding:
    """Hold one pull at full load against the time a battery carries its current."""
    assert item.load is not None
    name, kind = tree.source_name(root), tree.kind(root)
    capacity, share, share_step = _battery(tree, root)
    amps = mean_a(item.load, tree.record.supply.system_v, tree.scale)
    once = float(table("fuses")["short_pull"]["value"]) / 60
    lasts, steps = None, []
    said = f"{item.label}, pulled from {name}: enter "
    asks = [] if amps else [f"what {item.label} draws"]
    said += " and ".join([*asks, *([] if capacity else [f"the capacity of {name}"])])
    if amps and capacity:
        data = table("batteries")["peukert"]
        exponent = float(data["value"][kind])
        hours = peukert_hours(capacity, float(data["rate_h"]), amps, exponent)
        lasts = 60 * hours * share
        steps = [_peukert_step(amps, capacity, exponent, 60 * hours), share_step]
        said = f"{item.label}, one pull of {60 * once:.0f} s at {amps:.0f} A against "
        said += f"what {name} gives without the engine: "
        said += held_against(once, lasts, "min", least_places=1).removesuffix(".")
        said += f", {int(lasts / once)} pulls in all"
    judged = finding(
        "pull-time",
        item.key,
        verdict(once, lasts),
        f"{said}.",
        value=once,
        limit=lasts,
        unit="min",
        source=f"{citation('batteries', 'peukert')}; {citation('fuses', 'short_pull')}",
        working=tuple(steps),
    )
    if judged.verdict == "over":
        judged = told(judged, (), "Pull from a larger battery with the engine running.")
    return judged


def _peukert_step(amps: float, capacity: float, exponent: float, value: float) -> Step:
    return Step(
        label="From full to empty",
        formula=f"20 h × ({capacity:g} Ah / ({amps:.0f} A × 20 h))^{exponent:g}",
        value=value,
        unit="min",
        source=citation("batteries", "peukert"),
        mark=mark("batteries", "peukert"),
    )


@dataclass(frozen=True, slots=True)
class _Bound:
    """One thing an inverter's current may not pass, in words and amperes."""

    said: str
    amps: float | None


def _with_power(tree: SupplyTree, item: Item) -> Iterator[Finding]:
    judged = _judge_inverter(tree, item)
    if judged is None:
        return
    if judged.verdict == "over":
        judged = told(
            judged,
            _less_power(tree, item, judged),
            "Fit a smaller inverter, or a battery, fuse and cable that carry it.",
        )
    yield judged


def _bounds(tree: SupplyTree, circuit: Circuit) -> Iterator[_Bound]:
    root = tree.roots[circuit.key]
    battery = tree.batteries.get(root)
    if battery is not None:
        yield _Bound(f"{tree.source_name(root)} gives", battery.discharge_limit_a)
    yield _Bound(
        f"the cable of {circuit_name(circuit)} carries", circuit_ampacity_a(circuit)
    )
    yield _Bound(f"the fuse of {circuit_name(circuit)} carries", circuit.fuse_a)


def _judge_inverter(tree: SupplyTree, item: Item) -> Finding | None:
    """Hold an inverter at its cut-off voltage against what is in front of it."""
    load = item.load
    assert load is not None
    if not load.power_w:
        return None
    volts = planning("inverter_cutoff") * tree.scale
    amps = load.power_w / ((load.efficiency or 1.0) * volts)
    circuit = tree.circuit_of[item.key]
    bounds = list(_bounds(tree, circuit))
    gaps = [bound.said for bound in bounds if bound.amps is None]
    limit = None
    said = (
        f"{item.label} takes {amps:.0f} A at {volts:g} V; enter what "
        + " and ".join(gaps)
    )
    least = min((b for b in bounds if b.amps is not None), key=_amps_of, default=None)
    # One bound that is passed decides, whatever the others are.
    if least is not None and (not gaps or verdict(amps, least.amps) == "over"):
        limit = least.amps
        held = held_against(amps, _amps_of(least), "A", least_places=1)
        said = f"{item.label} at {volts:g} V, where it cuts off, against what "
        said += f"{least.said}: {held.removesuffix('.')}"
    return finding(
        "inverter",
        item.key,
        verdict(amps, limit),
        f"{said}.",
        value=amps,
        limit=limit,
        unit="A",
        source="power balance (derived); cut-off voltage common practice",
        working=(
            Step(
                label="Current at the lowest voltage",
                formula=f"{load.power_w:g} W / ({load.efficiency:g} × {volts:g} V)",
                value=amps,
                unit="A",
                source=citation("energy", "inverter_cutoff"),
                mark=mark("energy", "inverter_cutoff"),
            ),
        ),
    )


def _amps_of(bound: _Bound) -> float:
    assert bound.amps is not None
    return bound.amps


def _less_power(tree: SupplyTree, item: Item, judged: Finding) -> list[Way]:
    """Give the most it may be loaded with, in steps of 50 W."""
    assert item.load is not None
    assert item.load.power_w is not None
    assert judged.value is not None
    assert judged.limit is not None
    watts = 50 * math.floor(item.load.power_w * judged.limit / judged.value / 50 + 1e-9)
    if watts <= 0:
        return []
    load = replace(item.load, power_w=float(watts))
    way = Way(
        f"take no more than {watts:,d} W from {item.label}",
        (Change("items", item.key, "load", load),),
    )

    def again(record: BuildRecord) -> Iterable[Finding]:
        tried = _judge_inverter(SupplyTree(record), replace(item, load=load))
        return [] if tried is None else [tried]

    return [way] if clears(tree.record, way, judged.key, again) else []
