"""A build's masses put where they stand: the base, what is fitted, what comes and goes."""

import math
from dataclasses import dataclass
from functools import cached_property

from compliance.aboard import Aboard
from compliance.base_mass import FUELS, BaseMass, dry_base
from compliance.inputs import BuildRecord, Scenario
from compliance.load import (
    Axle,
    AxleLoads,
    PointMass,
    items_variance,
    left_share_kg,
)
from compliance.parts import Part, mass_of

WATERS = frozenset({"water", "waste-water"})

USE = Scenario(key="use", fuel_ratio=1.0, water_ratio=1.0)
"""The customer's own use: everything from ``Use``, every tank full."""


@dataclass(frozen=True, slots=True)
class State:
    """One state of loading; a number is ``None`` when ``gaps`` say why."""

    total_kg: float | None
    axles: AxleLoads | None
    ball_kg: float | None
    hitched: bool
    parts: tuple[tuple[Part, float], ...]
    gaps: tuple[str, ...]
    axle_gaps: tuple[str, ...]


class Laden(Aboard):
    """Every mass of one build, summed for any state."""

    def __init__(self, record: BuildRecord, like: "Laden | None" = None) -> None:
        """Gather a record's masses; what it shares with ``like`` is taken from there."""
        super().__init__(record, like)
        same = like is not None and like.record.vehicle is record.vehicle
        self.base: BaseMass = like.base if like and same else dry_base(record)

    @property
    def coupled_kg(self) -> float | None:
        """What the trailer puts on the vehicle when hitched, None if not known. [kg]"""
        if any(part.missing for part in self.coupled):
            return None
        return math.fsum(mass_of(part) for part in self.coupled)

    def total_of(self, parts: list[Part]) -> float | None:
        """Add parts to the empty vehicle; None while a mass is not known. [kg]"""
        if self.base.total_kg is None or any(part.missing for part in parts):
            return None
        return math.fsum([self.base.total_kg, *(mass_of(part) for part in parts)])

    def axles_of(self, parts: list[Part]) -> AxleLoads | None:
        """Add parts to the empty vehicle's axles; None while they are not known. [kg]"""
        rows = [(part, 1.0) for part in parts]
        if self.base.axles is None or self.total_of(parts) is None:
            return None
        return None if missing_places(rows) else self.axles_with(rows)

    def ratio_of(self, scenario: Scenario, tank: Part) -> float:
        """Say how full a tank is in a scenario, 0 to 1; full when not stated."""
        if tank.key in scenario.tank_ratios:
            return scenario.tank_ratios[tank.key]
        ratio = None
        if tank.fluid in FUELS:
            ratio = scenario.fuel_ratio
        elif tank.fluid in WATERS:
            ratio = scenario.water_ratio
        return 1.0 if ratio is None else ratio

    def hitched_in(self, scenario: Scenario) -> bool:
        """Say whether the trailer hangs on the ball in a scenario."""
        return self.record.use.hitched if scenario.hitched is None else scenario.hitched

    def people(self, count: int | None) -> tuple[list[Part], list[str]]:
        """Seat so many people in order; the second is what is missing of them."""
        if count is None:
            return [], ["say how many people travel"]
        seated = self.seats[:count]
        said = f"record a seat for each of the {count} people who travel"
        standing = range(len(seated) + 1, count + 1)
        return seated + [self._person(str(n), None, None, said) for n in standing], []

    @property
    def loads_roof(self) -> bool:
        """Say whether anything is on the roof."""
        return any(part.roof for part in (*self.fitted, *self.luggage, *self.tanks))

    def state(self, scenario: Scenario, *, bars: bool = True) -> State:
        """
        Add up one state of loading.

        Parameters
        ----------
        scenario : Scenario
            What it leaves out comes from the record's use.
        bars : bool
            Whether the bars of a weight-distributing hitch are tensioned.

        Returns
        -------
        State
            Total and axle loads with the parts they are made of. [kg]
        """
        hitched = self.hitched_in(scenario)
        count = scenario.people
        people, gaps = self.people(self.record.use.people if count is None else count)
        parts = [(part, 1.0) for part in self.fitted]
        parts += [(tank, self.ratio_of(scenario, tank)) for tank in self.tanks]
        parts += [(part, 1.0) for part in (*people, *self.luggage)]
        if hitched:
            on = self.coupled if bars else [self.ball]
            parts += [(part, 1.0) for part in on]
        total_gaps = [*self.base.gaps, *gaps, *missing_masses(parts)]
        axle_gaps = [*total_gaps, *self.base.axle_gaps, *missing_places(parts)]
        total = axles = None
        if not total_gaps:
            total = math.fsum(
                [self.base.total_kg or 0.0, *(mass_of(part) * r for part, r in parts)]
            )
        if not axle_gaps:
            axles = self.axles_with(parts)
        ball = None if not hitched else self.ball.mass_kg
        return State(
            total,
            axles,
            ball,
            hitched,
            tuple(parts),
            tuple(dict.fromkeys(total_gaps)),
            tuple(dict.fromkeys(axle_gaps)),
        )

    def axles_with(self, parts: list[tuple[Part, float]]) -> AxleLoads:
        """Add parts, each so full, to the axles of a vehicle whose axles are known. [kg]"""
        base, length = self.base.axles, self.wheelbase_m
        assert base is not None
        assert length is not None
        # The total is the rounded sum of exact terms, so the order never matters.
        rear = math.fsum(
            [
                base.rear_kg,
                *(-mass_of(p) * r * (p.x_m or 0.0) / length for p, r in parts),
            ]
        )
        total = math.fsum([base.total_kg, *(mass_of(p) * r for p, r in parts)])
        return AxleLoads(total - rear, rear)

    def left_kg(self, state: State) -> float | None:
        """
        Give what the left wheels carry. [kg]

        None while the side of something fitted is not known; the vehicle, unless it
        was weighed by side, and loose load without a side count in the middle.
        """
        track, total = self.record.vehicle.track_m, self.base.total_kg
        if track is None or state.total_kg is None or total is None:
            return None
        if any(part.sideless and part.mass_kg for part, _ in state.parts):
            return None
        rows = [
            PointMass(part.label, mass_of(part) * ratio, 0.0, part.y_m)
            for part, ratio in state.parts
        ]
        base = total / 2 if self.base.left_kg is None else self.base.left_kg
        return base + left_share_kg(rows, track)

    def roof(self, scenario: Scenario) -> tuple[float | None, tuple[str, ...]]:
        """Give the load on the roof: items, luggage, what tanks up there hold. [kg]"""
        parts = [(p, 1.0) for p in (*self.fitted, *self.luggage) if p.roof]
        parts += [(t, self.ratio_of(scenario, t)) for t in self.tanks if t.roof]
        gaps = missing_masses(parts)
        if gaps:
            return None, tuple(gaps)
        return math.fsum(mass_of(part) * ratio for part, ratio in parts), ()

    def expanded_kg(self, axle: Axle | None) -> float | None:
        """
        Give U = 2u of the total or of one axle.

        Parameters
        ----------
        axle : {"front", "rear"} or None
            ``None`` for the total.

        Returns
        -------
        float or None
            Expanded uncertainty, the same in every state because only what is always
            aboard has a tolerance; ``None`` when no tolerance is known. [kg]

        References
        ----------
        JCGM 100:2008 5.1.2 (from memory).
        """
        base, rows = self.base.variance(axle), self._tolerances
        if base is None and not rows:
            return None
        length = self.wheelbase_m or 1.0
        return 2 * math.sqrt((base or 0.0) + items_variance(rows, length, axle))

    @cached_property
    def _tolerances(self) -> list[PointMass]:
        return [
            PointMass(
                part.label,
                mass_of(part),
                part.x_m or 0.0,
                half_width_kg=part.half_width_kg or 0.0,
                x_half_width_m=part.x_half_width_m or 0.0,
            )
            for part in self.fitted
            if part.half_width_kg is not None or part.x_half_width_m is not None
        ]

    def expanded_roof_kg(self) -> float | None:
        """Give U = 2u of the load on the roof. [kg]"""
        halves = [p.half_width_kg for p in self.fitted if p.roof]
        known = [half for half in halves if half is not None]
        return 2 * math.hypot(*known) / math.sqrt(3) if known else None


def missing_masses(parts: list[tuple[Part, float]]) -> list[str]:
    """Say which masses are missing of parts, each so full."""
    return [p.missing for p, ratio in parts if p.missing and ratio]


def missing_places(parts: list[tuple[Part, float]]) -> list[str]:
    """Say which places are missing of parts that weigh something."""
    return [p.misplaced for p, r in parts if p.misplaced and p.mass_kg and r]
