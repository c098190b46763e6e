"""Load, towing and weighing at their edges: what a small slip would move."""

from __future__ import annotations

import pytest

from compliance.load import (
    AxleLoads,
    PointMass,
    Ranged,
    axle_share,
    centre_m,
    left_share_kg,
    worst_case,
)
from compliance.towing import hitch, trailer_ball_kg, trailer_limits_kg
from compliance.weighing import (
    check_ticket,
    scale_half_width_kg,
    scale_uncertainty_kg,
)

MODEL = {"wheelbase_m": 0.6, "ball_overhang_m": 0.3, "ball_kg": 0.4}
"""A model vehicle: lengths and masses below one are computed like any other."""


def test_lengths_below_a_metre_and_masses_below_a_kilogram():
    assert axle_share(1, -0.3, 0.6) == AxleLoads(0.5, 0.5)
    assert centre_m(0.25, 0.25, 0.6) == pytest.approx(-0.3)
    assert left_share_kg([PointMass("", 1, 0, y_m=0.2)], 0.4) == pytest.approx(1)
    assert trailer_ball_kg([(2, 0.1)], 0.5) == pytest.approx(0.4)
    on = hitch(
        alone=AxleLoads(1, 1), **MODEL, hitch_moment_kgm=0.06, ball_to_axle_m=0.5
    )
    assert on.on_vehicle_kg == pytest.approx(0.4 - 0.06 / 0.5)
    assert scale_half_width_kg(100, 0.5) == 0.5


@pytest.mark.parametrize(
    ("compute", "said"),
    [
        (lambda: axle_share(1, 0, 0), "the wheelbase must be positive"),
        (lambda: centre_m(0, 0, 3), "the axles carry nothing"),
        (lambda: left_share_kg([], 0), "the track must be positive"),
        (
            lambda: trailer_ball_kg([], 0),
            "the distance from ball to axle must be positive",
        ),
        (
            lambda: hitch(alone=AxleLoads(1, 1), **MODEL, hitch_moment_kgm=1),
            "a hitch moment needs the distance from ball to axle",
        ),
        (
            lambda: trailer_limits_kg(
                alone=AxleLoads(1, 1), ratings={}, ball_ratio=0, lever_ratio=1
            ),
            "the ball ratio must be positive",
        ),
        (lambda: scale_half_width_kg(1, 0), "the scale interval must be positive"),
    ],
)
def test_what_cannot_be_is_said_in_full(compute, said):
    with pytest.raises(ValueError, match=f"^{said}$"):
        compute()


def test_a_front_axle_exactly_at_its_rating_bounds_nothing():
    limits = trailer_limits_kg(
        alone=AxleLoads(1480, 1400),
        ratings={"front_axle": 1480.0},
        ball_ratio=0.1,
        lever_ratio=1.4,
    )
    assert limits == {}


def test_at_verification_every_figure_of_a_ticket_is_the_narrower_one():
    in_use = check_ticket(total_kg=3000, axles_kg=(1400, 1600), interval_kg=20)
    new = check_ticket(
        total_kg=3000, axles_kg=(1400, 1600), interval_kg=20, in_service=False
    )
    assert (in_use.permitted_error_kg, new.permitted_error_kg) == (20, 10)
    assert in_use.standard_uncertainty_kg == pytest.approx((500 / 3) ** 0.5)
    assert new.standard_uncertainty_kg == pytest.approx((200 / 3) ** 0.5)
    assert scale_uncertainty_kg(3000, 20, in_service=False) == pytest.approx(
        (200 / 3) ** 0.5
    )
    assert new.expanded_kg == 2 * new.standard_uncertainty_kg


@pytest.mark.parametrize(
    ("gap", "in_service", "consistent"),
    [
        (60, True, True),
        (61, True, False),
        (30, False, True),
        (31, False, False),
    ],
)
def test_the_axles_errors_count_as_the_scale_is_used(gap, in_service, consistent):
    """Three readings of 20 kg each in use, of 10 kg each at verification."""
    ticket = check_ticket(
        total_kg=3000,
        axles_kg=(1400, 1600 + gap),
        interval_kg=20,
        in_service=in_service,
    )
    assert ticket.consistent is consistent


def test_a_gap_beyond_binary_noise_counts():
    """No more than a few parts in 10^9 of the total are forgiven as noise."""
    for total, over, consistent in (
        (3000.0, 2e-6, True),
        (3000.0, 4e-6, False),
        (0.5, 0.9e-9, True),
        (0.5, 1.5e-9, False),
    ):
        ticket = check_ticket(
            total_kg=total, axles_kg=(0.0, total - 60 - over), interval_kg=20
        )
        assert ticket.consistent is consistent, (total, over)


def test_a_range_that_moves_nothing_is_in_no_state():
    loads = AxleLoads(-5.0, 5.0)
    moved = Ranged("slide", "slide out", "slide in", loads, 0.0)
    assert worst_case(10, [moved], None).state == ()
    assert worst_case(10, [moved], "rear").state == ("slide out",)
    assert worst_case(10, [moved], "front").state == ("slide in",)
    cup = Ranged("cup", "cup full", "cup empty", AxleLoads(0.25, 0.25), 0.5)
    assert worst_case(10, [cup], None).value_kg == 10.5
    assert worst_case(10, [cup], "rear").state == ("cup full",)
