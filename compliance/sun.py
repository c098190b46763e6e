"""Sun on a flat panel by latitude and day of the year."""

import math
from dataclasses import dataclass

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""FAO-56, equation 21 (published)."""

MID_MONTH_DAY = (15, 46, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
"""Day of the year in the middle of each month, FAO-56 Annex 2 (published)."""


@dataclass(frozen=True, slots=True)
class Sun:
    """What reaches a flat surface above the air, and how long the day is."""

    ra_mj_m2: float
    daylight_h: float


def extraterrestrial(latitude_deg: float, day_of_year: int) -> Sun:
    r"""
    Give the radiation above the atmosphere on one day.

    Parameters
    ----------
    latitude_deg : float
        South negative, -90 to 90. [deg]
    day_of_year : int
        1 to 366.

    Returns
    -------
    Sun
        Daily radiation on the flat and hours of daylight. [MJ/m2, h]

    Raises
    ------
    ValueError
        If an argument lies outside its range.

    References
    ----------
    FAO Irrigation and Drainage Paper 56, equations 21 to 25 and 34 (published).

    Examples
    --------
    >>> sun = extraterrestrial(-20, 246)
    >>> round(sun.ra_mj_m2, 1), round(sun.daylight_h, 1)
    (32.2, 11.7)
    """
    if not -90 <= latitude_deg <= 90:
        raise ValueError("latitude lies between -90 and 90")
    if not 1 <= day_of_year <= 366:
        raise ValueError("the day of the year lies between 1 and 366")
    phi = math.radians(latitude_deg)
    year = 2 * math.pi * day_of_year / 365
    distance = 1 + 0.033 * math.cos(year)
    declination = 0.409 * math.sin(year - 1.39)
    half_day = math.acos(min(1.0, max(-1.0, -math.tan(phi) * math.tan(declination))))
    radiation = (
        24
        * 60
        / math.pi
        * SOLAR_CONSTANT_MJ_M2_MIN
        * distance
        * (
            half_day * math.sin(phi) * math.sin(declination)
            + math.cos(phi) * math.cos(declination) * math.sin(half_day)
        )
    )
    return Sun(max(radiation, 0.0), 24 * half_day / math.pi)


def peak_sun_h(latitude_deg: float, month: int, sunshine_ratio: float) -> float:
    """
    Give the hours of full sun a flat panel sees on a middling day of a month.

    Parameters
    ----------
    latitude_deg : float
        South negative. [deg]
    month : int
        1 to 12.
    sunshine_ratio : float
        Share of daylight with sun, n/N, 0 to 1.

    Returns
    -------
    float
        Peak sun hours on the flat, never above Ra/3.6. [h]

    References
    ----------
    FAO-56 equation 35 with a = 0.25, b = 0.50 (published).
    """
    sun = extraterrestrial(latitude_deg, MID_MONTH_DAY[month - 1])
    return (0.25 + 0.50 * sunshine_ratio) * sun.ra_mj_m2 / 3.6
