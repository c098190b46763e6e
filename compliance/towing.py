"""A trailer on the ball: what it does to the axles, and how heavy it may be."""

from collections.abc import Sequence
from dataclasses import dataclass

from compliance.load import AxleLoads, axle_share


def ball_share(ball_kg: float, ball_overhang_m: float, wheelbase_m: float) -> AxleLoads:
    r"""
    Say what a ball load does to each axle of the towing vehicle.

    .. math:: R = B (1 + e/L), \qquad F = -B e/L

    Parameters
    ----------
    ball_kg : float
        Load on the ball. [kg]
    ball_overhang_m : float
        Ball behind the rear axle. [m]
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]

    Returns
    -------
    AxleLoads
        The rear gains more than the ball load, the front loses the difference. [kg]

    Raises
    ------
    ValueError
        If ``wheelbase_m`` is not positive.

    References
    ----------
    Derived from ``axle_share`` at x = -(L + e).
    """
    return axle_share(ball_kg, -(wheelbase_m + ball_overhang_m), wheelbase_m)


def trailer_ball_kg(
    masses: Sequence[tuple[float, float]], ball_to_axle_m: float
) -> float:
    r"""
    Find the load on the ball from what stands where in a trailer.

    .. math:: B = \sum m_j a_j / c

    Parameters
    ----------
    masses : sequence of (mass, place)
        Mass [kg] and distance ahead of the axle, negative behind it [m].
    ball_to_axle_m : float
        Ball to axle, or to the middle of a load-sharing group, > 0. [m]

    Returns
    -------
    float
        Load on the ball, negative when the trailer lifts it. [kg]

    Raises
    ------
    ValueError
        If ``ball_to_axle_m`` is not positive.

    References
    ----------
    Derived: sum of moments about the trailer's axle.

    Examples
    --------
    >>> trailer_ball_kg([(1000, 0.4), (100, -2.0)], 4.0)
    50.0
    """
    if not ball_to_axle_m > 0:
        raise ValueError("the distance from ball to axle must be positive")
    return sum(mass * ahead for mass, ahead in masses) / ball_to_axle_m


@dataclass(frozen=True, slots=True)
class Hitched:
    """A vehicle with its trailer on. [kg]"""

    axles: AxleLoads
    on_vehicle_kg: float


def hitch(
    *,
    alone: AxleLoads,
    wheelbase_m: float,
    ball_overhang_m: float,
    ball_kg: float,
    hitch_moment_kgm: float = 0.0,
    ball_to_axle_m: float | None = None,
) -> Hitched:
    r"""
    Put a trailer on the ball, with or without a weight-distributing hitch.

    .. math::
        V = B - M_w / c, \quad \Delta F = (M_w - V e) / L, \quad
        \Delta R = V - \Delta F

    Parameters
    ----------
    alone : AxleLoads
        The vehicle without the trailer. [kg]
    wheelbase_m : float
        L, > 0. [m]
    ball_overhang_m : float
        e, ball behind the rear axle. [m]
    ball_kg : float
        B, load on the ball without any distribution. [kg]
    hitch_moment_kgm : float
        M_w, moment of the hitch; 0 for a plain ball. [kg m]
    ball_to_axle_m : float or None
        c, needed with a moment, > 0. [m]

    Returns
    -------
    Hitched
        Axle loads, and what of the trailer the vehicle carries. [kg]

    Raises
    ------
    ValueError
        If a length is not positive, or a moment comes without ``ball_to_axle_m``.

    Notes
    -----
    What the vehicle loses by distribution the trailer's axle gains. The hitch raises
    no rating, and the rear axle must be within its rating before it is applied.

    References
    ----------
    Derived from moments about the rear axle and about the trailer's axle.
    """
    carried = ball_kg
    if hitch_moment_kgm:
        if ball_to_axle_m is None or not ball_to_axle_m > 0:
            raise ValueError("a hitch moment needs the distance from ball to axle")
        carried -= hitch_moment_kgm / ball_to_axle_m
    share = ball_share(carried, ball_overhang_m, wheelbase_m)
    moved = hitch_moment_kgm / wheelbase_m
    shifted = AxleLoads(share.front_kg + moved, share.rear_kg - moved)
    return Hitched(alone + shifted, carried)


def full_restoration_kgm(
    ball_kg: float, ball_overhang_m: float, ball_to_axle_m: float
) -> float:
    r"""
    Give the hitch moment that puts back all that the ball takes off the front axle.

    .. math:: M_w = B e / (1 + e/c)

    Parameters
    ----------
    ball_kg : float
        B, load on the ball without any distribution. [kg]
    ball_overhang_m : float
        e, ball behind the rear axle. [m]
    ball_to_axle_m : float
        c, ball to the trailer's axle, > 0. [m]

    Returns
    -------
    float
        Moment; makers ask for this at most, some for about half of it. [kg m]

    Raises
    ------
    ValueError
        If ``ball_to_axle_m`` is not positive.

    References
    ----------
    Derived from ``hitch`` with the front axle as without the trailer.

    Examples
    --------
    >>> full_restoration_kgm(300, 1.25, 5.0)
    300.0
    """
    if not ball_to_axle_m > 0:
        raise ValueError("the distance from ball to axle must be positive")
    return ball_kg * ball_overhang_m / (1 + ball_overhang_m / ball_to_axle_m)


def trailer_limits_kg(
    *,
    alone: AxleLoads,
    ratings: dict[str, float],
    ball_ratio: float,
    lever_ratio: float,
) -> dict[str, float]:
    r"""
    Find the heaviest trailer each rating allows behind a loaded vehicle.

    .. math::
        A_{rear} = (R_{max} - R) / (\beta \lambda), \quad
        A_{gvm} = (GVM - M) / \beta, \quad A_{gcm} = GCM - M

    Parameters
    ----------
    alone : AxleLoads
        The loaded vehicle without the trailer. [kg]
    ratings : dict of str to float
        Any of ``gvm``, ``front_axle``, ``rear_axle``, ``gcm``, ``braked_towing`` and
        ``ball``. [kg]
    ball_ratio : float
        Ball load over trailer mass, > 0. [1]
    lever_ratio : float
        1 + e/L, >= 1. [1]

    Returns
    -------
    dict of str to float
        Trailer mass by rating, negative where the vehicle alone is over. A front axle
        within its rating bounds nothing, because the ball makes it lighter. [kg]

    Raises
    ------
    ValueError
        If ``ball_ratio`` is not positive.

    References
    ----------
    US owner's manual, weight of the trailer tongue, worked example (published).
    """
    if not ball_ratio > 0:
        raise ValueError("the ball ratio must be positive")
    found = {}
    for name, rating in ratings.items():
        if name == "gvm":
            found[name] = (rating - alone.total_kg) / ball_ratio
        elif name == "rear_axle":
            found[name] = (rating - alone.rear_kg) / (ball_ratio * lever_ratio)
        elif name == "gcm":
            found[name] = rating - alone.total_kg
        elif name == "ball":
            found[name] = rating / ball_ratio
        elif name == "braked_towing":
            found[name] = rating
        elif alone.front_kg > rating:
            found[name] = rating - alone.front_kg
    return found
