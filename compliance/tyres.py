"""Tyres by their marking: diameter, speedometer and what an axle's tyres carry."""

import re
from dataclasses import dataclass

from compliance.tables import table

INCH_MM: float = table("air")["inch"]["value"]

_METRIC = re.compile(r"(?:P|LT)?(\d{3})/(\d{2,3})\s*(?:ZR|R|B|D|-)?\s*(\d{2}(?:\.5)?)")
_FLOTATION = re.compile(
    r"(?:LT)?(\d{2}(?:\.\d+)?)\s*X\s*(\d{1,2}(?:\.\d+)?)\s*(?:R|B|D|-)?\s*(\d{2}(?:\.5)?)"
)
_AFTER_SIZE = re.compile(r"\s*(?:LT|C)?(?:\s+\d{2,3}(?:/\d{2,3})?\s*[A-Z]?)?")


@dataclass(frozen=True, slots=True)
class TyreSize:
    """A tyre's nominal section and rim."""

    width_mm: float
    aspect_percent: float
    rim_in: float

    @property
    def diameter_mm(self) -> float:
        """Overall diameter, unloaded. [mm]"""
        section = self.width_mm * self.aspect_percent / 100
        return self.rim_in * INCH_MM + 2 * section


def read_size(text: str) -> TyreSize:
    """
    Read a tyre's marking.

    Parameters
    ----------
    text : str
        Such as ``265/65R17``, ``LT265/70 R17 121S`` or ``33x12.50R15``.

    Returns
    -------
    TyreSize
        Nominal section and rim.

    Raises
    ------
    ValueError
        If it is neither, or cannot be a tyre.

    References
    ----------
    Designations of ISO 4000-1 and of flotation sizes in inches (from memory).

    Examples
    --------
    >>> round(read_size("265/65R17").diameter_mm, 1)
    776.3
    """
    plain = text.strip().upper()
    for pattern in (_METRIC, _FLOTATION):
        match = pattern.match(plain)
        if match is None or not _AFTER_SIZE.fullmatch(plain, match.end()):
            continue
        first, second, rim = (float(part) for part in match.groups())
        if pattern is _METRIC:
            size = TyreSize(first, second, rim)
        else:
            section = (first - rim) / 2 * INCH_MM
            width = second * INCH_MM
            size = TyreSize(width, 100 * section / width if width else 0, rim)
        if 100 <= size.width_mm <= 450 and 20 <= size.aspect_percent <= 110:
            return size
    raise ValueError(
        f"{text!r} is not a tyre size; write it as 265/65R17 or 33x12.50R15"
    )


def change_percent(original_mm: float, new_mm: float) -> float:
    """
    Give the change of a tyre's diameter.

    Parameters
    ----------
    original_mm, new_mm : float
        Overall diameters, > 0. [mm]

    Returns
    -------
    float
        Change, positive when larger. [%]

    References
    ----------
    Derived.
    """
    return 100 * (new_mm - original_mm) / original_mm


def true_speed(shown: float, original_mm: float, new_mm: float) -> float:
    """
    Give the true speed behind what an unchanged speedometer shows.

    Parameters
    ----------
    shown : float
        Speed shown, in any unit.
    original_mm, new_mm : float
        Overall diameters it counts and has, > 0. [mm]

    Returns
    -------
    float
        True speed in the same unit, for a speedometer that was exact before.

    References
    ----------
    Derived: the speedometer counts turns.
    """
    return shown * new_mm / original_mm


def capacity_kg(load_index: int) -> float:
    """
    Give what one tyre carries.

    Parameters
    ----------
    load_index : int
        Load index on its sidewall, for a single tyre.

    Returns
    -------
    float
        Mass. [kg]

    Raises
    ------
    ValueError
        If the index is not in the table.

    References
    ----------
    tables/load_index.toml: ISO 4000-1 series (60 to 119 published, above from memory).

    Examples
    --------
    >>> capacity_kg(121)
    1450.0
    """
    data = table("load_index")["capacity"]
    place = load_index - data["first_index"]
    if not 0 <= place < len(data["value"]):
        last = data["first_index"] + len(data["value"]) - 1
        raise ValueError(f"a load index lies between {data['first_index']} and {last}")
    return float(data["value"][place])
