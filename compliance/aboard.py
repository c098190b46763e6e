"""Every mass that may be aboard a build, gathered once: fitted, filled, seated, coupled."""

from functools import cached_property

from compliance.inputs import ZONES, BuildRecord, Item, Luggage
from compliance.parts import Part, item_parts, tank_part


class Aboard:
    """The single masses of one build, each with its place."""

    def __init__(self, record: BuildRecord, like: "Aboard | None" = None) -> None:
        """Gather a record's masses; what it shares with ``like`` is taken from there."""
        self.record = record
        self._like = like
        self.wheelbase_m = record.vehicle.wheelbase_m
        self.items = sorted(record.items, key=lambda i: (ZONES.index(i.zone), i.key))
        self.aboard = [i for i in self.items if i.zone != "trailer"]
        # In walk-around order, however they were listed. Items in the trailer are in the trailer's mass as it stands on the road.

    @cached_property
    def fitted(self) -> list[Part]:
        """Items and removed parts, in every state aboard or gone."""
        return [part for item in self.aboard for part in self.parts_of[item.key]]

    @cached_property
    def parts_of(self) -> dict[str, tuple[Part, ...]]:
        """Each item aboard, by its key, with the parts that it takes off."""
        known: dict[int, tuple[Part, ...]] = {}
        if self._like is not None:
            items, parts = self._like.aboard, self._like.parts_of
            known = {id(item): parts[item.key] for item in items}
        return {
            item.key: known.get(id(item))
            or tuple(item_parts(item, roof=item.key in self.on_roof))
            for item in self.aboard
        }

    @cached_property
    def on_roof(self) -> frozenset[str]:
        """Keys of what is on the roof, or stands on something that is."""
        return frozenset(
            item.key
            for item in self.aboard
            if item.zone == "roof"
            or any(self.zone_of[key] == "roof" for key in self.carriers_of(item))
        )

    @cached_property
    def zone_of(self) -> dict[str, str]:
        """The zone of each item."""
        return {item.key: item.zone for item in self.record.items}

    @cached_property
    def _stands_on(self) -> dict[str, str | None]:
        return {item.key: item.carried_by for item in self.record.items}

    def carriers_of(self, thing: Item | Luggage) -> list[str]:
        """Keys of what something stands on, and of what that stands on, to the last."""
        found, at = [], thing.carried_by
        while at is not None:
            found.append(at)
            at = self._stands_on[at]
        return found

    @cached_property
    def tanks(self) -> list[Part]:
        """Contents of every tank when full."""
        replaced = {i.tank.replaces for i in self.aboard if i.tank}
        parts = [
            tank_part(t.key, t.key, t.fluid, t.capacity_l, t.density_kg_per_l, t)
            for t in self.record.vehicle.tanks
            if t.key not in replaced
        ]
        return parts + [t for item in self.aboard for t in self.content_of(item)]

    def content_of(self, item: Item) -> list[Part]:
        """What an item's tank holds when full, nothing for an item without one."""
        held = item.tank
        if held is None:
            return []
        return [
            tank_part(
                item.key,
                item.label,
                held.fluid,
                held.capacity_l,
                held.density_kg_per_l,
                item,
                roof=item.key in self.on_roof,
            )
        ]

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
        """Loose load of the customer's own use."""
        return [
            self._loose(f"luggage-{n}", load)
            for n, load in enumerate(self.record.use.luggage, start=1)
        ]

    def _loose(self, key: str, load: Luggage) -> Part:
        """Give one piece; it is at least as high as what it lies on."""
        roof = "roof" in (load.zone, self.zone_of.get(load.carried_by or ""))
        roof = roof or load.carried_by in self.on_roof
        under = (self._height_of[key] for key in self.carriers_of(load))
        z_m = load.z_m
        if z_m is None:
            z_m = next((height for height in under if height is not None), None)
        ask = "say how high the luggage on the roof lies, or on what"
        return Part(
            "luggage",
            key,
            "luggage",
            load.mass_kg,
            load.x_m,
            load.y_m,
            source="customer's use",
            roof=roof,
            z_m=z_m,
            heightless=ask if roof and z_m is None else "",
        )

    @cached_property
    def _height_of(self) -> dict[str, float | None]:
        return {item.key: item.z_m for item in self.record.items}

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

    @cached_property
    def bars(self) -> Part | None:
        """
        Give what a weight-distributing hitch does, as a mass lifted off by its bars.

        Its moment M_w takes M_w/c off the vehicle and turns it by M_w: together the
        same as M_w/c lifted at the trailer's axle, which takes it (load moved to it).
        """
        trailer, ball = self.record.trailer, self.ball
        if trailer is None or not trailer.hitch_moment_kgm:
            return None
        arm = trailer.ball_to_axle_m
        return Part(
            "ball",
            "bars",
            "weight-distributing hitch",
            None if arm is None else -trailer.hitch_moment_kgm / arm,
            None if arm is None or ball.x_m is None else ball.x_m - arm,
            0.0,
            source="trailer",
            missing="measure from the ball to the trailer's axle"
            if arm is None
            else "",
            misplaced=ball.misplaced,
        )

    @property
    def coupled(self) -> list[Part]:
        """What the trailer puts on the vehicle: its ball load and its hitch's bars."""
        return [self.ball] if self.bars is None else [self.ball, self.bars]
