"""What no rating decides but a workshop looks at: sides, height, share of the front."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from compliance.findings import Finding, Step, Verdict, finding, held_against, verdict
from compliance.inputs import BuildRecord
from compliance.laden import Laden, State
from compliance.load_height import Height, height, height_gaps
from compliance.load_worst import WorstCases
from compliance.parts import mass_of


@dataclass(frozen=True, slots=True)
class Sides:
    """What the left and the right wheels carry in the customer's use. [kg]"""

    left_kg: float
    right_kg: float

    @property
    def left_share(self) -> float:
        """Share of the left side. [1]"""
        return self.left_kg / (self.left_kg + self.right_kg)


class Balance:
    """Sides, height and front share of one build."""

    def __init__(self, laden: Laden, use: State, worst: WorstCases) -> None:
        self.laden = laden
        self.use = use
        self.worst = worst
        self.record: BuildRecord = laden.record

    def rows(self) -> dict[str, Any]:
        """Give ``sides`` and ``cg`` as the answer names them, each only when known."""
        rows: dict[str, Any] = {}
        if (sides := self.sides()) is not None:
            rows["sides"] = {
                "left_kg": sides.left_kg,
                "right_kg": sides.right_kg,
                "left_share": sides.left_share,
            }
        if (found := self.height()) is not None:
            rows["cg"] = found.row()
        return rows

    def findings(self) -> Iterator[Finding]:
        """Judge what can be judged; nothing here has a rating, so nothing stops."""
        for found in (self._front_share(), self._side_share(), self._cg_height()):
            if found is not None:
                look = "check" if found.severity == "stop" else found.severity
                yield replace(found, severity=look)

    def measures(self) -> Iterator[tuple[str, float, float]]:
        """Give what is looked at with its limit, negative where less is worse. [%, m]"""
        value = self.record.settings.value
        if (shares := self.shares()) is not None:
            (least, _), (most, _) = shares
            yield "front-share.least", -least, -value("front_share_least")
            yield "front-share.most", most, value("front_share_most")
        if (sides := self.sides()) is not None:
            share = max(sides.left_share, 1 - sides.left_share)
            yield "side-share", share, value("side_share_most")
        if (found := self.height()) is not None:
            rise = found.after_m - found.before_m
            yield "cg-height", rise, value("cg_rise_most_m")

    def sides(self) -> Sides | None:
        """Give both sides, None while the side of something fitted is not known."""
        left = self.laden.left_kg(self.use)
        total = self.use.total_kg
        if left is None or total is None or total <= 0:
            return None
        return Sides(left, total - left)

    def height(self) -> Height | None:
        """Give the heights, None while that of something fitted is not known."""
        return height(self.laden)

    def _side_share(self) -> Finding | None:
        vehicle, settings = self.record.vehicle, self.record.settings
        told = vehicle.base.left_kg is not None or any(
            item.y_m is not None for item in self.laden.aboard
        )
        if not told or self.use.total_kg is None:
            return None
        limit = 100 * settings.value("side_share_most")
        sides = self.sides()
        if sides is None:
            asks = [p.sideless for p in self.laden.fitted if p.sideless and p.mass_kg]
            if vehicle.track_m is None:
                asks.insert(0, "measure the track")
            return self._unknown("side-share", "Left and right are", asks, limit)
        left = 100 * sides.left_share
        name, share = ("Left", left) if left >= 50 else ("Right", 100 - left)
        said = held_against(share, limit, "%", least_places=1)
        return finding(
            "side-share",
            "vehicle",
            verdict(share, limit),
            f"{name} side carries {said}",
            value=share,
            limit=limit,
            unit="%",
            source=settings.source("side_share_most"),
            working=tuple(self._sides_working(sides)),
        )

    def _sides_working(self, sides: Sides) -> Iterator[Step]:
        base, track = self.laden.base, self.record.vehicle.track_m
        weighed = base.left_kg is not None
        middle = dict.fromkeys(
            part.label
            for part, _ in self.use.parts
            if part.y_m is None and part.mass_kg
        )
        yield self._step(
            "vehicle, left side",
            "weighed by side, less fuel and people"
            if weighed
            else "not weighed by side: taken in the middle",
            (base.left_kg if weighed else (base.total_kg or 0.0) / 2) or 0.0,
        )
        if middle:
            yield self._step(
                f"{', '.join(middle)}: taken in the middle",
                "half of it left",
                math.fsum(mass_of(p) * r for p, r in self.use.parts if p.y_m is None)
                / 2,
            )
        formula = f"Σ m (1/2 + y / {track:g} m)"
        yield self._step("left side", f"vehicle + {formula}", sides.left_kg)
        yield self._step("right side", "total - left side", sides.right_kg)
        yield self._limit_step("side_share_most", 100, "%")

    def _cg_height(self) -> Finding | None:
        base, settings = self.record.vehicle.base, self.record.settings
        if base.cg_z_m is None or self.laden.base.weighed_kg is None:
            return None
        limit = 1000 * settings.value("cg_rise_most_m")
        found = self.height()
        if found is None:
            asks = height_gaps(self.laden)
            asks = asks or ["check the masses, they make less than nothing"]
            name = "The rise of the centre of gravity is"
            return self._unknown("cg-height", name, asks, limit)
        rise = 1000 * (found.after_m - found.before_m)
        said = held_against(rise, limit, "mm")
        return finding(
            "cg-height",
            "vehicle",
            verdict(rise, limit),
            f"Centre of gravity rises {said}",
            value=rise,
            limit=limit,
            unit="mm",
            source=settings.source("cg_rise_most_m"),
            working=tuple(self._height_working(found)),
        )

    def _height_working(self, found: Height) -> Iterator[Step]:
        yield self._step("before", "as recorded", found.before_m, "m", "vehicle")
        for raised in found.filled:
            at = f"at {raised.z_m:.2f} m{raised.how}"
            yield self._step(raised.label, at, raised.mass_kg)
        if left_out := found.left_out:
            names = ", ".join(dict.fromkeys(label for label, _ in left_out))
            mass = math.fsum(kg for _, kg in left_out)
            yield self._step(f"{names}: left out", "height not known", mass)
        formula = "Σ m z / Σ m, fitted and removed, tanks and luggage, nobody aboard"
        yield self._step("after", formula, found.after_m, "m")
        row = found.row()
        for when in ("before", "after"):
            factor = row.get(f"stability_{when}")
            if factor is not None:
                yield replace(
                    self._step(f"static stability, {when}", "t / 2h", factor, "1"),
                    source="NHTSA, static stability factor",
                    mark="from memory",
                )
        yield self._limit_step("cg_rise_most_m", 1000, "mm")

    def shares(self) -> tuple[tuple[float, str], tuple[float, str]] | None:
        """Give the least and the largest front share with their states. [1]"""
        axles = self.use.axles
        if axles is None or axles.total_kg <= 0:
            return None
        use = (axles.front_kg / axles.total_kg, "in the customer's use")
        found = []
        for least in (True, False):
            worst = self.worst.share(least=least)
            found.append(
                use if worst.value_kg is None else (worst.value_kg, worst.state)
            )
        return min(use, found[0]), max(use, found[1])

    def _front_share(self) -> Finding | None:
        shares, settings = self.shares(), self.record.settings
        if shares is None:
            return None
        names = ("front_share_least", "front_share_most")
        low, high = (100 * settings.value(name) for name in names)
        (least, at_least), (most, at_most) = ((100 * s, state) for s, state in shares)
        name, value, limit, outcome = names[0], least, low, verdict(low, least)
        if outcome == "over":
            said = _beyond("lightest", least, "below", low, at_least)
        elif (outcome := verdict(most, high)) == "over":
            name, value, limit = names[1], most, high
            said = _beyond("heaviest", most, "above", high, at_most)
        else:
            said = (
                f"Front axle carries {least:.1f} to {most:.1f} % of the total; "
                f"the workshop looks below {low:g} and above {high:g} %."
            )
        return finding(
            "front-share",
            "vehicle",
            outcome,
            said,
            value=value,
            limit=limit,
            unit="%",
            source=settings.source(name),
            working=(
                self._step("least", f"front / total; {at_least}", least, "%"),
                self._step("largest", f"front / total; {at_most}", most, "%"),
                self._limit_step(name, 100, "%"),
            ),
        )

    def _unknown(self, rule: str, name: str, asks: list[str], limit: float) -> Finding:
        outcome: Verdict = "unknown"
        said = f"{name} not known: {asked(tuple(dict.fromkeys(asks)))}."
        unit = "mm" if rule == "cg-height" else "%"
        setting = "cg_rise_most_m" if rule == "cg-height" else "side_share_most"
        source = self.record.settings.source(setting)
        return finding(
            rule, "vehicle", outcome, said, limit=limit, unit=unit, source=source
        )

    def _step(
        self,
        label: str,
        formula: str,
        value: float,
        unit: str = "kg",
        source: str = "sum of masses",
    ) -> Step:
        return Step(
            label=label,
            formula=formula,
            value=value,
            unit=unit,
            source=source,
            mark="given" if source == "vehicle" else "derived",
        )

    def _limit_step(self, name: str, times: float, unit: str) -> Step:
        settings = self.record.settings
        return Step(
            label="limit",
            formula="no rating decides; somebody looks at it",
            value=times * settings.value(name),
            unit=unit,
            source=settings.source(name),
            mark=settings.mark(name),
        )


def asked(gaps: tuple[str, ...], *more: str) -> str:
    """Say what is missing, three things at most and how many others."""
    asks = list(gaps[:3])
    if len(gaps) > 3:
        asks.append(f"and {len(gaps) - 3} more")
    return "; ".join([*asks, *more])


def _beyond(at: str, value: float, side: str, limit: float, state: str) -> str:
    """Say a share beyond its bound, with so many places that the two differ."""
    pairs = ((f"{value:.{n}f}", f"{limit:.{n}f}") for n in range(1, 11))
    apart = (pair for pair in pairs if pair[0] != pair[1])
    share, bound = next(apart, (f"{value}", f"{limit}"))
    return (
        f"At its {at} the front axle carries {share} % of the total; "
        f"the workshop looks {side} {bound.removesuffix('.0')} %. State: {state}."
    )
