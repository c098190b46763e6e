"""Copper, fuses and the sizing of a run: edges, invariants and published traps."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.ampacity import (
    Run,
    ampacity_a,
    largest_fuse_a,
    next_fuse_a,
    size_label,
    size_options,
    smallest_area_mm2,
)
from compliance.inputs import Load
from compliance.loads import load_value
from compliance.network import Branch, solve_tree
from compliance.tables import citation, mark, table
from compliance.wiring import (
    STANDARD_AREAS_MM2,
    auto_area_mm2,
    awg_area_mm2,
    constant_power_a,
    fault_current_a,
    resistance_ohm_per_m,
    run_ohm,
    withstand_s,
)

CASES = {
    case["id"]: case
    for case in json.loads(
        (Path(__file__).parent.parent / "reference" / "power_cases.json").read_text()
    )["cases"]
}
CIRCULAR_MIL_MM2 = math.pi * 0.0254**2 / 4
SAE_MILS = {"16": 2336, "14": 3702, "12": 5833, "10": 9343, "8": 14810}
"""SAE cable of the same number as AWG; from memory except as noted in the ledger."""


def test_p03_the_published_answer_comes_from_sae_areas_not_from_awg():
    given_, expected = CASES["P03"]["inputs"], CASES["P03"]["expected"]
    length = given_["length_ft_out"] + given_["length_ft_back"]

    def mils(percent: float) -> float:
        drop_v = given_["system_v"] * percent / 100
        return given_["k"] * given_["current_a"] * length / drop_v

    for percent, entry, size in (
        (3, "cm_needed_3pct", "awg_3pct"),
        (10, "cm_needed_10pct", "awg_10pct"),
    ):
        wanted = expected[entry]
        assert mils(percent) == pytest.approx(
            wanted["value"], rel=wanted.get("rel_tol", 0)
        )
        fitting = next(n for n, cm in SAE_MILS.items() if cm >= mils(percent))
        assert fitting == expected[size]
    # Trap: the AWG area of number 12 would pass where SAE cable of that number fails.
    assert awg_area_mm2("12") / CIRCULAR_MIL_MM2 >= mils(3) > SAE_MILS["12"]


def test_p06_the_75_degree_column_is_not_corrected_twice():
    expected = CASES["P06"]["expected"]
    area = awg_area_mm2("12")
    solid_20 = 17.241 / area
    solid_75 = solid_20 * (1 + 0.00393 * 55)
    assert solid_20 == pytest.approx(expected["r20_ohm_km"]["value"], rel=0.003)
    assert solid_75 == pytest.approx(expected["r75_ohm_km"]["value"], rel=0.003)
    per_kft = solid_75 * 0.3048
    assert per_kft == pytest.approx(expected["r75_ohm_kft"]["value"], abs=0.005)
    # The stranded conductor counted here resists more, but nowhere near twice 75 °C.
    ours = 1000 * resistance_ohm_per_m(area, 75)
    assert solid_75 < ours < solid_75 * 1.2


def test_p07_inside_and_outside_the_engine_space():
    expected = CASES["P07"]["expected"]
    area = awg_area_mm2("10")
    cold = ampacity_a(area, 105, engine_space=False, by="33cfr-183")
    hot = ampacity_a(area, 105, engine_space=True, by="33cfr-183")
    assert cold == expected["ampacity_30c_a"]
    assert hot == pytest.approx(expected["engine_space_a"]["value"], abs=0.5)
    # 33 CFR 183.455 allows 150 % below 50 V; a fuse here may not exceed the cable.
    assert 1.5 * cold == expected["fuse_max_33cfr_a"]["value"]
    assert (
        largest_fuse_a(hot) == expected["fuse_max_project_rule_engine_space_a"]["value"]
    )


def test_a_fuse_of_one_and_a_half_times_the_load_need_not_suit_the_cable():
    # Trap: the web rule would put 45 A on a cable that carries 38.7 A.
    carries = ampacity_a(4, 105, engine_space=True)
    assert carries is not None
    assert carries < 1.5 * 30
    assert largest_fuse_a(carries) == 35


def test_p12_a_converter_limited_by_its_input():
    given_, expected = CASES["P12"]["inputs"], CASES["P12"]["expected"]
    for volts, wanted in zip(given_["in_v"], expected["out_a"], strict=True):
        # The published example counts no losses.
        out_a = given_["in_limit_a"] * volts / given_["out_v"]
        assert out_a == pytest.approx(wanted["value"], abs=wanted["abs_tol"])


def test_auto_cable_and_awg_that_are_not_sold():
    for size in ("7", "", "00000", "twelve"):
        with pytest.raises(ValueError, match="AWG"):
            awg_area_mm2(size)
    assert awg_area_mm2("000") == awg_area_mm2("3/0")
    with pytest.raises(ValueError, match="auto cable"):
        auto_area_mm2(7)
    strands = CASES["P04"]["inputs"]["strands"]
    for label, (count, each_mm) in strands.items():
        copper = count * math.pi * each_mm**2 / 4
        assert auto_area_mm2(float(label.split()[0])) == pytest.approx(copper, rel=0.01)


@pytest.mark.parametrize("area", [0, -1, math.nan])
def test_a_cable_without_copper_is_refused(area):
    with pytest.raises(ValueError, match="positive"):
        resistance_ohm_per_m(area)


def test_a_short_without_resistance_is_refused():
    with pytest.raises(ValueError, match="positive"):
        fault_current_a(12, 0)


def test_the_two_temperature_rules_agree_within_a_third_of_a_percent():
    for temp, factor in ((40, 0.926), (50, 0.893), (60, 0.862), (70, 0.833)):
        ours = resistance_ohm_per_m(6, temp) / resistance_ohm_per_m(6, 20)
        assert ours * factor == pytest.approx(1, rel=0.0035)


def test_what_a_cable_stands():
    assert withstand_s(6, 1000, 115) == pytest.approx(0.4761)
    # Twice the copper stands it four times as long.
    assert withstand_s(12, 1000, 115) == pytest.approx(4 * 0.4761)


def test_a_power_without_any_resistance():
    assert constant_power_a(120, 12, 0) == 10
    # At the very edge of supply the load sits at half the source voltage.
    assert constant_power_a(360, 12, 0.1) == pytest.approx(60)


@pytest.mark.parametrize("resistance_ohm", [1e-15, 1e-9, 1e-3])
def test_a_power_behind_next_to_nothing_loses_no_digits(resistance_ohm):
    current = constant_power_a(1000, 12.8, resistance_ohm)
    assert (12.8 - current * resistance_ohm) * current == pytest.approx(1000, rel=1e-9)


@pytest.mark.parametrize(
    ("area", "insulation", "engine", "by", "amps"),
    [
        (6, 105, False, "iso-10133", 60),
        (6, 105, True, "iso-10133", 51.6),
        (6, 104, False, "iso-10133", 50),
        (9.9, 105, False, "iso-10133", 60),
        (0.5, 105, False, "iso-10133", None),
        (6, 50, False, "iso-10133", None),
        (6, 60, True, "iso-10133", None),
        (16, 90, False, "iec-60364", 109),
        (16, 70, False, "iec-60364", None),
        (13.3, 105, False, "33cfr-183", 120),
    ],
)
def test_ampacity_by_table(area, insulation, engine, by, amps):
    found = ampacity_a(area, insulation, engine_space=engine, by=by)
    assert found == (None if amps is None else pytest.approx(amps))


def test_fuses_at_the_ends_of_their_series():
    assert next_fuse_a(0) == 1
    assert next_fuse_a(7.5) == 7.5
    assert next_fuse_a(501) is None
    assert largest_fuse_a(0.5) is None
    assert largest_fuse_a(9999) == 500
    assert smallest_area_mm2(9999, 105, engine_space=False) is None


def a_run(**more) -> Run:
    wanted = {
        "system_v": 12,
        "current_a": 10,
        "run_m": 6,
        "limit_percent": 3,
        "insulation_c": 105,
        "engine_space": False,
    }
    return Run(**{**wanted, **more})


@pytest.mark.parametrize(
    ("more", "area", "smaller_fails"),
    [
        ({"conductor_c": 20}, 10, ("drop",)),
        ({"run_m": 0.1, "current_a": 50}, 6, ("ampacity",)),
        ({"run_m": 0.1, "fuse_a": 60}, 6, ("fuse",)),
        ({"run_m": 0.1}, 0.75, ()),
    ],
)
def test_the_smallest_cable_and_what_governs_it(more, area, smaller_fails):
    options = size_options(a_run(**more))
    place = next(n for n, option in enumerate(options) if not option.fails)
    assert options[place].area_mm2 == area
    if smaller_fails:
        assert options[place - 1].fails == smaller_fails


def test_a_size_as_it_is_sold():
    assert size_label(13.3018, "33cfr-183") == "6 AWG"
    assert size_label(7, "33cfr-183") == "7 mm²"
    assert size_label(6, "iso-10133") == "6 mm²"


@given(
    st.floats(0.5, 300),
    st.floats(0, 60),
    st.sampled_from(["iso-10133", "33cfr-183"]),
)
def test_every_larger_size_drops_less(current_a, run_m, by):
    options = size_options(a_run(current_a=current_a, run_m=run_m, by=by))
    drops = [option.drop_percent for option in options]
    assert drops == sorted(drops, reverse=True)
    amps = [option.ampacity_a or 0 for option in options]
    assert amps == sorted(amps)


@given(st.lists(st.sampled_from(STANDARD_AREAS_MM2), min_size=1, max_size=6))
def test_series_segments_add_in_any_order(areas):
    one = [run_ohm(area, 1.5) for area in areas]
    assert math.fsum(one) == pytest.approx(math.fsum(reversed(one)))


@given(
    st.lists(
        st.tuples(st.floats(0, 0.05), st.floats(0, 20), st.floats(0, 150)),
        min_size=1,
        max_size=6,
    ),
    st.integers(0, 5),
    st.floats(0.1, 0.9),
)
def test_more_cable_in_any_place_never_lowers_a_voltage(rows, place, share):
    branches = [
        Branch(str(n), str(n - 1) if n else None, *row) for n, row in enumerate(rows)
    ]
    before = solve_tree(12, branches)
    place %= len(rows)
    ohm, *rest = rows[place]
    thicker = list(branches)
    thicker[place] = Branch(
        str(place), str(place - 1) if place else None, ohm * share, *rest
    )
    after = solve_tree(12, thicker)
    if before is None:
        return
    assert after is not None
    for key, at in before.items():
        assert after[key].end_v >= at.end_v - 1e-9


def test_a_current_that_would_drop_it_all_is_no_solution():
    assert solve_tree(12, [Branch("a", None, 0.1, current_a=119)]) is not None
    assert solve_tree(12, [Branch("a", None, 0.1, current_a=121)]) is None
    assert solve_tree(12, []) == {}


def test_a_power_beyond_its_feeder_is_no_solution():
    tree = [
        Branch("feeder", None, 0.1, current_a=60),
        Branch("inverter", "feeder", 0.0, power_w=80),
    ]
    # Behind the feeder 6 V are left, so at most 6² / 0.4 = 90 W.
    assert solve_tree(12, tree) is not None
    tree[1] = Branch("inverter", "feeder", 0.0, power_w=91)
    assert solve_tree(12, tree) is None


def test_a_voltage_below_half_may_still_be_the_answer():
    # Nine tenths are lost to a constant current; the small power still has its root.
    tree = [
        Branch("feeder", None, 0.1, current_a=70),
        Branch("lamp", "feeder", 0.0, power_w=1),
    ]
    solved = solve_tree(12, tree)
    assert solved is not None
    assert solved["lamp"].end_v < 6
    assert solved["lamp"].current_a * solved["lamp"].end_v == pytest.approx(1)


@pytest.mark.parametrize("kind", ["current", "power", "resistive"])
def test_a_load_that_states_nothing_is_not_zero(kind):
    assert load_value(Load(kind=kind)) is None


# Tables


def test_marks_travel_with_the_entry_that_was_seen():
    assert mark("fuses") == "published"
    assert mark("fuses", "interrupt") == "published"
    assert mark("fuses", "series") == "from memory"
    assert mark("fuses", "load_factor") == "common practice"
    assert mark("batteries", "lead_absorption_h") == "derived"
    assert mark("ampacity_iso10133") == "from memory"
    assert "winch" in citation("fuses", "short_pull")
    assert citation("energy").endswith("panels")


def test_a_table_is_read_once_and_must_be_there():
    assert table("fuses") is table("fuses")
    with pytest.raises(FileNotFoundError):
        table("no such table")


def test_a_status_without_a_mark_is_our_mistake(monkeypatch):
    monkeypatch.setitem(table("air")["source"], "status", "GUESSED")
    with pytest.raises(ValueError, match="no mark"):
        mark("air")


def test_rounds_that_do_not_settle_are_no_answer(monkeypatch):
    monkeypatch.setattr("compliance.network.MOST_ROUNDS", 1)
    assert solve_tree(12, [Branch("a", None, 0.1, power_w=100)]) is None
