"""Cables, fuses and the supply tree: voltage at each load, and what protects it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from compliance.tables import table

CONDUCTOR_C = 60.0
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


def ampacity_a(
    area_mm2: float, insulation_c: float, *, engine_space: bool
) -> float | None:
    """
    Give the current a cable carries continuously.

    Parameters
    ----------
    area_mm2 : float
        Copper area; between two rows the smaller row counts. [mm2]
    insulation_c : float
        Temperature rating; between two columns the lower column counts. [C]
    engine_space : bool
        Derate for the engine space.

    Returns
    -------
    float or None
        Current; ``None`` below the smallest row or where the cable may not be used.
        [A]

    References
    ----------
    ISO 10133 Annex A (from memory; configurable, see tables/ampacity_iso10133.toml).
    """
    data = table("ampacity_iso10133")
    rows = [n for n, a in enumerate(data["ampacity"]["area_mm2"]) if a <= area_mm2]
    columns = [
        n for n, c in enumerate(data["insulation"]["value"]) if c <= insulation_c
    ]
    if not rows or not columns:
        return None
    amps = float(data["ampacity"]["value"][rows[-1]][columns[-1]])
    if engine_space:
        amps *= float(data["engine_space_factor"]["value"][columns[-1]])
    return amps or None


def next_fuse_a(minimum_a: float) -> float | None:
    """
    Give the smallest fuse of the series that is not below a current.

    Parameters
    ----------
    minimum_a : float
        Smallest rating allowed. [A]

    Returns
    -------
    float or None
        Rating; ``None`` above the largest of the series. [A]

    References
    ----------
    tables/fuses.toml, series (from memory).
    """
    fitting = [f for f in table("fuses")["series"]["value"] if f >= minimum_a - 1e-9]
    return float(fitting[0]) if fitting else None


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


@dataclass(frozen=True, slots=True)
class Branch:
    """One circuit of the tree: resistance to its feeder and what hangs at its end.

    ``current_a`` is drawn whatever the voltage, ``power_w`` is held constant,
    ``conductance_s`` follows the voltage.
    """

    key: str
    parent: str | None
    resistance_ohm: float
    current_a: float = 0.0
    power_w: float = 0.0
    conductance_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Solved:
    """Steady state of one branch."""

    current_a: float
    drop_v: float
    end_v: float


def solve_tree(
    source_v: float, branches: Sequence[Branch]
) -> Mapping[str, Solved] | None:
    r"""
    Solve a radial supply with constant-current, constant-power and resistive loads.

    Parameters
    ----------
    source_v : float
        Voltage at the battery, > 0. [V]
    branches : sequence of Branch
        Parents before children; ``parent`` ``None`` hangs on the battery.

    Returns
    -------
    mapping of str to Solved, or None
        By key; ``None`` when no steady state exists, so the loads cannot be supplied.

    Notes
    -----
    Currents are swept up, voltages down, until they stand still. A constant power
    wants more current the lower its voltage; below half the source voltage that has
    no stable answer, I = (V - sqrt(V^2 - 4PR)) / 2R has no real root.

    References
    ----------
    Kirchhoff's laws; backward-forward sweep of radial networks.
    """
    voltage = {b.key: source_v for b in branches}
    currents: dict[str, float] = {}
    nonlinear = any(b.power_w or b.conductance_s for b in branches)
    for _ in range(200 if nonlinear else 1):
        currents = {
            b.key: b.current_a
            + (b.power_w / voltage[b.key] if b.power_w else 0.0)
            + b.conductance_s * voltage[b.key]
            for b in branches
        }
        for branch in reversed(branches):
            if branch.parent is not None:
                currents[branch.parent] += currents[branch.key]
        moved = 0.0
        for branch in branches:
            above = source_v if branch.parent is None else voltage[branch.parent]
            end = above - currents[branch.key] * branch.resistance_ohm
            if branch.power_w and end <= source_v / 2:
                return None
            moved = max(moved, abs(end - voltage[branch.key]))
            voltage[branch.key] = end
        if moved < 1e-10 * source_v:
            break
    else:
        if nonlinear:
            return None
    return {
        b.key: Solved(
            currents[b.key], currents[b.key] * b.resistance_ohm, voltage[b.key]
        )
        for b in branches
    }


def constant_power_a(
    power_w: float, source_v: float, resistance_ohm: float
) -> float | None:
    r"""
    Give the current of a constant power behind a resistance.

    .. math:: I = (V - \sqrt{V^2 - 4PR}) / 2R

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
    Derived: root of R I^2 - V I + P = 0 with the higher voltage.
    """
    if resistance_ohm == 0:
        return power_w / source_v
    inside = source_v**2 - 4 * power_w * resistance_ohm
    if inside < 0:
        return None
    return (source_v - math.sqrt(inside)) / (2 * resistance_ohm)
