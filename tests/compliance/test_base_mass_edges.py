"""The base mass line by line: every sentence, every step, every variance."""

from __future__ import annotations

import pytest

from compliance.base_mass import dry_base
from compliance.record import parse_record
from compliance.tables import citation
from tests.compliance.records import a_record, drop, put

BASE = "vehicle.base"


def base_of(**changes):
    """The base mass of the usual record with some of its facts changed."""
    data = a_record()
    for name, value in changes.items():
        put(data, f"{BASE}.{name}", value)
    return dry_base(parse_record(data))


def without(*paths):
    data = a_record()
    for path in paths:
        drop(data, path)
    return data


@pytest.mark.parametrize(
    ("data", "gaps"),
    [
        (
            without(f"{BASE}.front_kg"),
            ("weigh the vehicle, or look up its base mass",),
        ),
        (
            without(f"{BASE}.definition"),
            ("say what the base mass is: weighed, tare, kerb or running order",),
        ),
        (
            without(f"{BASE}.fuel_l", f"{BASE}.people"),
            (
                "say how much fuel was aboard when it was weighed",
                "say how many people were aboard when it was weighed",
            ),
        ),
        (
            put(
                put(without("vehicle.tanks"), f"{BASE}.definition", "tare"),
                f"{BASE}.fuel_l",
                None,
            ),
            ("record the fuel tank, or say that 0 l of fuel were aboard",),
        ),
        (
            put(a_record(), f"{BASE}.fuel_l", 80.5),
            ("check the fuel aboard: 80.5 l is more than the tanks hold",),
        ),
        (
            put(a_record(), f"{BASE}.people", 3),
            ("record the seats of those who were aboard when it was weighed",),
        ),
        (
            put(without("use.person_kg"), f"{BASE}.people", 1),
            ("say what mass to take for a person",),
        ),
        (
            put(a_record(), f"{BASE}.mass_kg", 2150),
            (
                "weigh again: front and rear axle make 2,120 kg, the whole vehicle "
                "2,150 kg, a gap of 30 kg",
            ),
        ),
    ],
)
def test_what_is_missing_is_asked_for_in_these_words(data, gaps):
    found = dry_base(parse_record(data))

    assert found.gaps == gaps
    assert found.total_kg is None


def test_what_the_axles_lack_is_told_beside_what_the_total_lacks():
    data = put(without(f"{BASE}.front_kg", "vehicle.wheelbase_m"), f"{BASE}.people", 3)
    asked = (
        "weigh each axle of the vehicle by itself",
        "measure the wheelbase",
    )
    assert dry_base(parse_record(data)).axle_gaps == asked
    put(data, f"{BASE}.mass_kg", 2120)
    drop(data, f"{BASE}.rear_kg")
    put(data, f"{BASE}.people", 0)
    found = dry_base(parse_record(data))
    assert (found.gaps, found.axle_gaps) == ((), asked)
    assert found.axles is None


def test_a_tank_below_a_litre_may_be_full():
    data = put(a_record(), "vehicle.tanks.0.capacity_l", 0.5)
    put(data, f"{BASE}.fuel_l", None)
    put(data, f"{BASE}.definition", "kerb")
    found = dry_base(parse_record(data))
    assert found.gaps == ()
    assert found.total_kg == pytest.approx(2120 - 0.5 * 0.84)


@pytest.mark.parametrize(
    ("mass_kg", "fine"), [(2120.000001, True), (2120.00001, False), (2120, True)]
)
def test_a_ticket_without_an_interval_adds_up_to_binary_noise(mass_kg, fine):
    assert (base_of(mass_kg=mass_kg).gaps == ()) is fine


def test_a_weighed_base_shows_its_working():
    steps = base_of(fuel_l=50, people=1).working
    rows = [(s.label, s.formula, s.value, s.unit, s.source, s.mark) for s in steps]
    assert rows == [
        ("base mass", "weighed mass", 2120, "kg", "vehicle", "given"),
        (
            "fuel in fuel, taken off first",
            "-50 l × 0.84 kg/l",
            pytest.approx(-42),
            "kg",
            "vehicle",
            "given",
        ),
        (
            "person, driver, taken off first",
            "-1 × 80 kg",
            -80,
            "kg",
            "customer's use",
            "given",
        ),
    ]


