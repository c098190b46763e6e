"""The supply tree against two other ways of solving it."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from power_grid_model import (
    CalculationMethod,
    ComponentType,
    DatasetType,
    LoadGenType,
    PowerGridModel,
    initialize_array,
)

from compliance.network import Branch, solve_tree
from compliance.tables import table
from compliance.wiring import constant_power_a, resistance_ohm_per_m, run_ohm

SOURCE_V = 12.8


def test_a_power_that_no_cable_brings_is_no_solution():
    # 12 V over 0.1 ohm delivers at most V^2 / 4R = 360 W.
    assert constant_power_a(359.9, 12, 0.1) is not None
    assert constant_power_a(360.1, 12, 0.1) is None
    assert solve_tree(12, [Branch("inverter", None, 0.1, power_w=360.1)]) is None


def a_tree(seed: int) -> list[Branch]:
    dice = random.Random(seed)
    branches: list[Branch] = []
    for n in range(dice.randint(1, 25)):
        parent = dice.choice([None, *(b.key for b in branches)])
        branches.append(
            Branch(
                f"c{n}",
                parent,
                dice.uniform(0.0005, 0.01),
                current_a=dice.uniform(0, 8),
                power_w=dice.choice([0.0, dice.uniform(0, 40)]),
                conductance_s=dice.choice([0.0, dice.uniform(0, 0.5)]),
            )
        )
    return branches


def nodal(source_v: float, branches: list[Branch]) -> dict[str, float]:
    """Node voltages from the conductance matrix; constant powers by repetition."""
    index = {branch.key: n for n, branch in enumerate(branches)}
    voltage = np.full(len(branches), source_v)
    for _ in range(200):
        matrix = np.zeros((len(branches), len(branches)))
        currents = np.zeros(len(branches))
        for branch in branches:
            n, g = index[branch.key], 1 / branch.resistance_ohm
            matrix[n, n] += g + branch.conductance_s
            currents[n] -= branch.current_a + branch.power_w / voltage[n]
            if branch.parent is None:
                currents[n] += g * source_v
            else:
                m = index[branch.parent]
                matrix[m, m] += g
                matrix[n, m] -= g
                matrix[m, n] -= g
        new = np.linalg.solve(matrix, currents)
        if np.max(np.abs(new - voltage)) < 1e-12:
            break
        voltage = new
    return {key: float(voltage[n]) for key, n in index.items()}


@pytest.mark.parametrize("seed", range(25))
def test_the_tree_against_a_nodal_solution(seed: int):
    branches = a_tree(seed)
    solved = solve_tree(SOURCE_V, branches)

    assert solved is not None
    for key, end_v in nodal(SOURCE_V, branches).items():
        assert solved[key].end_v == pytest.approx(end_v, abs=1e-7)


def filled(kind: ComponentType, rows: list[dict[str, float]]) -> np.ndarray:
    """Rows of the reference library, every column of them given."""
    made = initialize_array(DatasetType.input, kind, len(rows))
    for name in rows[0]:
        made[name] = [row[name] for row in rows]
    return made


def power_flow(source_v: float, branches: list[Branch]) -> dict[str, tuple]:
    """
    Let a power-flow library solve the tree.

    Without reactance and reactive power its three-phase equations in line voltages
    are those of direct current: S = U^2/R. Currents are 1/sqrt(3) of ours.
    """
    battery, ids = 0, {branch.key: n for n, branch in enumerate(branches, 1)}
    lines, loads, numbers = [], [], iter(range(len(branches) + 1, 10_000))
    for branch in branches:
        lines.append(
            {
                "id": next(numbers),
                "from_node": ids[branch.parent] if branch.parent else battery,
                "to_node": ids[branch.key],
                "from_status": 1,
                "to_status": 1,
                "r1": branch.resistance_ohm,
                "x1": 0.0,
                "c1": 0.0,
                "tan1": 0.0,
            }
        )
        for kind, watts in (
            (LoadGenType.const_power, branch.power_w),
            (LoadGenType.const_current, branch.current_a * source_v),
            (LoadGenType.const_impedance, branch.conductance_s * source_v**2),
        ):
            loads.append(
                {
                    "id": next(numbers),
                    "node": ids[branch.key],
                    "status": 1,
                    "type": kind,
                    "p_specified": watts,
                    "q_specified": 0.0,
                }
            )
    nodes = [{"id": n, "u_rated": source_v} for n in (battery, *ids.values())]
    # A short-circuit power so large that the source itself drops nothing.
    source = {"id": next(numbers), "node": battery, "status": 1, "u_ref": 1.0}
    model = PowerGridModel(
        {
            ComponentType.node: filled(ComponentType.node, nodes),
            ComponentType.line: filled(ComponentType.line, lines),
            ComponentType.sym_load: filled(ComponentType.sym_load, loads),
            ComponentType.source: filled(
                ComponentType.source, [{**source, "sk": 1e20}]
            ),
        }
    )
    out = model.calculate_power_flow(
        calculation_method=CalculationMethod.newton_raphson,
        error_tolerance=1e-12,
        max_iterations=50,
    )
    volts = dict(
        zip(
            out[ComponentType.node]["id"].tolist(),
            out[ComponentType.node]["u"].tolist(),
            strict=True,
        )
    )
    amps = (out[ComponentType.line]["i_from"] * 3**0.5).tolist()
    return {
        branch.key: (volts[ids[branch.key]], amps[n])
        for n, branch in enumerate(branches)
    }


@pytest.mark.parametrize("seed", range(100, 140))
def test_the_tree_against_a_power_flow_library(seed: int):
    branches = a_tree(seed)
    solved = solve_tree(SOURCE_V, branches)

    assert solved is not None
    for key, (end_v, current_a) in power_flow(SOURCE_V, branches).items():
        assert solved[key].end_v == pytest.approx(end_v, rel=0, abs=1e-6)
        assert solved[key].current_a == pytest.approx(current_a, rel=1e-6, abs=1e-5)


def test_the_library_tells_a_wrong_tree_from_a_right_one():
    """One-way instead of loop resistance, the oldest slip, must not pass."""
    branches = a_tree(7)
    halved = [
        Branch(b.key, b.parent, b.resistance_ohm / 2, b.current_a, b.power_w)
        for b in branches
    ]
    solved = solve_tree(SOURCE_V, halved)

    assert solved is not None
    apart = [
        abs(solved[key].end_v - end_v)
        for key, (end_v, _) in power_flow(SOURCE_V, branches).items()
    ]
    assert max(apart) > 0.01


AREAS = st.sampled_from(table("conductors")["class5_20c"]["area_mm2"])


@given(AREAS, AREAS, st.floats(0.1, 20), st.floats(-20, 120))
def test_more_cable_never_raises_the_drop(one, other, run_m, conductor_c):
    small, large = sorted((one, other))

    assert run_ohm(large, run_m, conductor_c) <= run_ohm(small, run_m, conductor_c)


@given(st.floats(0.1, 200), st.floats(-20, 119), st.floats(0.1, 100))
def test_a_warmer_conductor_resists_more(area, cold, warmer):
    assert resistance_ohm_per_m(area, cold) < resistance_ohm_per_m(area, cold + warmer)
