"""Batteries, chargers, alternator and fuses held against what they can do."""

from collections.abc import Iterator
from typing import Any

from compliance.batteries import lfp_charge_a, standby_days
from compliance.energy import planning
from compliance.findings import Finding, Step, finding, held_against, verdict
from compliance.inputs import Battery, Charger
from compliance.supply import AtCircuit, SupplyTree, circuit_name
from compliance.tables import citation, mark, table

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
        *_interrupts(tree),
        *_unfed_loads(tree),
        *_unfed_chargers(tree),
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
    """Give what all loads draw at once, short pulls and chargers' outputs let be."""
    total = 0.0
    for at in tree.solved.values():
        if at.root != battery.key:
            continue
        if at.circuit.source == battery.key and not at.short_time:
            if at.current_a is None:
                return None
            total += at.current_a
        for key in at.circuit.feeds:
            charger = tree.chargers.get(key)
            if charger is not None and tree.is_output(at.circuit, charger):
                total -= charger.out_a
    return max(0.0, total)


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
    yield _held(
        "alternator",
        "vehicle",
        "Alternator, hot, with the vehicle's own load",
        None if own is None else taken + own,
        hot,
        "Alternator: enter its rating and what the vehicle itself draws.",
        "Fit a smaller DC-DC charger or a larger alternator.",
    )


def _interrupts(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the fuses of each battery against its short-circuit current, in one go."""
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
        said = f"{name}, current into a short against what {_names(weak)} breaks: "
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
        said = f"{name}, current into a short against what its fuses break: "
    if fault is not None and limit is not None:
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


def _unfed_chargers(tree: SupplyTree) -> Iterator[Finding]:
    fed = {
        key
        for circuit in tree.circuits.values()
        for key in circuit.feeds
        if key in tree.chargers and not tree.is_output(circuit, tree.chargers[key])
    }
    for charger in tree.chargers.values():
        if charger.kind != "dc-dc" or charger.key in fed:
            continue
        item = tree.items.get(charger.key)
        name = item.label if item else charger.key
        yield finding(
            "charger-unfed",
            charger.key,
            "unknown",
            f"{name} draws from a battery but no circuit leads from there to it: "
            "enter its input circuit.",
            source="every charger has a protected input; common practice",
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
