"""Scales: what their readings are worth, and whether a ticket adds up."""

import math
from dataclasses import dataclass


def scale_half_width_kg(
    mass_kg: float, interval_kg: float, *, in_service: bool = True
) -> float:
    """
    Give the largest permitted error of a class III scale at one load.

    Parameters
    ----------
    mass_kg : float
        Reading, >= 0. [kg]
    interval_kg : float
        Verification scale interval e, > 0. [kg]
    in_service : bool
        Twice the error at verification holds for a scale in use.

    Returns
    -------
    float
        Half width of the permitted band. [kg]

    Raises
    ------
    ValueError
        If ``interval_kg`` is not positive.

    References
    ----------
    OIML R 76, class III; UK SI 1995/1907 Sch. 2 para 4 Table 3 (published).

    Examples
    --------
    >>> scale_half_width_kg(3000, 20)
    20.0
    """
    if not interval_kg > 0:
        raise ValueError("the scale interval must be positive")
    count = mass_kg / interval_kg
    error = 0.5 if count <= 500 else 1.0 if count <= 2000 else 1.5
    return error * interval_kg * (2 if in_service else 1)


def scale_uncertainty_kg(
    mass_kg: float, interval_kg: float, *, in_service: bool = True
) -> float:
    """
    Give the standard uncertainty of one weighing.

    Parameters
    ----------
    mass_kg : float
        Reading, >= 0. [kg]
    interval_kg : float
        Verification scale interval e, > 0. [kg]
    in_service : bool
        Whether the wider errors of a scale in use hold.

    Returns
    -------
    float
        Standard uncertainty, rounding to the interval included. [kg]

    Raises
    ------
    ValueError
        If ``interval_kg`` is not positive.

    References
    ----------
    JCGM 100:2008 4.3.7, rectangular distributions (from memory).
    """
    permitted = scale_half_width_kg(mass_kg, interval_kg, in_service=in_service)
    return math.hypot(permitted, interval_kg / 2) / math.sqrt(3)


MOST_INTERVALS = 10_000
"""Class III ends here: a scale that reads finer than this is another kind."""


@dataclass(frozen=True, slots=True)
class Ticket:
    """What a weighbridge ticket is worth. [kg]"""

    gap_kg: float
    consistent: bool
    permitted_error_kg: float
    standard_uncertainty_kg: float
    expanded_kg: float


def check_ticket(
    *,
    total_kg: float,
    axles_kg: tuple[float, ...],
    interval_kg: float,
    in_service: bool = True,
) -> Ticket:
    """
    Judge a ticket by the errors its scale is permitted.

    Parameters
    ----------
    total_kg : float
        Reading of the whole vehicle, >= 0. [kg]
    axles_kg : tuple of float
        Readings of both axles, or empty. [kg]
    interval_kg : float
        Verification scale interval e, > 0. [kg]
    in_service : bool
        Whether the wider errors of a scale in use hold.

    Returns
    -------
    Ticket
        The gap between total and axles, zero without axle readings; it is consistent
        inside the sum of the permitted errors. The uncertainties are the total's.

    References
    ----------
    OIML R 76, class III (published); JCGM 100:2008 4.3.7 (from memory).
    """
    permitted = scale_half_width_kg(total_kg, interval_kg, in_service=in_service)
    gap, allowed = 0.0, permitted
    if axles_kg:
        gap = total_kg - sum(axles_kg)
        allowed += sum(
            scale_half_width_kg(axle, interval_kg, in_service=in_service)
            for axle in axles_kg
        )
    u = scale_uncertainty_kg(total_kg, interval_kg, in_service=in_service)
    noise = 1e-9 * max(total_kg, 1.0)
    return Ticket(gap, abs(gap) <= allowed + noise, permitted, u, 2 * u)
