"""A circuit's finding word for word: drop, working, collapse and what would clear it."""

from __future__ import annotations

import pytest

from compliance.circuit_checks import CRITICAL_SOURCE
from tests.compliance.test_power_checks import (
    HOT,
    a_build,
    a_circuit,
    an_item,
    checked,
)
from tests.compliance.test_power_sources import a_sunny_build

OTHERS = (
    "Planning figures for batteries, fridges, alternators and flat solar panels "
    "(common practice)"
)

R6 = 3.30e-3 * HOT
"""Ohm per metre of 6 mm² at 60 °C: IEC 60228 class 5, table 3 (published)."""
R16 = 1.21e-3 * HOT


def rows(finding) -> list[tuple]:
    return [(s.label, s.formula, s.unit, s.source, s.mark) for s in finding.working]


def test_a_drop_that_is_over_is_told_whole():
    feeder = a_circuit("board", area_mm2=16, run_m=4, fuse_a=60, extra_ohm=0.002)
    lamp = a_circuit("lamp", "board", run_m=6)
    _, found = checked(
        a_build(
            [an_item("lights", current_a=15)], [feeder, lamp | {"feeds": ["lights"]}]
        )
    )
    drop = found["circuit-drop.lamp"]
    in_feeder, in_lamp = 15 * (8 * R16 + 0.002), 15 * 12 * R6
    percent = 100 * (in_feeder + in_lamp) / 12

    assert (drop.verdict, drop.limit, drop.unit) == ("not proven", 5.0, "%")
    assert drop.value == pytest.approx(percent)
    assert drop.source == OTHERS
    assert drop.sentence == (
        f"lamp drops {in_feeder + in_lamp:.2f} V at 15.0 A: {percent:.1f} % against "
        "5.0 % of common practice; try whether its load works so, or clear it."
    )
    copper = "IEC 60228, maximum d.c. resistance of class 5 plain copper conductors at 20 C, Table 3"
    assert rows(drop)[:2] == [
        ("lamp: 6 mm²", "15.0 A × (2 × 6 m × R′ at 60 °C)", "V", copper, "published"),
        (
            "board: 16 mm²",
            "15.0 A × (2 × 4 m × R′ at 60 °C + 0.002 Ω)",
            "V",
            copper,
            "published",
        ),
    ]
    assert [s.value for s in drop.working[:2]] == pytest.approx([in_lamp, in_feeder])
    assert rows(drop)[-1] == (
        "Share of the system voltage",
        "100 × drop / 12 V",
        "%",
        "derived",
        "derived",
    )
    assert drop.working[-1].value == pytest.approx(percent)
    assert [s.unit for s in drop.working[2:-1]] == ["°C", "%"]


def test_a_drop_within_says_its_value_its_limit_and_its_unit():
    _, found = checked(
        a_build([an_item("lights", current_a=2)], [a_circuit("lamp", feeds=["lights"])])
    )
    drop = found["circuit-drop.lamp"]
    percent = 100 * 2 * 6 * R6 / 12

    assert (drop.verdict, drop.limit, drop.unit) == ("within", 5.0, "%")
    assert drop.value == pytest.approx(percent)
    assert percent == pytest.approx(0.38, abs=0.005)
    assert drop.sentence == (
        "lamp drops 0.05 V at 2.0 A: 0.4 % against 5.0 %: 4.6 % in hand."
    )


def test_a_drop_that_is_not_known_still_says_its_limit():
    _, found = checked(
        a_build(
            [an_item("lights", current_a=2)],
            [a_circuit("lamp", feeds=["lights"], run_m=None)],
        )
    )
    drop = found["circuit-drop.lamp"]

    assert (drop.verdict, drop.limit, drop.unit) == ("unknown", 5.0, "%")
    assert drop.source == OTHERS


def test_a_feeder_without_a_limit_has_no_drop_finding_and_a_verdict_of_its_rest():
    board = a_circuit("board", area_mm2=16, fuse_a=60, fuse_to_source_m=0.1)
    lamp = a_circuit("lamp", "board", feeds=["lights"])
    answer, found = checked(a_build([an_item("lights", current_a=2)], [board, lamp]))

    assert "circuit-drop.board" not in found
    assert answer["circuits"]["board"]["verdict"] == "within"


