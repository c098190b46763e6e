"""The worst state in words, and what no longer hides behind the customer's own use."""

from __future__ import annotations

import pytest

from compliance.load_checks import check_load
from compliance.record import parse_record
from tests.compliance.records import a_record, drop, put


def loads(data):
    return check_load(parse_record(data))[0]


def findings(data):
    return {f.key: f for f in check_load(parse_record(data))[1]}


def test_luggage_behind_the_rear_axle_is_left_at_home_where_the_front_is_worst():
    data = put(a_record(), "use.luggage.0.x_m", -4.2)
    front = loads(data)["worst"]["front_axle"]
    assert "no luggage" in front["state"].split("; ")
    without = loads(put(data, "use.luggage", []))["worst"]["front_axle"]
    assert front["value_kg"] == pytest.approx(without["value_kg"])
    assert "luggage" not in without["state"]


def test_of_several_pieces_of_luggage_each_decides_for_itself():
    data = put(a_record(), "use.luggage.0.x_m", -4.2)
    data["use"]["luggage"].append({"mass_kg": 40, "x_m": -0.5})
    worst = loads(data)["worst"]
    assert "40 of 100 kg of luggage aboard" in worst["front_axle"]["state"]
    assert "luggage aboard" in worst["rear_axle"]["state"].split("; ")


def test_the_rear_axle_before_the_bars_is_told_when_the_use_is_not_hitched():
    data = put(a_record(), "trailer.hitch_moment_kgm", 230)
    worst = loads(data)["worst"]["rear_axle"]["value_kg"]
    put(data, "vehicle.ratings.rear_axle_kg", worst - 20)
    put(data, "use.hitched", False)
    told = findings(data)["worst.rear_axle"]
    assert (told.verdict, told.value) == ("over", pytest.approx(worst))
    assert "hitched, before the bars are tensioned" in told.sentence


def test_the_combination_is_said_like_the_others():
    state = loads(a_record())["worst"]["gcm"]["state"]
    assert state == (
        "every seat taken; fuel full; Water tank full; luggage aboard; hitched"
    )


def test_without_seats_the_combination_is_unknown_and_still_hitched():
    worst = loads(drop(a_record(), "vehicle.seats"))["worst"]["gcm"]
    assert (worst["value_kg"], worst["state"]) == (None, "hitched")


def test_what_is_on_the_roof_is_said():
    data = a_record()
    assert loads(data)["worst"]["roof"]["state"] == "as fitted"
    put(data, "items.1.zone", "roof")
    bag = {"mass_kg": 20, "x_m": -1.6, "zone": "roof"}
    data["use"]["luggage"].append(bag)
    state = loads(data)["worst"]["roof"]["state"]
    assert state == "Water tank full; luggage aboard"


def test_the_worst_is_not_called_full_where_something_is_left_at_home():
    data = put(a_record(), "use.luggage.0.x_m", -4.2)
    put(data, "use.people", 1)
    worst = loads(data)["worst"]["front_axle"]
    put(data, "vehicle.ratings.front_axle_kg", worst["value_kg"] - 1)
    said = findings(data)["worst.front_axle"].sentence
    assert said.startswith(f"Front axle at its worst ({worst['state']}) ")
    assert "no luggage" in said
