"""The masses of one build as the open record's answer names them."""

from functools import cached_property
from typing import Any

from compliance.findings import verdict
from compliance.inputs import BuildRecord
from compliance.laden import USE, Laden, State
from compliance.load import axle_share
from compliance.load_balance import Balance
from compliance.load_carriers import Carrier, carriers
from compliance.load_room import load_path, still_rows, zone_rows
from compliance.load_worst import Worst, WorstCases
from compliance.parts import mass_of
from compliance.ratings import governing_ratings


class LoadFigures:
    """The masses of one build: scenarios, worst cases, payload, and their ratings."""

    def __init__(self, record: BuildRecord, like: "LoadFigures | None" = None) -> None:
        """Gather a record's figures; what it shares with ``like`` is taken from there."""
        self.record = record
        self.laden: Laden = Laden(record, None if like is None else like.laden)
        self.ratings = governing_ratings(record)
        self.scenarios = {scenario.key: scenario for scenario in record.scenarios}
        self.use = self.laden.state(USE)
        self.worst = WorstCases(self.laden)
        self.balance = Balance(self.laden, self.use, self.worst)
        self.u_total = self.laden.expanded_kg(None)
        self.u_front = self.laden.expanded_kg("front")
        self.u_rear = self.laden.expanded_kg("rear")
        self.u_roof = self.laden.expanded_roof_kg()

    def rows(self) -> dict[str, Any]:
        """Give everything that is computed of a build's masses."""
        return {
            "scenarios": {
                key: self.scenario_row(key) for key in (*self.scenarios, USE.key)
            },
            "worst": self.worst_rows(),
            "payload_left_kg": self.payload_left_kg(),
            "items": self.item_rows(),
            "path": load_path(self.laden, hitched=self.use.hitched),
            "zones": zone_rows(self.record),
            "still": self.still_rows(),
            "carriers": self.carrier_rows(),
            **self.balance.rows(),
        }

    @cached_property
    def plain(self) -> State:
        """The customer's use before the bars of the hitch are tensioned.

        The bars raise no rating, so GVM and payload must do without them.
        """
        return (
            self.use if self.laden.bars is None else self.laden.state(USE, bars=False)
        )

    @cached_property
    def carriers(self) -> list[Carrier]:
        """What racks, slides and trays carry."""
        return carriers(self.laden)

    def carrier_rows(self) -> dict[str, dict[str, Any]]:
        """Give what each carrier carries against what it may."""
        rows: dict[str, dict[str, Any]] = {}
        for carrier in self.carriers:
            value, limit = carrier.carried_kg, carrier.item.carrier_limit_kg
            expanded = carrier.expanded_kg
            rows[carrier.item.key] = {
                "carried_kg": value,
                "limit_kg": limit,
                "verdict": verdict(value, limit, expanded or 0.0),
            }
            if expanded is not None:
                rows[carrier.item.key]["carried_u_kg"] = expanded
        return rows

    def scenario_row(self, key: str) -> dict[str, Any]:
        """Give the loads of one scenario; what is not known is left out."""
        scenario = self.scenarios.get(key, USE)
        state = self.use if key == USE.key else self.laden.state(scenario)
        trailer = self.record.trailer
        left = self.laden.left_kg(state)
        row: dict[str, Any] = {
            "total_kg": (state.total_kg, self.u_total),
            "front_kg": (state.axles and state.axles.front_kg, self.u_front),
            "rear_kg": (state.axles and state.axles.rear_kg, self.u_rear),
            "roof_kg": (self.laden.roof(scenario)[0], self.u_roof),
            "left_kg": (left, None),
            "right_kg": (
                None if left is None else (state.total_kg or 0.0) - left,
                None,
            ),
        }
        if state.hitched and trailer is not None:
            row["ball_kg"] = (state.ball_kg, None)
            row["trailer_axle_kg"] = (self.trailer_axle_kg(), None)
            row["combination_kg"] = (self.combination_kg(state), self.u_total)
        known: dict[str, Any] = {}
        for name, (value, expanded) in row.items():
            if value is not None:
                known[name] = value
                if expanded is not None:
                    known[name.replace("_kg", "_u_kg")] = expanded
        if state.axle_gaps:
            known["missing"] = list(state.axle_gaps)
        return known

    def trailer_axle_kg(self) -> float | None:
        """Give what the trailer's own wheels carry when hitched. [kg]"""
        trailer = self.record.trailer
        on_vehicle = self.laden.coupled_kg
        if trailer is None or trailer.mass_kg is None or on_vehicle is None:
            return None
        return trailer.mass_kg - on_vehicle

    def combination_kg(self, state: State) -> float | None:
        """Give vehicle and trailer together, the ball load counted once. [kg]"""
        trailer = self.record.trailer
        if state.total_kg is None or trailer is None or trailer.mass_kg is None:
            return None
        alone = state.total_kg
        if state.hitched:
            alone -= self.laden.coupled_kg or 0.0
        return alone + trailer.mass_kg

    def still_rows(self) -> dict[str, dict[str, Any]]:
        """Give what may still be carried, hitched and not, in people and kilograms."""
        trailer = self.record.trailer
        return still_rows(
            self.laden,
            self.ratings,
            None if trailer is None else trailer.mass_kg,
        )

    def payload_left_kg(self) -> float | None:
        """Give what may still be carried, the lower of GVM and GCM. [kg]"""
        limit = self.most_kg()[0]
        if limit is None or self.plain.total_kg is None:
            return None
        return limit - self.plain.total_kg

    def most_kg(self) -> tuple[float | None, str]:
        """Give the largest total that GVM and GCM allow, and which one governs."""
        gvm, gcm = self.ratings["gvm_kg"], self.ratings["gcm_kg"]
        trailer, ball_kg = self.record.trailer, self.plain.ball_kg
        mass_kg = None if trailer is None else trailer.mass_kg
        if None not in (gcm.governs_kg, ball_kg, mass_kg):
            assert gcm.governs_kg is not None
            assert ball_kg is not None
            assert mass_kg is not None
            by_gcm = gcm.governs_kg - (mass_kg - ball_kg)
            if gvm.governs_kg is not None and by_gcm < gvm.governs_kg:
                return by_gcm, "GCM"
        return gvm.governs_kg, "GVM"

    def item_rows(self) -> dict[str, dict[str, float]]:
        """Give what each item adds, the parts it takes off subtracted."""
        rows: dict[str, dict[str, float]] = {}
        length = self.laden.wheelbase_m
        unknown: set[str] = set()
        for part in self.laden.fitted:
            if part.missing or length is None or (part.mass_kg and part.x_m is None):
                unknown.add(part.key)
                continue
            row = rows.setdefault(part.key, {"front_kg": 0.0, "rear_kg": 0.0})
            share = axle_share(mass_of(part), part.x_m or 0.0, length)
            row["front_kg"] += share.front_kg
            row["rear_kg"] += share.rear_kg
        return {key: row for key, row in rows.items() if key not in unknown}

    def worst_rows(self) -> dict[str, dict[str, Any]]:
        """Give the worst case of each load over every state."""
        return {
            key: self._worst_row(key, *pair) for key, pair in self.worst_cases.items()
        }

    @cached_property
    def worst_cases(self) -> dict[str, tuple[Worst, float | None]]:
        """The worst case of each load with its U."""
        roof, gaps = self.laden.roof(USE)
        trailer = self.record.trailer
        vehicle = self.worst.of(None, hitchable=False)
        combined = vehicle
        if trailer is not None:
            combined = Worst(
                None
                if vehicle.value_kg is None or trailer.mass_kg is None
                else vehicle.value_kg + trailer.mass_kg,
                f"{vehicle.state}; hitched" if vehicle.state else "hitched",
                vehicle.gaps
                + (("weigh the trailer",) if trailer.mass_kg is None else ()),
            )
        return {
            "gvm": (self.worst.of(None), self.u_total),
            "front_axle": (self.worst.of("front"), self.u_front),
            "rear_axle": (self.worst.of("rear"), self.u_rear),
            "gcm": (combined, self.u_total),
            "roof": (self.worst.roof(roof, gaps), self.u_roof),
        }

    def _worst_row(
        self, key: str, worst: Worst, expanded: float | None
    ) -> dict[str, Any]:
        limit = self.ratings[f"{key}_kg"].governs_kg
        value = worst.value_kg
        row: dict[str, Any] = {
            "value_kg": value,
            "limit_kg": limit,
            "margin_kg": None if value is None or limit is None else limit - value,
            "verdict": verdict(value, limit, expanded or 0.0),
            "state": worst.state,
        }
        if expanded is not None:
            row["value_u_kg"] = expanded
        if worst.gaps:
            row["missing"] = list(worst.gaps)
        return row
