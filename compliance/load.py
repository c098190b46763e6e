"""Mass on axles: moments, hitching, ranges and their uncertainty."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Axle = Literal["front", "rear"]


@dataclass(frozen=True, slots=True)
class PointMass:
    """A mass at a place; ``mass_kg`` is negative for a part taken off."""

    label: str
    mass_kg: float
    x_m: float
    y_m: float | None = None
    z_m: float | None = None
    half_width_kg: float = 0.0
    x_half_width_m: float = 0.0


@dataclass(frozen=True, slots=True)
class AxleLoads:
    """What the ground carries under each axle. [kg]"""

    front_kg: float
    rear_kg: float

    @property
    def total_kg(self) -> float:
        """Both axles together. [kg]"""
        return self.front_kg + self.rear_kg

    def on(self, axle: Axle | None) -> float:
        """Give one axle, or both together for ``None``. [kg]"""
        if axle is None:
            return self.total_kg
        return self.front_kg if axle == "front" else self.rear_kg

    def __add__(self, other: "AxleLoads") -> "AxleLoads":
        return AxleLoads(self.front_kg + other.front_kg, self.rear_kg + other.rear_kg)


def axle_share(mass_kg: float, x_m: float, wheelbase_m: float) -> AxleLoads:
    r"""
    Split one mass between the front and the rear axle.

    .. math:: R = -m x / L, \qquad F = m - R

    Parameters
    ----------
    mass_kg : float
        Mass, negative for a part taken off. [kg]
    x_m : float
        Place forward of the front axle, negative behind it. [m]
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]

    Returns
    -------
    AxleLoads
        Load added to each axle; ahead of the front axle the rear gets lighter. [kg]

    Raises
    ------
    ValueError
        If ``wheelbase_m`` is not positive.

    Notes
    -----
    Rigid vehicle, level ground, two axles. Suspension sag is ignored.

    References
    ----------
    Sum of moments; Beer and Johnston, Vector Mechanics for Engineers: Statics,
    problem 4.1, and a US owner's manual formula W(A + WB)/WB (published).

    Examples
    --------
    >>> axle_share(60, 0.9, 3.0)
    AxleLoads(front_kg=78.0, rear_kg=-18.0)
    """
    if not wheelbase_m > 0:
        raise ValueError("the wheelbase must be positive")
    rear = -mass_kg * x_m / wheelbase_m
    return AxleLoads(mass_kg - rear, rear)


def axle_loads(masses: Iterable[PointMass], wheelbase_m: float) -> AxleLoads:
    """
    Add up what point masses put on each axle.

    Parameters
    ----------
    masses : iterable of PointMass
        Any number of them; order does not matter beyond the last binary digit.
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]

    Returns
    -------
    AxleLoads
        Sums over all masses. [kg]

    Raises
    ------
    ValueError
        If ``wheelbase_m`` is not positive.

    References
    ----------
    See ``axle_share``.
    """
    shares = [axle_share(m.mass_kg, m.x_m, wheelbase_m) for m in masses]
    return AxleLoads(
        math.fsum(s.front_kg for s in shares), math.fsum(s.rear_kg for s in shares)
    )


def centre_m(front_kg: float, rear_kg: float, wheelbase_m: float) -> float:
    r"""
    Find how far forward of the front axle the centre of gravity stands.

    .. math:: x = -L R / (F + R)

    Parameters
    ----------
    front_kg, rear_kg : float
        Axle masses, their sum > 0. [kg]
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]

    Returns
    -------
    float
        x of the centre of gravity, negative behind the front axle. [m]

    Raises
    ------
    ValueError
        If the axles carry nothing.

    References
    ----------
    Jazar, Vehicle Dynamics: Theory and Application, eqs (2.15) to (2.20) (published).

    Examples
    --------
    >>> centre_m(1200, 1200, 3.0)
    -1.5
    """
    if not front_kg + rear_kg > 0:
        raise ValueError("the axles carry nothing")
    return -wheelbase_m * rear_kg / (front_kg + rear_kg)


def left_share_kg(masses: Iterable[PointMass], track_m: float) -> float:
    r"""
    Say what the left wheels carry.

    .. math:: left = M/2 + \sum m_i y_i / t

    Parameters
    ----------
    masses : iterable of PointMass
        A mass whose ``y_m`` is not known is taken as standing in the middle. [kg]
    track_m : float
        Distance between the wheel centrelines, the same at both axles, > 0. [m]

    Returns
    -------
    float
        Sum over both left wheels; the right carries the rest. [kg]

    Raises
    ------
    ValueError
        If ``track_m`` is not positive.

    Notes
    -----
    The sides follow from statics; single wheels of four do not.

    References
    ----------
    Derived: sum of moments about the right wheels.

    Examples
    --------
    >>> left_share_kg([PointMass("fridge", 60, -2.0, y_m=0.4)], 1.6)
    45.0
    """
    if not track_m > 0:
        raise ValueError("the track must be positive")
    rows = list(masses)
    half = math.fsum(m.mass_kg for m in rows) / 2
    return half + math.fsum(m.mass_kg * (m.y_m or 0.0) for m in rows) / track_m


def tilt_height_m(
    *,
    mass_kg: float,
    wheelbase_m: float,
    front_gain_kg: float,
    tilt_rad: float,
    tyre_radius_m: float,
) -> float:
    r"""
    Find the height of the centre of gravity from a weighing with the rear raised.

    .. math:: h = r + \Delta F \, L / (M \tan\theta)

    Parameters
    ----------
    mass_kg : float
        Whole vehicle, > 0. [kg]
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]
    front_gain_kg : float
        Front axle reading raised, less level. [kg]
    tilt_rad : float
        Tilt, > 0; for a lift H of the rear axle sin(tilt) = H/L. [rad]
    tyre_radius_m : float
        Static loaded radius, the same at both axles. [m]

    Returns
    -------
    float
        Height above the ground. [m]

    Notes
    -----
    Suspension locked, brakes free, tanks full or empty so that nothing runs forward.

    References
    ----------
    Jazar, Vehicle Dynamics, eq. (2.32) (published).
    """
    return tyre_radius_m + front_gain_kg * wheelbase_m / (mass_kg * math.tan(tilt_rad))


def items_variance(
    masses: Sequence[PointMass], wheelbase_m: float, axle: Axle | None
) -> float:
    r"""
    Add the variances that tolerances of mass and place bring.

    .. math:: u^2 = \sum (d_i/L)^2 u^2(m_i) + \sum (m_i/L)^2 u^2(d_i)

    Parameters
    ----------
    masses : sequence of PointMass
        Each with its half widths.
    wheelbase_m : float
        Distance between the axle centrelines, > 0. [m]
    axle : {"front", "rear"} or None
        ``None`` for the total, where places do not matter.

    Returns
    -------
    float
        Variance. [kg^2]

    References
    ----------
    JCGM 100:2008 5.1.2 and 4.3.7, half width a gives u = a/sqrt(3) (from memory).
    """
    total = 0.0
    for mass in masses:
        lever = 1.0
        if axle is not None:
            rear = -mass.x_m / wheelbase_m
            lever = rear if axle == "rear" else 1 - rear
            total += (mass.mass_kg / wheelbase_m * mass.x_half_width_m) ** 2
        total += (lever * mass.half_width_kg) ** 2
    return total / 3


@dataclass(frozen=True, slots=True)
class Ranged:
    """Something that is anywhere from nothing to ``loads``, named for the state."""

    label: str
    full: str
    empty: str
    loads: AxleLoads
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Extreme:
    """The worst a quantity can get, and the state in which it does."""

    value_kg: float
    state: tuple[str, ...]


def worst_case(fixed_kg: float, ranges: Sequence[Ranged], axle: Axle | None) -> Extreme:
    """
    Find the exact largest value over ranges that are each empty to full.

    Parameters
    ----------
    fixed_kg : float
        What is there in every state. [kg]
    ranges : sequence of Ranged
        Consumables, seats, luggage, ball load.
    axle : {"front", "rear"} or None
        Which axle; ``None`` for the total.

    Returns
    -------
    Extreme
        Largest value and the state that causes it. [kg]

    Notes
    -----
    Axle loads are linear in every range, so the extreme is at a corner and each range
    decides for itself: exact, and linear in the number of ranges.

    References
    ----------
    Derived: maximum of a linear function over a box.
    """
    value, state = fixed_kg, []
    for item in ranges:
        share = item.loads.on(axle)
        if share > 0:
            value += share
            state.append(item.full)
        elif share < 0:
            state.append(item.empty)
    return Extreme(value, tuple(state))


def extreme_share(
    fixed: AxleLoads, ranges: Sequence[Ranged], *, least: bool
) -> tuple[float, tuple[str, ...]]:
    r"""
    Find the exact least or largest share of the front axle over ranges.

    .. math:: s = \max_c F(c)/M(c): \quad \max_c \left(F(c) - s M(c)\right) = 0

    Parameters
    ----------
    fixed : AxleLoads
        What is there in every state. [kg]
    ranges : sequence of Ranged
        Each empty to full; the total stays positive whatever is empty or full.
    least : bool
        Whether the least or the largest share is sought.

    Returns
    -------
    tuple of float and tuple of str
        Front axle over total, and the state that causes it. [1]

    References
    ----------
    Dinkelbach's method for a ratio of linear functions: the extreme is at a corner,
    and each step finds a better corner or ends (derived; the name from memory).
    """
    sign, share = (-1 if least else 1), fixed.front_kg / fixed.total_kg
    while True:
        loads, state = fixed, []
        for at in ranges:
            gain = sign * (at.loads.front_kg - share * at.mass_kg)
            if gain > 0:
                loads += at.loads
                state.append(at.full)
            elif gain < 0:
                state.append(at.empty)
        found = loads.front_kg / loads.total_kg
        if sign * (found - share) <= 1e-12:
            return share, tuple(state)
        share = found
