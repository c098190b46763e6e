"""What racks, slides and trays carry, against what they may themselves carry."""

import math
from dataclasses import dataclass

from compliance.inputs import Item
from compliance.laden import Laden
from compliance.parts import Part, item_parts, mass_of


@dataclass(frozen=True, slots=True)
class Carrier:
    """An item that other things stand on; its own mass does not count. [kg]"""

    item: Item
    parts: tuple[Part, ...]

    @property
    def gaps(self) -> tuple[str, ...]:
        """What is missing for the sum."""
        return tuple(dict.fromkeys(p.missing for p in self.parts if p.missing))

    @property
    def carried_kg(self) -> float | None:
        """Everything on it, tanks full; None while a mass is not known. [kg]"""
        if self.gaps:
            return None
        return math.fsum(mass_of(part) for part in self.parts)

    @property
    def expanded_kg(self) -> float | None:
        """U = 2u of what is carried; None when no tolerance is known. [kg]"""
        halves = [p.half_width_kg for p in self.parts if p.half_width_kg is not None]
        return 2 * math.hypot(*halves) / math.sqrt(3) if halves else None


def carriers(laden: Laden) -> list[Carrier]:
    """
    Find what carries something, or says what it may carry.

    Parameters
    ----------
    laden : Laden
        A build whose carriers do not lead round in a circle.

    Returns
    -------
    list of Carrier
        In walk-around order, with what stands on each directly or on something
        that does: items, what their tanks hold when full, and luggage.

    References
    ----------
    Derived: sums; JCGM 100:2008 4.3.7 for the tolerance (from memory).
    """
    on: dict[str, list[Part]] = {}
    for item in laden.items:
        if item.carried_by is None:
            continue
        fitted = next(item_parts(item, roof=False))
        for key in laden.carriers_of(item):
            on.setdefault(key, []).extend([fitted, *laden.content_of(item)])
    for luggage, part in zip(laden.record.use.luggage, laden.luggage, strict=True):
        for key in laden.carriers_of(luggage):
            on.setdefault(key, []).append(part)
    return [
        Carrier(item, tuple(on.get(item.key, ())))
        for item in laden.items
        if item.key in on or item.carrier_limit_kg is not None
    ]
