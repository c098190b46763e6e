"""Mass of one build held against its limits."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from compliance.clearing import clear_axle, lighten
from compliance.findings import Finding, Step, Verdict, held_against, verdict
from compliance.inputs import BuildRecord
from compliance.laden import USE, Laden, State, Worst
from compliance.load import Axle, axle_share
from compliance.load_working import axle_working, total_working
from compliance.parts import mass_of
from compliance.ratings import Rating, governing_ratings

SEVERITY: dict[Verdict, Literal["stop", "check", "clear"]] = {
    "over": "stop",
    "unknown": "check",
    "not proven": "check",
    "within": "clear",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A load in the customer's use, before it is held against its rating. [kg]"""

    key: str
    label: str
    value_kg: float | None
    rating: Rating
    look_up: str
    gaps: tuple[str, ...] = ()
    expanded_kg: float = 0.0
    working: tuple[Step, ...] = ()
    clear: str = ""
    subject: str = "vehicle"


def check_load(record: BuildRecord) -> tuple[dict[str, Any], list[Finding]]:
    """
    Compute and judge a build's masses.

    Parameters
    ----------
    record : BuildRecord
        A build whose keys lead where they should.

    Returns
    -------
    tuple of dict and list of Finding
        ``scenarios``, ``worst``, ``payload_left_kg`` and ``items`` as the open
        record's answer names them, and the findings, judged for the customer's use.

    References
    ----------
    See the functions that compute each quantity.
    """
    check = _LoadCheck(record)
    findings = [
        finding for quantity in check.quantities() for finding in check.judge(quantity)
    ]
    results = {
        "scenarios": {
            key: check.scenario_row(key) for key in (*check.scenarios, USE.key)
        },
        "worst": check.worst_rows(),
        "payload_left_kg": check.payload_left_kg(),
        "items": check.item_rows(),
    }
    return results, findings


