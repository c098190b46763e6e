"""The power side against other ways of computing it, and what must always hold."""

from __future__ import annotations

import datetime
import random

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.network import Branch, solve_tree
from compliance.sun import extraterrestrial
from compliance.tables import table
from compliance.wiring import (
    constant_power_a,
    resistance_ohm_per_m,
    run_ohm,
)


def test_a_power_that_no_cable_brings_is_no_solution():
    # 12 V over 0.1 ohm delivers at most V^2 / 4R = 360 W.
    assert constant_power_a(359.9, 12, 0.1) is not None
    assert constant_power_a(360.1, 12, 0.1) is None
    assert solve_tree(12, [Branch("inverter", None, 0.1, power_w=360.1)]) is None


# pvlib 0.16 uses a pandas name that pandas is about to drop.
@pytest.mark.filterwarnings("ignore::pandas.errors.Pandas4Warning")
@pytest.mark.parametrize("latitude", [-44, -34, -20, 0, 20, 40])
def test_the_sun_above_the_air_against_pvlib(latitude: float):
    """Integrated from pvlib's solar position; the page this came from allows 3 %."""
    for month in (1, 3, 6, 9, 12):
        day = datetime.date(2025, month, 15)
        times = pd.date_range(day, periods=24 * 12, freq="5min", tz="UTC")
        place = pvlib.solarposition.get_solarposition(times, latitude, 0.0)
        above = np.cos(np.radians(place["zenith"])).clip(lower=0)
        normal = pvlib.irradiance.get_extra_radiation(times)
        mj = float((above * normal).sum() * 300 / 1e6)
        ours = extraterrestrial(latitude, day.timetuple().tm_yday).ra_mj_m2

        assert ours == pytest.approx(mj, rel=0.03)


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
    solved = solve_tree(12.8, branches)

    assert solved is not None
    for key, end_v in nodal(12.8, branches).items():
        assert solved[key].end_v == pytest.approx(end_v, abs=1e-7)


AREAS = st.sampled_from(table("conductors")["class5_20c"]["area_mm2"])


@given(AREAS, AREAS, st.floats(0.1, 20), st.floats(-20, 120))
def test_more_cable_never_raises_the_drop(one, other, run_m, conductor_c):
    small, large = sorted((one, other))

    assert run_ohm(large, run_m, conductor_c) <= run_ohm(small, run_m, conductor_c)


@given(st.floats(0.1, 200), st.floats(-20, 119), st.floats(0.1, 100))
def test_a_warmer_conductor_resists_more(area, cold, warmer):
    assert resistance_ohm_per_m(area, cold) < resistance_ohm_per_m(area, cold + warmer)
