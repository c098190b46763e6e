"""What geometry or arithmetic rules out is refused, with its path."""

import math

import pytest

from compliance.record import RecordError, parse_record
from tests.compliance.records import a_record, drop, put


def faults(data):
    with pytest.raises(RecordError) as caught:
        parse_record(data)
    return dict(caught.value.faults)


@pytest.mark.parametrize(
    ("path", "value", "at", "said"),
    [
        ("items.0.x_m", 25, "items[0].x_m", "25 m ahead of the front axle"),
        ("items.0.x_m", -25, "items[0].x_m", "25 m behind the front axle"),
        ("items.0.removes.0.x_m", 25, "items[0].removes[0].x_m", "Check the unit"),
        ("items.0.y_m", 2.5, "items[0].y_m", "off the middle"),
        ("items.0.y_m", -2.5, "items[0].y_m", "off the middle"),
        ("items.0.z_m", -0.1, "items[0].z_m", "above the ground"),
        ("items.0.z_m", 6, "items[0].z_m", "above the ground"),
        ("vehicle.seats.0.x_m", -15, "vehicle.seats[0].x_m", "behind"),
        ("vehicle.tanks.0.x_m", -15, "vehicle.tanks[0].x_m", "behind"),
        ("use.luggage.0.x_m", -15, "use.luggage[0].x_m", "behind"),
        ("vehicle.base.left_kg", 2121, "vehicle.base.left_kg", "2,120 kg"),
        ("vehicle.base.cg_z_m", 3.1, "vehicle.base.cg_z_m", "Check the unit"),
        ("trailer.ball_kg", 2401, "trailer.ball_kg", "2,400 kg"),
        ("vehicle.base.mass_kg", 1000, "vehicle.base.front_kg", "1,000 kg"),
        ("vehicle.track_m", 3.1, "vehicle.track_m", "is beyond 3"),
        ("trailer.ball_to_axle_m", 0, "trailer.ball_to_axle_m", "more than 0"),
        ("trailer.ball_to_axle_m", -1, "trailer.ball_to_axle_m", "more than 0"),
        ("items.0.mass_kg", 1e9, "items[0].mass_kg", "is beyond"),
        ("items.0.carrier_limit_kg", math.nan, "items[0].carrier_limit_kg", "finite"),
        ("trailer.hitch_moment_kgm", math.inf, "trailer.hitch_moment_kgm", "finite"),
        ("vehicle.base.cg_z_m", 0, "vehicle.base.cg_z_m", "more than 0"),
    ],
)
def test_what_cannot_be_is_refused(path, value, at, said):
    found = faults(put(a_record(), path, value))
    assert said in found[at]


def test_one_axle_may_not_be_more_than_the_whole():
    data = put(a_record(), "vehicle.base.mass_kg", 900)
    drop(data, "vehicle.base.front_kg")
    assert faults(data).keys() == {"vehicle.base.rear_kg"}


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("vehicle.ratings.front_axle_kg", 4000),
        ("items.0.x_m", 6),
        ("items.0.x_m", -9.2),
        ("items.0.y_m", -2),
        ("items.0.z_m", 0),
        ("vehicle.base.left_kg", 1060),
        ("trailer.ball_kg", 2400),
    ],
)
def test_what_is_odd_but_can_be_is_read(path, value):
    parse_record(put(a_record(), path, value))


def test_without_a_wheelbase_a_place_is_bounded_all_the_same():
    data = drop(a_record(), "vehicle.wheelbase_m")
    parse_record(put(data, "items.0.x_m", -18))
    assert "items[0].x_m" in faults(put(data, "items.0.x_m", -18.1))


def piled(count):
    data = a_record()
    for n in range(count + 1):
        row = {"key": f"p{n}", "label": "P", "kind": "p", "zone": "cargo"}
        if n:
            row["carried_by"] = f"p{n - 1}"
        data["items"].append(row)
    return data


def test_a_pile_has_an_end():
    parse_record(piled(10))
    assert faults(piled(11)).keys() == {"items[14].carried_by"}


def test_without_a_total_nothing_is_compared_with_it():
    data = drop(a_record(), "vehicle.base.front_kg")
    parse_record(put(data, "vehicle.base.left_kg", 99_000))


def test_a_place_in_the_trailer_is_not_one_on_the_vehicle():
    data = put(a_record(), "items.0.zone", "trailer")
    parse_record(put(data, "items.0.x_m", -12))


@pytest.mark.parametrize("use", ["charge", "discharge"])
def test_a_battery_is_not_used_between_temperatures_that_are_swapped(use):
    data = put(a_record(), f"supply.batteries.0.{use}_min_c", 10)
    for high in (10, 45):
        parse_record(put(data, f"supply.batteries.0.{use}_max_c", high))
    found = faults(put(data, f"supply.batteries.0.{use}_max_c", 5))
    path = f"supply.batteries[0].{use}_max_c"
    assert found == {path: f"is 5 °C, below the {use}_min_c of 10 °C."}
