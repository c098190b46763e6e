"""The supply as a resistive tree, solved for its steady state."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

MOST_ROUNDS = 100
"""Newton's rounds; four or five do, close to the limit of supply thirty."""


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
        By key; ``None`` when no steady state exists, so the loads cannot be supplied: a
        power beyond what the cables bring, or a current that would drop it all.

    Notes
    -----
    A subtree takes :math:`I = c + g V` from the end of its feeder; folding it behind a
    resistance R gives :math:`(c + g V)/(1 + g R)`, so one pass up and one down solve
    the tree exactly. A constant power enters by its tangent,
    :math:`I \approx 2P/V_0 - P V/V_0^2`. From the source voltage downwards these
    rounds fall to the highest solution and never past it; where :math:`1 + g R` is not
    positive, or a voltage not, there is none. For one load this is where
    :math:`V^2 < 4PR`.

    References
    ----------
    Kirchhoff's laws; Newton's method. Derived.
    """
    voltage = {branch.key: source_v for branch in branches}
    powered = any(branch.power_w for branch in branches)
    for _ in range(MOST_ROUNDS):
        solved = _tangent(source_v, branches, voltage)
        if solved is None:
            return None
        moved = max(
            (abs(solved[key].end_v - end) for key, end in voltage.items()), default=0.0
        )
        if not powered or moved < 1e-10 * source_v:
            return solved
        voltage = {key: at.end_v for key, at in solved.items()}
    return None


def _tangent(
    source_v: float, branches: Sequence[Branch], voltage: Mapping[str, float]
) -> dict[str, Solved] | None:
    """Solve the tree with every constant power replaced by its tangent."""
    drawn = {b.key: b.current_a for b in branches}
    slope = {b.key: b.conductance_s for b in branches}
    for branch in reversed(branches):
        if branch.power_w:
            tangent = branch.power_w / voltage[branch.key]
            drawn[branch.key] += 2 * tangent
            slope[branch.key] -= tangent / voltage[branch.key]
        pivot = 1 + slope[branch.key] * branch.resistance_ohm
        if pivot <= 0:
            return None
        drawn[branch.key] /= pivot
        slope[branch.key] /= pivot
        if branch.parent is not None:
            drawn[branch.parent] += drawn[branch.key]
            slope[branch.parent] += slope[branch.key]
    solved: dict[str, Solved] = {}
    for branch in branches:
        above = source_v if branch.parent is None else solved[branch.parent].end_v
        current = drawn[branch.key] + slope[branch.key] * above
        drop = current * branch.resistance_ohm
        if above - drop <= 0:
            return None
        solved[branch.key] = Solved(current, drop, above - drop)
    return solved
