"""A loaded vehicle at its edges: what a small slip would move."""

from __future__ import annotations

import pytest

from compliance.inputs import Scenario
from compliance.laden import USE, Laden
from compliance.load_worst import WorstCases
from compliance.record import parse_record
from tests.compliance.records import a_record, drop, put


def laden(data) -> Laden:
    return Laden(parse_record(data))


def worst(data) -> WorstCases:
    return WorstCases(laden(data))


def bare(front_kg: float, rear_kg: float):
    """Nothing but a vehicle of this mass, weighed empty."""
    data = a_record()
    data["items"], data["supply"]["circuits"] = [], []
    data["use"]["luggage"] = []
    data["vehicle"]["tanks"], data["vehicle"]["switch_positions"] = [], []
    put(data, "vehicle.base.front_kg", front_kg)
    put(data, "vehicle.base.rear_kg", rear_kg)
    put(data, "vehicle.base.fuel_l", 0)
    put(data, "use.hitched", False)
    return drop(data, "trailer")


def test_what_stands_on_the_front_axle_loads_it_alone():
    data = a_record()
    light = laden(put(data, "items.1.x_m", 0)).state(USE).axles
    heavy = laden(put(data, "items.1.mass_kg", 112)).state(USE).axles
    assert heavy.rear_kg == pytest.approx(light.rear_kg)
    assert heavy.front_kg == pytest.approx(light.front_kg + 100)


def test_the_worst_total_does_not_need_any_place():
    known = worst(a_record()).of(None)
    data = drop(drop(a_record(), "vehicle.wheelbase_m"), "items.1.x_m")
    assert worst(data).of(None).value_kg == pytest.approx(known.value_kg)


def test_the_share_of_the_front_axle_needs_the_axles():
    found = worst(drop(a_record(), "vehicle.wheelbase_m")).share(least=True)
    assert (found.value_kg, found.state) == (None, "")
    assert "measure the wheelbase" in found.gaps
    assert worst(drop(a_record(), "vehicle.seats")).of("rear").state == ""


def test_a_vehicle_of_nothing_has_no_share():
    light = worst(bare(0.25, 0.25))
    # Both seats stand at 1.45 of 3.2 m, so people bring more to the front.
    most = (0.25 + 160 * (1 - 1.45 / 3.2)) / 160.5
    assert 0.5 <= light.share(least=True).value_kg < most
    assert light.share(least=False).value_kg == pytest.approx(most)
    nothing = worst(bare(0, 0)).share(least=True)
    assert (nothing.value_kg, nothing.state, nothing.gaps) == (None, "", ())


def test_a_vehicle_of_nothing_weighs_what_is_in_it():
    assert laden(bare(0, 0)).state(USE).total_kg == 160
    assert worst(bare(0, 0)).of(None).value_kg == 160


def test_every_seat_is_said_once_and_a_single_one_by_its_name():
    assert worst(bare(900, 800)).of(None).state == "every seat taken"
    assert worst(drop(bare(900, 800), "vehicle.seats.1")).of(None).state == (
        "driver taken"
    )
    assert worst(a_record()).of(None).state == (
        "every seat taken; fuel full; Water tank full; luggage aboard; hitched"
    )


def test_unhitched_there_is_no_ball_load():
    on = laden(a_record())
    assert on.state(Scenario(key="a", hitched=True)).ball_kg == 240
    assert on.state(Scenario(key="b", hitched=False)).ball_kg is None


def test_people_beyond_the_seats_are_counted_on():
    seated, gaps = laden(a_record()).people(4)
    assert [part.key for part in seated] == ["driver", "passenger", "3", "4"]
    assert gaps == []
    assert laden(a_record()).people(None) == ([], ["say how many people travel"])


def test_no_side_while_a_mass_is_not_known():
    on = laden(drop(a_record(), "items.0.mass_kg"))
    state = on.state(USE)
    assert state.total_kg is None
    assert on.left_kg(state) is None


def test_a_tank_of_an_item_holds_what_its_density_says():
    data = put(a_record(), "items.1.tank.density_kg_per_l", 1.25)
    full, usual = laden(data).state(USE), laden(a_record()).state(USE)
    assert full.total_kg == pytest.approx(usual.total_kg + 40 * 0.25)


def test_a_person_is_the_customers_and_must_weigh_something():
    (driver, *_), _ = laden(a_record()).people(1)
    assert driver.source == "customer's use"
    (driver, *_), _ = laden(drop(a_record(), "use.person_kg")).people(1)
    assert driver.missing == "say what mass to take for a person"
