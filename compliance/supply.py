"""The supply of one build, read from its record and solved once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from compliance.energy import charger_input_a, planning
from compliance.inputs import Battery, BuildRecord, Charger, Circuit, Item, Load
from compliance.network import Branch, solve_tree
from compliance.wiring import fault_current_a, run_ohm


@dataclass(slots=True)
class AtCircuit:
    """What one circuit carries and delivers; ``None`` where an input is missing.

    ``missing`` names what keeps its drop from being known. ``collapses`` says that
    its power has no steady state over the cables in front of it.
    """

    circuit: Circuit
    root: str
    short_time: bool = False
    limit_percent: float | None = None
    current_a: float | None = None
    drop_v: float | None = None
    drop_percent: float | None = None
    fault_a: float | None = None
    missing: str = ""
    collapses: bool = False


@dataclass(slots=True)
class _End:
    """What hangs at the end of one circuit and below it, before it is solved.

    ``total_a`` is the constant current of its whole subtree, ``steady`` says that
    there is nothing else, ``gap`` names what keeps its current from being known.
    """

    ohm: float | None
    current_a: float = 0.0
    power_w: float = 0.0
    conductance_s: float = 0.0
    gap: str = ""
    total_a: float = 0.0
    steady: bool = True
    fault_ohm: float | None = None


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
        self.branches: dict[str, list[Branch]] = {}

    def _root(self, circuit: Circuit) -> str:
        while circuit.source in self.circuits:
            circuit = self.circuits[circuit.source]
        return circuit.source or ""

    @cached_property
    def fed_by(self) -> dict[str, str]:
        """Root battery of every item that hangs on a circuit."""
        return {
            key: self.roots[circuit.key]
            for circuit in self.circuits.values()
            for key in circuit.feeds
            if key in self.items
        }

    def source_name(self, root: str) -> str:
        """Name a battery as the build does."""
        item = self.items.get(root)
        if item is not None:
            return item.label
        return root if root in self.batteries else "Start battery"

    def source_v(self, root: str) -> float:
        """Resting voltage of a battery. [V]"""
        return planning("battery_voltage", self._kind(root)) * self.scale

    def source_ohm(self, root: str) -> float:
        """Internal resistance of a battery. [ohm]"""
        battery = self.batteries.get(root)
        if battery is not None and battery.internal_mohm:
            return battery.internal_mohm / 1000
        return planning("internal_resistance", self._kind(root)) * self.scale / 1000

    def _kind(self, root: str) -> str:
        battery = self.batteries.get(root)
        return battery.chemistry if battery else "start"

    @property
    def scale(self) -> float:
        """System voltage over the 12 V that planning figures are stated for."""
        return self.record.supply.system_v / 12

    def charger_a(self, charger: Charger) -> float:
        """Input current of a charger at its lowest input voltage. [A]"""
        return charger_input_a(
            charger.out_a,
            charger.out_v or planning("charger_output") * self.scale,
            charger.efficiency or planning("charger_efficiency"),
            planning("charger_lowest_input") * self.scale,
        )

    def is_output(self, circuit: Circuit, charger: Charger) -> bool:
        """Say whether a circuit hangs on the battery that the charger fills."""
        return self.roots[circuit.key] == charger.to

    @cached_property
    def solved(self) -> dict[str, AtCircuit]:
        """Every circuit with its current, drop and fault current."""
        found: dict[str, AtCircuit] = {}
        for root in dict.fromkeys(self.roots.values()):
            for top in self.children[root or None]:
                self._solve_below(root, top, found)
        return {key: found[key] for key in self.circuits}

    def below(self, top: Circuit) -> list[Circuit]:
        """Give a circuit and all it feeds, feeders first."""
        ordered = [top]
        for circuit in ordered:
            ordered += self.children.get(circuit.key, ())
        return ordered

    def _solve_below(
        self, root: str, top: Circuit, found: dict[str, AtCircuit]
    ) -> None:
        # Each circuit on the battery itself stands alone: its terminals hold their
        # voltage, so what collapses behind one leaves the others be.
        ordered = self.below(top)
        ends = self._ends(ordered)
        inside, source_v = self.source_ohm(root), self.source_v(root)
        for circuit in ordered:
            end, feeder = ends[circuit.key], found.get(circuit.source or "")
            at = AtCircuit(
                circuit,
                root,
                short_time=self._is_short_time(circuit),
                limit_percent=self.limit_percent(circuit),
            )
            found[circuit.key] = at
            at.missing = _cable_gap(circuit) if end.ohm is None else end.gap
            before: float | None = inside
            if feeder is not None:
                at.missing = at.missing or feeder.missing
                before = ends[feeder.circuit.key].fault_ohm
            if before is not None:
                at.fault_a = fault_current_a(source_v, before)
                end.fault_ohm = None if end.ohm is None else before + end.ohm
            if not end.gap and end.steady:
                at.current_a = end.total_a
        self._apply(root, ordered, ends, found)

    def _apply(
        self,
        root: str,
        ordered: list[Circuit],
        ends: dict[str, _End],
        found: dict[str, AtCircuit],
    ) -> None:
        source_v = self.source_v(root)
        branches = self._branches(ordered, ends, found)
        self.branches[ordered[0].key] = branches
        answer = solve_tree(source_v, branches)
        for branch in branches:
            at = found[branch.key]
            if answer is None:
                at.current_a = None
                at.collapses = True
                continue
            solved = answer[branch.key]
            at.current_a = solved.current_a
            at.drop_v = source_v - solved.end_v
            at.drop_percent = 100 * at.drop_v / self.record.supply.system_v

    def _branches(
        self,
        ordered: list[Circuit],
        ends: dict[str, _End],
        found: dict[str, AtCircuit],
    ) -> list[Branch]:
        """Circuits whose voltage can be known, as branches of one tree."""
        branches = []
        for circuit in ordered:
            end = ends[circuit.key]
            if found[circuit.key].missing or end.ohm is None:
                continue
            # Below a cable that is not known, a constant current still is.
            hidden = sum(
                ends[child.key].total_a
                for child in self.children.get(circuit.key, ())
                if found[child.key].missing
            )
            branches.append(
                Branch(
                    circuit.key,
                    circuit.source if circuit.source in ends else None,
                    end.ohm,
                    end.current_a + hidden,
                    end.power_w,
                    end.conductance_s,
                )
            )
        return branches

    def _ends(self, ordered: list[Circuit]) -> dict[str, _End]:
        ends = {circuit.key: self._end(circuit) for circuit in ordered}
        for circuit in reversed(ordered):
            end = ends[circuit.key]
            for child in self.children.get(circuit.key, ()):
                below = ends[child.key]
                end.gap = end.gap or below.gap
                end.total_a += below.total_a
                end.steady = end.steady and below.steady
            if end.ohm is None and not end.steady:
                end.gap = end.gap or _cable_gap(circuit)
        return ends

    def _end(self, circuit: Circuit) -> _End:
        """Add up what hangs directly at the end of a circuit."""
        end = _End(circuit_ohm(circuit))
        for key in circuit.feeds:
            charger = self.chargers.get(key)
            if charger is not None:
                output = self.is_output(circuit, charger)
                end.current_a += charger.out_a if output else self.charger_a(charger)
                continue
            load = self.items[key].load
            if load is None:
                continue
            value = load_value(load, self.scale)
            if value is None:
                end.gap = f"what {self.items[key].label} draws"
            elif load.kind == "current":
                end.current_a += value
            elif load.kind == "power":
                end.power_w += value
            else:
                end.conductance_s += value
        end.total_a = end.current_a
        end.steady = not (end.power_w or end.conductance_s)
        return end

    def _is_short_time(self, circuit: Circuit) -> bool:
        loads = [self.items[k].load for k in circuit.feeds if k in self.items]
        return bool(loads) and all(load and load.short_time for load in loads)

    def limit_percent(self, circuit: Circuit) -> float | None:
        """Smallest drop allowed among what hangs on a circuit. [%]"""
        limits = []
        for key in circuit.feeds:
            if key in self.chargers:
                limits.append(planning("drop_limit_charging"))
                continue
            load = self.items[key].load
            if load is not None and not load.short_time:
                limits.append(load.limit_percent or planning("drop_limit_other"))
        return min(limits) if limits else None

    def drop_percent_with(self, changed: Circuit, key: str) -> float | None:
        """
        Give a circuit's drop as it would be with one cable changed.

        Parameters
        ----------
        changed : Circuit
            A circuit of this tree with another cable, its own area and run known.
        key : str
            The circuit whose drop is asked for, that one or one below it.

        Returns
        -------
        float or None
            Drop; ``None`` where it collapses still. [%]
        """
        source_v = self.source_v(self.roots[key])
        ohm = circuit_ohm(changed)
        assert ohm is not None
        branches = [
            replace(branch, resistance_ohm=ohm) if branch.key == changed.key else branch
            for branch in self.branches[self._top(key)]
        ]
        answer = solve_tree(source_v, branches)
        if answer is None:
            return None
        return 100 * (source_v - answer[key].end_v) / self.record.supply.system_v

    def _top(self, key: str) -> str:
        """Key of the circuit on the battery itself that a circuit hangs below."""
        while (above := self.circuits[key].source) in self.circuits:
            assert above is not None
            key = above
        return key


def circuit_ohm(circuit: Circuit) -> float | None:
    """Give a circuit's own resistance out and back, None where it is not recorded."""
    if circuit.area_mm2 is None or circuit.run_m is None:
        return None
    return run_ohm(circuit.area_mm2, circuit.run_m, extra_ohm=circuit.extra_ohm)


