"""Copper in millimetres and square millimetres: resistance, drop, fault current."""

import math

from compliance.tables import table

CONDUCTOR_C = float(table("conductors")["working_temperature"]["value"])
"""Operating temperature of a conductor in a vehicle, 50 to 60 C. Common practice."""


def resistance_ohm_per_m(area_mm2: float, conductor_c: float = CONDUCTOR_C) -> float:
    """
    Give the resistance of one metre of copper conductor.

    Parameters
    ----------
    area_mm2 : float
        Copper area, > 0; standard areas are read, others computed. [mm2]
    conductor_c : float
        Conductor temperature. [C]

    Returns
    -------
    float
        Resistance, one way. [ohm/m]

    Raises
    ------
    ValueError
        If ``area_mm2`` is not positive.

    References
    ----------
    IEC 60228 class 5 (published); other areas 19.8 ohm mm2/km (derived from it).

    Examples
    --------
    >>> round(resistance_ohm_per_m(6, 20), 6)
    0.0033
    """
    if not area_mm2 > 0:
        raise ValueError("the cable area must be positive")
    data = table("conductors")
    standard = data["class5_20c"]
    per_km: float
    if area_mm2 in standard["area_mm2"]:
        per_km = standard["value"][standard["area_mm2"].index(area_mm2)]
    else:
        per_km = data["effective_resistivity"]["value"] / area_mm2
    alpha: float = data["temperature_coefficient_20c"]["value"]
    return per_km / 1000 * (1 + alpha * (conductor_c - 20))


def run_ohm(
    area_mm2: float,
    run_m: float,
    conductor_c: float = CONDUCTOR_C,
    extra_ohm: float = 0.0,
) -> float:
    """
    Give the resistance out and back of one run.

    Parameters
    ----------
    area_mm2 : float
        Copper area. [mm2]
    run_m : float
        Length one way, >= 0. [m]
    conductor_c : float
        Conductor temperature. [C]
    extra_ohm : float
        Joints, chassis return. [ohm]

    Returns
    -------
    float
        Loop resistance. [ohm]

    References
    ----------
    Derived: R = 2 L R'.
    """
    return 2 * run_m * resistance_ohm_per_m(area_mm2, conductor_c) + extra_ohm


STANDARD_AREAS_MM2: tuple[float, ...] = tuple(
    table("conductors")["class5_20c"]["area_mm2"]
)


def awg_area_mm2(size: str) -> float:
    r"""
    Give the copper area behind an AWG or B&S number.

    .. math:: d = 0.127 \cdot 92^{(36 - n)/39}, \quad A = \pi d^2 / 4

    Parameters
    ----------
    size : str
        ``"20"`` to ``"1"``, ``"1/0"`` to ``"4/0"``; ``"0"`` to ``"0000"`` are read too.

    Returns
    -------
    float
        Copper area of the solid wire. [mm2]

    Raises
    ------
    ValueError
        If there is no such size.

    Notes
    -----
    SAE cable of the same number is 5 to 12 % smaller; give its area instead.

    References
    ----------
    ASTM B258 (published, as quoted).

    Examples
    --------
    >>> round(awg_area_mm2("12"), 4)
    3.3088
    """
    data = table("cable_sizes")
    name = f"{len(size)}/0" if size and set(size) == {"0"} else size
    number = data["awg_numbers"]["value"].get(name)
    if number is None:
        known = ", ".join(data["awg_numbers"]["value"])
        raise ValueError(f"{size!r} is not an AWG size; known: {known}")
    diameter = data["awg_diameter_36"]["value"] * 92 ** ((36 - number) / 39)
    return float(math.pi * diameter**2 / 4)


def auto_area_mm2(auto_mm: float) -> float:
    """
    Give the copper area behind an auto cable's number.

    Parameters
    ----------
    auto_mm : float
        Number it is sold by, its diameter over the insulation. [mm]

    Returns
    -------
    float
        Copper area. [mm2]

    Raises
    ------
    ValueError
        If no such cable is sold.

    References
    ----------
    tables/cable_sizes.toml (published by a wholesaler).

    Examples
    --------
    >>> auto_area_mm2(6)
    4.59
    """
    data = table("cable_sizes")["auto_area"]
    if auto_mm not in data["auto_mm"]:
        known = ", ".join(f"{mm:g}" for mm in data["auto_mm"])
        raise ValueError(f"{auto_mm:g} is not an auto cable size; known: {known}")
    return float(data["value"][data["auto_mm"].index(auto_mm)])


def fault_current_a(source_v: float, resistance_ohm: float) -> float:
    """
    Give the current into a dead short behind a resistance.

    Parameters
    ----------
    source_v : float
        Open-circuit voltage. [V]
    resistance_ohm : float
        Cells, links and cable together, > 0. [ohm]

    Returns
    -------
    float
        Prospective short-circuit current. [A]

    Raises
    ------
    ValueError
        If ``resistance_ohm`` is not positive.

    References
    ----------
    Ohm's law; 14 V over 3.75 mohm gives 3733 A (published maker's example).
    """
    if not resistance_ohm > 0:
        raise ValueError("the resistance must be positive")
    return source_v / resistance_ohm


def withstand_s(area_mm2: float, fault_a: float, k: float) -> float:
    r"""
    Give the time a cable's insulation stands a fault current.

    .. math:: t = (k S / I)^2

    Parameters
    ----------
    area_mm2 : float
        Copper area. [mm2]
    fault_a : float
        Fault current, > 0. [A]
    k : float
        Factor of the insulation, tables/fuses.toml. [A s^0.5/mm2]

    Returns
    -------
    float
        Time in which the fuse must have opened. [s]

    References
    ----------
    IEC 60364-4-43, I2t <= (kS)2 (from memory).
    """
    return (k * area_mm2 / fault_a) ** 2


def constant_power_a(
    power_w: float, source_v: float, resistance_ohm: float
) -> float | None:
    r"""
    Give the current of a constant power behind a resistance.

    .. math:: I = (V - \sqrt{V^2 - 4PR}) / 2R = 2P / (V + \sqrt{V^2 - 4PR})

    Parameters
    ----------
    power_w : float
        Power taken at the far end. [W]
    source_v : float
        Voltage at the source. [V]
    resistance_ohm : float
        Resistance between, >= 0. [ohm]

    Returns
    -------
    float or None
        Current; ``None`` when the power cannot be supplied. [A]

    References
    ----------
    Derived: root of R I^2 - V I + P = 0 with the higher voltage, in the form that
    loses no digits where R is small.
    """
    inside = source_v**2 - 4 * power_w * resistance_ohm
    if inside < 0:
        return None
    return 2 * power_w / (source_v + math.sqrt(inside))
