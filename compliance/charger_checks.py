"""Chargers and panels held against the circuits that lead to and from them."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from compliance.ampacity import next_fuse_a
from compliance.changes import clears, told
from compliance.findings import (
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.fuse_checks import circuit_ampacity_a
from compliance.inputs import BuildRecord, Charger, Circuit
from compliance.supply import SupplyTree
from compliance.wiring import STANDARD_AREAS_MM2

INPUT_SOURCE = "every charger has a protected input; common practice"
OUTPUT_SOURCE = "every charger has a protected output; common practice"
PANEL_SOURCE = "every panel's cable is checked; common practice"


def check_chargers(tree: SupplyTree) -> Iterator[Finding]:
    """
    Hold what each charger takes against its fuse, and look for its circuits.

    Parameters
    ----------
    tree : SupplyTree
        The supply.

    Yields
    ------
    Finding
        ``charger-unfed``, ``charger-input``, ``charger-output``, ``panel-circuit``.

    References
    ----------
    See ``charger_input_a``.
    """
    for charger in tree.chargers.values():
        name = tree.name_of(charger.key)
        if charger.kind == "dc-dc" and charger.key not in tree.inputs:
            yield _missing(
                "charger-unfed",
                charger.key,
                f"{name} draws from a battery but no circuit leads from there to it: "
                "enter its input circuit.",
                INPUT_SOURCE,
            )
        elif charger.kind == "dc-dc":
            yield _input(tree, charger, tree.inputs[charger.key])
        if charger.key not in tree.outputs:
            battery = tree.source_name(charger.to)
            yield _missing(
                "charger-output",
                charger.key,
                f"{name}: enter the circuit from it to {battery}, with its fuse at "
                "the battery.",
                OUTPUT_SOURCE,
            )
    for panel in tree.panels.values():
        if panel.key not in tree.by_root:
            yield _missing(
                "panel-circuit",
                panel.key,
                f"{tree.name_of(panel.key)}: enter the circuit from it to its charger, "
                "so that its cable is checked.",
                PANEL_SOURCE,
            )


def _missing(rule: str, key: str, said: str, source: str) -> Finding:
    return finding(rule, key, "unknown", said, source=source)


def _judge_input(tree: SupplyTree, charger: Charger, circuit: Circuit) -> Finding:
    taken, fuse = tree.charger_a(charger), circuit.fuse_a
    factor = tree.figure("fuse_load_factor")
    volts = tree.figure("charger_lowest_input_v") * tree.scale
    lasting = None if fuse is None else factor * fuse
    name = tree.name_of(charger.key)
    said = f"{name} takes {taken:.1f} A at {volts:g} V: enter the fuse of its input."
    if fuse is not None and lasting is not None:
        said = f"{name}, input at {volts:g} V against what its {fuse:g} A fuse carries "
        said += "for long: " + held_against(taken, lasting, "A", least_places=1)
    if tree.record.vehicle.alternator.variable_voltage and charger.source == "start":
        said += (
            " The alternator varies its voltage: let the ignition start the charger."
        )
    return finding(
        "charger-input",
        charger.key,
        verdict(taken, lasting),
        said,
        value=taken,
        limit=lasting,
        unit="A",
        source="power balance (derived); its figures as in the working",
        working=(
            *tree.charger_steps(charger),
            tree.figure_step("fuse_load_factor"),
            Step(
                label="Input current",
                formula=f"I V / (η V_in) at {volts:g} V",
                value=taken,
                unit="A",
                source="power balance",
                mark="derived",
            ),
        ),
    )


def _input(tree: SupplyTree, charger: Charger, circuit: Circuit) -> Finding:
    judged = _judge_input(tree, charger, circuit)
    if judged.verdict != "over":
        return judged

    def again(record: BuildRecord) -> Iterable[Finding]:
        other = SupplyTree(record)
        now = other.circuits[circuit.key]
        return [_judge_input(other, other.chargers[charger.key], now)]

    ways = [*_larger_fuse(tree, charger, circuit), *_smaller(tree, charger, judged)]
    tried = [w for w in ways if clears(tree.record, w, judged.key, again)]
    return told(
        judged, tried, "Fit a smaller charger: no fuse of the series is large enough."
    )


def _larger_fuse(tree: SupplyTree, charger: Charger, circuit: Circuit) -> Iterator[Way]:
    """Give the fuse that carries the input for long, and the cable that carries it."""
    fuse = next_fuse_a(tree.charger_a(charger) / tree.figure("fuse_load_factor"))
    if fuse is None:
        return
    fit = Change("circuits", circuit.key, "fuse_a", fuse)
    now = circuit_ampacity_a(circuit)
    if now is None or now >= fuse:
        carried = ", and a cable that carries it" if now is None else ""
        yield Way(f"fit a {fuse:g} A fuse{carried}", (fit,))
        return
    for area in STANDARD_AREAS_MM2:
        carries = circuit_ampacity_a(replace(circuit, area_mm2=area))
        if carries is not None and carries >= fuse:
            cable = Change("circuits", circuit.key, "area_mm2", area)
            yield Way(f"fit a {fuse:g} A fuse and {area:g} mm²", (fit, cable))
            return


def _smaller(tree: SupplyTree, charger: Charger, judged: Finding) -> Iterator[Way]:
    """Give the largest output that the fuse which is there allows, in whole amperes."""
    assert judged.value is not None
    assert judged.limit is not None
    amps = math.floor(charger.out_a * judged.limit / judged.value + 1e-9)
    if amps > 0:
        change = Change("chargers", charger.key, "out_a", float(amps))
        yield Way(f"set {tree.name_of(charger.key)} down to {amps:d} A", (change,))
