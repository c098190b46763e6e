"""Mass of one build held against its limits."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from compliance.clearing import clear_axle, lighten
from compliance.findings import SEVERITY, Finding, Step, held_against, verdict
from compliance.inputs import BuildRecord
from compliance.laden import USE
from compliance.load import Axle
from compliance.load_figures import LoadFigures
from compliance.load_working import axle_working, total_working
from compliance.parts import mass_of
from compliance.ratings import Rating


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
    figures = LoadFigures(record)
    check = _LoadCheck(figures)
    findings = [
        finding for quantity in check.quantities() for finding in check.judge(quantity)
    ]
    return figures.rows(), findings


class _LoadCheck:
    def __init__(self, figures: LoadFigures) -> None:
        self.figures = figures

    def quantities(self) -> Iterator[Quantity]:
        """Give each load of the customer's use that has a rating to be held against."""
        yield self._total()
        yield self._axle("front")
        yield self._axle("rear")
        yield self._payload()
        if any(item.zone == "roof" for item in self.figures.record.items):
            yield self._roof()
        if self.figures.record.trailer is not None or self.figures.use.hitched:
            yield from self._towing()

    def _total(self) -> Quantity:
        rating = self.figures.ratings["gvm_kg"]
        return Quantity(
            key="gvm",
            label="Total mass",
            value_kg=self.figures.use.total_kg,
            rating=rating,
            look_up="look up the GVM on the plate",
            gaps=self.figures.use.gaps,
            expanded_kg=self.figures.u_total or 0.0,
            working=total_working(
                self.figures.laden, self.figures.use, self.figures.u_total
            ),
            clear="out of the vehicle",
        )

    def _axle(self, axle: Axle) -> Quantity:
        loads, expanded = (
            self.figures.use.axles,
            (self.figures.u_front, self.figures.u_rear),
        )
        value = None
        if loads is not None:
            value = loads.front_kg if axle == "front" else loads.rear_kg
        return Quantity(
            key=f"axle-mass.{axle}",
            label=f"{axle.capitalize()} axle",
            value_kg=value,
            rating=self.figures.ratings[f"{axle}_axle_kg"],
            look_up=f"look up the {axle} axle limit on the plate",
            gaps=self.figures.use.axle_gaps,
            expanded_kg=expanded[0 if axle == "front" else 1] or 0.0,
            working=axle_working(self.figures.laden, self.figures.use, axle, expanded),
            clear=axle,
        )

    def _payload(self) -> Quantity:
        most, governing = self.figures.most_kg()
        kerb, total = self.figures.laden.base.kerb_kg, self.figures.use.total_kg
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
            gaps=self.figures.use.gaps,
            expanded_kg=self.figures.u_total or 0.0,
            working=working,
            clear="out of the vehicle",
        )

    def _roof(self) -> Quantity:
        value, gaps = self.figures.laden.roof(USE)
        rows = [
            p for p in (*self.figures.laden.fitted, *self.figures.laden.tanks) if p.roof
        ]
        return Quantity(
            key="roof",
            label="Roof load",
            value_kg=value,
            rating=self.figures.ratings["roof_kg"],
            look_up="look up the roof load limit in the handbook, rack included",
            gaps=gaps,
            expanded_kg=self.figures.u_roof or 0.0,
            working=tuple(
                _step(p.label, "on the roof", mass_of(p)) for p in rows if p.mass_kg
            ),
            clear="off the roof",
        )

    def _towing(self) -> Iterator[Quantity]:
        trailer = self.figures.record.trailer
        mass = trailer.mass_kg if trailer else None
        ball = trailer.ball_kg if trailer else None
        choose = () if trailer else ("choose the trailer",)
        weigh = choose or (("weigh the trailer",) if mass is None else ())
        weigh_ball = choose or (
            ("weigh the trailer's ball load",) if ball is None else ()
        )
        combined = self.figures.combination_kg(self.figures.use)
        yield Quantity(
            key="gcm",
            label="Combination",
            value_kg=combined,
            rating=self.figures.ratings["gcm_kg"],
            look_up="look up the GCM in the vehicle's papers",
            gaps=(*self.figures.use.gaps, *weigh),
            expanded_kg=self.figures.u_total or 0.0,
            working=self._combination_working(combined),
            clear="out of the vehicle or the trailer",
        )
        yield Quantity(
            key="ball",
            label="Ball load",
            value_kg=ball,
            rating=self.figures.ratings["ball_kg"],
            look_up="look up the ball limit; the least of vehicle, tow bar and coupling counts",
            gaps=weigh_ball,
            clear="off the ball by moving load in the trailer backwards",
        )
        yield Quantity(
            key="braked-towing",
            label="Trailer mass",
            value_kg=mass,
            rating=self.figures.ratings["braked_towing_kg"],
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
            value_kg=self.figures.trailer_axle_kg(),
            rating=Rating(trailer.gtm_kg, "trailer plate"),
            look_up="look up the GTM on the trailer's plate",
            gaps=(*weigh, *weigh_ball),
            clear="out of the trailer over its axles",
            subject="trailer",
        )

    def _combination_working(self, combined: float | None) -> tuple[Step, ...]:
        trailer = self.figures.record.trailer
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
                self.figures.record,
                "front" if quantity.clear == "front" else "rear",
                (
                    self.figures.ratings["front_axle_kg"].governs_kg,
                    self.figures.ratings["rear_axle_kg"].governs_kg,
                ),
                (self.figures.u_front or 0.0, self.figures.u_rear or 0.0),
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
