"""What a battery really takes in a day: chargers, its own limits, cold and heat."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.batteries import charge_edges_c
from compliance.energy import Cycle
from compliance.inputs import Battery
from tests.compliance.test_power_checks import a_battery, a_charged_build, checked
from tests.compliance.test_power_ways import take_all


def a_modest_build(current_a: float = 1, **more: Any) -> dict[str, Any]:
    """24 Ah a day drawn for each ampere, 79.2 Ah offered in two hours of driving."""
    record = a_charged_build(**more)
    record["items"][0]["load"]["current_a"] = current_a
    return record


@pytest.mark.parametrize(
    ("air", "battery", "taken_ah", "reason"),
    [
        (30, {}, 79.2, None),
        # Only the load is fed in the two hours of driving, 1 A.
        (-5, {}, 2, "its cells at -5 °C are too cold to be charged, 0 °C is the least"),
        (55, {}, 2, "its cells at 55 °C are too hot to be charged, 45 °C is the most"),
        (62, {}, 2, "its cells at 62 °C are too hot"),
        (2, {}, 22, "its cells at 2 °C take no more than 10.0 A"),
        (
            30,
            {"charge_limit_a": 5},
            12,
            "it takes no more than 5 A, the battery's own limit",
        ),
        (
            30,
            {"chemistry": "agm"},
            42,
            "a battery of its kind and size takes no more than 20.0 A",
        ),
        (-20, {"chemistry": "agm", "charge_min_c": -15}, 2, "-15 °C is the least"),
    ],
)
def test_a_day_counts_what_the_battery_really_takes(air, battery, taken_ah, reason):
    record = a_modest_build(
        supply={"batteries": [a_battery(**battery)]}, use={"ambient_c": air}
    )
    answer, found = checked(record)
    day, judged = answer["day"], found["energy-day"]
    assert day["drive_ah"] == pytest.approx(taken_ah)
    assert day["net_ah"] == pytest.approx(day["drive_ah"] - 24)
    assert ("no less comes in" in judged.sentence) == (taken_ah >= 24)
    assert ("not taken" in judged.sentence) == (reason is not None)
    assert (reason or "") in judged.sentence
    assert ("not taken" in found["soc-minimum"].sentence) == (reason is not None)
    if taken_ah < 10:
        assert judged.verdict == found["soc-minimum"].verdict == "over"


def test_sun_and_driving_share_one_charger():
    record = a_modest_build(
        supply={"panels": [{"key": "roof", "power_w": 600, "to": "dcdc"}]}
    )
    answer, found = checked(record)
    day = answer["day"]
    assert (
        "the charger that sun and driving share gives 40 A"
        in found["energy-day"].sentence
    )
    # Never more than 40 A in any hour: two hours of driving bring no sun on top.
    lost = found["energy-day"].working[-3]
    assert lost.label == "Offered but not taken"
    bare = {**record["supply"]["panels"][0]}
    del bare["to"]
    record["supply"]["panels"] = [bare]
    apart = checked(record)[0]["day"]
    assert day["solar_ah"] + day["drive_ah"] == pytest.approx(
        apart["solar_ah"] + apart["drive_ah"] - lost.value
    )
    assert lost.value > 15


def test_a_solar_charger_of_its_own_takes_nothing_from_the_drive():
    def day(out_a: float, to: str) -> dict[str, float]:
        record = a_modest_build(
            supply={"panels": [{"key": "roof", "power_w": 300, "to": to}]}
        )
        record["supply"]["chargers"].append(
            {"key": "mppt", "kind": "solar", "to": "aux", "out_a": out_a}
        )
        return checked(record)[0]["day"]

    apart = day(20, "mppt")
    assert apart["drive_ah"] == pytest.approx(79.2)
    # A second charger that brings nothing makes no room in the one that is shared.
    shared = day(20, "dcdc")
    assert shared == pytest.approx(day(100, "dcdc"))
    assert apart["solar_ah"] + 79.2 > shared["solar_ah"] + shared["drive_ah"] + 5


@given(
    st.floats(0, 20),
    st.floats(0, 300),
    st.floats(0, 60),
    st.floats(0, 60),
    st.floats(0, 60),
)
def test_what_comes_in_is_taken_or_lost_and_nothing_twice(
    load_a, solar_ah, drive_a, chargers_a, limit_a
):
    cycle = Cycle(
        load_a=load_a,
        solar_ah=solar_ah,
        drive_a=drive_a,
        drive_h=3,
        chargers_a=chargers_a,
        charge_limit_a=limit_a,
    )
    day = cycle.day()
    taken = day.solar_ah + day.drive_ah
    assert taken + day.capped_ah + day.refused_ah == pytest.approx(
        solar_ah + 3 * drive_a, abs=1e-6
    )
    assert day.net_ah == pytest.approx(sum(cycle.changes_ah()), abs=1e-6)
    assert taken <= 24 * chargers_a + 1e-6
    assert min(day.solar_ah, day.drive_ah, day.capped_ah, day.refused_ah) >= 0


# What is offered fits the reason


@pytest.mark.parametrize(
    ("air", "battery", "way"),
    [
        (-5, {}, "keep its cells near 0 °C to charge it"),
        (55, {}, "keep its cells near 45 °C to charge it"),
        (30, {"charge_limit_a": 5}, "fit a battery that takes 39 A"),
    ],
)
def test_the_cure_fits_what_keeps_the_charge_out(air, battery, way):
    record = a_modest_build(
        supply={"batteries": [a_battery(**battery)]},
        use={"ambient_c": air, "days": 14},
    )
    found = take_all(record)
    for key in ("energy-day", "soc-minimum"):
        said = [w.said for w in found[key].ways]
        if found[key].verdict == "over":
            assert said[0] == way
        assert not any("instead of 100 Ah" in s for s in said)
    assert found["energy-day"].verdict == "over"


def test_a_larger_charger_is_offered_where_the_charger_is_what_holds_it_back():
    record = a_modest_build(
        7.7, supply={"panels": [{"key": "roof", "power_w": 1000, "to": "dcdc"}]}
    )
    record["supply"]["chargers"][0]["out_a"] = 20
    judged = take_all(record)["energy-day"]
    assert judged.verdict == "over"
    assert judged.ways[0].said == "fit a charger of 40 A instead of dcdc"


def test_no_larger_battery_is_offered_where_none_of_them_could_be_charged():
    record = a_modest_build(20, use={"ambient_c": -5})
    record["items"].append(
        {**record["items"][0], "key": "lamp", "label": "lamp", "zone": "cargo"}
    )
    record["supply"]["circuits"][0]["feeds"].append("lamp")
    found = take_all(record)
    for key in ("energy-day", "soc-minimum"):
        assert found[key].ways == ()
        assert "temperatures that they may be charged at" in found[key].would_clear


# The engine space


@pytest.mark.parametrize(
    "place",
    [
        "Under the bonnet",
        "under-bonnet",
        "UNDER BONNET",
        "Engine bay",
        "in the engine bay, left",
        "engine space",
    ],
)
def test_the_engine_space_has_its_own_air_in_every_sum(place):
    record = a_modest_build(supply={"batteries": [a_battery(place=place)]})
    found = take_all(record)
    for key in (
        "battery-temperature.aux",
        "battery-place.aux",
        "energy-day",
        "soc-minimum",
    ):
        judged = found[key]
        assert (judged.verdict, judged.severity) == ("not proven", "check")
        assert judged.sentence.rstrip(".").count(" over.") == 0
        assert (
            "taken air in the engine space 80 °C, from memory: measure beside the "
            "battery." in judged.sentence
        )
        assert judged.ways[0].said == "move it out of the engine space"
    record["supply"]["batteries"][0]["charge_max_c"] = 60
    stop = checked(record)[1]["battery-place.aux"]
    assert (stop.verdict, "20 °C over. The taken air" in stop.sentence) == (
        "over",
        True,
    )
    record["settings"] = {"engine_space_air_c": 40}
    found = checked(record)[1]
    assert found["energy-day"].verdict == "within"
    assert "cells at 40 °C" in found["battery-temperature.aux"].sentence


def test_a_battery_short_of_charge_anywhere_stays_a_stop_in_the_engine_space():
    record = a_modest_build(20, supply={"batteries": [a_battery(place="engine bay")]})
    found = checked(record)[1]
    assert found["energy-day"].verdict == found["soc-minimum"].verdict == "over"


@pytest.mark.parametrize("place", [None, "behind the seat", "engine"])
def test_a_battery_elsewhere_has_the_air_of_the_trip(place):
    record = a_modest_build(supply={"batteries": [a_battery(place=place)]})
    assert "at 30 °C" in checked(record)[1]["battery-temperature.aux"].sentence


def test_charging_temperatures_stay_within_the_limits():
    lithium = Battery(key="b", chemistry="lfp", capacity_ah=50)
    assert charge_edges_c(lithium) == [0, 4.5, 5, 9.5, 10, 24.5, 25, 45]
    lead = Battery(key="b", chemistry="agm", capacity_ah=50, charge_max_c=40)
    assert charge_edges_c(lead) == [-15, 40]


# What stays open says why


def test_what_is_not_proven_never_says_over():
    record = a_charged_build(use={"ambient_c": 62})
    record["vehicle"]["alternator"]["rated_a"] = 150
    found = checked(record)[1]
    for key, why in (
        ("battery-temperature.aux", "look whether charging stops"),
        ("battery-place.aux", "measure there"),
    ):
        assert found[key].verdict == "not proven"
        assert " over" not in found[key].sentence
        assert why in found[key].sentence


def test_a_limit_of_the_batterys_own_is_its_source():
    found = checked(a_charged_build())[1]
    for key in ("battery-charge.aux", "battery-discharge.aux"):
        assert found[key].source == "the battery's own limit, as recorded"
