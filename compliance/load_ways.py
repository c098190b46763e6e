"""Single changes to a build that could bring an overload back, each worked out ahead."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from compliance.inputs import BuildRecord, Item, Trailer
from compliance.laden import WATERS
from compliance.load_figures import LoadFigures
from compliance.parts import Part, mass_of
from compliance.tables import table

MOVABLE_ZONES = frozenset({"cargo", "roof"})
"""Where things stand that can be put elsewhere; the rest is bolted to one place."""

STEP_M = 0.05
TRIES = 3
"""How many things are tried for one kind of change before it is given up."""

MOST_TIMES = 3
"""Nothing is left out that weighs more than so many times what is over."""

RATING_OF = {
    "gvm": "gvm_kg",
    "axle-mass.front": "front_axle_kg",
    "axle-mass.rear": "rear_axle_kg",
    "axle-mass.rear.plain": "rear_axle_kg",
    "roof": "roof_kg",
    "gcm": "gcm_kg",
    "ball": "ball_kg",
    "braked-towing": "braked_towing_kg",
    "worst.gvm": "gvm_kg",
    "worst.front_axle": "front_axle_kg",
    "worst.rear_axle": "rear_axle_kg",
    "worst.gcm": "gcm_kg",
}
"""The rating that each load is held against; others have one that no paper raises."""

FRONT = frozenset({"axle-mass.front", "worst.front_axle"})
REAR = frozenset({"axle-mass.rear", "axle-mass.rear.plain", "worst.rear_axle"})
FORWARD = REAR | {"front-share.least"}
BACK = FRONT | {"front-share.most"}
WHOLE = frozenset({"gvm", "payload", "gcm", "worst.gvm", "worst.gcm"})
IN_TRAILER = frozenset(
    {"gcm", "worst.gcm", "braked-towing", "trailer.atm", "trailer.gtm"}
)


@dataclass(frozen=True, slots=True)
class LoadWay:
    """A change in words, and the build as it is once that is done."""

    words: str
    record: BuildRecord


def up(value: float) -> int:
    """Round up to a whole number, binary noise aside."""
    return math.ceil(value - 1e-6)


class Ways:
    """The changes that could take ``excess_kg`` off one load of one build."""

    def __init__(self, figures: LoadFigures, key: str, excess_kg: float) -> None:
        self.figures = figures
        self.record = figures.record
        self.laden = figures.laden
        self.key = key
        self.excess_kg = excess_kg

    def kinds(self) -> list[Callable[[], Iterator[LoadWay]]]:
        """Every kind of change, the one that takes least away first."""
        return [
            self.paper,
            self.move,
            self.less_luggage,
            self.less_water,
            self.shift_in_trailer,
            self.leave_out,
            self.lighter_trailer,
        ]

    def counts(self, x_m: float, *, roof: bool, on: list[str]) -> float:
        """Say how much of each kilogram at a place is in this load. [1]"""
        if self.key in WHOLE:
            return 1.0
        if self.key in FRONT | REAR:
            assert self.laden.wheelbase_m is not None
            rear = -x_m / self.laden.wheelbase_m
            return rear if self.key in REAR else 1 - rear
        if self.key == "roof":
            return float(roof)
        return float(any(self.key == f"carrier.{key}" for key in on))

    def paper(self) -> Iterator[LoadWay]:
        """Put the paper for a planned rating on file."""
        name = RATING_OF.get(self.key)
        if name is None or self.figures.ratings[name].planned_kg is None:
            return
        planned = self.figures.ratings[name]
        items = tuple(
            replace(item, raises=replace(item.raises, evidence="on file"))
            if item.raises is not None
            and getattr(item.raises.ratings, name) == planned.planned_kg
            else item
            for item in self.record.items
        )
        words = f"put the paper for {planned.planned_by} on file"
        yield LoadWay(words, replace(self.record, items=items))

    def move(self) -> Iterator[LoadWay]:
        """Move one thing, with what stands on it, along the vehicle; heaviest first."""
        length = self.laden.wheelbase_m
        if self.key not in FORWARD | BACK or length is None:
            return
        ahead = self.key in FORWARD
        moving = self._moving_kg()
        movable = [
            (moving[item.key], item)
            for item in self.laden.aboard
            if item.zone in MOVABLE_ZONES and item.carried_by is None
        ]
        movable.sort(key=lambda pair: (-pair[0], pair[1].key))
        tried = 0
        for mass, item in movable:
            if not mass or tried == TRIES:
                return
            exact = self.excess_kg * length / mass
            shift_m = math.ceil(exact / STEP_M - 1e-9) * STEP_M
            moved = self._moved(item, shift_m if ahead else -shift_m)
            if moved is not None:
                tried += 1
                way = "forward" if ahead else "back"
                yield LoadWay(f"move {item.label} {shift_m:.2f} m {way}", moved)

    def _moving_kg(self) -> dict[str, float]:
        """What moves with each item: its tank's content, what stands on it. [kg]"""
        held = {tank.key: mass_of(tank) for tank in self.laden.tanks}
        moving: dict[str, list[float]] = {item.key: [] for item in self.record.items}
        for item in self.laden.aboard:
            mass = mass_of(self.laden.parts_of[item.key][0]) + held.get(item.key, 0.0)
            for key in (item.key, *self.laden.carriers_of(item)):
                moving[key].append(mass)
        for row in self.record.use.luggage:
            for key in self.laden.carriers_of(row):
                moving[key].append(row.mass_kg)
        return {key: math.fsum(masses) for key, masses in moving.items()}

    @cached_property
    def _riders(self) -> dict[str, set[str]]:
        """Keys of the items that stand on an item, directly or on one that does."""
        on: dict[str, set[str]] = {}
        for item in self.laden.aboard:
            for key in self.laden.carriers_of(item):
                on.setdefault(key, set()).add(item.key)
        return on

    def _moved(self, item: Item, shift_m: float) -> BuildRecord | None:
        """Move an item with what stands on it; None where there is no room."""
        length = self.laden.wheelbase_m
        assert length is not None
        room = self.record.settings.value("room_behind_seat_m")
        seats = [seat.x_m for seat in self.record.vehicle.seats]
        foremost = min(seats) - room if seats else -length / 2

        def there(x_m: float | None) -> float:
            return (x_m or 0.0) + shift_m

        keys = {item.key, *self._riders.get(item.key, ())}
        places = [there(self.laden.parts_of[key][0].x_m) for key in keys]
        # Nothing is put further forward than the seats allow, or behind the axle.
        if (shift_m > 0 and max(places) > foremost) or (
            shift_m < 0 and min(places) < -length
        ):
            return None
        luggage = tuple(
            replace(row, x_m=there(row.x_m))
            if item.key in self.laden.carriers_of(row)
            else row
            for row in self.record.use.luggage
        )
        return replace(
            self.record,
            items=tuple(
                replace(i, x_m=there(i.x_m)) if i.key in keys else i
                for i in self.record.items
            ),
            use=replace(self.record.use, luggage=luggage),
        )

    def leave_out(self) -> Iterator[LoadWay]:
        """Leave one item out: the lightest that is enough, and that nothing needs."""
        supply = self.record.supply
        needed = {battery.key for battery in supply.batteries}
        needed |= {charger.key for charger in supply.chargers}
        needed |= {panel.key for panel in supply.panels}
        needed |= {item.carried_by or "" for item in self.record.items}
        needed |= {row.carried_by or "" for row in self.record.use.luggage}
        enough = []
        for item in self.laden.aboard:
            if item.key in needed or (item.tank and item.tank.replaces):
                continue
            parts = [*self.laden.parts_of[item.key], *self.laden.content_of(item)]
            takes = self._takes(parts, self.laden.carriers_of(item))
            leaves = math.fsum(mass_of(p) for p in parts if p.group != "removed")
            if takes >= self.excess_kg - 1e-6 and leaves <= MOST_TIMES * self.excess_kg:
                enough.append((mass_of(parts[0]), item))
        enough.sort(key=lambda pair: (pair[0], pair[1].key))
        for mass, item in enough[:TRIES]:
            words = f"leave out {item.label} ({f'{mass:,.1f}'.removesuffix('.0')} kg)"
            yield LoadWay(words, self._without(item))

    def _takes(self, parts: list[Part], on: list[str]) -> float:
        """What leaves this load with some parts. [kg]"""
        carrier = self.key.startswith("carrier.")
        return math.fsum(
            mass_of(part) * self.counts(part.x_m or 0.0, roof=part.roof, on=on)
            for part in parts
            if not (carrier and part.group == "removed")
        )

    def _without(self, item: Item) -> BuildRecord:
        """The record without an item, and without what names it elsewhere."""
        supply = self.record.supply
        circuits = tuple(
            replace(c, feeds=tuple(key for key in c.feeds if key != item.key))
            if item.key in c.feeds
            else c
            for c in supply.circuits
        )
        scenarios = tuple(
            replace(
                s, tank_ratios={k: v for k, v in s.tank_ratios.items() if k != item.key}
            )
            for s in self.record.scenarios
        )
        return replace(
            self.record,
            items=tuple(i for i in self.record.items if i is not item),
            supply=replace(supply, circuits=circuits),
            scenarios=scenarios,
        )

    def less_luggage(self) -> Iterator[LoadWay]:
        """Take luggage out where it counts most."""
        rows = list(zip(self.record.use.luggage, self.laden.luggage, strict=True))
        enough = []
        for index, (row, part) in enumerate(rows):
            on = self.laden.carriers_of(row)
            share = self.counts(row.x_m, roof=part.roof, on=on)
            if share > 0 and (kg := up(self.excess_kg / share)) <= row.mass_kg:
                enough.append((kg, index))
        for kg, index in sorted(enough)[:1]:
            luggage = list(self.record.use.luggage)
            luggage[index] = replace(
                luggage[index], mass_kg=luggage[index].mass_kg - kg
            )
            use = replace(self.record.use, luggage=tuple(luggage))
            yield LoadWay(
                f"take out {kg:,d} kg of luggage", replace(self.record, use=use)
            )

    def less_water(self) -> Iterator[LoadWay]:
        """Travel with less in the water tank where it counts most."""
        found = []
        volumes = {tank.key: tank.capacity_l for tank in self.record.vehicle.tanks}
        volumes |= {i.key: i.tank.capacity_l for i in self.laden.aboard if i.tank}
        for tank in self.laden.tanks:
            held = volumes[tank.key]
            share = self._counts(tank)
            if tank.fluid not in WATERS or share * mass_of(tank) <= 0:
                continue
            litres = up(self.excess_kg / share * held / mass_of(tank))
            if litres <= held:
                found.append((litres, tank.key, tank.label))
        for litres, key, label in sorted(found)[:1]:
            yield LoadWay(
                f"travel with {litres:,d} l less in {label}", self._drained(key, litres)
            )

    def _drained(self, key: str, litres: int) -> BuildRecord:
        vehicle = self.record.vehicle
        tanks = tuple(
            replace(t, capacity_l=t.capacity_l - litres) if t.key == key else t
            for t in vehicle.tanks
        )
        items = tuple(
            replace(i, tank=replace(i.tank, capacity_l=i.tank.capacity_l - litres))
            if i.key == key and i.tank
            else i
            for i in self.record.items
        )
        if tanks != vehicle.tanks:
            vehicle = replace(vehicle, tanks=tanks)
        return replace(self.record, vehicle=vehicle, items=items)

    def shift_in_trailer(self) -> Iterator[LoadWay]:
        """Move load in the trailer back, while enough stays on the ball."""
        trailer, less = self.record.trailer, self._off_the_ball()
        if trailer is None or trailer.ball_kg is None or less is None:
            return
        arm = trailer.ball_to_axle_m
        if arm is None or trailer.mass_kg is None:
            words = "move load in the trailer back until the ball carries {} kg less"
            shifts = [(words.format(up(less)), float(up(less)))]
        else:
            shifts = [
                (f"move {kg:,d} kg in the trailer {back:g} m back", kg * back / arm)
                for back in (1.0, 2.0)
                if (kg := up(less * arm / back)) <= trailer.mass_kg / 4
            ]
        for words, off in shifts[:1]:
            lighter = replace(trailer, ball_kg=trailer.ball_kg - off)
            if lighter.ball_kg is not None and _steady(lighter):
                yield LoadWay(words, replace(self.record, trailer=lighter))

    def _off_the_ball(self) -> float | None:
        """How much less on the ball would be enough; None where it does not help."""
        if self.key == "ball":
            return self.excess_kg
        on = self.key.startswith("worst.") or self.figures.use.hitched
        place = self.laden.ball.x_m
        if not on or self.key not in {*REAR, "gvm", "worst.gvm"} or place is None:
            return None
        return self.excess_kg / self.counts(place, roof=False, on=[])

    def lighter_trailer(self) -> Iterator[LoadWay]:
        """Take load out of the trailer: over its axles, or evenly for the ball."""
        trailer = self.record.trailer
        if trailer is None or trailer.mass_kg is None:
            return
        mass, ball = trailer.mass_kg, trailer.ball_kg
        if self.key in IN_TRAILER and (kg := up(self.excess_kg)) <= mass - (ball or 0):
            lighter = replace(trailer, mass_kg=mass - kg)
            words = f"take {kg:,d} kg out of the trailer over its axles"
            yield LoadWay(words, replace(self.record, trailer=lighter))
        elif self.key == "ball" and ball:
            kg = up(mass * self.excess_kg / ball)
            share = ball * (mass - kg) / mass
            lighter = replace(trailer, mass_kg=mass - kg, ball_kg=share)
            words = f"take {kg:,d} kg out of the trailer, evenly along it"
            yield LoadWay(words, replace(self.record, trailer=lighter))

    def _counts(self, part: Part) -> float:
        """Say how much of each kilogram of an item or a tank is in this load. [1]"""
        on = self._carriers.get(part.key, [])
        return self.counts(part.x_m or 0.0, roof=part.roof, on=on)

    @cached_property
    def _carriers(self) -> dict[str, list[str]]:
        return {item.key: self.laden.carriers_of(item) for item in self.laden.aboard}

    def most_kg(self) -> float:
        """Add up what could be taken off this load at all: fitted, filled, loose. [kg]"""
        laden = self.laden
        fitted = [laden.parts_of[item.key][0] for item in laden.aboard]
        found = [self._counts(p) * mass_of(p) for p in (*fitted, *laden.tanks)]
        for row, part in zip(self.record.use.luggage, laden.luggage, strict=True):
            on = laden.carriers_of(row)
            found.append(self.counts(row.x_m, roof=part.roof, on=on) * row.mass_kg)
        if self.key in IN_TRAILER and self.record.trailer is not None:
            found.append(self.record.trailer.mass_kg or 0.0)
        return math.fsum(kg for kg in found if kg > 0)

    def anything(self, where: str) -> LoadWay:
        """Take out so much of whatever stands where each kilogram counts fully."""
        length = self.laden.wheelbase_m or 0.0
        kg = up(self.excess_kg)
        at = -length if self.key in REAR else 0.0
        if self.key in WHOLE:
            at = -length / 2
        # As a fitted thing that weighs less than nothing: in every state it is gone.
        less = Item(
            key="",
            label="less",
            kind="less",
            zone="roof" if self.key == "roof" else "cargo",
            mass_kg=-kg,
            x_m=at,
            y_m=0.0,
            z_m=self.record.vehicle.base.cg_z_m,
            carried_by=self.key[8:] if self.key.startswith("carrier.") else None,
        )
        items = (*self.record.items, less)
        return LoadWay(f"take {kg:,d} kg {where}", replace(self.record, items=items))


def _steady(trailer: Trailer) -> bool:
    """Say whether enough stays on the ball for the trailer to run steadily."""
    if trailer.mass_kg is None or trailer.ball_kg is None:
        return True
    least = float(table("judging")["ball_share_least"]["value"])
    return trailer.ball_kg >= least * trailer.mass_kg
