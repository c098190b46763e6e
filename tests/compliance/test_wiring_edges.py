"""Cable, fuse and network at their edges: what a small slip would move."""

from __future__ import annotations

import pytest

from compliance.ampacity import (
    Run,
    ampacity_a,
    largest_fuse_a,
    size_label,
    size_options,
    smallest_area_mm2,
)
from compliance.network import Branch, solve_tree
from compliance.tables import table
from compliance.wiring import (
    auto_area_mm2,
    awg_area_mm2,
    fault_current_a,
    resistance_ohm_per_m,
    run_ohm,
)


def test_sizes_that_are_not_sold_name_those_that_are():
    with pytest.raises(ValueError, match="not an AWG size; known: 20, 18") as caught:
        awg_area_mm2("7")
    assert "'7'" in str(caught.value)
    assert "10, 8, 6, 5" in str(caught.value)
    with pytest.raises(
        ValueError, match=r"not an auto cable size; known: 2, 2\.5"
    ) as caught:
        auto_area_mm2(7)
    assert "3, 4, 5, 6" in str(caught.value)


@pytest.mark.parametrize(
    ("compute", "said"),
    [
        (lambda: resistance_ohm_per_m(0), "the cable area must be positive"),
        (lambda: fault_current_a(12, 0), "the resistance must be positive"),
    ],
)
def test_what_cannot_be_is_said_in_full(compute, said):
    with pytest.raises(ValueError, match=f"^{said}$"):
        compute()


def test_areas_and_resistances_below_one_are_computed():
    assert resistance_ohm_per_m(0.6, 20) == pytest.approx(19.8 / 0.6 / 1000)
    assert fault_current_a(12, 0.5) == 24


def test_a_fuse_exactly_as_large_as_its_cable_protects_it():
    # 7.5 A is in the series; the cable of 7.5 A may have it, and binary noise below.
    assert largest_fuse_a(7.5) == 7.5
    assert largest_fuse_a(7.5 - 1e-10) == 7.5
    assert largest_fuse_a(7.49) == 5


def test_a_cable_exactly_as_large_as_its_current_carries_it():
    at = ampacity_a(6, 105, engine_space=True)
    assert at is not None
    assert smallest_area_mm2(at, 105, engine_space=True) == 6
    assert smallest_area_mm2(at + 5e-10, 105, engine_space=True) == 6
    assert smallest_area_mm2(at + 0.5, 105, engine_space=True) == 10


def test_the_table_that_was_chosen_is_the_one_that_is_asked():
    """10 AWG of 105 °C carries 60 A by 33 CFR 183; 8 AWG is needed for 61 A."""
    by = "33cfr-183"
    assert smallest_area_mm2(60, 105, engine_space=False, by=by) == 5.2612
    assert smallest_area_mm2(61, 105, engine_space=False, by=by) == 8.3656
    options = {o.area_mm2: o for o in size_options(a_run(by=by))}
    assert options[5.2612].ampacity_a == 60


def a_run(**more) -> Run:
    wanted = {
        "system_v": 10,
        "current_a": 20,
        "run_m": 5,
        "limit_percent": 3,
        "insulation_c": 105,
        "engine_space": False,
    }
    return Run(**{**wanted, **more})


def option(area: float, **more):
    return next(o for o in size_options(a_run(**more)) if o.area_mm2 == area)


@pytest.mark.parametrize("conductor_c", [20, 90])
def test_the_drop_of_a_size_by_hand(conductor_c):
    found = option(16, conductor_c=conductor_c)
    volts = 20 * run_ohm(16, 5, conductor_c)
    assert found.drop_percent == pytest.approx(100 * volts / 10, rel=1e-12)


def test_exactly_at_each_limit_a_size_still_does():
    at = option(16).drop_percent
    assert option(16, limit_percent=at).fails == ()
    assert option(16, limit_percent=at - 5e-10).fails == ()
    assert option(16, limit_percent=at - 1e-6).fails == ("drop",)
    carries = option(16, run_m=0).ampacity_a
    assert option(16, run_m=0, current_a=carries).fails == ()
    assert option(16, run_m=0, current_a=carries + 0.001).fails == ("ampacity",)
    assert option(16, run_m=0, fuse_a=carries).fails == ()
    assert option(16, run_m=0, fuse_a=carries + 0.001).fails == ("fuse",)


def test_a_size_that_may_not_be_used_carries_nothing():
    """60 °C insulation is not allowed in the engine space."""
    found = option(16, run_m=0, current_a=0.5, insulation_c=60, engine_space=True)
    assert found.ampacity_a is None
    assert found.fails == ("ampacity",)
    found = option(16, run_m=0, current_a=0, insulation_c=60, engine_space=True)
    assert found.fails == ()


def test_each_branch_tells_its_own_drop():
    tree = [
        Branch("feeder", None, 0.01, current_a=5),
        Branch("left", "feeder", 0.02, current_a=10),
        Branch("right", "feeder", 0.03, conductance_s=0.5),
        Branch("far", "right", 0.04, conductance_s=0.25),
    ]
    solved = solve_tree(12, tree)
    assert solved is not None
    for branch in tree:
        at = solved[branch.key]
        above = 12 if branch.parent is None else solved[branch.parent].end_v
        assert at.drop_v == pytest.approx(at.current_a * branch.resistance_ohm)
        assert at.end_v == pytest.approx(above - at.drop_v)
    # What enters each end leaves it.
    far, right = solved["far"], solved["right"]
    assert far.current_a == pytest.approx(0.25 * far.end_v)
    assert right.current_a == pytest.approx(0.5 * right.end_v + far.current_a)
    assert solved["feeder"].current_a == pytest.approx(
        5 + solved["left"].current_a + right.current_a
    )


def test_a_voltage_that_falls_to_nothing_is_no_supply():
    assert solve_tree(12, [Branch("a", None, 0.1, current_a=120)]) is None
    # The tangent of this power at 12 V is exactly as steep as its cable.
    assert solve_tree(12, [Branch("a", None, 0.5, power_w=288)]) is None


def test_the_search_goes_on_until_the_voltage_stands():
    """A power near the most the cable brings: settled to a part in 10^10."""
    power, ohm = 359.9, 0.1
    solved = solve_tree(12, [Branch("inverter", None, ohm, power_w=power)])
    assert solved is not None
    exact = (12 + (144 - 4 * power * ohm) ** 0.5) / 2
    assert solved["inverter"].end_v == pytest.approx(exact, abs=1e-7)
    # 10^-10 of a high voltage is wider than of a low one, never narrower.
    high = solve_tree(1200, [Branch("inverter", None, ohm, power_w=3_599_000)])
    assert high is not None
    assert high["inverter"].end_v == pytest.approx(100 * exact, abs=1e-5)


SOLD = table("ampacity_33cfr183")["ampacity"]


@pytest.mark.parametrize(
    ("size", "amps"), list(zip(SOLD["size"], SOLD["value"], strict=True))
)
def test_an_awg_size_survives_its_area(size, amps):
    """The area of a number finds the row of that number, however it is rounded."""
    area = awg_area_mm2(size)
    assert size_label(round(area, 4), "33cfr-183") == f"{size} AWG"
    for written in (area, round(area, 4), round(area, 2)):
        found = ampacity_a(written, 60, engine_space=False, by="33cfr-183")
        assert found == amps[0], written