class _LoadCheck:
    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        self.laden = Laden(record)
        self.ratings = governing_ratings(record)
        self.scenarios = {scenario.key: scenario for scenario in record.scenarios}
        self.use = self.laden.state(USE)
        self.u_total = self.laden.expanded_kg(None)
        self.u_front = self.laden.expanded_kg("front")
        self.u_rear = self.laden.expanded_kg("rear")
        self.u_roof = self.laden.expanded_roof_kg()

    # What is computed

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
        if trailer is None or trailer.mass_kg is None or trailer.ball_kg is None:
            return None
        return trailer.mass_kg - trailer.ball_kg

    def combination_kg(self, state: State) -> float | None:
        """Give vehicle and trailer together, the ball load counted once. [kg]"""
        trailer = self.record.trailer
        if state.total_kg is None or trailer is None or trailer.mass_kg is None:
            return None
        return state.total_kg - (state.ball_kg or 0.0) + trailer.mass_kg

    def payload_left_kg(self) -> float | None:
        """Give what may still be carried, the lower of GVM and GCM. [kg]"""
        limit = self._most_kg()[0]
        if limit is None or self.use.total_kg is None:
            return None
        return limit - self.use.total_kg

    def _most_kg(self) -> tuple[float | None, str]:
        """Give the largest total that GVM and GCM allow, and which one governs."""
        gvm, gcm = self.ratings["gvm_kg"], self.ratings["gcm_kg"]
        axle = self.trailer_axle_kg()
        if self.use.hitched and gcm.governs_kg is not None and axle is not None:
            by_gcm = gcm.governs_kg - axle
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
        roof, gaps = self.laden.roof(USE)
        trailer = self.record.trailer
        vehicle = self.laden.worst(None, hitchable=False)
        combined = vehicle
        if trailer is not None:
            combined = Worst(
                None
                if vehicle.value_kg is None or trailer.mass_kg is None
                else vehicle.value_kg + trailer.mass_kg,
                f"{vehicle.state}, hitched" if vehicle.state else "hitched",
                vehicle.gaps
                + (("weigh the trailer",) if trailer.mass_kg is None else ()),
            )
        found = {
            "gvm": (self.laden.worst(None), self.u_total),
            "front_axle": (self.laden.worst("front"), self.u_front),
            "rear_axle": (self.laden.worst("rear"), self.u_rear),
            "gcm": (combined, self.u_total),
            "roof": (Worst(roof, "tanks on the roof full", gaps), self.u_roof),
        }
        return {key: self._worst_row(key, *pair) for key, pair in found.items()}

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

    # What is judged

    def quantities(self) -> Iterator[Quantity]:
        """Give each load of the customer's use that has a rating to be held against."""
        yield self._total()
        yield self._axle("front")
        yield self._axle("rear")
        yield self._payload()
        if any(item.zone == "roof" for item in self.record.items):
            yield self._roof()
        if self.record.trailer is not None or self.use.hitched:
            yield from self._towing()

    def _total(self) -> Quantity:
        rating = self.ratings["gvm_kg"]
        return Quantity(
            key="gvm",
            label="Total mass",
            value_kg=self.use.total_kg,
            rating=rating,
            look_up="look up the GVM on the plate",
            gaps=self.use.gaps,
            expanded_kg=self.u_total or 0.0,
            working=total_working(self.laden, self.use, self.u_total),
            clear="out of the vehicle",
        )

    def _axle(self, axle: Axle) -> Quantity:
        loads, expanded = self.use.axles, (self.u_front, self.u_rear)
        value = None
        if loads is not None:
            value = loads.front_kg if axle == "front" else loads.rear_kg
        return Quantity(
            key=f"axle-mass.{axle}",
            label=f"{axle.capitalize()} axle",
            value_kg=value,
            rating=self.ratings[f"{axle}_axle_kg"],
            look_up=f"look up the {axle} axle limit on the plate",
            gaps=self.use.axle_gaps,
            expanded_kg=expanded[0 if axle == "front" else 1] or 0.0,
            working=axle_working(self.laden, self.use, axle, expanded),
            clear=axle,
        )

    def _payload(self) -> Quantity:
        most, governing = self._most_kg()
        kerb, total = self.laden.base.kerb_kg, self.use.total_kg
        used = None if kerb is None or total is None else total - kerb
        limit = None if kerb is None or most is None else most - kerb
        working: tuple[Step, ...] = ()
        if used is not None and limit is not None:
            working = (
                _step("payload", f"{governing} governs, less kerb mass", limit),
                _step("used", "everything aboard less kerb mass", used),
                _step("left", "payload - used", limit - used),
            )
        return Quantity(
            key="payload",
            label="Payload used",
            value_kg=used,
            rating=Rating(limit, f"{governing} less kerb mass"),
            look_up="look up the GVM on the plate",
            gaps=self.use.gaps,
            expanded_kg=self.u_total or 0.0,
            working=working,
            clear="out of the vehicle",
        )

    def _roof(self) -> Quantity:
        value, gaps = self.laden.roof(USE)
        rows = [p for p in (*self.laden.fitted, *self.laden.tanks) if p.roof]
        return Quantity(
            key="roof",
            label="Roof load",
            value_kg=value,
            rating=self.ratings["roof_kg"],
            look_up="look up the roof load limit in the handbook, rack included",
            gaps=gaps,
            expanded_kg=self.u_roof or 0.0,
            working=tuple(
                _step(p.label, "on the roof", mass_of(p)) for p in rows if p.mass_kg
            ),
            clear="off the roof",
        )

    def _towing(self) -> Iterator[Quantity]:
        trailer = self.record.trailer
        mass = trailer.mass_kg if trailer else None
        ball = trailer.ball_kg if trailer else None
        choose = () if trailer else ("choose the trailer",)
        weigh = choose or (("weigh the trailer",) if mass is None else ())
        weigh_ball = choose or (
            ("weigh the trailer's ball load",) if ball is None else ()
        )
        combined = self.combination_kg(self.use)
        yield Quantity(
            key="gcm",
            label="Combination",
            value_kg=combined,
            rating=self.ratings["gcm_kg"],
            look_up="look up the GCM in the vehicle's papers",
            gaps=(*self.use.gaps, *weigh),
            expanded_kg=self.u_total or 0.0,
            working=self._combination_working(combined),
            clear="out of the vehicle or the trailer",
        )
        yield Quantity(
            key="ball",
            label="Ball load",
            value_kg=ball,
            rating=self.ratings["ball_kg"],
            look_up="look up the ball limit; the least of vehicle, tow bar and coupling counts",
            gaps=weigh_ball,
            clear="off the ball by moving load in the trailer backwards",
        )
        yield Quantity(
            key="braked-towing",
            label="Trailer mass",
            value_kg=mass,
            rating=self.ratings["braked_towing_kg"],
            look_up="look up the braked towing capacity in the vehicle's papers",
            gaps=weigh,
            clear="out of the trailer",
        )
        if trailer is None:
            return
        yield Quantity(
            key="trailer.atm",
            label="Trailer mass",
            value_kg=mass,
            rating=Rating(trailer.atm_kg, "trailer plate"),
            look_up="look up the ATM on the trailer's plate",
            gaps=weigh,
            clear="out of the trailer",
            subject="trailer",
        )
        yield Quantity(
            key="trailer.gtm",
            label="Trailer axles",
            value_kg=self.trailer_axle_kg(),
            rating=Rating(trailer.gtm_kg, "trailer plate"),
            look_up="look up the GTM on the trailer's plate",
            gaps=(*weigh, *weigh_ball),
            clear="out of the trailer over its axles",
            subject="trailer",
        )

    def _combination_working(self, combined: float | None) -> tuple[Step, ...]:
        trailer = self.record.trailer
        if combined is None or trailer is None or trailer.mass_kg is None:
            return ()
        alone = combined - trailer.mass_kg
        return (
            _step("vehicle without the ball load", "total - ball load", alone),
            _step("trailer", "as it stands, ball load in it", trailer.mass_kg),
            _step("combination", "vehicle + trailer, ball load once", combined),
        )

    def judge(self, quantity: Quantity) -> Iterator[Finding]:
        """Hold a load against what governs, and beside it against what is planned."""
        limit, value = quantity.rating.governs_kg, quantity.value_kg
        judged = verdict(value, limit, quantity.expanded_kg)
        clear = self._clear(quantity) if judged == "over" else None
        yield Finding(
            key=quantity.key,
            severity=SEVERITY[judged],
            subject=quantity.subject,
            verdict=judged,
            value=value,
            limit=limit,
            unit="kg",
            sentence=_sentence(quantity),
            source=quantity.rating.source,
            would_clear=clear,
            working=(*quantity.working, *_limit_step(quantity)),
        )
        planned = quantity.rating.planned_kg
        if planned is None or value is None:
            return
        said = held_against(value, planned, "kg", quantity.expanded_kg)
        yield Finding(
            key=f"{quantity.key}.planned",
            severity="check",
            subject=quantity.subject,
            verdict=verdict(value, planned, quantity.expanded_kg),
            value=value,
            limit=planned,
            unit="kg",
            sentence=f"{quantity.label} as planned, {said} "
            f"Does not count until the paper for {quantity.rating.planned_by} is on file.",
            source=f"{quantity.rating.planned_by}, planned",
            working=quantity.working,
        )

    def _clear(self, quantity: Quantity) -> str:
        assert quantity.value_kg is not None
        limit = quantity.rating.governs_kg
        assert limit is not None
        if quantity.clear in ("front", "rear"):
            way = clear_axle(
                self.record,
                "front" if quantity.clear == "front" else "rear",
                (
                    self.ratings["front_axle_kg"].governs_kg,
                    self.ratings["rear_axle_kg"].governs_kg,
                ),
                (self.u_front or 0.0, self.u_rear or 0.0),
            )
        else:
            excess = quantity.value_kg + quantity.expanded_kg - limit
            way = lighten(excess, quantity.clear)
        planned = quantity.rating.planned_kg
        if verdict(quantity.value_kg, planned, quantity.expanded_kg) == "within":
            paper = f"Put the paper for {quantity.rating.planned_by} on file, or: "
            return paper + way[0].lower() + way[1:]
        return way


def _sentence(quantity: Quantity) -> str:
    value, limit = quantity.value_kg, quantity.rating.governs_kg
    if value is not None and limit is not None:
        said = held_against(value, limit, "kg", quantity.expanded_kg)
        return f"{quantity.label} {said}"
    asks = list(quantity.gaps[:3])
    if len(quantity.gaps) > 3:
        asks.append(f"and {len(quantity.gaps) - 3} more")
    if limit is None:
        asks.append(quantity.look_up)
    known = f"{quantity.label} is not known"
    if value is not None:
        known = f"{quantity.label} {value:,.0f} kg, its limit is not known"
    return f"{known}: {'; '.join(asks)}."


def _limit_step(quantity: Quantity) -> tuple[Step, ...]:
    limit = quantity.rating.governs_kg
    if limit is None:
        return ()
    return (
        Step(
            label="limit",
            formula="as rated",
            value=limit,
            unit="kg",
            source=quantity.rating.source,
            mark="given",
        ),
    )


def _step(label: str, formula: str, value: float) -> Step:
    return Step(
        label=label,
        formula=formula,
        value=value,
        unit="kg",
        source="sum of masses",
        mark="derived",
    )
