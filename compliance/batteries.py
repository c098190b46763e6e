"""Batteries: what they give at a current, how long they last, what they take."""

import math
from typing import Literal

from compliance.findings import Change, Step, Way
from compliance.inputs import Battery
from compliance.tables import citation, mark, table


def peukert_hours(
    capacity_ah: float, rate_h: float, current_a: float, exponent: float
) -> float:
    r"""
    Give the time a full battery carries a current.

    .. math:: t = H (C_H / (I H))^k

    Parameters
    ----------
    capacity_ah : float
        Capacity at the rate it is stated for, > 0. [Ah]
    rate_h : float
        That rate, 20 for C20, > 0. [h]
    current_a : float
        Current drawn, > 0. [A]
    exponent : float
        Peukert's exponent, >= 1.

    Returns
    -------
    float
        Time to empty. [h]

    Notes
    -----
    At or below the rated current the rated capacity counts, k = 1. The form
    C / I^k with C the 20-hour capacity is a published mistake.

    References
    ----------
    Peukert's law as battery monitor manuals print it (published).

    Examples
    --------
    >>> round(peukert_hours(100, 20, 20, 1.2), 3)
    3.789
    """
    ratio = capacity_ah / (current_a * rate_h)
    return rate_h * (ratio if ratio >= 1 else ratio**exponent)


def peukert_exponent(
    hours: tuple[float, float], currents_a: tuple[float, float]
) -> float:
    r"""
    Give Peukert's exponent from two discharges.

    .. math:: k = \ln(t_2/t_1) / \ln(I_1/I_2)

    Parameters
    ----------
    hours : tuple of (float, float)
        Times to empty. [h]
    currents_a : tuple of (float, float)
        Their currents, not equal. [A]

    Returns
    -------
    float
        Exponent.

    Raises
    ------
    ValueError
        If the two currents are equal.

    References
    ----------
    As ``peukert_hours``; sixteen of seventeen published pairs reproduce within 0.012.

    Examples
    --------
    >>> round(peukert_exponent((20, 447 / 60), (225 / 20, 25)), 2)
    1.24
    """
    if math.isclose(*currents_a):
        raise ValueError("the two currents must differ")
    return math.log(hours[1] / hours[0]) / math.log(currents_a[0] / currents_a[1])


def standby_days(battery_ah: float, draw_a: float, used_ratio: float = 1.0) -> float:
    """
    Give the days until a parked vehicle has drawn a share of its battery.

    Parameters
    ----------
    battery_ah : float
        Capacity. [Ah]
    draw_a : float
        What it draws standing, > 0. [A]
    used_ratio : float
        Share that may be used, 0 to 1.

    Returns
    -------
    float
        Days.

    References
    ----------
    A vehicle maker's bulletin on parasitic drain: no start after about 40 %
    (published).

    Examples
    --------
    >>> round(standby_days(60, 0.05, 0.4))
    20
    """
    return battery_ah * used_ratio / draw_a / 24


def charge_limit_a(battery: Battery, cell_c: float | None, lead_rate_c: float) -> float:
    """
    Give the most a battery takes at a temperature, by its sheet and its kind.

    Parameters
    ----------
    battery : Battery
        Its own charge temperatures come before those of its kind.
    cell_c : float or None
        Temperature of its cells; ``None`` lets temperature be. [C]
    lead_rate_c : float
        What a lead-acid battery takes, as a share of its capacity. [C]

    Returns
    -------
    float
        Current; infinite where nothing is known to limit it, zero outside the
        temperatures of its own sheet, above 45 °C for lithium without one. The sheet's current is not looked at. [A]

    References
    ----------
    tables/batteries.toml: lithium by temperature (published), lead-acid by its
    capacity (from memory). The table of lithium goes on to 60 °C, other makers stop at
    45 °C: without a sheet of its own the lower of the two holds.
    """
    lead_a = battery.capacity_ah * lead_rate_c
    if cell_c is None:
        return math.inf if battery.chemistry == "lfp" else lead_a
    low, high = battery.charge_min_c, battery.charge_max_c
    if high is None and battery.chemistry == "lfp":
        high = temperature_limit(battery, "charge_max")[0]
    if cell_c < (cell_c if low is None else low):
        return 0.0
    if cell_c > (cell_c if high is None else high):
        return 0.0
    if battery.chemistry != "lfp":
        return lead_a
    # A sheet that allows more than the table gives is believed, at the table's
    # smallest rate.
    rates = table("batteries")["lfp_charge_rate"]
    if low is not None:
        cell_c = max(cell_c, float(rates["from_c"][0]))
    cell_c = min(cell_c, float(rates["up_to_c"]))
    return lfp_charge_a(battery.capacity_ah, cell_c)