def circuit_name(circuit: Circuit) -> str:
    """Name a circuit as the build does."""
    return circuit.label or circuit.key


def _cable_gap(circuit: Circuit) -> str:
    wanted: Sequence[str] = [
        word
        for word, value in (
            ("cable area", circuit.area_mm2),
            ("run", circuit.run_m),
        )
        if value is None
    ]
    return f"the {' and '.join(wanted)} of {circuit_name(circuit)}"


def load_value(load: Load, scale: float = 1.0) -> float | None:
    """
    Give what a load draws, in the unit of its kind.

    Parameters
    ----------
    load : Load
        From the record.
    scale : float
        System voltage over 12 V.

    Returns
    -------
    float or None
        A for ``current``, W at the supply for ``power``, S for ``resistive``; ``None``
        where it is not stated.

    Notes
    -----
    A resistive load with a current alone is taken to draw it at the system voltage.

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
    return None if load.current_a is None else load.current_a / (12.0 * scale)


def mean_a(load: Load, source_v: float, scale: float = 1.0) -> float | None:
    """
    Give the current a load draws at its battery's resting voltage.

    Parameters
    ----------
    load : Load
        From the record.
    source_v : float
        Voltage. [V]
    scale : float
        System voltage over 12 V.

    Returns
    -------
    float or None
        Current, ``None`` where the load is not stated. [A]

    References
    ----------
    Derived.
    """
    value = load_value(load, scale)
    if value is None or load.kind == "current":
        return value
    return value / source_v if load.kind == "power" else value * source_v