def test_a_base_in_running_order_shows_the_book_it_comes_from():
    data = put(
        without(f"{BASE}.fuel_l", f"{BASE}.people"),
        f"{BASE}.definition",
        "running-order",
    )
    steps = dry_base(parse_record(data)).working
    book = citation("base_definitions")
    assert [(s.formula, s.value, s.source) for s in steps] == [
        ("running-order mass", 2120, "vehicle"),
        ("-72 l × 0.84 kg/l", pytest.approx(-60.48), book),
        (
            "-1 × 75 kg",
            -75,
            "Regulation (EU) 1230/2012, mass of the driver, article 2",
        ),
    ]
    assert [s.mark for s in steps[1:]] == ["published", "from memory"]


def test_fuel_that_nobody_states_is_none_where_there_is_no_tank():
    data = drop(without("vehicle.tanks"), f"{BASE}.fuel_l")
    found = dry_base(parse_record(data))
    assert found.gaps == ()
    assert found.total_kg == 2120


def test_a_scale_that_weighed_both_axles_adds_its_own_error():
    """20 kg scale: 20 kg permitted for each axle, 10 kg of rounding."""
    found = base_of(scale_interval_kg=20)
    rounding = 10**2 / 3
    assert found.variance("front") == pytest.approx(400 / 3 + rounding)
    assert found.variance("rear") == pytest.approx(400 / 3 + rounding)
    assert found.variance(None) == pytest.approx(1600 / 3 + 2 * rounding)


def test_a_fine_scale_permits_each_axle_its_own_error():
    """1.0 kg scale: 1180 intervals in front permit 2 kg, 400 behind permit 1 kg."""
    found = base_of(scale_interval_kg=1, rear_kg=400)
    rounding = 0.5**2 / 3
    assert found.variance("front") == pytest.approx(4 / 3 + rounding)
    assert found.variance("rear") == pytest.approx(1 / 3 + rounding)
    assert found.variance(None) == pytest.approx(9 / 3 + 2 * rounding)


def test_a_vehicle_weighed_whole_tells_nothing_of_its_axles():
    data = put(without(f"{BASE}.front_kg", f"{BASE}.rear_kg"), f"{BASE}.mass_kg", 2120)
    put(data, f"{BASE}.scale_interval_kg", 20)
    found = dry_base(parse_record(data))
    assert found.variance(None) == pytest.approx((400 + 100) / 3)
    assert (found.variance("front"), found.variance("rear")) == (0, 0)


def test_an_error_of_the_book_is_shared_as_the_mass_is():
    found = base_of(front_kg=1590, rear_kg=530, half_width_kg=60)
    whole = 60**2 / 3
    assert found.variance(None) == pytest.approx(whole)
    assert found.variance("front") == pytest.approx(whole * 0.75**2)
    assert found.variance("rear") == pytest.approx(whole * 0.25**2)


def test_no_tolerance_known_is_none_and_not_nothing():
    assert base_of().variance(None) is None


def test_a_vehicle_weighed_whole_and_by_axle_keeps_each_reading():
    """The total is one reading, ± 26 kg, not the sum of two, ± 49 kg."""
    whole = base_of(mass_kg=2130, front_kg=1180, rear_kg=940, scale_interval_kg=20)
    by_axle = base_of(front_kg=1180, rear_kg=950, scale_interval_kg=20)
    fuel = 80 * 0.84
    assert whole.total_kg == pytest.approx(2130 - fuel)
    assert whole.axles.total_kg == pytest.approx(2120 - fuel)
    assert 2 * whole.variance(None) ** 0.5 == pytest.approx(25.8, abs=0.05)
    assert 2 * by_axle.variance(None) ** 0.5 == pytest.approx(49.0, abs=0.05)
    assert whole.variance("rear") == by_axle.variance("rear")
    assert whole.working[0].formula == (
        "weighed mass of the whole; its axles by themselves make 2,120 kg"
    )
    assert by_axle.working[0].formula == "weighed mass"


@pytest.mark.parametrize(("read", "other"), [("front", "rear"), ("rear", "front")])
def test_an_axle_that_follows_from_two_readings_has_the_errors_of_both(read, other):
    data = put(without(f"{BASE}.{other}_kg"), f"{BASE}.mass_kg", 2120)
    put(data, f"{BASE}.scale_interval_kg", 20)
    found = dry_base(parse_record(data))
    assert found.variance(None) == found.variance(read)
    assert found.variance(other) == pytest.approx(1600 / 3 + 2 * 10**2 / 3)
