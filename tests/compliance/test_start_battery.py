"""What hangs on the start battery: the alternator that feeds it, and standing still."""

from __future__ import annotations

from typing import Any

import pytest

from tests.compliance.test_power_checks import (
    a_build,
    a_charged_build,
    a_circuit,
    an_item,
    checked,
)
from tests.compliance.test_power_ways import take_all

ALTERNATOR = {"rated_a": 100, "own_load_a": 35}


def a_start_build(*items: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A build without a second battery, all of it on the start battery."""
    vehicle = {"alternator": dict(ALTERNATOR), **more.pop("vehicle", {})}
    return a_build(
        list(items),
        [a_circuit("c", "start", fuse_a=60, feeds=[i["key"] for i in items])],
        supply={"batteries": []},
        vehicle=vehicle,
        **more,
    )


# The alternator


def test_the_alternator_carries_what_hangs_on_the_start_battery():
    record = a_start_build(
        an_item("lamps", current_a=20, hours_per_day=0.5),
        an_item("fridge", current_a=4, duty="fridge"),
        an_item("pump", current_a=10, duty=0.1),
        an_item("winch", current_a=400, short_time=True),
    )
    found = take_all(record)
    hot, idle = found["alternator"], found["alternator-idle"]
    # The winch is a short pull; a fridge runs 0.43 of the time in air of 30 degrees.
    assert hot.value == pytest.approx(35 + 20 + 4 * 0.43 + 10 * 0.1)
    assert (hot.verdict, hot.limit) == ("within", 75)
    shown = {s.label: s.value for s in hot.working}
    assert shown["lamps"] == 20
    assert "DC-DC chargers" not in shown
    assert (idle.verdict, idle.severity, idle.limit) == ("not proven", "check", 40)
    assert idle.sentence.endswith(
        "57.7 A against 40.0 A: at idle only: look whether the charger cuts back, and "
        "what need not be on then."
    )
    assert [w.said for w in idle.ways] == ["fit an alternator of 145 A"]


def test_loads_come_on_top_of_a_charger():
    record = a_charged_build()
    record["items"].append(an_item("lamps", current_a=30))
    record["supply"]["circuits"].append(
        a_circuit("l", "start", fuse_a=50, area_mm2=16, feeds=["lamps"])
    )
    judged = take_all(record)["alternator"]
    taken = 40 * 14.4 / (0.92 * 11.5)
    assert judged.value == pytest.approx(35 + 30 + taken)
    assert judged.verdict == "over"
    assert "A over." in judged.sentence
    assert judged.would_clear == (
        "Let dcdc give no more than 34 A, or fit an alternator of 160 A."
    )


@pytest.mark.parametrize(
    ("hours", "driven", "verdict"),
    [
        (0.5, 2, "not proven"),
        (2, 2, "over"),
        (24, 2, "over"),
        (0.5, None, "over"),
        (None, 2, "over"),
    ],
)
def test_what_runs_for_a_part_of_the_drive_alone_is_no_stop(hours, driven, verdict):
    lamps = an_item("lamps", current_a=50, hours_per_day=hours)
    use = {} if driven is None else {"drive_h_per_day": driven}
    judged = take_all(a_start_build(lamps, use=use))["alternator"]
    assert (judged.value, judged.limit) == (85, 75)
    assert judged.verdict == verdict
    says = "all on at once, 47.5 A over the whole drive: look at what runs together."
    assert (says in judged.sentence) == (verdict == "not proven")
    assert (" over." in judged.sentence) == (verdict == "over")


@pytest.mark.parametrize(
    ("alternator", "load", "asks"),
    [
        ({}, {"current_a": 5}, "its rating and what the vehicle itself draws."),
        (ALTERNATOR, {}, "enter what lamps draws."),
        ({"rated_a": 100}, {}, "itself draws, what lamps draws."),
    ],
)
def test_what_the_alternator_needs_to_be_known(alternator, load, asks):
    record = a_start_build(an_item("lamps", **load), vehicle={"alternator": alternator})
    found = checked(record)[1]
    assert found["alternator"].verdict == "unknown"
    assert found["alternator"].sentence.endswith(asks)
    assert "alternator-idle" not in found


def test_a_winch_alone_is_not_asked_of_the_alternator():
    record = a_start_build(an_item("winch", current_a=400, short_time=True))
    assert "alternator" not in checked(record)[1]


# Standing still


def standing(item: dict[str, Any], **use: Any) -> Any:
    start = {"capacity_ah": 60, "standby_a": 0.03}
    use = {"drive_h_per_day": 2, **use}
    record = a_start_build(item, vehicle={"start_battery": start}, use=use)
    return take_all(record)["standby"]


def test_what_runs_on_the_start_battery_while_it_stands_counts():
    fridge = an_item("fridge", current_a=1, standby_a=0.02)
    judged = standing(fridge, days=3)
    # 22 of 24 hours are not driven.
    assert judged.limit == pytest.approx(60 * 0.4 / 24 / (0.05 + 22 / 24))
    assert judged.verdict == "over"
    assert [w.said for w in judged.ways] == [
        "switch fridge off while it stands",
        "let it stand no more than 1 d",
    ]
    shown = {s.label: s.value for s in judged.working}
    assert shown["Fitted loads that run while it stands"] == pytest.approx(22 / 24)


@pytest.mark.parametrize(
    ("hours", "interlock"), [(2, None), (24, "ignition"), (None, "main-beam")]
)
def test_what_runs_while_driving_alone_does_not(hours, interlock):
    item = an_item("lamps", current_a=20, hours_per_day=hours)
    if interlock:
        item["switch"] = {"kind": "position", "interlock": interlock}
    assert standing(item).limit == pytest.approx(60 * 0.4 / 24 / 0.03)


@pytest.mark.parametrize(
    ("load", "asks"),
    [
        ({"current_a": 1, "hours_per_day": None}, "hours a day lamps runs"),
        ({"hours_per_day": 4}, "what lamps draws"),
    ],
)
def test_what_standing_needs_to_be_known(load, asks):
    judged = standing(an_item("lamps", **load))
    assert judged.verdict == "unknown"
    assert asks in judged.sentence


def test_a_winch_and_a_load_at_rest_are_not_offered_to_be_switched_off():
    start = {"capacity_ah": 60, "standby_a": 0.03}
    record = a_start_build(
        an_item("winch", current_a=400, short_time=True),
        an_item("lamps", current_a=5, hours_per_day=1),
        an_item("radio", current_a=1, hours_per_day=1, standby_a=0.1),
        vehicle={"start_battery": start},
        use={"drive_h_per_day": 1, "days": 20},
    )
    judged = take_all(record)["standby"]
    assert [w.said for w in judged.ways] == [
        "switch radio off while it stands",
        "let it stand no more than 7 d",
    ]
