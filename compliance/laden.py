"""A build's masses put where they stand: the base, what is fitted, what comes and goes."""

import math
from dataclasses import dataclass
from functools import cached_property

from compliance.base_mass import FUELS, BaseMass, dry_base
from compliance.inputs import BuildRecord, Scenario
from compliance.load import (
    Axle,
    AxleLoads,
    PointMass,
    Ranged,
    axle_share,
    items_variance,
    left_share_kg,
    worst_case,
)
from compliance.parts import Part, item_parts, mass_of, tank_part

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


@dataclass(frozen=True, slots=True)
class Worst:
    """The largest value a load can reach, where it is reached, or what is missing."""

    value_kg: float | None
    state: str
    gaps: tuple[str, ...] = ()


class Laden:
    """Every mass of one build, gathered once and summed for any state."""

    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        self.wheelbase_m = record.vehicle.wheelbase_m
        self.base: BaseMass = dry_base(record)
        self.aboard = [i for i in record.items if i.zone != "trailer"]
        # Items in the trailer are in the trailer's mass as it stands on the road.

    @cached_property
    def fitted(self) -> list[Part]:
        """Items and removed parts, in every state aboard or gone."""
        return [part for item in self.aboard for part in item_parts(item)]

    @cached_property
    def tanks(self) -> list[Part]:
        """Contents of every tank when full."""
        replaced = {i.tank.replaces for i in self.aboard if i.tank}
        parts = [
            tank_part(t.key, t.key, t.fluid, t.capacity_l, t.density_kg_per_l, t)
            for t in self.record.vehicle.tanks
            if t.key not in replaced
        ]
        for item in self.aboard:
            held = item.tank
            if held is not None:
                parts.append(
                    tank_part(
                        item.key,
                        item.label,
                        held.fluid,
                        held.capacity_l,
                        held.density_kg_per_l,
                        item,
                    )
                )
        return parts

    @cached_property
    def seats(self) -> list[Part]:
        """One person in each seat, in the order in which people fill them."""
        return [
            self._person(s.key, s.x_m, s.y_m, "") for s in self.record.vehicle.seats
        ]

    def _person(
        self, key: str, x_m: float | None, y_m: float | None, misplaced: str
    ) -> Part:
        mass = self.record.use.person_kg
        return Part(
            "person",
            key,
            f"person, {key}",
            mass,
            x_m,
            y_m,
            source="customer's use",
            missing="" if mass is not None else "say what mass to take for a person",
            misplaced=misplaced,
        )

    @cached_property
    def luggage(self) -> list[Part]:
        """Loose load of the customer's own use, aboard in every state."""
        return [
            Part(
                "luggage",
                f"luggage-{n}",
                "luggage",
                load.mass_kg,
                load.x_m,
                load.y_m,
                source="customer's use",
            )
            for n, load in enumerate(self.record.use.luggage, start=1)
        ]

    @cached_property
    def ball(self) -> Part:
        """The trailer's load on the ball, behind the rear axle by the overhang."""
        trailer, overhang = self.record.trailer, self.record.vehicle.ball_overhang_m
        mass = trailer.ball_kg if trailer else None
        x_m = None
        if overhang is not None and self.wheelbase_m is not None:
            x_m = -(self.wheelbase_m + overhang)
        said = "weigh the trailer's ball load" if trailer else "choose the trailer"
        return Part(
            "ball",
            "ball",
            "ball load",
            mass,
            x_m,
            0.0,
            source="trailer",
            missing="" if mass is not None else said,
            misplaced=""
            if overhang is not None
            else "measure from the rear axle back to the ball",
        )

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

    def _people_in(self, scenario: Scenario) -> tuple[list[Part], list[str]]:
        count = scenario.people
        if count is None:
            count = self.record.use.people
        if count is None:
            return [], ["say how many people travel"]
        seated = self.seats[:count]
        said = f"record a seat for each of the {count} people who travel"
        standing = range(len(seated) + 1, count + 1)
        return seated + [self._person(str(n), None, None, said) for n in standing], []

    def state(self, scenario: Scenario) -> State:
        """
        Add up one state of loading.

        Parameters
        ----------
        scenario : Scenario
            What it leaves out comes from the record's use.

        Returns
        -------
        State
            Total and axle loads with the parts they are made of. [kg]
        """
        hitched = self.hitched_in(scenario)
        people, gaps = self._people_in(scenario)
        parts = [(part, 1.0) for part in self.fitted]
        parts += [(tank, self.ratio_of(scenario, tank)) for tank in self.tanks]
        parts += [(part, 1.0) for part in (*people, *self.luggage)]
        if hitched:
            parts.append((self.ball, 1.0))
        total_gaps = [*self.base.gaps, *gaps, *_missing_masses(parts)]
        axle_gaps = [*total_gaps, *self.base.axle_gaps, *_missing_places(parts)]
        total = axles = None
        if not total_gaps:
            total = math.fsum(
                [self.base.total_kg or 0.0, *(mass_of(part) * r for part, r in parts)]
            )
        if not axle_gaps:
            axles = self._axles(parts)
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

    def _axles(self, parts: list[tuple[Part, float]]) -> AxleLoads:
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
        """Give what the left wheels carry, if every part's side is known. [kg]"""
        track = self.record.vehicle.track_m
        if track is None or state.total_kg is None:
            return None
        rows = [PointMass("base", self.base.total_kg or 0.0, 0.0)]
        for part, ratio in state.parts:
            if part.y_m is None and part.mass_kg:
                return None
            rows.append(PointMass(part.label, mass_of(part) * ratio, 0.0, part.y_m))
        return left_share_kg(rows, track)

    def roof(self, scenario: Scenario) -> tuple[float | None, tuple[str, ...]]:
        """Give the load on the roof: items and the contents of tanks up there. [kg]"""
        parts = [(p, 1.0) for p in self.fitted if p.roof]
        parts += [(t, self.ratio_of(scenario, t)) for t in self.tanks if t.roof]
        gaps = _missing_masses(parts)
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
        base = self.base.variance(axle)
        rows = [
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
        if base is None and not rows:
            return None
        length = self.wheelbase_m or 1.0
        return 2 * math.sqrt((base or 0.0) + items_variance(rows, length, axle))

    def expanded_roof_kg(self) -> float | None:
        """Give U = 2u of the load on the roof. [kg]"""
        halves = [p.half_width_kg for p in self.fitted if p.roof]
        known = [half for half in halves if half is not None]
        return 2 * math.hypot(*known) / math.sqrt(3) if known else None

    def worst(self, axle: Axle | None, *, hitchable: bool = True) -> Worst:
        """
        Find the exact largest total or axle load over every state.

        Parameters
        ----------
        axle : {"front", "rear"} or None
            ``None`` for the total.
        hitchable : bool
            Whether the ball load is one of the ranges.

        Returns
        -------
        Worst
            Value over tanks empty to full, nobody to every seat, unhitched to
            hitched; what is fitted and the luggage stay aboard. [kg]
        """
        ranges = [*self.tanks, *self.seats]
        if hitchable and self.record.trailer is not None:
            ranges.append(self.ball)
        fixed = [*self.fitted, *self.luggage]
        rows = [(part, 1.0) for part in (*fixed, *ranges)]
        gaps = [*self.base.gaps, *_missing_masses(rows)]
        if not self.seats:
            gaps.append("record the seats")
        if axle is not None:
            gaps += [*self.base.axle_gaps, *_missing_places(rows)]
        if gaps:
            return Worst(None, "", tuple(dict.fromkeys(gaps)))
        extreme = worst_case(
            self._fixed_kg(fixed, axle), [self._ranged(p) for p in ranges], axle
        )
        return Worst(extreme.value_kg, self._said(list(extreme.state)))

    def _said(self, state: list[str]) -> str:
        """Say a state; a full house is said once. Labels may hold commas."""
        taken = [f"{seat.key} taken" for seat in self.seats]
        if len(taken) > 1 and set(taken) <= set(state):
            state = [word for word in state if word not in taken]
            state.insert(0, "every seat taken")
        return "; ".join(state)

    def _fixed_kg(self, fixed: list[Part], axle: Axle | None) -> float:
        if axle is None:
            return math.fsum([self.base.total_kg or 0.0, *(mass_of(p) for p in fixed)])
        loads = self._axles([(part, 1.0) for part in fixed])
        return loads.front_kg if axle == "front" else loads.rear_kg

    def _ranged(self, part: Part) -> Ranged:
        loads = AxleLoads(mass_of(part), 0.0)
        if self.wheelbase_m is not None and part.x_m is not None:
            loads = axle_share(mass_of(part), part.x_m, self.wheelbase_m)
        full, empty = f"{part.label} full", f"{part.label} empty"
        if part.group == "person":
            full, empty = f"{part.key} taken", f"{part.key} free"
        elif part.group == "ball":
            full, empty = "hitched", "unhitched"
        return Ranged(part.label, full, empty, loads, mass_of(part))


def _missing_masses(parts: list[tuple[Part, float]]) -> list[str]:
    return [p.missing for p, ratio in parts if p.missing and ratio]


def _missing_places(parts: list[tuple[Part, float]]) -> list[str]:
    return [p.misplaced for p, r in parts if p.misplaced and p.mass_kg and r]
