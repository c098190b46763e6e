"""Sun on a flat panel by latitude and day of the year."""

import math
from dataclasses import dataclass

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""FAO-56, equation 21 (published)."""

MID_MONTH_DAY = (15, 46, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
"""Day of the year in the middle of each month, FAO-56 Annex 2 (published)."""


PANEL_STANDARD_C = 25.0
"""Cell temperature at which a panel's power is rated (published)."""


@dataclass(frozen=True, slots=True)
class Sun:
    """What reaches a flat surface above the air, and how long the day is."""

    ra_mj_m2: float
    daylight_h: float
    distance: float
    declination_rad: float
    sunset_rad: float


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
        Daily radiation on the flat, hours of daylight, and the relative distance,
        declination and sunset angle behind them. [MJ/m2, h, 1, rad, rad]

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
    return Sun(
        max(radiation, 0.0),
        24 * half_day / math.pi,
        distance,
        declination,
        half_day,
    )


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


def clear_sky_kwh_m2(ra_mj_m2: float, altitude_m: float = 0.0) -> float:
    """
    Give the sun on the flat under a sky without clouds.

    Parameters
    ----------
    ra_mj_m2 : float
        Radiation above the atmosphere. [MJ/m2]
    altitude_m : float
        Height above the sea. [m]

    Returns
    -------
    float
        Daily radiation on the flat. [kWh/m2]

    References
    ----------
    FAO-56 equation 37 (published).
    """
    return (0.75 + 2e-5 * altitude_m) * ra_mj_m2 / 3.6


def cell_c(air_c: float, irradiance_w_m2: float, noct_c: float) -> float:
    """
    Give the temperature of a panel's cells.

    Parameters
    ----------
    air_c : float
        Air. [C]
    irradiance_w_m2 : float
        Sun on the panel. [W/m2]
    noct_c : float
        Nominal operating cell temperature on its plate. [C]

    Returns
    -------
    float
        Temperature, for a panel with air behind it; flat on a roof it is hotter. [C]

    References
    ----------
    T = Ta + (NOCT - 20)/800 G (published).

    Examples
    --------
    >>> cell_c(35, 1000, 45)
    66.25
    """
    return air_c + (noct_c - 20) / 800 * irradiance_w_m2


def temperature_ratio(cell: float, coefficient_per_k: float) -> float:
    """
    Give the share of its rated power that a warm panel still gives.

    Parameters
    ----------
    cell : float
        Cell temperature. [C]
    coefficient_per_k : float
        Change per kelvin, -0.004 for common silicon. [1/K]

    Returns
    -------
    float
        Ratio, not below zero.

    References
    ----------
    Linear from 25 C, 0.4 % per kelvin (published).
    """
    return max(0.0, 1 + coefficient_per_k * (cell - PANEL_STANDARD_C))


def panel_wh(power_w: float, sun_h: float, derate: float) -> float:
    """
    Give what a flat panel yields in a day.

    Parameters
    ----------
    power_w : float
        Rated power. [W]
    sun_h : float
        Peak sun hours on the flat, never those of a tilted plane. [h]
    derate : float
        Ratio of yield to rated power.

    Returns
    -------
    float
        Energy. [Wh]

    References
    ----------
    Derived; a peak sun hour is 1 kWh/m2.
    """
    return power_w * sun_h * derate
