"""The worksheets of the power side against the published cases' own tolerances."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from compliance.sun import clear_sky_kwh_m2, extraterrestrial
from compliance.worksheets import WORKSHEETS, WorksheetError, run
from compliance.worksheets.power import MOST_SUN_H

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


def refusal(name: str, inputs: dict[str, Any]) -> WorksheetError:
    with pytest.raises(WorksheetError) as caught:
        run(name, inputs)
    assert str(caught.value).endswith(".")
    return caught.value


def with_(name: str, **changed: Any) -> dict[str, Any]:
    """The sheet's example with some fields changed, None taking one out."""
    inputs = {**WORKSHEETS[name].example(), **changed}
    return {field: value for field, value in inputs.items() if value is not None}


@pytest.mark.parametrize(
    ("name", "changed", "field"),
    [
        ("cable-drop", {"segments": [{"run_m": 1, "current_a": 1}]}, "area_mm2"),
        (
            "cable-drop",
            {"segments": [{"awg": "7", "run_m": 1, "current_a": 1}]},
            "segments[0].awg",
        ),
        (
            "cable-drop",
            {"segments": [{"auto_mm": 7, "run_m": 1, "current_a": 1}]},
            "segments[0].auto_mm",
        ),
        ("cable-size", {"fuse_a": 5, "current_a": 10}, "fuse_a"),
        ("constant-power", {"resistance_ohm": 0.1, "area_mm2": 6}, "area_mm2"),
        ("peukert", {"exponent": None}, "exponent"),
        ("peukert", {"exponent": 1.2, "reserve_min": 100}, "exponent"),
        (
            "peukert",
            {"exponent": None, "reserve_min": 1200, "reserve_a": 5},
            "reserve_min",
        ),
        (
            "peukert",
            {"exponent": None, "second_capacity_ah": 200, "second_rate_h": 5},
            "second_capacity_ah",
        ),
        ("peukert", {"exponent": None, "reserve_min": 100}, "reserve_a"),
        ("charger-input", {"out_a": 1000}, "out_a"),
        ("sun", {"day_of_year": 10.5}, "day_of_year"),
        ("solar-yield", {"derate": None}, "derate"),
        ("solar-yield", {"derate": 0.7, "air_c": 30}, "air_c"),
        ("solar-yield", {"derate": None, "air_c": 30}, "irradiance_w_m2"),
        ("fault-current", {"area_mm2": None, "withstand_k": 115}, "area_mm2"),
        ("tyre", {"new_size": "wide"}, "new_size"),
        ("tyre", {"load_index": 200}, "load_index"),
        ("tyre", {"load_index": 112.5}, "load_index"),
        ("tyre-fill", {"from_psi": 40, "to_psi": 18}, "to_psi"),
        ("fuse", {"load_factor": 1.25}, "load_factor"),
        ("fuse", {"load_factor": -0.8}, "load_factor"),
        ("charger-input", {"load_factor": 1.25}, "load_factor"),
        ("tyre-fill", {"size": None, "volume_l": None}, "size"),
    ],
)
def test_it_says_which_field_cannot_be(name, changed, field):
    assert refusal(name, with_(name, **changed)).field.endswith(field)


def test_a_number_is_an_awg_size_and_a_yes_is_none():
    row = {"run_m": 1, "current_a": 1}
    answer = run("cable-drop", with_("cable-drop", segments=[{"awg": 12, **row}]))
    assert answer["segments"][0]["area_mm2"] == near(CASES["P06"]["area_mm2"])
    for odd in (True, -1, 10**5000):
        refusal("cable-drop", with_("cable-drop", segments=[{"awg": odd, **row}]))


def test_p05_the_same_number_on_two_cables():
    row = {"run_m": 5, "current_a": 25}
    drops = [
        run("cable-drop", with_("cable-drop", conductor_temp_c=20, segments=[segment]))
        for segment in ({"area_mm2": 6, **row}, {"auto_mm": 6, **row})
    ]
    assert drops[0]["drop_v"] == near(CASES["P05"]["drop_v_6mm2"])
    assert drops[1]["drop_v"] == near(CASES["P05"]["drop_v_6mm_auto"])
    assert drops[1]["drop_percent"] == near(CASES["P05"]["drop_pct_6mm_auto"])


