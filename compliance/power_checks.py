"""Power and wiring of one build held against its limits."""

from collections.abc import Iterator
from typing import Any

from compliance.energy import Day, hours_to_reserve, state_of_charge
from compliance.findings import Finding, Step, Verdict, verdict
from compliance.inputs import Battery, BuildRecord, Circuit
from compliance.sun import MID_MONTH_DAY, extraterrestrial, peak_sun_h
from compliance.supply import AtCircuit, SupplyTree, planning
from compliance.tables import citation, mark, table
from compliance.wiring import (
    STANDARD_AREAS_MM2,
    ampacity_a,
    next_fuse_a,
    run_ohm,
)

SEVERITY: dict[Verdict, Any] = {
    "over": "stop",
    "unknown": "check",
    "not proven": "check",
    "within": "clear",
}


def figure(value: float, limit: float | None = None) -> str:
    """
    Write a number so that it does not look equal to a limit it is not equal to.

    Parameters
    ----------
    value : float
        What to write.
    limit : float or None
        What it is held against.

    Returns
    -------
    str
        One to four decimals, as few as tell the two apart; whole numbers stay whole.

    References
    ----------
    Derived: a sentence may not contradict its verdict.
    """
    for places in (1, 2, 3, 4):
        text = f"{value:.{places}f}"
        if (
            limit is None
            or value == limit
            or float(text) != float(f"{limit:.{places}f}")
        ):
            break
    return text.rstrip("0").rstrip(".") if "." in text else text


def check_power(record: BuildRecord) -> tuple[dict[str, Any], list[Finding]]:
    """
    Compute and judge a build's power.

    Parameters
    ----------
    record : BuildRecord
        Checked for loops and unknown keys.

    Returns
    -------
    tuple of dict and list of Finding
        ``day``, ``soc``, ``circuits`` and ``sources`` as the open record's answer
        names them, and the findings.

    References
    ----------
    See the functions that compute each quantity.
    """
    tree = SupplyTree(record)
    findings: list[Finding] = []
    circuits = {}
    for key, at in tree.solved.items():
        judged = list(_circuit_findings(tree, at))
        findings += judged
        circuits[key] = _circuit_answer(at, judged)
    findings += _interrupt(tree)
    findings += _unfed(tree)
    day, soc, energy = _energy(tree)
    findings += energy
    sources, more = _sources(tree)
    findings += more
    return {
        "day": day,
        "soc": soc,
        "circuits": circuits,
        "sources": sources,
    }, findings


def _known(**values: Any) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _circuit_answer(at: AtCircuit, judged: list[Finding]) -> dict[str, Any]:
    order: tuple[Verdict, ...] = ("over", "unknown", "not proven", "within")
    verdicts = [f.verdict for f in judged]
    worst = next((v for v in order if v in verdicts), "unknown")
    return _known(
        current_a=at.current_a,
        drop_v=at.drop_v,
        drop_percent=at.drop_percent,
        limit_percent=at.limit_percent,
        fuse_minimum_a=_fuse_minimum(at),
        ampacity_a=_ampacity(at.circuit),
        fault_a=at.fault_a,
        verdict=worst,
    )


def _ampacity(circuit: Circuit) -> float | None:
    if circuit.area_mm2 is None:
        return None
    return ampacity_a(
        circuit.area_mm2, circuit.insulation_c or 60, engine_space=circuit.engine_space
    )


def _fuse_minimum(at: AtCircuit) -> float | None:
    if at.current_a is None:
        return None
    return at.current_a / float(table("fuses")["load_factor"]["value"])


def _name(circuit: Circuit) -> str:
    return circuit.label or circuit.key


