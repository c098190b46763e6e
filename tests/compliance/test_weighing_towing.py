"""Scales, tickets, and trailers on the ball."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.load import AxleLoads
from compliance.towing import (
    ball_share,
    full_restoration_kgm,
    hitch,
    trailer_ball_kg,
    trailer_limits_kg,
)
from compliance.weighing import check_ticket, scale_half_width_kg, scale_uncertainty_kg


@pytest.mark.parametrize(
    ("mass", "interval", "verification", "in_service"),
    [
        (3000, 20, 10, 20),
        (3000, 10, 5, 10),
        (3000, 5, 5, 10),
        (10000, 20, 10, 20),
        (10020, 20, 20, 40),
        (40000, 20, 20, 40),
        (40020, 20, 30, 60),
    ],
)
def test_permitted_errors_of_class_three(mass, interval, verification, in_service):
    assert scale_half_width_kg(mass, interval, in_service=False) == verification
    assert scale_half_width_kg(mass, interval) == in_service


def test_rounding_comes_on_top_of_the_permitted_error():
    assert scale_uncertainty_kg(3000, 20) == pytest.approx(math.sqrt((400 + 100) / 3))


def test_an_interval_must_be_positive():
    with pytest.raises(ValueError, match="interval"):
        scale_half_width_kg(3000, 0)


@pytest.mark.parametrize(("rear", "consistent"), [(1540, True), (1539, False)])
def test_a_gap_is_allowed_up_to_the_sum_of_the_errors(rear, consistent):
    ticket = check_ticket(total_kg=3000, axles_kg=(1400, rear), interval_kg=20)
    assert ticket.gap_kg == 3000 - 1400 - rear
    assert ticket.consistent is consistent


def test_a_total_alone_has_no_gap():
    ticket = check_ticket(total_kg=3000, axles_kg=(), interval_kg=20)
    assert (ticket.gap_kg, ticket.consistent) == (0, True)
    assert ticket.expanded_kg == 2 * ticket.standard_uncertainty_kg


def test_ball_load_takes_mass_off_the_front():
    share = ball_share(300, 1.25, 3.2)
    assert share.rear_kg == pytest.approx(300 * (1 + 1.25 / 3.2))
    assert share.front_kg == pytest.approx(-300 * 1.25 / 3.2)


def test_load_behind_the_trailer_axle_lowers_the_ball_load():
    """Published: 100 lb ten feet behind the axle of a twelve foot arm, 400 to 316.7."""
    before = trailer_ball_kg([(4800, 1.0)], 12)
    after = trailer_ball_kg([(4800, 1.0), (100, -10)], 12)
    assert before == 400
    assert after == pytest.approx(316.7, abs=0.05)


def test_ball_load_needs_an_arm():
    with pytest.raises(ValueError, match="ball to axle"):
        trailer_ball_kg([(100, 1)], 0)


def test_plain_hitch_counts_the_ball_once():
    alone = AxleLoads(1300, 1400)
    on = hitch(alone=alone, wheelbase_m=3.2, ball_overhang_m=1.25, ball_kg=300)
    assert on.on_vehicle_kg == 300
    assert on.axles.total_kg == pytest.approx(3000)
    assert on.axles.rear_kg > 1400 + 300


def test_a_distributing_hitch_moves_mass_forward_and_to_the_trailer():
    alone = AxleLoads(1300, 1400)
    given = {
        "alone": alone,
        "wheelbase_m": 3.2,
        "ball_overhang_m": 1.25,
        "ball_kg": 300,
    }
    plain = hitch(**given)
    on = hitch(**given, hitch_moment_kgm=230, ball_to_axle_m=4.6)
    assert on.on_vehicle_kg == pytest.approx(250)
    assert on.axles.front_kg == pytest.approx(1300 + (230 - 250 * 1.25) / 3.2)
    assert on.axles.total_kg == pytest.approx(2950)
    assert on.axles.rear_kg < plain.axles.rear_kg


@pytest.mark.parametrize("arm", [None, 0])
def test_a_moment_needs_the_trailer_arm(arm):
    with pytest.raises(ValueError, match="moment"):
        hitch(
            alone=AxleLoads(1, 1),
            wheelbase_m=3,
            ball_overhang_m=1,
            ball_kg=1,
            hitch_moment_kgm=1,
            ball_to_axle_m=arm,
        )


def test_each_rating_allows_its_own_trailer():
    limits = trailer_limits_kg(
        alone=AxleLoads(1500, 1400),
        ratings={
            "gvm": 3200,
            "front_axle": 1480,
            "rear_axle": 1850,
            "gcm": 6000,
            "braked_towing": 3500,
            "ball": 350,
        },
        ball_ratio=0.1,
        lever_ratio=1.5,
    )
    assert limits == pytest.approx(
        {
            "gvm": 3000,
            "front_axle": -20,
            "rear_axle": 3000,
            "gcm": 3100,
            "braked_towing": 3500,
            "ball": 3500,
        }
    )


def test_a_front_axle_within_its_rating_bounds_nothing():
    alone = AxleLoads(1400, 1400)
    given = {"ratings": {"front_axle": 1480.0}, "ball_ratio": 0.1, "lever_ratio": 1.4}
    assert trailer_limits_kg(alone=alone, **given) == {}
    with pytest.raises(ValueError, match="ratio"):
        trailer_limits_kg(alone=alone, **{**given, "ball_ratio": 0})


@given(st.floats(20, 400), st.floats(0.6, 2.0), st.floats(2.0, 8.0))
def test_the_full_moment_puts_the_front_axle_back(ball_kg, overhang_m, arm_m):
    alone = AxleLoads(1200.0, 1300.0)
    moment = full_restoration_kgm(ball_kg, overhang_m, arm_m)
    hitched = hitch(
        alone=alone,
        wheelbase_m=3.2,
        ball_overhang_m=overhang_m,
        ball_kg=ball_kg,
        hitch_moment_kgm=moment,
        ball_to_axle_m=arm_m,
    )

    assert hitched.axles.front_kg == pytest.approx(alone.front_kg)


def test_a_full_moment_needs_an_arm():
    with pytest.raises(ValueError, match="must be positive"):
        full_restoration_kgm(300, 1.2, 0)
