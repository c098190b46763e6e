"""The worksheets of the power side against the published cases' own tolerances."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from compliance.worksheets import WORKSHEETS, WorksheetError, run

CASES = {
    case["id"]: case["expected"]
    for case in json.loads(
        (Path(__file__).parent.parent / "reference" / "power_cases.json").read_text()
    )["cases"]
}
POWER = [
    "cable-drop",
    "cable-size",
    "fuse",
    "constant-power",
    "peukert",
    "charger-input",
    "sun",
    "solar-yield",
    "energy-day",
    "fault-current",
    "standby",
    "charge-window",
    "tyre-fill",
    "tyre",
]


def near(entry: dict[str, Any]) -> Any:
    return pytest.approx(
        entry["value"], rel=entry.get("rel_tol", 0), abs=entry.get("abs_tol", 0)
    )


@pytest.mark.parametrize("name", POWER)
def test_its_example_computes_with_working_and_marks(name: str):
    result = run(name, WORKSHEETS[name].example())

    assert result["working"]
    for step in result["working"]:
        assert step["source"]
        assert step["mark"] in (
            "published",
            "common practice",
            "from memory",
            "derived",
            "given",
        )


@pytest.mark.parametrize("name", POWER)
def test_it_refuses_what_is_no_number(name: str):
    field = next(f for f in WORKSHEETS[name].fields if f.required)

    with pytest.raises(WorksheetError) as caught:
        run(name, {**WORKSHEETS[name].example(), field.name: float("nan")})

    assert caught.value.field.startswith(field.name)


def test_cable_drop_counts_out_and_back():
    result = run(
        "cable-drop",
        {
            "system_v": 12,
            "conductor_temp_c": 20,
            "segments": [{"area_mm2": 6, "run_m": 6, "current_a": 10}],
        },
    )

    assert result["drop_v"] == near(CASES["P01"]["drop_v"])
    assert result["drop_percent"] == near(CASES["P01"]["drop_pct"])


def test_fuse_and_its_smallest_cable():
    result = run(
        "fuse",
        {
            "current_a": 30,
            "load_factor": 0.8,
            "insulation_c": 105,
            "engine_space": True,
        },
    )

    assert result["minimum_a"] == near(CASES["P08"]["min_rating_a"])
    assert result["fuse_a"] == CASES["P08"]["fuse_a"]
    assert result["smallest_area_mm2"] == CASES["P08"]["smallest_mm2"]


def test_charger_input_and_its_fuse():
    result = run(
        "charger-input",
        {
            "out_a": 40,
            "out_v": 14.4,
            "efficiency": 0.92,
            "in_v": 12.8,
            "load_factor": 0.8,
        },
    )

    assert result["input_a"] == near(CASES["P11"]["input_a"])
    assert result["fuse_a"] == CASES["P11"]["fuse_a"]


def test_sun_and_energy_of_a_day():
    sun = run("sun", {"latitude_deg": -20, "day_of_year": 246})
    day = run(
        "energy-day",
        {
            "loads": [
                {"label": "fridge", "current_a": 4.5, "hours": 24, "duty": 0.35},
                {"label": "lights", "current_a": 2, "hours": 4, "duty": 1},
                {"label": "radio", "current_a": 0.6, "hours": 6, "duty": 1},
                {"label": "devices", "current_a": 2, "hours": 3, "duty": 1},
                {"label": "pump", "current_a": 6, "hours": 0.25, "duty": 1},
            ],
            "battery_ah": 100,
            "usable_ratio": 0.8,
            "battery_v": 12.8,
            "solar": {"panel_w": 200, "peak_sun_h": 4.2, "derate": 0.7},
        },
    )

    assert sun["ra_mj_m2"] == near(CASES["P14"]["ra_mj"])
    assert day["load_ah"] == near(CASES["P22"]["load_ah"])
    assert day["net_ah"] == near(CASES["P22"]["net_ah"])
    assert day["autonomy_days"] == near(CASES["P22"]["autonomy_no_sun_d"])
    assert day["autonomy_days_with_sun"] == near(CASES["P22"]["autonomy_with_sun_d"])


def test_standby_and_charging_by_temperature():
    parked = run("standby", {"battery_ah": 60, "draw_a": 0.05, "no_start_ratio": 0.4})
    window = run("charge-window", {"capacity_ah": 100, "temp_c": [-2, 3, 7, 15]})

    assert parked["days_to_no_start"] == near(CASES["P19"]["days_to_no_start"])
    assert window["charge_a"] == [0, 10, 20, 100]
    assert run("charge-window", {"capacity_ah": 100, "temp_c": -2})["charge_a"] == 0


def test_tyre_fill_takes_a_size_or_a_volume():
    inputs = {"from_psi": 18, "to_psi": 40, "free_air_l_min": 130}
    by_size = run("tyre-fill", {**inputs, "size": "265/65R17"})
    by_volume = run("tyre-fill", {**inputs, "volume_l": by_size["volume_l"]})

    assert by_size["time_s"] == near(CASES["P17"]["time_s"])
    assert by_volume["time_s"] == pytest.approx(by_size["time_s"])
    for odd in ({}, {"size": "265/65R17", "volume_l": 80}, {"size": "round"}):
        with pytest.raises(WorksheetError, match="size"):
            run("tyre-fill", {**inputs, **odd})
    with pytest.raises(WorksheetError, match="to_psi"):
        run("tyre-fill", {**inputs, "volume_l": 80, "to_psi": 10})


def test_tyres_carry_their_axle_or_do_not():
    sizes = {"original_size": "265/65R17", "new_size": "285/70R17"}
    heavy = run("tyre", {**sizes, "load_index": 121, "axle_limit_kg": 2900})
    light = run("tyre", {**sizes, "load_index": 121, "axle_limit_kg": 2901})

    # Load index 121 is 1450 kg, ISO 4000-1 series.
    assert heavy["axle_capacity_kg"] == 2900
    assert (heavy["verdict"], light["verdict"]) == ("within", "over")
    assert run("tyre", sizes)["new_mm"] == pytest.approx(17 * 25.4 + 2 * 0.7 * 285)
    with pytest.raises(WorksheetError, match="load_index"):
        run("tyre", {**sizes, "load_index": 199})