Limit = Literal["charge_min", "charge_max", "discharge_min", "discharge_max"]


def temperature_limit(battery: Battery, limit: Limit) -> tuple[float, Step]:
    """
    Give a temperature a battery may be used at, by its sheet or by its kind.

    Parameters
    ----------
    battery : Battery
        The battery.
    limit : {"charge_min", "charge_max", "discharge_min", "discharge_max"}
        Which of the four.

    Returns
    -------
    tuple of float and Step
        Temperature and where it comes from; the mark ``given`` for its own sheet. [C]

    References
    ----------
    tables/batteries.toml: lithium published by makers, lead-acid from memory.
    """
    own: float | None = getattr(battery, f"{limit}_c")
    entry = "lfp_temperature" if battery.chemistry == "lfp" else "lead_temperature"
    value = float(table("batteries")[entry]["value"][limit]) if own is None else own
    use, end = limit.split("_")
    step = Step(
        label=f"{use}, {'least' if end == 'min' else 'most'}",
        formula=f"for {battery.chemistry}" if own is None else "its own sheet",
        value=value,
        unit="°C",
        source=citation("batteries", entry) if own is None else "line item",
        mark=mark("batteries", entry) if own is None else "given",
    )
    return value, step


def charge_edges_c(battery: Battery) -> list[float]:
    """
    Give the temperatures at which what a battery takes may change.

    Parameters
    ----------
    battery : Battery
        The battery.

    Returns
    -------
    list of float
        Ascending, none of them outside its limits for charging. [C]

    References
    ----------
    tables/batteries.toml, lfp_charge_rate and the temperatures of each kind.
    """
    low = temperature_limit(battery, "charge_min")[0]
    high = temperature_limit(battery, "charge_max")[0]
    edges = {low, high}
    if battery.chemistry == "lfp":
        rows = [float(row) for row in table("batteries")["lfp_charge_rate"]["from_c"]]
        # The upper end of a row is as far as the next begins.
        edges |= {*rows, *(row - 0.5 for row in rows[1:])}
    return sorted(edge for edge in edges if low <= edge <= high)


def moved_out(battery: Battery) -> Way:
    """
    Give the way that takes a battery out of the engine space.

    Parameters
    ----------
    battery : Battery
        The battery, in the engine space by its zone or by its place.

    Returns
    -------
    Way
        Not tried yet.
    """
    changes = (
        Change("items", battery.key, "zone", "cargo"),
        Change("batteries", battery.key, "place", None),
    )
    return Way("move it out of the engine space", changes)


def absorbs_ratio(chemistry: str) -> float:
    r"""
    Give the share of its missing charge that a battery takes within an hour.

    .. math:: 1 - e^{-1/\tau}

    Parameters
    ----------
    chemistry : str
        ``lfp``, ``agm`` or ``flooded``.

    Returns
    -------
    float
        Ratio; 1 for lithium, whose current does not fall before it is full.

    References
    ----------
    tables/batteries.toml, lead_absorption_h (derived).
    """
    if chemistry == "lfp":
        return 1.0
    return 1 - math.exp(-1 / float(table("batteries")["lead_absorption_h"]["value"]))


def lfp_charge_a(capacity_ah: float, cell_c: float) -> float:
    """
    Give the current a lithium iron phosphate battery may be charged with.

    Parameters
    ----------
    capacity_ah : float
        Capacity. [Ah]
    cell_c : float
        Temperature of its cells. [C]

    Returns
    -------
    float
        Largest charge current; zero below freezing and above the last row. [A]

    References
    ----------
    tables/batteries.toml (published by a maker); the battery's own sheet and the
    limit of its management system come before it.

    Examples
    --------
    >>> lfp_charge_a(100, 7)
    20.0
    """
    data = table("batteries")["lfp_charge_rate"]
    rows = [n for n, start in enumerate(data["from_c"]) if start <= cell_c]
    if not rows or cell_c > data["up_to_c"]:
        return 0.0
    return capacity_ah * float(data["value"][rows[-1]])