def _circuit_findings(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    yield from _drop(tree, at)
    yield from _fuse(at)
    yield from _reach(at)


def _finding(
    key: str,
    subject: str,
    outcome: Verdict,
    sentence: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    source: str,
    would_clear: str | None = None,
    working: tuple[Step, ...] = (),
) -> Finding:
    return Finding(
        key=f"{key}.{subject}" if subject != "vehicle" else key,
        severity=SEVERITY[outcome],
        subject=subject,
        verdict=outcome,
        value=value,
        limit=limit,
        unit=unit,
        sentence=sentence,
        source=source,
        would_clear=would_clear,
        working=working,
    )


DROP_SOURCE = "3 % ABYC E-11 and ISO 10133 (published), 5 % common practice"


def _drop(tree: SupplyTree, at: AtCircuit) -> Iterator[Finding]:
    circuit = at.circuit
    name = _name(circuit)
    if at.missing.startswith("power that"):
        yield _finding(
            "circuit-drop",
            circuit.key,
            "over",
            f"{name} cannot be supplied: over this cable its power has no steady state.",
            unit="%",
            source="Kirchhoff's laws; no real root",
            would_clear="Fit a larger cable or shorten the run.",
        )
        return
    if at.missing:
        yield _finding(
            "circuit-drop",
            circuit.key,
            "unknown",
            f"{name}: enter {at.missing}.",
            unit="%",
            source=DROP_SOURCE,
        )
        return
    limit = at.limit_percent
    if limit is None or at.drop_percent is None or at.current_a is None:
        return
    outcome = verdict(at.drop_percent, limit)
    drop, limit_text = figure(at.drop_percent, limit), figure(limit)
    sentence = (
        f"{name} drops {figure(at.drop_v or 0)} V ({drop} %) "
        f"against {limit_text} % at {figure(at.current_a)} A."
    )
    fix = None
    if outcome == "over" and (area := _area_for_drop(tree, at, limit)):
        fix = f"Fit {area:g} mm² instead of {circuit.area_mm2:g} mm²."
    yield _finding(
        "circuit-drop",
        circuit.key,
        outcome,
        sentence if not fix else f"{sentence} {fix}",
        value=at.drop_percent,
        limit=limit,
        unit="%",
        source=DROP_SOURCE,
        would_clear=fix,
        working=_drop_working(tree, at),
    )


def _drop_working(tree: SupplyTree, at: AtCircuit) -> tuple[Step, ...]:
    steps = []
    walk: Circuit | None = at.circuit
    while walk is not None:
        seg = tree.solved[walk.key]
        ohm = run_ohm(walk.area_mm2 or 0, walk.run_m or 0, extra_ohm=walk.extra_ohm)
        steps.append(
            Step(
                label=f"{_name(walk)}: {walk.area_mm2:g} mm², {walk.run_m:g} m one way",
                formula=f"{figure(seg.current_a or 0)} A × 2 × {walk.run_m:g} m × R′ at 60 °C",
                value=(seg.current_a or 0) * ohm,
                unit="V",
                source=citation("conductors"),
                mark=mark("conductors"),
            )
        )
        walk = tree.circuits.get(walk.source or "")
    steps.append(
        Step(
            label="Share of the system voltage",
            formula=f"100 × drop / {tree.record.supply.system_v:g} V",
            value=at.drop_percent or 0.0,
            unit="%",
            source="derived",
            mark="derived",
        )
    )
    return tuple(steps)


def _area_for_drop(tree: SupplyTree, at: AtCircuit, limit: float) -> float | None:
    """Smallest standard area that brings the drop within, others left as they are."""
    circuit = at.circuit
    own = (at.current_a or 0) * run_ohm(
        circuit.area_mm2 or 0, circuit.run_m or 0, extra_ohm=circuit.extra_ohm
    )
    above = (at.drop_v or 0) - own
    for area in STANDARD_AREAS_MM2:
        if area <= (circuit.area_mm2 or 0):
            continue
        new = (at.current_a or 0) * run_ohm(
            area, circuit.run_m or 0, extra_ohm=circuit.extra_ohm
        )
        if 100 * (above + new) / tree.record.supply.system_v <= limit:
            return area
    return None


def _fuse(at: AtCircuit) -> Iterator[Finding]:
    circuit, name = at.circuit, _name(at.circuit)
    amps = _ampacity(circuit)
    minimum = _fuse_minimum(at)
    source = f"{citation('fuses')}; ampacity {citation('ampacity_iso10133')}"
    if circuit.fuse_a is None:
        if at.short_time:
            return
        yield _finding(
            "circuit-fuse",
            circuit.key,
            "unknown",
            f"{name}: enter its fuse.",
            unit="A",
            source=source,
        )
        return
    if minimum is None or amps is None:
        what = (
            "a cable area its insulation allows"
            if at.current_a is not None
            else at.missing
        )
        yield _finding(
            "circuit-fuse",
            circuit.key,
            "unknown",
            f"{name}: its {circuit.fuse_a:g} A fuse cannot be judged without {what}.",
            unit="A",
            source=source,
        )
        return
    working = (
        Step(
            label="Smallest fuse for the load",
            formula=f"{figure(at.current_a or 0)} A / 0.8",
            value=minimum,
            unit="A",
            source="load factor 0.8",
            mark="common practice",
        ),
        Step(
            label=f"What {circuit.area_mm2:g} mm² carries",
            formula=f"{circuit.insulation_c or 60:g} °C insulation"
            + (", engine space" if circuit.engine_space else ""),
            value=amps,
            unit="A",
            source=citation("ampacity_iso10133"),
            mark=mark("ampacity_iso10133"),
        ),
    )
    outcome: Verdict = "within"
    fix = None
    value, limit = circuit.fuse_a, amps
    sentence = (
        f"{name}: {circuit.fuse_a:g} A fuse, load {figure(at.current_a or 0)} A, "
        f"cable {figure(amps)} A."
    )
    if verdict(circuit.fuse_a, amps) == "over":
        outcome = "over"
        fix = _fuse_fix(circuit, minimum, amps)
        sentence = (
            f"{name}: the {circuit.fuse_a:g} A fuse does not protect "
            f"{circuit.area_mm2:g} mm², which carries {figure(amps, circuit.fuse_a)} A."
        )
    elif not at.short_time and verdict(minimum, circuit.fuse_a) == "over":
        outcome = "over"
        value, limit = minimum, circuit.fuse_a
        fix = _fuse_fix(circuit, minimum, amps)
        sentence = (
            f"{name}: {figure(at.current_a or 0)} A wants a fuse of "
            f"{figure(minimum, circuit.fuse_a)} A or more; {circuit.fuse_a:g} A is fitted."
        )
    yield _finding(
        "circuit-fuse",
        circuit.key,
        outcome,
        sentence if not fix else f"{sentence} {fix}",
        value=value,
        limit=limit,
        unit="A",
        source=source,
        would_clear=fix,
        working=working,
    )


def _fuse_fix(circuit: Circuit, minimum: float, amps: float) -> str | None:
    fuse = next_fuse_a(minimum)
    if fuse is None:
        return None
    if fuse <= amps:
        return f"Fit a {fuse:g} A fuse."
    for area in STANDARD_AREAS_MM2:
        carries = ampacity_a(
            area, circuit.insulation_c or 60, engine_space=circuit.engine_space
        )
        if carries is not None and carries >= fuse and area > (circuit.area_mm2 or 0):
            return f"Fit {area:g} mm² and a {fuse:g} A fuse."
    return None


def _reach(at: AtCircuit) -> Iterator[Finding]:
    circuit = at.circuit
    if circuit.fuse_a is None:
        return
    limit = float(table("fuses")["reach"]["value"])
    away = circuit.fuse_to_source_m
    name = _name(circuit)
    outcome = verdict(away, limit)
    if away is None:
        sentence = f"{name}: measure from its source to the fuse along the cable."
    else:
        sentence = (
            f"{name}: the fuse sits {away * 1000:.0f} mm from its source, "
            f"{limit * 1000:.0f} mm allowed."
        )
    if outcome == "over":
        # Guides allow more inside an enclosure, so somebody decides on the spot.
        outcome = "not proven"
        sentence += " Shorten it, or run it in an enclosure as the code allows."
    yield _finding(
        "circuit-reach",
        circuit.key,
        outcome,
        sentence,
        value=away,
        limit=limit,
        unit="m",
        source="200 mm: ISO 10133 (from memory) and guides to AS/NZS 3001.2 5.4 (read)",
    )


def _interrupt(tree: SupplyTree) -> Iterator[Finding]:
    """Hold the fuses of each battery against its short-circuit current, in one go."""
    ratings = table("fuses")["interrupt"]["value"]
    for root in dict.fromkeys(tree.roots.values()):
        judged = [
            (at, float(ratings[at.circuit.fuse_kind or ""]))
            for at in tree.solved.values()
            if at.root == root
            and at.fault_a is not None
            and at.circuit.fuse_a is not None
            and at.circuit.fuse_kind in ratings
        ]
        if judged:
            yield _interrupt_of(tree, root, judged)


def _interrupt_of(
    tree: SupplyTree, root: str, judged: list[tuple[AtCircuit, float]]
) -> Finding:
    worst, limit = max(judged, key=lambda pair: (pair[0].fault_a or 0) / pair[1])
    fault = worst.fault_a or 0.0
    weak = [at for at, breaks in judged if (at.fault_a or 0) > breaks]
    item = tree.items.get(root)
    name = item.label if item else "Start battery"
    outcome = verdict(fault, limit)
    if outcome == "over":
        # The resistance of cells and joints is a planning figure.
        outcome = "not proven"
        names = ", ".join(_name(at.circuit) for at in weak)
        sentence = (
            f"{name}: a short may give {fault:.0f} A where a fuse breaks only "
            f"{limit:.0f} A ({names}). Ask for the battery's own short-circuit "
            "figure, or put these behind a fuse that breaks it."
        )
    else:
        sentence = (
            f"{name}: a short gives up to {fault:.0f} A; every fuse on it breaks that."
        )
    return _finding(
        "circuit-interrupt",
        root,
        outcome,
        sentence,
        value=fault,
        limit=limit,
        unit="A",
        source=citation("fuses"),
        working=tuple(
            Step(
                label=_name(at.circuit),
                formula=f"{breaks:.0f} A {at.circuit.fuse_kind} against V / R to the fuse",
                value=at.fault_a or 0.0,
                unit="A",
                source=citation("energy"),
                mark=mark("energy"),
            )
            for at, breaks in judged
        ),
    )


def _unfed(tree: SupplyTree) -> Iterator[Finding]:
    for item in tree.record.items:
        if item.load is not None and item.key not in tree.fed_by:
            yield _finding(
                "load-unfed",
                item.key,
                "unknown",
                f"{item.label} draws current but hangs on no circuit: choose what feeds it.",
                source="every load has a protected supply; common practice",
            )


def _energy(
    tree: SupplyTree,
) -> tuple[dict[str, Any], list[dict[str, Any]] | dict[str, Any], list[Finding]]:
    batteries = tree.record.supply.batteries
    if not batteries:
        return {}, {}, []
    battery = batteries[0]
    use = tree.record.use
    load_ah, parts, missing = tree.daily_ah(battery)
    solar_ah, daylight, sun_steps, sun_missing = _sun(tree, battery)
    missing = missing or sun_missing
    drive_a = min(
        sum(
            c.out_a
            for c in tree.record.supply.chargers
            if c.to == battery.key and c.kind == "dc-dc"
        ),
        battery.charge_limit_a or float("inf"),
    )
    has_drive = any(c.kind == "dc-dc" for c in tree.record.supply.chargers)
    if has_drive and use.drive_h_per_day is None:
        missing = missing or "how many hours a day it is driven"
    if use.days is None:
        missing = missing or "how many days it stands away from mains"
    usable = battery.capacity_ah * (
        battery.usable_ratio or planning("usable_ratio", battery.chemistry)
    )
    if missing:
        finding = _finding(
            "energy-day",
            "vehicle",
            "unknown",
            f"The day's balance is not known yet: enter {missing}.",
            unit="Ah",
            source="charge balance",
        )
        return _known(load_ah=None if missing else load_ah), {}, [finding]
    coulombic = planning("coulombic_ratio", battery.chemistry)
    drive_h = use.drive_h_per_day or 0.0
    days = use.days or 1
    day = Day(load_ah, solar_ah * coulombic, drive_a * drive_h * coulombic)
    soc = state_of_charge(
        battery.capacity_ah,
        load_ah / 24,
        day.solar_ah,
        daylight,
        drive_a * coulombic,
        drive_h,
        days,
    )
    reserve = 1 - usable / battery.capacity_ah
    autonomy = usable / load_ah if load_ah else None
    answer = _known(
        load_ah=day.load_ah,
        solar_ah=day.solar_ah,
        drive_ah=day.drive_ah,
        net_ah=day.net_ah,
        autonomy_days=autonomy,
    )
    soc_answer = _known(
        hourly=[
            {"hour": hour, "soc_ratio": ratio}
            for hour, ratio in enumerate(soc, start=1)
        ],
        minimum_ratio=min(soc),
        hours_to_reserve=hours_to_reserve(soc, reserve),
    )
    finding = _energy_finding(day, min(soc), reserve, usable, days, parts, sun_steps)
    return answer, soc_answer, [finding]


def _energy_finding(
    day: Day,
    lowest: float,
    reserve: float,
    usable: float,
    days: int,
    parts: list[tuple[str, float]],
    sun_steps: tuple[Step, ...],
) -> Finding:
    working = [
        Step(
            label=label,
            formula="A × h × duty + standby",
            value=charge,
            unit="Ah",
            source="line item",
            mark="given",
        )
        for label, charge in sorted(parts, key=lambda p: -p[1])
    ]
    working += sun_steps
    working.append(
        Step(
            label="Driving",
            formula="charger A × h × charge efficiency",
            value=day.drive_ah,
            unit="Ah",
            source=citation("energy"),
            mark=mark("energy"),
        )
    )
    # Held as depth of discharge, so that more is worse as everywhere else.
    outcome = verdict(1 - lowest, 1 - reserve)
    net = f"{day.net_ah:+.0f} Ah a day".replace("-", "−")
    if outcome == "over":
        sentence = (
            f"{net}: over {days} days the battery is drawn to {100 * lowest:.0f} % of "
            f"full, below its reserve of {100 * reserve:.0f} %."
        )
    else:
        sentence = (
            f"{net}: over {days} days the battery stays at {100 * lowest:.0f} % or more; "
            f"its reserve is {100 * reserve:.0f} %."
        )
    fix = None
    if outcome == "over":
        fix = f"Bring in {-day.net_ah:.0f} Ah a day more, or draw that much less."
        if day.net_ah >= 0:
            fix = "A larger battery carries the nights."
    return _finding(
        "energy-day",
        "vehicle",
        outcome,
        sentence if not fix else f"{sentence} {fix}",
        value=100 * (1 - lowest),
        limit=100 * (1 - reserve),
        unit="% drawn",
        source=citation("energy"),
        would_clear=fix,
        working=tuple(working),
    )


def _sun(
    tree: SupplyTree, battery: Battery
) -> tuple[float, float, tuple[Step, ...], str]:
    use = tree.record.use
    panels = [
        p
        for p in tree.record.supply.panels
        if p.to is None or tree.chargers[p.to].to == battery.key
    ]
    if not panels:
        return 0.0, 12.0, (), ""
    if use.latitude_deg is None or use.month is None:
        return 0.0, 12.0, (), "latitude and month of the trip"
    hours = peak_sun_h(use.latitude_deg, use.month, planning("sunshine_ratio"))
    sun = extraterrestrial(use.latitude_deg, MID_MONTH_DAY[use.month - 1])
    total = 0.0
    for panel in panels:
        power = panel.power_w
        charger = tree.chargers.get(panel.to or "")
        if charger is not None and charger.solar_input_w:
            power = min(power, charger.solar_input_w)
        total += power * hours * (panel.derate or planning("panel_derate"))
    ah = total / tree.source_v(battery.key)
    steps = (
        Step(
            label="Sun on a flat panel",
            formula="(0.25 + 0.50 n/N) Ra / 3.6",
            value=hours,
            unit="h",
            source="FAO-56 equations 21 and 35; n/N 0.6 by common practice",
            mark="published",
        ),
        Step(
            label="From the panels",
            formula="W × h × derate / V",
            value=ah,
            unit="Ah",
            source=citation("energy"),
            mark=mark("energy"),
        ),
    )
    return ah, sun.daylight_h, steps, ""


def _sources(tree: SupplyTree) -> tuple[dict[str, Any], list[Finding]]:
    answers: dict[str, Any] = {}
    findings: list[Finding] = []

    def judge(
        key: str, subject: str, demand: float | None, limit: float | None, text: str
    ) -> None:
        outcome = verdict(demand, limit)
        if demand is not None and limit is not None:
            text += f": {figure(demand, limit)} A of {figure(limit)} A."
        findings.append(
            _finding(
                key,
                subject,
                outcome,
                text,
                value=demand,
                limit=limit,
                unit="A",
                source=citation("energy"),
            )
        )
        name = subject if subject != "vehicle" else key
        name = f"{name}-charge" if key == "battery-charge" else name
        answers[name] = _known(demand_a=demand, limit_a=limit, verdict=outcome)

    for battery in tree.record.supply.batteries:
        item = tree.items.get(battery.key)
        label = item.label if item else battery.key
        drawn = [
            at.current_a
            for at in tree.solved.values()
            if at.circuit.source == battery.key and not at.short_time
        ]
        charged = {c.key for c in tree.record.supply.chargers if c.to == battery.key}
        outputs = [
            at.current_a or 0
            for at in tree.solved.values()
            if at.circuit.source == battery.key and charged & set(at.circuit.feeds)
        ]
        demand = None if None in drawn else sum(a or 0 for a in drawn) - sum(outputs)
        limit = battery.discharge_limit_a
        text = f"{label}, everything on at once"
        if demand is None:
            text = f"{label}: the current drawn is not known until its circuits are."
        elif limit is None:
            text = f"{label}: enter its largest discharge current."
        judge("battery-discharge", battery.key, demand, limit, text)
        incoming = sum(
            c.out_a for c in tree.record.supply.chargers if c.to == battery.key
        )
        if incoming:
            limit = battery.charge_limit_a
            text = f"{label}, all chargers together"
            if limit is None:
                text = f"{label}: enter its largest charge current."
            judge("battery-charge", battery.key, incoming, limit, text)
    _alternator(tree, judge)
    return answers, findings


def _alternator(tree: SupplyTree, judge: Any) -> None:
    taken = sum(
        tree.charger_a(c)
        for c in tree.record.supply.chargers
        if c.kind == "dc-dc" and c.source == "start"
    )
    if not taken:
        return
    alternator = tree.record.vehicle.alternator
    if alternator.rated_a is None or alternator.own_load_a is None:
        judge(
            "alternator",
            "vehicle",
            None,
            None,
            "Alternator: enter its rating and what the vehicle itself draws.",
        )
        return
    hot = alternator.rated_a * planning("alternator_hot_ratio")
    judge(
        "alternator",
        "vehicle",
        taken + alternator.own_load_a,
        hot,
        "Alternator, hot, with the vehicle's own load",
    )
