"""How high the centre of gravity stands before the build and after it, as used."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from compliance.laden import Laden
from compliance.parts import mass_of


@dataclass(frozen=True, slots=True)
class Raised:
    """Something that the build as used adds at a height; negative where it is gone."""

    label: str
    mass_kg: float
    z_m: float
    how: str = ""


@dataclass(frozen=True, slots=True)
class Height:
    """
    Height of the centre of gravity before and after the build, and the track. [m]

    ``filled`` is what tanks and luggage add to what is fitted; ``left_out`` is what
    they add at a height that nobody recorded, by name and mass in kg.
    """

    before_m: float
    after_m: float
    track_m: float | None
    filled: tuple[Raised, ...] = ()
    left_out: tuple[tuple[str, float], ...] = ()

    def row(self) -> dict[str, float]:
        """Give the heights, and t/2h where the track is known."""
        row = {
            "before_m": self.before_m,
            "after_m": self.after_m,
            "rise_m": self.after_m - self.before_m,
        }
        if self.track_m is not None:
            row["stability_before"] = stability(self.track_m, self.before_m)
            row["stability_after"] = stability(self.track_m, self.after_m)
        return row


def stability(track_m: float, height_m: float) -> float:
    r"""
    Give the static stability factor.

    .. math:: t / 2h

    Parameters
    ----------
    track_m, height_m : float
        Track and height of the centre of gravity, > 0. [m]

    Returns
    -------
    float
        Larger is steadier. [1]

    References
    ----------
    NHTSA (from memory): an indicator, no limit of a modified vehicle.

    Examples
    --------
    >>> stability(1.5, 0.75)
    1.0
    """
    return track_m / (2 * height_m)


def height_gaps(laden: Laden) -> list[str]:
    """
    Say what is missing for the height of the build as used.

    Parameters
    ----------
    laden : Laden
        The build.

    Returns
    -------
    list of str
        Masses and heights to be found; loose load inside and the vehicle's own tanks
        are left out instead where their height is not known.
    """
    return [
        part.missing or part.heightless
        for part in (*laden.fitted, *laden.tanks, *laden.luggage)
        if part.missing or (part.heightless and part.mass_kg)
    ]


def height(laden: Laden) -> Height | None:
    r"""
    Find the height of the centre of gravity before and after the build.

    .. math:: z = \sum m z / \sum m

    Parameters
    ----------
    laden : Laden
        The build.

    Returns
    -------
    Height or None
        The vehicle as weighed, and that with what is fitted, every tank full and the
        luggage; None while a mass or a height is not known. [m]

    Notes
    -----
    Nobody is aboard in it. Fuel that was in a tank when the vehicle was weighed is in
    its mass and its height already.

    References
    ----------
    Derived: sum of moments about the ground.
    """
    weighed, before = laden.base.weighed_kg, laden.record.vehicle.base.cg_z_m
    if before is None or weighed is None or height_gaps(laden):
        return None
    filled = (*_tanks(laden), *_luggage(laden))
    rows = [(weighed, before), *((mass_of(p), p.z_m or 0.0) for p in laden.fitted)]
    rows += [(raised.mass_kg, raised.z_m) for raised in filled]
    total = math.fsum(mass for mass, _ in rows)
    moment = math.fsum(mass * z_m for mass, z_m in rows)
    if total <= 0 or moment <= 0:
        return None
    track = laden.record.vehicle.track_m
    left_out = tuple(_left_out(laden))
    return Height(before, moment / total, track, filled, left_out)


def _tanks(laden: Laden) -> Iterator[Raised]:
    """Every tank full, less the fuel that was in it when the vehicle was weighed."""
    weighed_with = dict(laden.base.fuel_kg)
    for tank in laden.tanks:
        if tank.z_m is not None:
            was_kg = weighed_with.pop(tank.key, 0.0)
            how = ", less what was in it when weighed" if was_kg else ""
            yield Raised(tank.label, mass_of(tank) - was_kg, tank.z_m, how)
    kept = {tank.key for tank in laden.tanks}
    for gone in laden.record.vehicle.tanks:
        was_kg = weighed_with.get(gone.key, 0.0)
        if was_kg and gone.z_m is not None and gone.key not in kept:
            how = ", in it when weighed"
            yield Raised(f"{gone.key}, taken out", -was_kg, gone.z_m, how)


def _luggage(laden: Laden) -> Iterator[Raised]:
    for row, part in zip(laden.record.use.luggage, laden.luggage, strict=True):
        if part.z_m is not None:
            how = ", as high as what it lies on" if row.z_m is None else ""
            yield Raised(part.label, mass_of(part), part.z_m, how)


def _left_out(laden: Laden) -> Iterator[tuple[str, float]]:
    for part in (*laden.tanks, *laden.luggage):
        more_kg = mass_of(part) - laden.base.fuel_kg.get(part.key, 0.0)
        if part.z_m is None and more_kg > 0:
            yield part.label, more_kg
