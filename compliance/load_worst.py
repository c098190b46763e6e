"""The worst that a build's loads can get, over everything that is there or not."""

import math
from dataclasses import dataclass
from functools import cached_property

from compliance.laden import Laden, missing_masses, missing_places
from compliance.load import (
    Axle,
    AxleLoads,
    Ranged,
    axle_share,
    extreme_share,
    worst_case,
)
from compliance.parts import Part, mass_of


@dataclass(frozen=True, slots=True)
class Worst:
    """The largest value a load can reach, where it is reached, or what is missing."""

    value_kg: float | None
    state: str
    gaps: tuple[str, ...] = ()


class WorstCases:
    """What tanks, people, luggage and the trailer do to one build's loads at worst.

    Each tank is empty to full, each seat free or taken, each piece of luggage left or
    aboard, and the trailer off, on before the bars of its hitch are tensioned, or on.
    """

    def __init__(self, laden: Laden) -> None:
        self.laden = laden

    def of(self, axle: Axle | None, *, hitchable: bool = True) -> Worst:
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
            Value with all that is fitted and the worst of what comes and goes. [kg]

        References
        ----------
        See ``worst_case``; of the ways to hang the trailer on, the heaviest counts.
        """
        laden = self.laden
        ranges = [*laden.tanks, *laden.seats, *laden.luggage]
        coupled = self._coupling if hitchable else []
        rows = [(part, 1.0) for part in (*laden.fitted, *ranges, *coupled)]
        gaps = [*laden.base.gaps, *missing_masses(rows)]
        if not laden.seats:
            gaps.append("record the seats")
        if axle is not None:
            gaps += [*laden.base.axle_gaps, *missing_places(rows)]
        if gaps:
            return Worst(None, "", tuple(dict.fromkeys(gaps)))
        ranged = [*self._tanks, *self._seats, *self._luggage]
        if coupled:
            ranged.append(max(self._hitched, key=lambda way: way.loads.on(axle)))
        extreme = worst_case(self._steady_kg(axle), ranged, axle)
        return Worst(extreme.value_kg, self._said(list(extreme.state)))

    def share(self, *, least: bool) -> Worst:
        """
        Find the least or the largest share of the front axle over every state.

        Parameters
        ----------
        least : bool
            Whether the least or the largest is sought.

        Returns
        -------
        Worst
            Share of the total on the front axle, from the driver alone to every seat
            taken in order. [1]

        References
        ----------
        Dinkelbach's method for a ratio of linear functions: exact, and few steps
        (derived; the name from memory).
        """
        front = self.of("front")
        if front.gaps:
            return front
        free = [*self._tanks, *self._luggage]
        lightest = min((0.0, *(way.mass_kg for way in self._hitched)))
        if self._steady_axles.total_kg + lightest <= 0:
            return Worst(None, "")
        loads, found = self._steady_axles, []
        for count, seat in enumerate(self._seats, start=1):
            loads += seat.loads
            for way in [[way] for way in self._hitched] or [[]]:
                share, state = extreme_share(loads, [*free, *way], least=least)
                said = self._said(list(state))
                words = filter(None, (self._manned(count), said))
                found.append((share, "; ".join(words)))
        return Worst(*(min(found) if least else max(found)))

    def roof(self, value_kg: float | None, gaps: tuple[str, ...]) -> Worst:
        """Say what is up there when the load on the roof is at its largest."""
        tanks = [f"{t.label} full" for t in self.laden.tanks if t.roof]
        if any(part.roof for part in self.laden.luggage):
            tanks.append("luggage aboard")
        return Worst(value_kg, "; ".join(tanks) or "as fitted", gaps)

    def _manned(self, count: int) -> str:
        if count == 1:
            return "the driver alone"
        every = count == len(self.laden.seats)
        return "every seat taken" if every else f"{count} people"

    def _said(self, state: list[str]) -> str:
        """Say a state; a full house is said once. Labels may hold commas."""
        taken = [seat.full for seat in self._seats]
        if len(taken) > 1 and set(taken) <= set(state):
            state = [word for word in state if word not in taken]
            state.insert(0, "every seat taken")
        bags = self._luggage
        said = {bag.full for bag in bags} | {bag.empty for bag in bags}
        if said & set(state):
            aboard = [bag.mass_kg for bag in bags if bag.full in state]
            at = next(n for n, word in enumerate(state) if word in said)
            state[at] = self._luggage_said(math.fsum(aboard))
            state = [word for word in state if word not in said]
        return "; ".join(state)

    def _luggage_said(self, aboard_kg: float) -> str:
        total_kg = math.fsum(bag.mass_kg for bag in self._luggage)
        if aboard_kg == total_kg:
            return "luggage aboard"
        if not aboard_kg:
            return "no luggage"
        return f"{aboard_kg:,g} of {total_kg:,g} kg of luggage aboard"

    @cached_property
    def _coupling(self) -> list[Part]:
        """What a trailer, if there is one, puts on the vehicle when it is on."""
        return self.laden.coupled if self.laden.record.trailer is not None else []

    @cached_property
    def _tanks(self) -> list[Ranged]:
        return [
            self._ranged(tank, f"{tank.label} full", f"{tank.label} empty")
            for tank in self.laden.tanks
        ]

    @cached_property
    def _seats(self) -> list[Ranged]:
        return [
            self._ranged(seat, f"{seat.key} taken", f"{seat.key} free")
            for seat in self.laden.seats
        ]

    @cached_property
    def _luggage(self) -> list[Ranged]:
        return [
            self._ranged(bag, f"{bag.key} aboard", f"{bag.key} left")
            for bag in self.laden.luggage
        ]

    @cached_property
    def _hitched(self) -> list[Ranged]:
        """The ways in which the trailer hangs on, each with all it does, or off."""
        if not self._coupling:
            return []
        ball = self._ranged(self.laden.ball, "hitched", "unhitched")
        if self.laden.bars is None:
            return [ball]
        bars = self._ranged(self.laden.bars, "", "")
        before = "hitched, before the bars are tensioned"
        loads, mass = ball.loads + bars.loads, ball.mass_kg + bars.mass_kg
        return [
            Ranged("trailer", before, "unhitched", ball.loads, ball.mass_kg),
            Ranged("trailer", "hitched, bars tensioned", "unhitched", loads, mass),
        ]

    def _ranged(self, part: Part, full: str, empty: str) -> Ranged:
        loads, length = AxleLoads(mass_of(part), 0.0), self.laden.wheelbase_m
        if length is not None and part.x_m is not None:
            loads = axle_share(mass_of(part), part.x_m, length)
        return Ranged(part.label, full, empty, loads, mass_of(part))

    def _steady_kg(self, axle: Axle | None) -> float:
        """What is there in every state. [kg]"""
        if axle is None:
            return self.laden.total_of(self.laden.fitted) or 0.0
        return self._steady_axles.on(axle)

    @cached_property
    def _steady_axles(self) -> AxleLoads:
        return self.laden.axles_with([(part, 1.0) for part in self.laden.fitted])
