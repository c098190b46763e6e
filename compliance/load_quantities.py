"""Each load of the customer's use beside the rating that it is held against."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from compliance.findings import Step, Verdict, verdict
from compliance.inputs import Item, Trailer
from compliance.laden import USE
from compliance.load import Axle
from compliance.load_carriers import Carrier
from compliance.load_figures import LoadFigures
from compliance.load_working import axle_working, total_working
from compliance.parts import mass_of
from compliance.ratings import Rating

Working = Callable[[], tuple[Step, ...]]


def _no_working() -> tuple[Step, ...]:
    return ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A load in the customer's use, before it is held against its rating. [kg]

    ``working`` is written out only when it is asked for. ``where`` says what a
    kilogram has to leave.
    """

    key: str
    label: str
    value_kg: float | None
    rating: Rating
    look_up: str
    gaps: tuple[str, ...] = ()
    expanded_kg: float = 0.0
    working: Working = _no_working
    where: str = ""
    subject: str = "vehicle"

    @property
    def verdict(self) -> Verdict:
        """Hold the load against what governs."""
        return verdict(self.value_kg, self.rating.governs_kg, self.expanded_kg)


class Quantities:
    """The loads of one build that have a rating to be held against."""

    def __init__(self, figures: LoadFigures) -> None:
        self.figures = figures

    def all(self) -> Iterator[Quantity]:
        """Give each load of the customer's use, the vehicle's before the trailer's."""
        record = self.figures.record
        yield self._total()
        yield self._axle("front")
        yield self._axle("rear")
        if self.figures.laden.bars is not None and self.figures.use.hitched:
            yield self._before_the_bars()
        yield self._payload()
        if self.figures.laden.loads_roof:
            yield self._roof()
        yield from (self._carrier(carrier) for carrier in self.figures.carriers)
        if record.trailer is not None or self.figures.use.hitched:
            yield from self._on_the_hook()
        if record.trailer is not None:
            yield from self._trailer(record.trailer)

    def _total(self) -> Quantity:
        figures = self.figures
        return Quantity(
            key="gvm",
            label="Total mass",
            value_kg=figures.plain.total_kg,
            rating=figures.ratings["gvm_kg"],
            look_up="look up the GVM on the plate",
            gaps=figures.plain.gaps,
            expanded_kg=figures.u_total or 0.0,
            working=lambda: total_working(
                figures.laden, figures.plain, figures.u_total
            ),
            where="out of the vehicle",
        )

    def _axle(self, axle: Axle) -> Quantity:
        figures = self.figures
        loads, expanded = figures.use.axles, (figures.u_front, figures.u_rear)
        value = None
        if loads is not None:
            value = loads.front_kg if axle == "front" else loads.rear_kg
        return Quantity(
            key=f"axle-mass.{axle}",
            label=f"{axle.capitalize()} axle",
            value_kg=value,
            rating=figures.ratings[f"{axle}_axle_kg"],
            look_up=f"look up the {axle} axle limit on the plate",
            gaps=figures.use.axle_gaps,
            expanded_kg=expanded[0 if axle == "front" else 1] or 0.0,
            working=lambda: axle_working(figures.laden, figures.use, axle, expanded),
            where=f"out over the {axle} axle",
        )

    def _before_the_bars(self) -> Quantity:
        """A distributing hitch raises no rating: the axle must do without it first."""
        rear, plain = self._axle("rear"), self.figures.plain
        return Quantity(
            key="axle-mass.rear.plain",
            label="Rear axle before the bars of the hitch are tensioned",
            value_kg=None if plain.axles is None else plain.axles.rear_kg,
            rating=rear.rating,
            look_up=rear.look_up,
            gaps=plain.axle_gaps,
            expanded_kg=rear.expanded_kg,
            working=lambda: axle_working(
                self.figures.laden, plain, "rear", (None, self.figures.u_rear)
            ),
            where=rear.where,
        )

    def _payload(self) -> Quantity:
        figures = self.figures
        most, governing = figures.most_kg()
        kerb, total = figures.laden.base.kerb_kg, figures.plain.total_kg
        used = None if kerb is None or total is None else total - kerb
        limit = None if kerb is None or most is None else most - kerb

        def working() -> tuple[Step, ...]:
            if used is None or limit is None:
                return ()
            return (
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
            gaps=figures.use.gaps,
            expanded_kg=figures.u_total or 0.0,
            working=working,
            where="out of the vehicle",
        )

    def _roof(self) -> Quantity:
        laden = self.figures.laden
        value, gaps = laden.roof(USE)
        aboard = (*laden.fitted, *laden.luggage, *laden.tanks)
        rows = [p for p in aboard if p.roof and p.mass_kg]
        return Quantity(
            key="roof",
            label="Roof load",
            value_kg=value,
            rating=self.figures.ratings["roof_kg"],
            look_up="look up the roof load limit in the handbook, rack included",
            gaps=gaps,
            expanded_kg=self.figures.u_roof or 0.0,
            working=lambda: tuple(
                _step(p.label, "on the roof", mass_of(p)) for p in rows
            ),
            where="off the roof",
        )

    def _carrier(self, carrier: Carrier) -> Quantity:
        item: Item = carrier.item
        return Quantity(
            key=f"carrier.{item.key}",
            label=f"What {item.label} carries",
            value_kg=carrier.carried_kg,
            rating=Rating(
                item.carrier_limit_kg, f"{item.label}, what it may itself carry"
            ),
            look_up=f"look up what {item.label} may itself carry",
            gaps=carrier.gaps,
            expanded_kg=carrier.expanded_kg or 0.0,
            working=lambda: tuple(
                _step(p.label, f"on {item.label}", mass_of(p)) for p in carrier.parts
            ),
            where=f"off {item.label}",
            subject=item.key,
        )

    def _weigh(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What is missing for the trailer's mass, and for its ball load."""
        trailer = self.figures.record.trailer
        if trailer is None:
            return ("choose the trailer",), ("choose the trailer",)
        return (
            ("weigh the trailer",) if trailer.mass_kg is None else (),
            ("weigh the trailer's ball load",) if trailer.ball_kg is None else (),
        )

    def _on_the_hook(self) -> Iterator[Quantity]:
        """What the vehicle's own ratings say of the trailer."""
        figures, (weigh, weigh_ball) = self.figures, self._weigh()
        trailer = figures.record.trailer
        combined = figures.combination_kg(figures.use)
        yield Quantity(
            key="gcm",
            label="Combination",
            value_kg=combined,
            rating=figures.ratings["gcm_kg"],
            look_up="look up the GCM in the vehicle's papers",
            gaps=(*figures.use.gaps, *weigh),
            expanded_kg=figures.u_total or 0.0,
            working=lambda: self._combination_working(combined),
            where="out of the vehicle or the trailer",
        )
        yield Quantity(
            key="ball",
            label="Ball load",
            value_kg=trailer.ball_kg if trailer else None,
            rating=figures.ratings["ball_kg"],
            look_up="look up the ball limit; the least of vehicle, tow bar and coupling counts",
            gaps=weigh_ball,
        )
        yield Quantity(
            key="braked-towing",
            label="Trailer mass",
            value_kg=trailer.mass_kg if trailer else None,
            rating=figures.ratings["braked_towing_kg"],
            look_up="look up the braked towing capacity in the vehicle's papers",
            gaps=weigh,
        )

    def _trailer(self, trailer: Trailer) -> Iterator[Quantity]:
        """What the trailer's own plate says of it."""
        weigh, weigh_ball = self._weigh()
        bars = self.figures.laden.bars
        yield Quantity(
            key="trailer.atm",
            label="Trailer mass",
            value_kg=trailer.mass_kg,
            rating=Rating(trailer.atm_kg, "trailer plate"),
            look_up="look up the ATM on the trailer's plate",
            gaps=weigh,
            subject="trailer",
        )
        yield Quantity(
            key="trailer.gtm",
            label="Trailer axles",
            value_kg=self.figures.trailer_axle_kg(),
            rating=Rating(trailer.gtm_kg, "trailer plate"),
            look_up="look up the GTM on the trailer's plate",
            gaps=(
                *weigh,
                *weigh_ball,
                *((bars.missing,) if bars is not None and bars.missing else ()),
            ),
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


def _step(label: str, formula: str, value: float) -> Step:
    return Step(
        label=label,
        formula=formula,
        value=value,
        unit="kg",
        source="sum of masses",
        mark="derived",
    )