@pytest.mark.parametrize(
    ("changed", "area", "governed"),
    [
        ({"run_m": 0.1, "current_a": 1, "fuse_a": None}, 0.75, "smallest size"),
        ({"run_m": 0.1, "current_a": 30, "fuse_a": 40}, 6, "fuse"),
        ({"run_m": 60, "current_a": 300, "fuse_a": None}, None, "drop"),
    ],
)
def test_what_governs_a_cable(changed, area, governed):
    answer = run("cable-size", with_("cable-size", **changed))
    assert answer.get("area_mm2") == area
    assert answer["governed_by"] == governed
    assert any(row["ok"] for row in answer["options"]) == (area is not None)


@pytest.mark.parametrize(
    ("changed", "fuse_a", "feasible"),
    [
        ({"current_a": 30, "area_mm2": 4}, None, False),
        ({"current_a": 30, "area_mm2": 6}, 40, True),
        ({"current_a": 1000, "area_mm2": None}, None, False),
        ({"current_a": 30, "area_mm2": 6, "insulation_c": 60}, None, False),
    ],
)
def test_a_fuse_for_load_and_cable(changed, fuse_a, feasible):
    answer = run("fuse", with_("fuse", engine_space=True, **changed))
    assert answer.get("fuse_a") == fuse_a
    assert answer["feasible"] is feasible


def test_a_power_over_a_cable_and_one_that_no_cable_brings():
    cable = {"area_mm2": 16, "run_m": 4, "conductor_temp_c": 60, "resistance_ohm": None}
    answer = run("constant-power", with_("constant-power", power_w=300, **cable))
    assert answer["feasible"] is True
    taken = 300 / with_("constant-power")["efficiency"]
    assert answer["current_a"] * answer["terminal_v"] == pytest.approx(taken)
    none = run("constant-power", with_("constant-power", power_w=90_000, **cable))
    assert none["feasible"] is False
    assert "current_a" not in none


def test_p09_and_p10_by_each_way_to_the_exponent():
    by_reserve = {"exponent": None, "reserve_min": 447, "reserve_a": 25}
    answer = run("peukert", with_("peukert", capacity_ah=225, **by_reserve))
    assert answer["exponent"] == near(CASES["P09"]["n"][0]["n"])
    by_second = {"exponent": None, "second_capacity_ah": 75.8, "second_rate_h": 3.789}
    answer = run("peukert", with_("peukert", capacity_ah=100, rate_h=20, **by_second))
    assert answer["exponent"] == pytest.approx(1.2, abs=0.001)
    half = run("peukert", with_("peukert", depth_ratio=0.5))
    whole = run("peukert", with_("peukert"))
    assert half["hours"] == pytest.approx(whole["hours"] / 2)


def test_a_hot_panel_gives_less():
    warm = {
        "air_c": 35,
        "irradiance_w_m2": 1000,
        "noct_c": 45,
        "coefficient_per_k": -0.004,
        "other_derate": 1,
    }
    answer = run("solar-yield", with_("solar-yield", derate=None, **warm))
    assert answer["cell_c"] == 66.25
    full = run("solar-yield", with_("solar-yield", derate=1))
    assert answer["wh"] == pytest.approx(0.835 * full["wh"])


def test_no_day_anywhere_has_more_sun_than_is_allowed():
    places = [(south, day) for south in range(-90, 91, 2) for day in (1, 172, 355)]
    most = max(
        clear_sky_kwh_m2(extraterrestrial(*place).ra_mj_m2, 5000) for place in places
    )
    assert MOST_SUN_H - 0.1 < most < MOST_SUN_H
    with pytest.raises(WorksheetError, match=r"at most 11\.5 h") as caught:
        run("solar-yield", with_("solar-yield", peak_sun_h=12))
    assert caught.value.field == "peak_sun_h"
    solar = {"panel_w": 200, "peak_sun_h": 12, "derate": 0.7}
    with pytest.raises(WorksheetError, match=r"at most 11\.5 h"):
        run("energy-day", with_("energy-day", solar=solar))