def test_a_circuit_nobody_says_anything_of_is_unknown():
    answer, _ = checked(
        a_build(
            [],
            [
                a_circuit(
                    "spare",
                    fuse_a=None,
                    fuse_kind=None,
                    fuse_to_source_m=None,
                    area_mm2=None,
                    run_m=None,
                )
            ],
        )
    )

    assert answer["circuits"]["spare"]["verdict"] == "unknown"


@pytest.fixture
def collapsed():
    inverter = an_item("inverter", kind="power", power_w=900)
    lights = an_item("lights", current_a=2)
    thin = a_circuit("thin", area_mm2=1.5, run_m=5, feeds=["inverter"])
    board = a_circuit("board", area_mm2=2.5, run_m=5, fuse_a=25)
    lamp = a_circuit("lamp", "board", feeds=["lights"])
    return checked(a_build([inverter, lights], [board, thin | {"from": "board"}, lamp]))


def test_a_power_without_a_steady_state_stops_and_what_hangs_beside_waits(collapsed):
    _, found = collapsed
    own, beside = found["circuit-drop.thin"], found["circuit-drop.lamp"]

    assert (own.verdict, own.limit, own.unit) == ("over", 5.0, "%")
    assert own.sentence == (
        "thin cannot be supplied: over its cables this load has no steady state."
    )
    assert own.source == "Kirchhoff's laws; no real root (derived)"
    assert own.would_clear
    assert (beside.verdict, beside.limit, beside.unit) == ("unknown", 5.0, "%")
    assert beside.sentence == (
        "lamp: its voltage is not known while a load beside it cannot be supplied."
    )
    assert beside.would_clear is None


def test_the_smallest_cable_and_the_longest_run_are_the_ones_told():
    """15 A over 6 m of 4 mm²: 10 mm² is the first standard size under 5 %."""
    lamp = a_circuit("lamp", area_mm2=4, run_m=6, feeds=["lights"], extra_ohm=0.004)
    _, found = checked(a_build([an_item("lights", current_a=15)], [lamp]))
    told = found["circuit-drop.lamp"].would_clear

    def percent(ohm_per_km: float, run_m: float) -> float:
        return 100 * 15 * (2 * run_m * ohm_per_km * HOT / 1000 + 0.004) / 12

    assert percent(3.30, 6) > 5 > percent(1.91, 6)
    longest = (0.6 / 15 - 0.004) / (2 * 4.95e-3 * HOT)
    assert told == (
        "Fit 10 mm² instead of 4 mm² for lamp, or bring the run of lamp down to "
        f"{int(10 * longest) / 10:g} m."
    )


def test_a_run_as_short_as_can_be_is_still_told():
    """What is asked for is 0.3 m, the shortest run that anybody is asked for."""
    lamp = a_circuit("lamp", area_mm2=1, run_m=6, feeds=["lights"])
    current = 0.6 / (2 * 0.3001 * 19.5e-3 * HOT)
    _, found = checked(a_build([an_item("lights", current_a=current)], [lamp]))

    assert "bring the run of lamp down to 0.3 m" in (
        found["circuit-drop.lamp"].would_clear or ""
    )
    _, found = checked(a_build([an_item("lights", current_a=current * 1.1)], [lamp]))
    assert "bring the run" not in (found["circuit-drop.lamp"].would_clear or "")


def test_where_the_end_has_no_length_its_feeder_is_shortened():
    board = a_circuit("board", area_mm2=6, run_m=8, fuse_a=40)
    lamp = a_circuit("lamp", "board", run_m=0, feeds=["lights"])
    _, found = checked(a_build([an_item("lights", current_a=15)], [board, lamp]))

    assert "bring the run of board down to" in (
        found["circuit-drop.lamp"].would_clear or ""
    )


def test_a_cable_thinner_than_any_of_the_table_is_made_larger():
    lamp = a_circuit("lamp", area_mm2=0.4, run_m=2, feeds=["lights"])
    _, found = checked(a_build([an_item("lights", current_a=3)], [lamp]))
    assert found["circuit-drop.lamp"].would_clear.startswith(
        "Fit 0.5 mm² instead of 0.4 mm²"
    )


