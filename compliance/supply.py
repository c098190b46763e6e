"""The supply of one build, read from its record and solved once."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from compliance.findings import Step
from compliance.inputs import BuildRecord, Circuit
from compliance.loads import cable_gap, circuit_ohm, load_value
from compliance.network import Branch, solve_tree
from compliance.supply_facts import SupplyFacts
from compliance.wiring import fault_current_a

State = Literal["loads", "charging", "short"]
"""What runs at once: all lasting loads; all chargers with the loads off; the lasting
loads with the short pulls. Loads take from a battery what chargers bring to it, so the
two never add up in a cable."""


@dataclass(slots=True)
class AtCircuit:
    """What one circuit carries and delivers; ``None`` where an input is missing.

    ``state`` is the one it is judged in: the greater of loads and charging, and a short
    pull's own. ``drawn_a`` is what its loads take, whatever it is judged in. ``missing``
    names what keeps its drop from being known. ``collapses`` says that its loads have no
    steady state over the cables in front of it. ``pull`` is the same circuit while all
    short pulls below it run with the lasting loads; ``None`` where there are none.
    """

    circuit: Circuit
    root: str
    short_time: bool = False
    limit_percent: float | None = None
    state: State = "loads"
    drawn_a: float | None = None
    current_a: float | None = None
    drop_v: float | None = None
    drop_percent: float | None = None
    fault_a: float | None = None
    missing: str = ""
    collapses: bool = False
    pull: "AtCircuit | None" = None


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


class SupplyTree(SupplyFacts):
    """A supply with the current each circuit carries in the states it can be in."""

    def __init__(self, record: BuildRecord) -> None:
        super().__init__(record)
        self._branches: dict[tuple[str, State], list[Branch]] = {}
        self._currents: dict[tuple[str, State], float] = {}
        self._constant: set[tuple[str, State]] = set()

    def nominal_v(self, root: str) -> float:
        """Voltage that drops are a share of: the system's, or a panel's own. [V]"""
        panel = self.panels.get(root)
        return self.record.supply.system_v if panel is None else self.panel_v(panel)[0]

    @cached_property
    def solved(self) -> dict[str, AtCircuit]:
        """Every circuit with its current, drop and fault current."""
        found: dict[str, AtCircuit] = {}
        for root in self.by_root:
            for top in self.children[root or None]:
                self._solve_below(root, top, found)
        return {key: found[key] for key in self.circuits}

    def _solve_below(
        self, root: str, top: Circuit, found: dict[str, AtCircuit]
    ) -> None:
        # Each circuit on the battery itself stands alone: its terminals hold their
        # voltage, so what collapses behind one leaves the others be.
        ordered = self.below(top)
        for circuit in ordered:
            limit = self.limit(circuit)
            found[circuit.key] = AtCircuit(
                circuit,
                root,
                short_time=self._is_short_time(circuit),
                limit_percent=limit[0] if limit else None,
            )
        self._short_circuits(root, ordered, found)
        for state in self._states(ordered):
            self._solve_state(state, ordered, found)
        pulled = self._pulled(ordered)
        for circuit in ordered:
            if circuit.key not in pulled:
                found[circuit.key].pull = None

    def _short_circuits(
        self, root: str, ordered: list[Circuit], found: dict[str, AtCircuit]
    ) -> None:
        """Current into a short right behind each fuse, cables cold, battery full."""
        if root in self.panels:
            for circuit in ordered:
                found[circuit.key].fault_a = self.panel_a(self.panels[root])[0]
            return
        open_v, inside = self.open_v(root), self.source_ohm(root)
        before: dict[str | None, float] = {ordered[0].source: inside}
        for circuit in ordered:
            if circuit.source not in before:
                continue
            ohm, cable = before[circuit.source], circuit_ohm(circuit, 20.0)
            found[circuit.key].fault_a = fault_current_a(open_v, ohm)
            if cable is not None:
                before[circuit.key] = ohm + cable

    def _states(self, ordered: list[Circuit]) -> Iterator[State]:
        yield "loads"
        if any(self._has_output(circuit) for circuit in ordered):
            yield "charging"
        if any(self._is_short(key) for circuit in ordered for key in circuit.feeds):
            yield "short"

    def _has_output(self, circuit: Circuit) -> bool:
        return any(
            key in self.chargers and self.is_output(circuit, self.chargers[key])
            for key in circuit.feeds
        )

    def _is_short(self, key: str) -> bool:
        load = self.items[key].load if key in self.items else None
        return load is not None and load.short_time

    def _pulled(self, ordered: list[Circuit]) -> set[str]:
        """Keys of the circuits that carry a short pull, for themselves or below."""
        found: set[str] = set()
        for circuit in reversed(ordered):
            below = (child.key for child in self.children.get(circuit.key, ()))
            own = any(self._is_short(key) for key in circuit.feeds)
            if own or not found.isdisjoint(below):
                found.add(circuit.key)
        return found

    def _solve_state(
        self, state: State, ordered: list[Circuit], found: dict[str, AtCircuit]
    ) -> None:
        ends = self._ends(ordered, state)
        missing: dict[str, str] = {}
        for circuit in ordered:
            end = ends[circuit.key]
            gap = cable_gap(circuit) if end.ohm is None else end.gap
            missing[circuit.key] = gap or missing.get(circuit.source or "", "")
        branches = self._known(ordered, ends, missing)
        self._branches[ordered[0].key, state] = branches
        if not any(b.power_w or b.conductance_s for b in branches):
            self._constant.add((ordered[0].key, state))
        source_v = self.nominal_v(self.roots[ordered[0].key])
        solved = solve_tree(source_v, branches)
        for circuit in ordered:
            end, gap = ends[circuit.key], missing[circuit.key]
            now = AtCircuit(circuit, "", state=state, missing=gap)
            if not end.gap and end.steady:
                now.current_a = end.total_a
            if not gap and solved is None:
                now.collapses = True
            elif not gap and solved is not None:
                at = solved[circuit.key]
                self._currents[circuit.key, state] = at.current_a
                now.current_a, now.drop_v = at.current_a, source_v - at.end_v
                now.drop_percent = 100 * now.drop_v / source_v
            self._take(found[circuit.key], now)

    def _take(self, at: AtCircuit, now: AtCircuit) -> None:
        """Judge a circuit by a state, if it is the one that asks most of it."""
        if now.state == "loads":
            at.drawn_a = now.current_a
        elif now.state == "short":
            at.pull = replace(now, root=at.root, short_time=True)
            if not at.short_time:
                return
        elif not self._only_output(at.circuit) and (
            at.current_a is None or (now.current_a or 0.0) <= at.current_a
        ):
            return
        at.state, at.missing, at.collapses = now.state, now.missing, now.collapses
        at.current_a, at.drop_v = now.current_a, now.drop_v
        at.drop_percent = now.drop_percent

    def _only_output(self, circuit: Circuit) -> bool:
        """Say whether nothing but chargers' outputs hangs on a circuit."""
        return (
            bool(circuit.feeds)
            and circuit.key not in self.children
            and all(
                key in self.chargers and self.is_output(circuit, self.chargers[key])
                for key in circuit.feeds
            )
        )

    def _known(
        self, ordered: list[Circuit], ends: dict[str, _End], missing: dict[str, str]
    ) -> list[Branch]:
        """Circuits whose voltage can be known, as branches of one tree."""
        branches = []
        for circuit in ordered:
            end = ends[circuit.key]
            if missing[circuit.key] or end.ohm is None:
                continue
            # Below a cable that is not known, a constant current still is.
            hidden = sum(
                ends[child.key].total_a
                for child in self.children.get(circuit.key, ())
                if missing[child.key]
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

    def _ends(self, ordered: list[Circuit], state: State) -> dict[str, _End]:
        ends = {circuit.key: self._end(circuit, state) for circuit in ordered}
        for circuit in reversed(ordered):
            end = ends[circuit.key]
            for child in self.children.get(circuit.key, ()):
                below = ends[child.key]
                end.gap = end.gap or below.gap
                end.total_a += below.total_a
                end.steady = end.steady and below.steady
            if end.ohm is None and not end.steady:
                end.gap = end.gap or cable_gap(circuit)
        return ends

    def _end(self, circuit: Circuit, state: State) -> _End:
        """Add up what hangs directly at the end of a circuit and runs in a state."""
        end = _End(circuit_ohm(circuit, self.conductor_c))
        panel = self.panels.get(self.roots[circuit.key])
        for key in sorted(circuit.feeds):
            charger = self.chargers.get(key)
            if panel is not None:
                end.current_a += self.panel_a(panel)[0]
                continue
            if charger is not None:
                output = self.is_output(circuit, charger)
                if output == (state == "charging"):
                    end.current_a += (
                        charger.out_a if output else self.charger_a(charger)
                    )
                continue
            load = self.items[key].load
            off = state == "charging" or (state == "loads" and self._is_short(key))
            if load is None or off:
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

    def limit(self, circuit: Circuit) -> tuple[float, Step] | None:
        """Smallest drop allowed among what hangs on a circuit, and its line. [%]"""
        limits = [self.drop_limit(key) for key in sorted(circuit.feeds)]
        known = [limit for limit in limits if limit is not None]
        return min(known, key=lambda limit: limit[0], default=None)

    def current_a(self, key: str, state: State) -> float | None:
        """Current of a circuit in a state, None where it is not known. [A]"""
        return self._currents.get((key, state))

    def has_power(self, at: AtCircuit) -> bool:
        """Say whether a constant power hangs on the tree that a circuit is part of."""
        branches = self._branches[self.tops[at.circuit.key], at.state]
        return any(branch.power_w for branch in branches)

    def solved_with(self, changed: Circuit, at: AtCircuit) -> AtCircuit | None:
        """
        Give a circuit as it would be with one cable changed.

        Parameters
        ----------
        changed : Circuit
            A circuit of this tree with another cable, its own area and run known.
        at : AtCircuit
            The circuit that is asked for, that one or one below it.

        Returns
        -------
        AtCircuit or None
            Its current and drop; ``None`` where it collapses still.
        """
        source_v, key = self.nominal_v(at.root), (self.tops[at.circuit.key], at.state)
        ohm = circuit_ohm(changed, self.conductor_c)
        assert ohm is not None
        circuit = changed if changed.key == at.circuit.key else at.circuit
        if at.drop_v is not None and key in self._constant:
            # Currents that hold whatever the voltage need no second solution.
            before = circuit_ohm(self.circuits[changed.key], self.conductor_c)
            assert before is not None
            drop_v = at.drop_v + self._currents[changed.key, at.state] * (ohm - before)
            percent = 100 * drop_v / source_v
            return replace(at, circuit=circuit, drop_v=drop_v, drop_percent=percent)
        branches = [
            replace(branch, resistance_ohm=ohm) if branch.key == changed.key else branch
            for branch in self._branches[key]
        ]
        answer = solve_tree(source_v, branches)
        if answer is None:
            return None
        now = answer[at.circuit.key]
        drop_v = source_v - now.end_v
        return replace(
            at,
            circuit=circuit,
            current_a=now.current_a,
            drop_v=drop_v,
            drop_percent=100 * drop_v / source_v,
            collapses=False,
        )