def test_a_day_without_sun_and_a_day_that_never_ends():
    dark = run("energy-day", with_("energy-day", solar=None))
    assert dark["solar_ah"] == 0
    assert "autonomy_days_with_sun" not in dark
    bright = with_("energy-day", charge_efficiency=0.5)
    bright["solar"] = {"panel_w": 2000, "peak_sun_h": 6, "derate": 0.7}
    answer = run("energy-day", bright)
    assert answer["net_ah"] == pytest.approx(
        0.5 * answer["solar_ah"] - answer["load_ah"]
    )
    assert "autonomy_days_with_sun" not in answer
    nothing = with_("energy-day", solar=None)
    nothing["loads"] = [{"label": "off", "current_a": 0, "hours": 1, "duty": 1}]
    assert "autonomy_days" not in run("energy-day", nothing)


def test_the_mark_of_a_load_index_is_that_of_its_row():
    def last_mark(index: int) -> str:
        answer = run("tyre", with_("tyre", load_index=index, axle_limit_kg=None))
        assert "verdict" not in answer
        return answer["working"][-1]["mark"]

    assert last_mark(112) == "published"
    assert last_mark(121) == "from memory"


def test_a_tyre_change_without_a_load_index_and_air_on_a_mountain():
    answer = run("tyre", with_("tyre", load_index=None, axle_limit_kg=None))
    assert "axle_capacity_kg" not in answer
    sea, high = (
        run("tyre-fill", with_("tyre-fill", atmosphere_psi=psi)) for psi in (None, 10)
    )
    assert high["free_air_l"] == pytest.approx(sea["free_air_l"] * 1.4696)


def test_a_fault_current_without_a_cable_and_a_run_with_joints():
    assert "withstand_s" not in run(
        "fault-current", {"source_v": 14, "resistance_mohm": 3.75}
    )
    row = {"area_mm2": 16, "run_m": 4, "current_a": 10}
    plain, joined = (
        run("cable-drop", with_("cable-drop", segments=[{**row, **extra}]))["drop_v"]
        for extra in ({}, {"extra_ohm": 0.002})
    )
    assert joined == pytest.approx(plain + 0.02)


def test_p13_a_power_behind_a_resistance():
    bare = {"efficiency": 0.9, "resistance_ohm": 0}
    for power, volts, name in (
        (1000, 12, "i_1000w_a"),
        (2000, 12, "i_2000w_a"),
        (2000, 10.5, "i_2000w_cutoff_a"),
    ):
        answer = run("constant-power", {"power_w": power, "source_v": volts, **bare})
        assert answer["current_a"] == near(CASES["P13"][name])


@pytest.mark.parametrize(
    ("name", "field", "default", "own"),
    [
        ("fuse", "load_factor", 0.8, 0.75),
        ("charger-input", "load_factor", 0.8, 0.75),
        ("charger-input", "efficiency", 0.92, 0.9),
        ("standby", "no_start_ratio", 0.4, 0.3),
        ("solar-yield", "derate", 0.7, 0.6),
        ("cable-drop", "conductor_temp_c", 60, 50),
        ("cable-size", "limit_percent", 3, 5),
    ],
)
def test_a_planning_figure_shows_its_mark_and_ones_own_is_given(
    name: str, field: str, default: float, own: float
):
    def mark(value: float) -> set[str]:
        answer = run(name, {**WORKSHEETS[name].example(), field: value})
        steps = [s for s in answer["working"] if s["value"] == pytest.approx(value)]
        return {step["mark"] for step in steps}

    assert "common practice" in mark(default)
    assert "given" in mark(own)


def test_a_text_that_is_no_text_is_refused_at_its_field():
    assert (
        refusal("cable-size", WORKSHEETS["cable-size"].example() | {"table": 5}).field
        == "table"
    )