def test_a_panels_circuit_is_judged_by_the_panels_own_voltage():
    """11 A from a panel that opens at 24.5 V over 9 m of 2.5 mm², 3 % allowed."""
    panel = {"short_circuit_a": 11, "open_circuit_v": 24.5}
    _, found = checked(a_sunny_build(panel, area_mm2=2.5, run_m=9))
    drop = found["circuit-drop.sun"]
    works_v, ohm_per_m = 0.82 * 24.5, 7.98e-3 * HOT
    percent = 100 * 11 * 18 * ohm_per_m / works_v
    longest = drop.limit / 100 * works_v / (11 * 2 * ohm_per_m)

    assert (drop.value, drop.verdict) == (pytest.approx(percent), "over")
    assert drop.working[0].label.endswith(": 2.5 mm²")
    assert drop.working[-1].label == "Share of the panel's voltage"
    assert drop.working[-1].formula == f"100 × drop / {works_v:g} V"
    assert f"down to {int(10 * longest) / 10:g} m" in (drop.would_clear or "")


@pytest.mark.parametrize(
    ("load", "kind", "limit", "verdict"),
    [
        ({}, "x", 5, "not proven"),
        ({}, "uhf-radio", 3, "not proven"),
        ({"duty": "fridge"}, "x", 3, "over"),
        ({"limit_percent": 5}, "x", 5, "over"),
        ({"current_a": 16}, "x", 5, "over"),
        ({"limit_percent": 6.5}, "radio", 6.5, "within"),
    ],
)
def test_what_a_drop_of_near_six_percent_means(load, kind, limit, verdict):
    """9 A over 10 m of 6 mm² out and back are 5.7 % of 12 V; 16 A are 10.2 %."""
    thing = an_item("thing", **{"current_a": 9, **load})
    feed = a_circuit("f", run_m=10, feeds=["thing"])
    _, found = checked(a_build([thing | {"kind": kind}], [feed]))
    drop = found["circuit-drop.f"]

    assert (drop.verdict, drop.limit) == (verdict, limit)
    assert (" over" in drop.sentence) == (verdict == "over")
    assert (drop.would_clear is None) == (verdict == "within")
    own = "limit_percent" in load
    assert drop.source == ("line item" if own else OTHERS)


def test_the_limit_of_charging_names_its_own_source():
    panel = {"short_circuit_a": 1, "open_circuit_v": 24.5}
    _, found = checked(a_sunny_build(panel))
    assert found["circuit-drop.sun"].source == CRITICAL_SOURCE


@pytest.mark.parametrize("own", [4, None])
def test_a_limit_of_the_workshops_own_stops(own):
    feed = a_circuit("f", run_m=10, feeds=["thing"])
    record = a_build([an_item("thing", current_a=9)], [feed])
    record["settings"] = {"drop_limit_other_percent": own} if own else {}
    drop = checked(record)[1]["circuit-drop.f"]
    assert drop.severity == ("stop" if own else "check")


def test_the_cable_here_and_that_of_a_feeder_are_both_offered():
    board = a_circuit("board", area_mm2=10, run_m=5, fuse_a=40)
    lamp = a_circuit("lamp", "board", area_mm2=6, run_m=5, feeds=["lights"])
    record = a_build([an_item("lights", current_a=12)], [board, lamp])
    drop = checked(record)[1]["circuit-drop.lamp"]
    changes = [way.changes[0] for way in drop.ways]

    assert [(c.key, c.member) for c in changes] == [
        ("lamp", "area_mm2"),
        ("board", "area_mm2"),
        ("lamp", "run_m"),
    ]
    for change in changes:
        rows = [
            row | {change.member: change.value} if row["key"] == change.key else row
            for row in (board, lamp)
        ]
        after = checked(a_build(record["items"], rows))[1]["circuit-drop.lamp"]
        assert after.verdict == "within"


def test_no_more_than_two_cables_are_offered():
    """12 A over 15 m in three equal parts: each alone could be made large enough."""
    rows = [a_circuit("a", area_mm2=10, run_m=5, fuse_a=40)]
    rows.append(a_circuit("b", "a", area_mm2=10, run_m=5, fuse_a=40))
    rows.append(a_circuit("c", "b", area_mm2=10, run_m=5, feeds=["lights"]))
    _, found = checked(a_build([an_item("lights", current_a=12)], rows))
    changes = [way.changes[0] for way in found["circuit-drop.c"].ways]

    assert [(c.key, c.member) for c in changes] == [
        ("c", "area_mm2"),
        ("b", "area_mm2"),
        ("c", "run_m"),
    ]
