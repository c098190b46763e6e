"""Batteries, chargers, alternator and fuses held against what they can do."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from compliance.ampacity import next_fuse_a
from compliance.batteries import lfp_charge_a, standby_days
from compliance.energy import planning
from compliance.findings import Finding, Mark, Step, finding, held_against, verdict
from compliance.inputs import Battery, Charger, Circuit
from compliance.interrupt_checks import check_interrupts
from compliance.supply import SupplyTree
from compliance.tables import citation, table

STAND_LONGER = (
    "Switch fitted loads off with the ignition, feed them from the other battery, or "
    "keep the start battery charged."
)


def check_sources(tree: SupplyTree) -> tuple[dict[str, Any], list[Finding]]:
    """
    Judge what a build's batteries, chargers and alternator are asked for.

    Parameters
    ----------
    tree : SupplyTree
        The supply, solved.

    Returns
    -------
    tuple of dict and list of Finding
        ``sources`` as the open record's answer names them, and the findings.

    References
    ----------
    See the functions that compute each quantity.
    """
    findings = [
        *_batteries(tree),
        *_alternator(tree),
        *check_interrupts(tree),
        *_unfed_loads(tree),
        *_chargers(tree),
        *_standby(tree),
    ]
    answers: dict[str, Any] = {}
    for judged in findings:
        name = _answer_name(judged)
        if name is not None:
            figures = {
                "demand_a": judged.value,
                "limit_a": judged.limit,
                "verdict": judged.verdict,
            }
            answers[name] = {n: v for n, v in figures.items() if v is not None}
    return answers, findings


def _answer_name(judged: Finding) -> str | None:
    match judged.key.partition(".")[0]:
        case "battery-discharge":
            return judged.subject
        case "battery-charge":
            return f"{judged.subject}-charge"
        case "charger-input":
            return judged.subject
        case "alternator":
            return "alternator"
        case _:
            return None


def _held(
    rule: str,
    subject: str,
    label: str,
    demand: float | None,
    limit: float | None,
    ask: str,
    clear: str,
) -> Finding:
    """Hold a current against what a source gives; ``ask`` is said while unknown."""
    outcome = verdict(demand, limit)
    if demand is None or limit is None:
        said = ask
    else:
        said = f"{label}: {held_against(demand, limit, 'A', least_places=1)}"
    return finding(
        rule,
        subject,
        outcome,
        said,
        value=demand,
        limit=limit,
        unit="A",
        source=citation("energy"),
        would_clear=clear if outcome == "over" else None,
    )


def _batteries(tree: SupplyTree) -> Iterator[Finding]:
    for battery in tree.record.supply.batteries:
        name = tree.source_name(battery.key)
        demand = _demand_a(tree, battery)
        ask = f"{name}: enter its largest discharge current."
        if demand is None:
            ask = f"{name}: the current drawn is not known until its circuits are."
        yield _held(
            "battery-discharge",
            battery.key,
            f"{name}, everything on at once",
            demand,
            battery.discharge_limit_a,
            ask,
            "Fit a battery that gives more, or take loads off it.",
        )
        incoming = sum(c.out_a for c in _into(tree, battery))
        if incoming:
            yield _held(
                "battery-charge",
                battery.key,
                f"{name}, all chargers together",
                incoming,
                battery.charge_limit_a,
                f"{name}: enter its largest charge current.",
                "Fit smaller chargers, set them down, or fit a battery that takes more.",
            )
            yield from _temperature(tree, battery, incoming)


def _into(tree: SupplyTree, battery: Battery) -> list[Charger]:
    return [c for c in tree.chargers.values() if c.to == battery.key]


def _demand_a(tree: SupplyTree, battery: Battery) -> float | None:
    """Give what all loads draw at once, and the largest short pull with them."""
    lasting: list[float | None] = []
    pulls: list[float | None] = [0.0]
    for at in tree.solved.values():
        if at.root != battery.key:
            continue
        if at.circuit.source == battery.key:
            lasting.append(at.drawn_a)
        if at.short_time:
            pulls.append(at.current_a)
    known = [amps for amps in lasting if amps is not None]
    pulled = [amps for amps in pulls if amps is not None]
    if len(known) < len(lasting) or len(pulled) < len(pulls):
        return None
    return sum(known) + max(pulled)


def _temperature(
    tree: SupplyTree, battery: Battery, incoming: float
) -> Iterator[Finding]:
    ambient = tree.record.use.ambient_c
    if battery.chemistry != "lfp" or ambient is None:
        return
    takes = lfp_charge_a(battery.capacity_ah, ambient)
    outcome = verdict(incoming, takes)
    name = tree.source_name(battery.key)
    said = held_against(incoming, takes, "A", least_places=1)
    clear = None
    if outcome == "over":
        # The air of the trip is not the cells' temperature, so it is looked at.
        outcome = "not proven"
        clear = (
            "Make sure that charging stops outside the battery's own temperature "
            "limits, or keep it where its cells stay within them."
        )
    yield finding(
        "battery-temperature",
        battery.key,
        outcome,
        f"{name}, all chargers together with its cells at {ambient:g} °C: {said}",
        value=incoming,
        limit=takes,
        unit="A",
        source=citation("batteries"),
        would_clear=clear,
    )


def _alternator(tree: SupplyTree) -> Iterator[Finding]:
    taken = sum(
        tree.charger_a(c)
        for c in tree.chargers.values()
        if c.kind == "dc-dc" and c.source == "start"
    )
    if not taken:
        return
    alternator = tree.record.vehicle.alternator
    own, rated = alternator.own_load_a, alternator.rated_a
    hot = None if rated is None else rated * planning("alternator_hot_ratio")
    judged = _held(
        "alternator",
        "vehicle",
        "Alternator, hot, with the vehicle's own load",
        None if own is None else taken + own,
        hot,
        "Alternator: enter its rating and what the vehicle itself draws.",
        "Fit a smaller DC-DC charger or a larger alternator.",
    )
    if own is None or rated is None:
        yield judged
        return
    gives = {
        "hot": planning("alternator_hot_ratio"),
        "hot, at idle": planning("alternator_idle_ratio"),
    }
    working = [_share("The vehicle itself", "as recorded", own, "given")]
    working.append(
        _share("DC-DC chargers", "at lowest input voltage", taken, "derived")
    )
    working += [
        _share(f"It gives {state}", f"{ratio:g} × {rated:g} A", ratio * rated, PRACTICE)
        for state, ratio in gives.items()
    ]
    yield replace(judged, working=tuple(working))


PRACTICE: Mark = "common practice"


def _share(label: str, formula: str, amps: float, known: Mark) -> Step:
    return Step(
        label=label,
        formula=formula,
        value=amps,
        unit="A",
        source=citation("energy") if known == PRACTICE else "as recorded",
        mark=known,
    )


def _unfed_loads(tree: SupplyTree) -> Iterator[Finding]:
    for item in tree.record.items:
        if item.load is not None and item.key not in tree.fed_by:
            yield finding(
                "load-unfed",
                item.key,
                "unknown",
                f"{item.label} draws current but hangs on no circuit: choose what feeds it.",
                source="every load has a protected supply; common practice",
            )


def _chargers(tree: SupplyTree) -> Iterator[Finding]:
    """Hold what each charger takes against the fuse in front of it."""
    inputs = {
        key: circuit
        for circuit in tree.circuits.values()
        for key in circuit.feeds
        if key in tree.chargers and not tree.is_output(circuit, tree.chargers[key])
    }
    for charger in tree.chargers.values():
        if charger.kind != "dc-dc":
            continue
        name, circuit = tree.name_of(charger.key), inputs.get(charger.key)
        if circuit is None:
            yield finding(
                "charger-unfed",
                charger.key,
                "unknown",
                f"{name} draws from a battery but no circuit leads from there to it: "
                "enter its input circuit.",
                source="every charger has a protected input; common practice",
            )
        else:
            yield _charger_input(tree, charger, circuit)


def _charger_input(tree: SupplyTree, charger: Charger, circuit: Circuit) -> Finding:
    taken, fuse = tree.charger_a(charger), circuit.fuse_a
    factor = float(table("fuses")["load_factor"]["value"])
    volts = planning("charger_lowest_input") * tree.scale
    lasting = None if fuse is None else factor * fuse
    name, outcome = tree.name_of(charger.key), verdict(taken, lasting)
    said = f"{name} takes {taken:.1f} A at {volts:g} V: enter the fuse of its input."
    if fuse is not None and lasting is not None:
        said = f"{name}, input at {volts:g} V against what its {fuse:g} A fuse carries "
        said += "for long: " + held_against(taken, lasting, "A", least_places=1)
    if tree.record.vehicle.alternator.variable_voltage and charger.source == "start":
        said += (
            " The alternator varies its voltage: let the ignition start the charger."
        )
    larger = next_fuse_a(taken / factor)
    clear = None
    if outcome == "over":
        clear = "Fit a smaller charger: no fuse of the series is large enough."
        if larger is not None:
            clear = f"Fit a {larger:g} A fuse, and a cable that carries it."
    return finding(
        "charger-input",
        charger.key,
        outcome,
        said,
        value=taken,
        limit=lasting,
        unit="A",
        source="power balance (derived); efficiency and lowest voltage common practice",
        would_clear=clear,
        working=(
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


def _fitted_standby_a(tree: SupplyTree) -> float:
    """Give what loads on the start battery draw while it stands. [A]"""
    loads = [tree.items[k].load for k, root in tree.fed_by.items() if root == "start"]
    return sum(load.standby_a or 0.0 for load in loads if load is not None)


def _standby(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the start battery of the standing vehicle against not starting."""
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    fitted = _fitted_standby_a(tree)
    if not fitted and not start.standby_a:
        return
    asks = [
        ask
        for ask, value in (
            ("the start battery's capacity", start.capacity_ah),
            ("what the standing vehicle draws", start.standby_a),
            ("how many days it stands", days),
        )
        if value is None
    ]
    lasts = None
    said = f"Start battery of the standing vehicle: enter {'; '.join(asks)}."
    if start.capacity_ah is not None and start.standby_a is not None:
        ratio = planning("standby_no_start_ratio")
        lasts = standby_days(start.capacity_ah, start.standby_a + fitted, ratio)
    outcome = verdict(days, lasts)
    if days is not None and lasts is not None:
        said = "Start battery, days standing against days until it no longer starts: "
        said += held_against(days, lasts, "d", least_places=1)
    yield finding(
        "standby",
        "vehicle",
        outcome,
        said,
        value=days,
        limit=lasts,
        unit="d",
        source=citation("energy"),
        would_clear=STAND_LONGER if outcome == "over" else None,
    )
