"""What a cable carries, what fuse protects it, and the smallest cable that will do."""

import math
from bisect import bisect_right
from dataclasses import dataclass
from typing import Any

from compliance.tables import table
from compliance.wiring import CONDUCTOR_C, run_ohm

TABLES = {
    "iso-10133": "ampacity_iso10133",
    "33cfr-183": "ampacity_33cfr183",
    "iec-60364": "ampacity_iec60364",
}
"""Ampacity tables by the name a worksheet chooses them with."""

DEFAULT = "iso-10133"

ROUNDED = 1.005
"""An area as the trade rounds it, 13.3 mm² for 6 AWG, still finds its row."""


def ampacity_a(
    area_mm2: float, insulation_c: float, *, engine_space: bool, by: str = DEFAULT
) -> float | None:
    """
    Give the current a cable carries continuously.

    Parameters
    ----------
    area_mm2 : float
        Copper area; between two rows the smaller row counts. [mm2]
    insulation_c : float
        Temperature rating; between two columns the lower column counts. [C]
    engine_space : bool
        Derate for the engine space.
    by : str
        A key of ``TABLES``.

    Returns
    -------
    float or None
        Current; ``None`` below the smallest row or where the cable may not be used.
        [A]

    References
    ----------
    ISO 10133 Annex A (from memory; configurable), 33 CFR 183.425 Table 5 (published),
    IEC 60364-5-52 method C as BS 7671 Table 4E1A prints it (published).

    Examples
    --------
    >>> ampacity_a(5.26, 105, engine_space=True, by="33cfr-183")
    51.0
    """
    data = table(TABLES[by])
    row, column = _row(data, area_mm2), _column(data, insulation_c)
    if row is None or column is None:
        return None
    amps = float(data["ampacity"]["value"][row][column])
    if engine_space:
        amps *= float(data["engine_space_factor"]["value"][column])
    return amps or None


def _row(data: dict[str, Any], area_mm2: float) -> int | None:
    place = bisect_right(data["ampacity"]["area_mm2"], area_mm2 * ROUNDED)
    return place - 1 if place else None


def _column(data: dict[str, Any], insulation_c: float) -> int | None:
    place = bisect_right(data["insulation"]["value"], insulation_c)
    return place - 1 if place else None


def next_fuse_a(minimum_a: float) -> float | None:
    """
    Give the smallest fuse of the series that is not below a current.

    Parameters
    ----------
    minimum_a : float
        Smallest rating allowed. [A]

    Returns
    -------
    float or None
        Rating; ``None`` above the largest of the series. [A]

    References
    ----------
    tables/fuses.toml, series (from memory).
    """
    fitting = [f for f in table("fuses")["series"]["value"] if f >= minimum_a - 1e-9]
    return float(fitting[0]) if fitting else None


def largest_fuse_a(ampacity: float) -> float | None:
    """
    Give the largest fuse of the series that still protects a cable.

    Parameters
    ----------
    ampacity : float
        What the cable carries, derated. [A]

    Returns
    -------
    float or None
        Rating; ``None`` below the smallest of the series. [A]

    References
    ----------
    A fuse may not exceed the derated ampacity: common practice, stricter than the
    150 % of 33 CFR 183.455 (published).
    """
    fitting = [f for f in table("fuses")["series"]["value"] if f <= ampacity + 1e-9]
    return float(fitting[-1]) if fitting else None


def smallest_area_mm2(
    least_a: float, insulation_c: float, *, engine_space: bool, by: str = DEFAULT
) -> float | None:
    """
    Give the smallest cable of a table that carries a current.

    Parameters
    ----------
    least_a : float
        Current, or the fuse in front of the cable. [A]
    insulation_c : float
        Temperature rating of the insulation. [C]
    engine_space : bool
        Derate for the engine space.
    by : str
        A key of ``TABLES``.

    Returns
    -------
    float or None
        Area; ``None`` where the largest carries less. [mm2]

    References
    ----------
    As ``ampacity_a``.
    """
    for area in table(TABLES[by])["ampacity"]["area_mm2"]:
        amps = ampacity_a(area, insulation_c, engine_space=engine_space, by=by)
        if amps is not None and amps >= least_a - 1e-9:
            return float(area)
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run of cable to be sized, and what it must satisfy."""

    system_v: float
    current_a: float
    run_m: float
    limit_percent: float
    insulation_c: float
    engine_space: bool
    conductor_c: float = CONDUCTOR_C
    fuse_a: float | None = None
    by: str = DEFAULT


@dataclass(frozen=True, slots=True)
class Option:
    """One size for a run; ``fails`` names what it does not satisfy."""

    area_mm2: float
    drop_percent: float
    ampacity_a: float | None
    fails: tuple[str, ...]


def size_options(run: Run) -> list[Option]:
    r"""
    Hold every size of an ampacity table against a run, smallest first.

    Parameters
    ----------
    run : Run
        Current, length and limits.

    Returns
    -------
    list of Option
        Of which the first that fails nothing is the cable to fit. ``fails`` may hold
        ``drop``, ``ampacity`` (less than the current) and ``fuse`` (less than the
        fuse).

    References
    ----------
    :math:`100 \cdot 2 L I R' / V \le` limit, ampacity at least the current and at
    least the fuse; derived.
    """
    found = []
    for area in table(TABLES[run.by])["ampacity"]["area_mm2"]:
        drop = run.current_a * run_ohm(area, run.run_m, run.conductor_c)
        percent = 100 * drop / run.system_v
        amps = ampacity_a(
            area, run.insulation_c, engine_space=run.engine_space, by=run.by
        )
        carries = amps or 0.0
        within = {
            "drop": percent <= run.limit_percent + 1e-9,
            "ampacity": carries >= run.current_a,
            "fuse": carries >= (run.fuse_a or 0.0),
        }
        fails = tuple(name for name, fits in within.items() if not fits)
        found.append(Option(float(area), percent, amps, fails))
    return found


def size_label(area_mm2: float, by: str) -> str:
    """Name a size as it is sold: the AWG number where the table has one."""
    data = table(TABLES[by])["ampacity"]
    if "size" in data:
        for size, area in zip(data["size"], data["area_mm2"], strict=True):
            if math.isclose(area, area_mm2):
                return f"{size} AWG"
    return f"{area_mm2:g} mm²"
