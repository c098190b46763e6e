"""The supply of one build, read from its record and solved once."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from compliance.energy import charger_input_a, fridge_duty
from compliance.inputs import Battery, BuildRecord, Charger, Circuit, Item, Load
from compliance.tables import table
from compliance.wiring import Branch, Solved, run_ohm, solve_tree


def planning(name: str, kind: str | None = None) -> float:
    """
    Read one planning figure.

    Parameters
    ----------
    name : str
        Entry of ``tables/energy.toml``.
    kind : str or None
        Chemistry, where the figure depends on it.

    Returns
    -------
    float
        The figure, in the unit the table states.

    References
    ----------
    ``tables/energy.toml`` (common practice).
    """
    value = table("energy")[name]["value"]
    return float(value if kind is None else value[kind])


@dataclass(slots=True)
class AtCircuit:
    """What one circuit carries and delivers; ``None`` where an input is missing."""

    circuit: Circuit
    root: str
    current_a: float | None = None
    drop_v: float | None = None
    drop_percent: float | None = None
    limit_percent: float | None = None
    fault_a: float | None = None
    ampacity_a: float | None = None
    short_time: bool = False
    missing: str = ""


class SupplyTree:
    """Circuits by root, with the current each carries when all loads run at once."""

    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        supply = record.supply
        self.items: dict[str, Item] = {item.key: item for item in record.items}
        self.circuits: dict[str, Circuit] = {c.key: c for c in supply.circuits}
        self.batteries: dict[str, Battery] = {b.key: b for b in supply.batteries}
        self.chargers: dict[str, Charger] = {c.key: c for c in supply.chargers}
        self.roots = {c.key: self._root(c) for c in supply.circuits}
        self.children: dict[str | None, list[Circuit]] = {}
        for circuit in supply.circuits:
            self.children.setdefault(circuit.source, []).append(circuit)

    def _root(self, circuit: Circuit) -> str:
        while circuit.source in self.circuits:
            circuit = self.circuits[circuit.source]
        return circuit.source or ""

    @cached_property
    def fed_by(self) -> Mapping[str, str]:
        """Root battery of every item that hangs on a circuit."""
        return {
            key: self.roots[circuit.key]
            for circuit in self.record.supply.circuits
            for key in circuit.feeds
            if key not in self.chargers
        }

    def source_v(self, root: str) -> float:
        """Resting voltage of a battery. [V]"""
        battery = self.batteries.get(root)
        scale = self.record.supply.system_v / 12
        kind = battery.chemistry if battery else "start"
        return planning("battery_voltage", kind) * scale

    def source_ohm(self, root: str) -> float:
        """Internal resistance of a battery. [ohm]"""
        battery = self.batteries.get(root)
        if battery is not None and battery.internal_mohm:
            return battery.internal_mohm / 1000
        kind = battery.chemistry if battery else "start"
        return planning("internal_resistance", kind) / 1000

    def lowest_v(self) -> float:
        """Lowest voltage a charger works at; it decides its input current. [V]"""
        return planning("charger_lowest_input") * self.record.supply.system_v / 12

    def charger_a(self, charger: Charger) -> float:
        """Input current of a charger at its lowest input voltage. [A]"""
        return charger_input_a(
            charger.out_a,
            charger.out_v or planning("charger_output"),
            charger.efficiency or planning("charger_efficiency"),
            self.lowest_v(),
        )

    def _draw(self, circuit: Circuit) -> tuple[float, float, float, str]:
        """Current, power and conductance at the end of a circuit; what is missing."""
        current = power = conductance = 0.0
        for key in circuit.feeds:
            charger = self.chargers.get(key)
            if charger is not None:
                if self.roots[circuit.key] == charger.to:
                    current += charger.out_a
                else:
                    current += self.charger_a(charger)
                continue
            load = self.items[key].load
            if load is None:
                continue
            value = load_value(load)
            if value is None:
                return 0, 0, 0, f"what {self.items[key].label} draws"
            if load.kind == "current":
                current += value
            elif load.kind == "power":
                power += value
            else:
                conductance += value
        return current, power, conductance, ""

    @cached_property
    def solved(self) -> dict[str, AtCircuit]:
        """Every circuit with its current, drop and fault current."""
        found: dict[str, AtCircuit] = {}
        for root in dict.fromkeys(self.roots.values()):
            self._solve_root(root, found)
        return {key: found[key] for key in self.circuits}

    def _solve_root(self, root: str, found: dict[str, AtCircuit]) -> None:
        ordered: list[Circuit] = []
        queue = list(self.children.get(root, ()))
        while queue:
            circuit = queue.pop(0)
            ordered.append(circuit)
            queue += self.children.get(circuit.key, ())
        branches: list[Branch] = []
        blocked: set[str] = set()
        ohms: dict[str, float] = {}
        for circuit in ordered:
            at = AtCircuit(circuit, root)
            found[circuit.key] = at
            parent = circuit.source if circuit.source in self.circuits else None
            if circuit.area_mm2 is None or circuit.run_m is None:
                at.missing = "cable area and run"
            current, power, conductance, missing = self._draw(circuit)
            at.missing = at.missing or missing
            if parent in blocked:
                at.missing = at.missing or "its feeder's cable and loads"
            if at.missing:
                blocked.add(circuit.key)
                continue
            ohm = run_ohm(
                circuit.area_mm2 or 0, circuit.run_m or 0, extra_ohm=circuit.extra_ohm
            )
            ohms[circuit.key] = ohm + (ohms[parent] if parent else 0)
            branches.append(
                Branch(circuit.key, parent, ohm, current, power, conductance)
            )
        self._judge(root, branches, ohms, found)

    def _judge(
        self,
        root: str,
        branches: list[Branch],
        ohms: dict[str, float],
        found: dict[str, AtCircuit],
    ) -> None:
        source_v = self.source_v(root)
        answer = solve_tree(source_v, branches)
        inside = self.source_ohm(root)
        for branch in branches:
            at = found[branch.key]
            at.short_time = self._is_short_time(at.circuit)
            above = ohms[branch.parent] if branch.parent else 0.0
            at.fault_a = source_v / (inside + above)
            if answer is None:
                at.missing = "power that can be supplied over this cable"
                continue
            solved: Solved = answer[branch.key]
            at.current_a = solved.current_a
            at.drop_v = source_v - solved.end_v
            at.drop_percent = 100 * at.drop_v / self.record.supply.system_v
            at.limit_percent = self.limit_percent(at.circuit)

    def _is_short_time(self, circuit: Circuit) -> bool:
        loads = [self.items[k].load for k in circuit.feeds if k in self.items]
        return bool(loads) and all(load and load.short_time for load in loads)

    def limit_percent(self, circuit: Circuit) -> float | None:
        """Smallest drop allowed among what hangs on a circuit. [%]"""
        limits = []
        for key in circuit.feeds:
            if key in self.chargers:
                limits.append(CHARGING_LIMIT_PERCENT)
                continue
            load = self.items[key].load
            if load is not None and not load.short_time:
                limits.append(load.limit_percent or OTHER_LIMIT_PERCENT)
        return min(limits) if limits else None

    def daily_ah(self, battery: Battery) -> tuple[float, list[tuple[str, float]], str]:
        """Charge that loads draw from a battery in a day, by item; what is missing."""
        total, parts = 0.0, []
        missing = ""
        ambient = self.record.use.ambient_c
        for key, root in self.fed_by.items():
            item = self.items[key]
            load = item.load
            if root != battery.key or load is None or load.short_time:
                continue
            if load.duty == "fridge" and ambient is None:
                missing = missing or "the air temperature of the trip"
                continue
            if load.hours_per_day is None:
                missing = missing or f"hours a day {item.label} runs"
                continue
            amps = mean_a(load, self.source_v(battery.key))
            if amps is None:
                missing = missing or f"what {item.label} draws"
                continue
            if load.duty == "fridge":
                ratio = fridge_duty(ambient or 0)
            else:
                ratio = 1.0 if load.duty is None else load.duty
            charge = amps * load.hours_per_day * ratio
            charge += (load.standby_a or 0.0) * (24 - load.hours_per_day)
            parts.append((item.label, charge))
            total += charge
        return total, parts, missing


CHARGING_LIMIT_PERCENT = 3.0
OTHER_LIMIT_PERCENT = 5.0
"""Drop allowed by circuit kind. Common practice; 3 % is ABYC E-11 for feeders and
ISO 10133 for its list of circuits (published)."""


def load_value(load: Load) -> float | None:
    """
    Give what a load draws, in the unit of its kind.

    Parameters
    ----------
    load : Load
        From the record.

    Returns
    -------
    float or None
        A for ``current``, W at the supply for ``power``, S for ``resistive``; ``None``
        where it is not stated.

    References
    ----------
    Derived.
    """
    if load.kind == "current":
        return load.current_a
    if load.kind == "power":
        if load.power_w is None:
            return None
        return load.power_w / (load.efficiency or 1.0)
    if load.resistance_ohm is not None:
        return 1 / load.resistance_ohm
    return None if load.current_a is None else load.current_a / 12.0


def mean_a(load: Load, source_v: float) -> float | None:
    """
    Give the current a load draws at its battery's resting voltage.

    Parameters
    ----------
    load : Load
        From the record.
    source_v : float
        Voltage. [V]

    Returns
    -------
    float or None
        Current, ``None`` where the load is not stated. [A]

    References
    ----------
    Derived.
    """
    value = load_value(load)
    if value is None or load.kind == "current":
        return value
    return value / source_v if load.kind == "power" else value * source_v
