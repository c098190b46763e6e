"""Energy over days: what is drawn, what comes in, how long it lasts."""

from collections.abc import Sequence
from dataclasses import dataclass

from compliance.tables import table


def fridge_duty(ambient_c: float) -> float:
    """
    Give the share of time a fridge's compressor runs.

    Parameters
    ----------
    ambient_c : float
        Air around it. [C]

    Returns
    -------
    float
        Ratio 0 to 1, held at the ends of the table.

    References
    ----------
    tables/energy.toml, fridge_duty: common practice, no published test was found.
    """
    curve = table("energy")["fridge_duty"]
    xs, ys = curve["ambient_c"], curve["value"]
    if ambient_c <= xs[0]:
        return float(ys[0])
    for (x0, y0), (x1, y1) in zip(
        zip(xs, ys, strict=True), zip(xs[1:], ys[1:], strict=True), strict=False
    ):
        if ambient_c <= x1:
            return float(y0 + (y1 - y0) * (ambient_c - x0) / (x1 - x0))
    return float(ys[-1])


def charger_input_a(
    out_a: float, out_v: float, efficiency: float, in_v: float
) -> float:
    r"""
    Give the current a charger takes from its source.

    .. math:: I_{in} = I_{out} V_{out} / (\eta V_{in})

    Parameters
    ----------
    out_a, out_v : float
        Output. [A, V]
    efficiency : float
        Ratio, above 0 to 1.
    in_v : float
        Voltage at its input, > 0; the lowest it works at decides cable and fuse. [V]

    Returns
    -------
    float
        Input current. [A]

    Raises
    ------
    ValueError
        If efficiency or voltage is not positive.

    References
    ----------
    Power balance; 20 A at 14.4 V from 12.8 V with 0.92 takes 24.5 A (derived).

    Examples
    --------
    >>> round(charger_input_a(20, 14.4, 0.92, 12.8), 1)
    24.5
    """
    if not (efficiency > 0 and in_v > 0):
        raise ValueError("efficiency and input voltage must be positive")
    return out_a * out_v / (efficiency * in_v)


@dataclass(frozen=True, slots=True)
class Day:
    """One day's balance of a battery. [Ah]"""

    load_ah: float
    solar_ah: float
    drive_ah: float

    @property
    def net_ah(self) -> float:
        """What the day adds; negative when it draws the battery down. [Ah]"""
        return self.solar_ah + self.drive_ah - self.load_ah


def state_of_charge(
    capacity_ah: float,
    load_a: float,
    solar_ah: float,
    daylight_h: float,
    drive_a: float,
    drive_h: float,
    days: int,
) -> list[float]:
    """
    Follow a battery hour by hour from full at midnight.

    Parameters
    ----------
    capacity_ah : float
        Capacity, > 0. [Ah]
    load_a : float
        Mean current drawn all day. [A]
    solar_ah : float
        What the sun brings in a day, losses taken off. [Ah]
    daylight_h : float
        Length of the day, centred on noon. [h]
    drive_a, drive_h : float
        Charge while driving, from 9 o'clock on. [A, h]
    days : int
        Days to follow, >= 1.

    Returns
    -------
    list of float
        State of charge after each hour, 0 to 1, 24 entries a day.

    Raises
    ------
    ValueError
        If ``capacity_ah`` is not positive.

    Notes
    -----
    The sun is spread evenly over the daylight hours; a full battery takes no more.

    References
    ----------
    Derived: charge balance.
    """
    if not capacity_ah > 0:
        raise ValueError("the capacity must be positive")
    sunrise = 12 - daylight_h / 2
    day: list[float] = []
    for hour in range(24):
        lit = max(0.0, min(hour + 1, 24 - sunrise) - max(hour, sunrise))
        sun = solar_ah * lit / daylight_h if daylight_h else 0.0
        driven = max(0.0, min(hour + 1, 9 + drive_h) - max(hour, 9))
        day.append(sun + drive_a * driven - load_a)
    charge, found = capacity_ah, []
    for _ in range(days):
        for change in day:
            charge = min(capacity_ah, max(0.0, charge + change))
            found.append(charge / capacity_ah)
    return found


def hours_to_reserve(soc: Sequence[float], reserve_ratio: float) -> int | None:
    """
    Say after how many hours the reserve is touched.

    Parameters
    ----------
    soc : sequence of float
        Hourly state of charge.
    reserve_ratio : float
        State of charge that should not be passed.

    Returns
    -------
    int or None
        Hours, ``None`` if it never is.

    References
    ----------
    Derived.
    """
    for hour, ratio in enumerate(soc, start=1):
        if ratio < reserve_ratio - 1e-9:
            return hour
    return None
