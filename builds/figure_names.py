"""How each number of the core's answer is called, and which way of it is better."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from workshop.templatetags.units import ENDINGS, words


class Leaf(NamedTuple):
    """How a number is named; ``sense`` is 1 where more is better, -1 where less is."""

    label: str
    more: str = "more"
    less: str = "less"
    sense: int = 0
    places: int | None = None
    signed: bool = False


def mass(label: str) -> Leaf:
    return Leaf(label, "heavier", "lighter", -1)


def in_hand(label: str) -> Leaf:
    return Leaf(label, "more in hand", "less in hand", 1)


LEAVES = {
    "total_kg": mass("vehicle mass"),
    "front_kg": mass("front axle"),
    "rear_kg": mass("rear axle"),
    "combination_kg": mass("vehicle and trailer"),
    "trailer_axle_kg": mass("trailer axles"),
    "ball_kg": mass("ball load"),
    "roof_kg": mass("roof"),
    "right_kg": mass("right side"),
    "value_kg": mass("mass"),
    "limit_kg": Leaf("limit", "higher", "lower", 1),
    "margin_kg": in_hand("in hand"),
    "and_kg": in_hand("and then"),
    "people": Leaf("people", "more", "fewer", 1, 0),
    "left_share": Leaf("share on the left", places=3),
    "after_m": Leaf("height of the centre of gravity", "higher", "lower", -1, 3),
    "before_m": Leaf("height before fitting", "higher", "lower", -1, 3),
    "rise_m": Leaf("rise of the centre of gravity", places=3),
    "stability_before": Leaf("static stability factor before fitting", places=3),
    "stability_after": Leaf("static stability factor", sense=1, places=3),
    "carried_kg": mass("carried"),
    "mass_kg": Leaf("fitted", "heavier", "lighter"),
    "removed_kg": Leaf("taken off"),
    "items": Leaf("items", "more", "fewer", 0, 0),
    "unweighed": Leaf("items of unknown mass", "more", "fewer", -1, 0),
    "load_ah": Leaf("drawn", "more", "less", -1),
    "solar_ah": Leaf("from the sun", "more", "less", 1),
    "drive_ah": Leaf("from driving", "more", "less", 1),
    "net_ah": Leaf("over or under", "more", "less", 1, signed=True),
    "autonomy_days": Leaf("lasts without charging", "longer", "shorter", 1),
    "minimum_ratio": Leaf("lowest charge", "more", "less", 1, 3),
    "hours_to_reserve": Leaf("hours to the reserve", "longer", "shorter", 1, 0),
    "current_a": Leaf("current"),
    "drop_percent": Leaf("drop", "more", "less", -1),
    "limit_percent": Leaf("drop allowed"),
    "fuse_minimum_a": Leaf("smallest fuse that carries it"),
    "ampacity_a": Leaf("what the cable carries", sense=1),
    "fault_a": Leaf("short-circuit current", places=0),
    "demand_a": Leaf("asked of it", sense=-1),
    "limit_a": Leaf("gives at most", sense=1),
    "used": Leaf("places used", "more", "fewer", 0, 0),
    "spare": Leaf("places left", "more", "fewer", 1, 0),
    "unplaced": Leaf("items that wait for a place", "more", "fewer", -1, 0),
    "unanswered": Leaf("items not said yet", "more", "fewer", -1, 0),
}
OTHER_UNITS = {
    "minimum_ratio": "",
    "left_share": "",
    "hours_to_reserve": "h",
    "people": "people",
    "value_u_kg": "kg",
}
SKIPPED = {"drop_v", "hourly", "path", "state", "verdict", "missing", "by"}
"""The drop is shown in percent; hours and the path have their own charts."""
PLACES = {"kg": 0, "A": 1, "Ah": 1, "%": 1, "days": 1, "m": 3, "h": 1, "V": 2}
WORST = {
    "gvm": "Vehicle mass",
    "front_axle": "Front axle",
    "rear_axle": "Rear axle",
    "gcm": "Vehicle and trailer",
    "roof": "Roof",
}


def numbers_in(row: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """Give the numbers of one row of the answer that are shown by name."""
    for name, value in row.items():
        if name in SKIPPED or name.endswith("_u_kg") or isinstance(value, bool):
            continue
        if isinstance(value, int | float):
            yield name, value


def _ending(name: str) -> str:
    return max((e for e in ENDINGS if name.endswith(e)), key=len, default="")


def unit_of(name: str) -> str:
    return OTHER_UNITS.get(name, ENDINGS.get(_ending(name), ""))


def unnamed(name: str) -> Leaf:
    """Name a number of the answer that has no words of its own yet."""
    return Leaf(words(name.removesuffix(_ending(name))).lower())
