"""Energy over days: what is drawn, what comes in, how long it lasts."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compliance.tables import table


def planning(name: str, kind: str | None = None) -> float:
    """
    Read one planning figure.

    Parameters
    ----------
    name : str
        Entry of ``tables/energy.toml``.
    kind : str or None
        Chemistry, where the figure depends on it.

    Returns
    -------
    float
        The figure, in the unit the table states.

    References
    ----------
    ``tables/energy.toml`` (common practice).
    """
    value = table("energy")[name]["value"]
    return float(value if kind is None else value[kind])


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
    """One day's balance of a battery. [Ah]

    ``solar_ah`` and ``drive_ah`` are what is really taken of sun and driving;
    ``capped_ah`` is what their chargers do not pass on, ``refused_ah`` what the battery
    does not take of the rest.
    """

    load_ah: float
    solar_ah: float
    drive_ah: float
    capped_ah: float = 0.0
    refused_ah: float = 0.0

    @property
    def net_ah(self) -> float:
        """What the day adds; negative when it draws the battery down. [Ah]"""
        return self.solar_ah + self.drive_ah - self.load_ah


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """What draws from a battery and charges it through one day, losses taken off.

    The sun is spread evenly over the daylight hours around noon; driving starts at
    9 o'clock, or earlier where the day would end before it does. ``chargers_a`` is the
    most that the chargers which run while driving give together, ``apart_ratio`` the
    share of the sun that does not come through them, ``charge_limit_a`` the most that
    the battery takes, and ``absorbs_ratio`` the share of what is missing to full that it takes
    within an hour.
    """

    load_a: float
    solar_ah: float = 0.0
    daylight_h: float = 12.0
    drive_a: float = 0.0
    drive_h: float = 0.0
    chargers_a: float = math.inf
    apart_ratio: float = 0.0
    charge_limit_a: float = math.inf
    absorbs_ratio: float = 1.0

    def changes_ah(self) -> list[float]:
        """Charge that each hour of the day would add or takes. [Ah]"""
        return [
            min(self._passed(sun, drive) - self.load_a, self.charge_limit_a)
            for sun, drive in self._offered()
        ]

    def day(self) -> Day:
        """Balance of the day, by what is really taken in each of its hours.

        What is not taken is shared between sun and driving as they bring it. How full
        the battery is does not count here.
        """
        suns, drives, capped, refused = [], [], [], []
        for (sun, drive), net in zip(self._offered(), self.changes_ah(), strict=True):
            offered = sun + drive
            passed, taken = self._passed(sun, drive), net + self.load_a
            share = taken / offered if taken < offered else 1.0
            suns.append(sun * share)
            drives.append(drive * share)
            capped.append(offered - passed)
            refused.append(max(0.0, passed - self.load_a - net))
        return Day(
            self.load_a * 24,
            *(math.fsum(hours) for hours in (suns, drives, capped, refused)),
        )

    def most_a(self) -> float:
        """Most that the battery would be charged with in an hour of the day. [A]"""
        return max(self._passed(*both) for both in self._offered()) - self.load_a

    def _offered(self) -> Iterator[tuple[float, float]]:
        """What the sun and driving would bring in each hour. [Ah]"""
        sunrise = 12 - self.daylight_h / 2
        start = min(9.0, 24 - self.drive_h)
        for hour in range(24):
            lit = _shared(hour, sunrise, 24 - sunrise)
            sun = self.solar_ah * lit / self.daylight_h if lit else 0.0
            yield sun, self.drive_a * _shared(hour, start, start + self.drive_h)

    def _passed(self, sun: float, drive: float) -> float:
        """Give what the chargers pass on of what is offered in an hour. [Ah]"""
        apart = sun * self.apart_ratio
        return min(sun - apart + drive, self.chargers_a) + apart


def _shared(hour: int, start: float, end: float) -> float:
    """Share of an hour of the day that lies between two times."""
    return max(0.0, min(hour + 1, end) - max(hour, start))


def state_of_charge(capacity_ah: float, cycle: Cycle, days: int) -> list[float]:
    """
    Follow a battery hour by hour from full at midnight.

    Parameters
    ----------
    capacity_ah : float
        Capacity, > 0. [Ah]
    cycle : Cycle
        What every day brings and takes.
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
    A full battery takes no more, an empty one gives no more. Chargers feed the loads
    first; what is left over is what the battery may limit.

    References
    ----------
    Derived: charge balance.
    """
    if not capacity_ah > 0:
        raise ValueError("the capacity must be positive")
    day = cycle.changes_ah()
    charge, found = capacity_ah, []
    for _ in range(days):
        for change in day:
            room = (capacity_ah - charge) * cycle.absorbs_ratio
            charge = max(0.0, charge + min(change, room))
            found.append(charge / capacity_ah)
    return found


def autonomy_days(usable_ah: float, load_ah: float, in_ah: float = 0.0) -> float | None:
    """
    Give the days a battery lasts.

    Parameters
    ----------
    usable_ah : float
        Charge that may be used. [Ah]
    load_ah : float
        Drawn a day. [Ah]
    in_ah : float
        Brought in a day, losses taken off. [Ah]

    Returns
    -------
    float or None
        Days; ``None`` where as much comes in as is drawn.

    References
    ----------
    Derived: charge balance.
    """
    short = load_ah - in_ah
    return usable_ah / short if short > 0 else None


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
