"""Air: what a tyre holds and how long a compressor takes to fill it."""

import math


def tyre_volume_l(width_mm: float, aspect_percent: float, rim_in: float) -> float:
    r"""
    Give the volume of a tyre from its size.

    .. math:: V = \pi w^2 a (w a + 2540 d) / 10^{10}

    Parameters
    ----------
    width_mm : float
        Section width w. [mm]
    aspect_percent : float
        Height over width a. [%]
    rim_in : float
        Rim diameter d. [in]

    Returns
    -------
    float
        Volume; an upper bound, the cavity is about 0.80 to 0.85 of it (common
        practice). [l]

    References
    ----------
    Ring between two cylinders, a university course's page (published).

    Examples
    --------
    >>> round(tyre_volume_l(205, 60, 15), 2)
    39.92
    """
    section = width_mm * aspect_percent
    return math.pi * width_mm * section * (section + 2540 * rim_in) / 1e10


def free_air_l(volume_l: float, rise_psi: float, atmosphere_psi: float) -> float:
    """
    Give the air at atmospheric pressure that raises a tyre's pressure.

    Parameters
    ----------
    volume_l : float
        Volume of the tyre. [l]
    rise_psi : float
        Rise of the pressure. [psi]
    atmosphere_psi : float
        Pressure of the air outside, > 0. [psi]

    Returns
    -------
    float
        Free air, the tyre kept at one temperature. [l]

    References
    ----------
    Boyle's law (derived). Filled fast, the air is warm: less goes in, and the gauge
    falls afterwards.
    """
    return volume_l * rise_psi / atmosphere_psi


def fill_time_s(free_l: float, delivery_l_min: float) -> float:
    """
    Give the time a compressor takes.

    Parameters
    ----------
    free_l : float
        Free air needed. [l]
    delivery_l_min : float
        Free air delivered at the middle of the two pressures, > 0. [l/min]

    Returns
    -------
    float
        Time. [s]

    References
    ----------
    Derived. Common practice to check against: a twin-cylinder 12 V compressor takes
    an ordinary four-wheel-drive tyre from 18 to 40 psi in about a minute.
    """
    return 60 * free_l / delivery_l_min
