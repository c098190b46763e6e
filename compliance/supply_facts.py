"""What a record says of one supply, by key, with the figures it is computed with."""

from dataclasses import replace
from functools import cached_property
from operator import attrgetter

from compliance.batteries import charge_limit_a
from compliance.energy import charger_input_a, planning
from compliance.findings import Mark, Step
from compliance.inputs import Battery, BuildRecord, Charger, Circuit, Item, Panel
from compliance.settings import SETTINGS
from compliance.tables import citation, mark

_UNITS = {"conductor_c": "°C", "engine_space_air_c": "°C"}
"""Units that the tables write otherwise than people do."""

SENSITIVE = "Drop allowed at a fridge or a radio"

ENGINE_SPACE = ("under bonnet", "engine space", "engine bay")
"""Words in the place of a battery that mean the engine space."""


class SupplyFacts:
    """Batteries, chargers, panels and circuits by key, and what hangs below each."""

    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        supply = record.supply
        # By key, so that the order they are listed in never moves a last digit; which
        # battery comes first has a meaning.
        by_key = attrgetter("key")
        self.items: dict[str, Item] = {
            item.key: item for item in sorted(record.items, key=by_key)
        }
        self.circuits: dict[str, Circuit] = {
            c.key: c for c in sorted(supply.circuits, key=by_key)
        }
        self.batteries: dict[str, Battery] = {b.key: b for b in supply.batteries}
        self.chargers: dict[str, Charger] = {
            c.key: c for c in sorted(supply.chargers, key=by_key)
        }
        self.panels: dict[str, Panel] = {
            p.key: p for p in sorted(supply.panels, key=by_key)
        }
        self.children: dict[str | None, list[Circuit]] = {}
        for circuit in self.circuits.values():
            self.children.setdefault(circuit.source, []).append(circuit)
        self._figures: dict[str, float] = {}
        self._steps: dict[tuple[str, str, float], Step] = {}
        self.conductor_c = self.figure("conductor_c")
        self.tops = self._find_tops()
        self.roots = {
            key: self.circuits[self.tops[key]].source or "" for key in self.circuits
        }

    def _find_tops(self) -> dict[str, str]:
        """Key of the circuit on the source itself that each circuit hangs below."""
        found: dict[str, str] = {}
        for top in self.circuits.values():
            if top.source not in self.circuits:
                found.update((circuit.key, top.key) for circuit in self.below(top))
        return found

    def below(self, top: Circuit) -> list[Circuit]:
        """Give a circuit and all it feeds, feeders first."""
        ordered = [top]
        for circuit in ordered:
            ordered += self.children.get(circuit.key, ())
        return ordered

    def figure(self, name: str) -> float:
        """Give a figure of ``SETTINGS``, the workshop's own before the table's."""
        value = self._figures.get(name)
        if value is None:
            value = self._figures[name] = self.record.settings.value(name)
        return value

    def figure_step(
        self, name: str, formula: str = "planning figure", scale: float = 1.0
    ) -> Step:
        """Show a figure of ``SETTINGS`` in the working, with its source and mark."""
        asked = (name, formula, scale)
        step = self._steps.get(asked)
        if step is None:
            settings, unit = self.record.settings, SETTINGS[name].unit
            step = self._steps[asked] = Step(
                label=SETTINGS[name].label,
                formula=formula,
                value=self.figure(name) * scale,
                unit=_UNITS.get(name, "" if unit == "1" else unit),
                source=settings.source(name),
                mark=settings.mark(name),
            )
        return step

    def own_or_figure(
        self, own: float | None, name: str, label: str, scale: float = 1.0
    ) -> tuple[float, Step]:
        """Give what the record states, or else a figure of ``SETTINGS``, and its line."""
        if own is None:
            return self.figure(name) * scale, self.figure_step(name, scale=scale)
        unit = self.figure_step(name).unit
        step = Step(
            label=label,
            formula="as recorded",
            value=own,
            unit=unit,
            source="line item",
            mark="given",
        )
        return own, step

    @cached_property
    def fed_by(self) -> dict[str, str]:
        """Root source of every item that hangs on a circuit."""
        return {key: self.roots[c.key] for key, c in self.circuit_of.items()}

    @cached_property
    def circuit_of(self) -> dict[str, Circuit]:
        """Circuit that every fed item hangs on."""
        return {
            key: circuit
            for circuit in self.circuits.values()
            for key in sorted(circuit.feeds)
            if key in self.items
        }

    @cached_property
    def fed_from(self) -> dict[str, list[Item]]:
        """Items by the source they hang on."""
        found: dict[str, list[Item]] = {}
        for key, root in self.fed_by.items():
            found.setdefault(root, []).append(self.items[key])
        return found

    @cached_property
    def panels_of(self) -> dict[str, list[Panel]]:
        """Panels by the battery they fill; without a charger it is the first."""
        found: dict[str, list[Panel]] = {}
        for panel in self.panels.values():
            if panel.to is not None:
                to = self.chargers[panel.to].to
            else:
                to = next(iter(self.batteries), "start")
            found.setdefault(to, []).append(panel)
        return found

    @cached_property
    def inputs(self) -> dict[str, Circuit]:
        """Circuit that brings each charger what it draws from a battery."""
        return {
            key: circuit
            for circuit, key in self._on_circuits()
            if not self.is_output(circuit, self.chargers[key])
            and self.roots[circuit.key] not in self.panels
        }

    @cached_property
    def outputs(self) -> dict[str, Circuit]:
        """Circuit on which each charger gives to its battery."""
        return {
            key: circuit
            for circuit, key in self._on_circuits()
            if self.is_output(circuit, self.chargers[key])
        }

    def _on_circuits(self) -> list[tuple[Circuit, str]]:
        return [
            (circuit, key)
            for circuit in self.circuits.values()
            for key in sorted(circuit.feeds)
            if key in self.chargers
        ]

    @cached_property
    def by_root(self) -> dict[str, list[str]]:
        """Keys of all circuits by the source they hang on."""
        found: dict[str, list[str]] = {}
        for key, root in self.roots.items():
            found.setdefault(root, []).append(key)
        return found

    @cached_property
    def into(self) -> dict[str, list[Charger]]:
        """Chargers by the battery they fill."""
        found: dict[str, list[Charger]] = {}
        for charger in self.chargers.values():
            found.setdefault(charger.to, []).append(charger)
        return found

    @cached_property
    def out_of(self) -> dict[str, list[Charger]]:
        """Chargers by the battery they draw from."""
        found: dict[str, list[Charger]] = {}
        for charger in self.chargers.values():
            if charger.source is not None:
                found.setdefault(charger.source, []).append(charger)
        return found

    def name_of(self, key: str) -> str:
        """Name an item or a charger as the build does."""
        return self.items[key].label if key in self.items else key

    def source_name(self, root: str) -> str:
        """Name a battery or a panel as the build does."""
        item = self.items.get(root)
        if item is not None:
            return item.label
        known = root in self.batteries or root in self.panels
        return root if known else "Start battery"

    def source_v(self, root: str) -> float:
        """Resting voltage of a battery. [V]"""
        return planning("battery_voltage", self.kind(root)) * self.scale

    def open_v(self, root: str) -> float:
        """Voltage of a full battery that gives nothing. [V]"""
        return planning("open_circuit_voltage", self.kind(root)) * self.scale

    def source_ohm(self, root: str) -> float:
        """Internal resistance of a battery. [ohm]"""
        battery = self.batteries.get(root)
        if battery is not None and battery.internal_mohm:
            return battery.internal_mohm / 1000
        return planning("internal_resistance", self.kind(root)) * self.scale / 1000

    def kind(self, root: str) -> str:
        """Chemistry of a battery, ``start`` for the one that starts the engine."""
        battery = self.batteries.get(root)
        return battery.chemistry if battery else "start"

    @property
    def scale(self) -> float:
        """System voltage over the 12 V that planning figures are stated for."""
        return self.record.supply.system_v / 12

    def charger_a(self, charger: Charger, in_v: float | None = None) -> float:
        """Input current of a charger, at its lowest input voltage if not told. [A]"""
        return charger_input_a(
            charger.out_a,
            charger.out_v or self.figure("charger_output_v") * self.scale,
            charger.efficiency or self.figure("charger_efficiency"),
            in_v or self.figure("charger_lowest_input_v") * self.scale,
        )

    def charger_steps(self, charger: Charger) -> tuple[Step, ...]:
        """Show what a charger's input current is computed from."""
        return (
            self.own_or_figure(
                charger.out_v, "charger_output_v", "Output of the charger", self.scale
            )[1],
            self.own_or_figure(
                charger.efficiency, "charger_efficiency", "Efficiency of the charger"
            )[1],
            self.figure_step("charger_lowest_input_v", scale=self.scale),
        )

    def is_output(self, circuit: Circuit, charger: Charger) -> bool:
        """Say whether a circuit hangs on the battery that the charger fills."""
        return self.roots[circuit.key] == charger.to

    def usable(self, battery: Battery) -> tuple[float, Step]:
        """Share of a battery that is used, and where it comes from."""
        return self.own_or_figure(
            battery.usable_ratio,
            f"usable_ratio_{battery.chemistry}",
            "Share of the battery that is used",
        )

    def charge_limit_a(self, battery: Battery, cell_c: float | None) -> float:
        """Most that a battery takes at a temperature of its cells. [A]"""
        return charge_limit_a(battery, cell_c, self.figure("lead_charge_rate_c"))

    def in_engine_space(self, battery: Battery) -> bool:
        """Say whether a battery stands in the engine space."""
        item = self.items.get(battery.key)
        if item is not None and item.zone == "under-bonnet":
            return True
        words = (battery.place or "").lower().replace("-", " ").split()
        place = " ".join(word for word in words if word != "the")
        return any(space in place for space in ENGINE_SPACE)

    def cell_c(self, battery: Battery) -> float | None:
        """Temperature taken for a battery's cells: that of the air around it. [C]"""
        if self.in_engine_space(battery):
            return self.figure("engine_space_air_c")
        return self.record.use.ambient_c

    def taken_air(self, battery: Battery) -> str:
        """Say why a battery in the engine space stays open; empty elsewhere."""
        if not self.in_engine_space(battery):
            return ""
        step = self.figure_step("engine_space_air_c")
        said = f"taken air in the engine space {step.value:g} °C, {step.mark}: "
        return said + "measure beside the battery."

    def drop_limit(self, key: str) -> tuple[float, Step] | None:
        """Drop allowed at a charger or an item; None at what pulls for seconds. [%]"""
        name = "drop_limit_charging_percent"
        if key in self.chargers:
            return self.figure(name), self.figure_step(name)
        load = self.items[key].load if key in self.items else None
        if load is None or load.short_time:
            return None
        if load.limit_percent is None and (
            load.duty == "fridge" or "radio" in self.items[key].kind.split("-")
        ):
            step = replace(self.figure_step(name), label=SENSITIVE)
            return self.figure(name), step
        return self.own_or_figure(
            load.limit_percent, "drop_limit_other_percent", "Drop allowed at this load"
        )

    def is_firm(self, key: str, step: Step) -> bool:
        """Say whether a drop limit stops a vehicle, and is not just common practice.

        A charger does not charge and a fridge switches off where it is passed; what a
        maker or the workshop states is theirs to hold to.
        """
        load = self.items[key].load if key in self.items else None
        own = step.mark in ("given", "workshop rule")
        return own or load is None or load.duty == "fridge"

    def panel_v(self, panel: Panel) -> tuple[float, Step]:
        """Voltage at which a panel gives its power, and where it comes from. [V]"""
        if panel.open_circuit_v:
            entry, formula = "panel_working_ratio", f"{panel.open_circuit_v:g} V open"
            ratio = planning(entry)
            volts, formula = panel.open_circuit_v * ratio, f"{ratio:g} × {formula}"
        else:
            entry, formula = "panel_voltage", f"for {12 * self.scale:g} V"
            volts = planning(entry) * self.scale
        step = Step(
            label="Panel at its highest power",
            formula=formula,
            value=volts,
            unit="V",
            source=citation("energy", entry),
            mark=mark("energy", entry),
        )
        return volts, step

    def panel_a(self, panel: Panel) -> tuple[float, tuple[Step, ...]]:
        """Most current a panel gives, and where it comes from. [A]"""
        if panel.short_circuit_a is not None:
            amps, formula, known = panel.short_circuit_a, "on its plate", _GIVEN
            return amps, (_panel_step(amps, formula, known),)
        volts, step = self.panel_v(panel)
        amps = panel.power_w / volts
        formula = f"{panel.power_w:g} W / {volts:.1f} V"
        return amps, (
            step,
            _panel_step(amps, formula, ("power over voltage", step.mark)),
        )


_GIVEN: tuple[str, Mark] = ("line item", "given")


def _panel_step(amps: float, formula: str, known: tuple[str, Mark]) -> Step:
    return Step(
        label="The panel gives at most",
        formula=formula,
        value=amps,
        unit="A",
        source=known[0],
        mark=known[1],
    )
