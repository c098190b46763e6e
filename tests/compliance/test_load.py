"""Moments, sides, tilt, ranges and tolerances."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.load import (
    AxleLoads,
    PointMass,
    Ranged,
    axle_loads,
    axle_share,
    centre_m,
    extreme_share,
    items_variance,
    left_share_kg,
    tilt_height_m,
    worst_case,
)

masses = st.floats(min_value=-500, max_value=500)
places = st.floats(min_value=-7, max_value=3)
lengths = st.floats(min_value=1.5, max_value=6)
points = st.lists(st.builds(PointMass, st.just("x"), masses, places), max_size=12)


@given(points, lengths)
def test_front_and_rear_make_the_total(rows, length):
    loads = axle_loads(rows, length)
    assert loads.total_kg == pytest.approx(sum(m.mass_kg for m in rows), abs=1e-6)


@given(st.floats(min_value=0, max_value=500), places, lengths, st.floats(0, 3))
def test_moving_forward_never_raises_the_rear_axle(mass, x, length, forward):
    before = axle_share(mass, x, length).rear_kg
    assert axle_share(mass, x + forward, length).rear_kg <= before


@given(points, lengths, st.randoms())
def test_order_never_matters(rows, length, random):
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert axle_loads(shuffled, length) == axle_loads(rows, length)


def test_ahead_of_the_front_axle_counts_more_than_its_mass():
    assert axle_share(60, 0.9, 3.0) == AxleLoads(78.0, -18.0)


def test_behind_the_rear_axle_makes_the_front_lighter():
    share = axle_share(40, -4.0, 3.2)
    assert share.rear_kg == 50
    assert share.front_kg == -10


def test_a_removed_part_counts_at_its_own_place():
    fitted, removed = PointMass("bar", 62, 0.72), PointMass("bumper", -14, 0.68)
    loads = axle_loads([fitted, removed], 3.2)
    assert loads.rear_kg == pytest.approx((-62 * 0.72 + 14 * 0.68) / 3.2)


def test_a_moved_part_shifts_by_its_lever():
    moved = axle_loads([PointMass("", -80, -0.6), PointMass("", 80, -2.2)], 3.2)
    assert moved.rear_kg == pytest.approx(80 * 1.6 / 3.2)
    assert moved.front_kg == pytest.approx(-80 * 1.6 / 3.2)


@pytest.mark.parametrize("length", [0, -3, math.nan])
def test_a_wheelbase_that_cannot_be_is_refused(length):
    with pytest.raises(ValueError, match="wheelbase"):
        axle_share(10, 0, length)


def test_centre_needs_a_load():
    assert centre_m(1100, 900, 3.0) == pytest.approx(-1.35)
    with pytest.raises(ValueError, match="nothing"):
        centre_m(0, 0, 3.0)


def test_left_takes_more_of_what_stands_left():
    rows = [PointMass("base", 2000, 0), PointMass("fridge", 60, 0, y_m=0.4)]
    assert left_share_kg(rows, 1.6) == pytest.approx(1000 + 30 + 15)
    with pytest.raises(ValueError, match="track"):
        left_share_kg(rows, 0)


def test_tilt_uses_the_sine_of_the_lift():
    """The trap: tan(tilt) is not H/L."""
    length, lift, height, mass, radius = 3.0, 0.9, 0.75, 2200, 0.37
    tilt = math.asin(lift / length)
    # Forward model: tilted nose down, the centre moves forward by its height.
    gain = mass * (height - radius) * math.tan(tilt) / length
    found = tilt_height_m(
        mass_kg=mass,
        wheelbase_m=length,
        front_gain_kg=gain,
        tilt_rad=tilt,
        tyre_radius_m=radius,
    )
    assert found == pytest.approx(height)
    naive = radius + gain * length / (mass * lift / length)
    assert naive != pytest.approx(height, abs=0.01)


ranged = st.builds(
    lambda mass, front: Ranged(
        "r", "full", "empty", AxleLoads(front, mass - front), mass
    ),
    masses,
    masses,
)


@given(
    st.floats(-3000, 3000),
    st.lists(ranged, max_size=7),
    st.sampled_from(["front", "rear", None]),
)
def test_worst_case_equals_brute_force(fixed, ranges, axle):
    def effect(row):
        return {
            "front": row.loads.front_kg,
            "rear": row.loads.rear_kg,
            None: row.loads.total_kg,
        }[axle]

    corners = [
        fixed
        + sum(effect(row) * share for row, share in zip(ranges, corner, strict=True))
        for corner in itertools.product((0, 0.5, 1), repeat=len(ranges))
    ]
    assert worst_case(fixed, ranges, axle).value_kg == pytest.approx(
        max(corners), abs=1e-6
    )


@given(
    st.lists(
        st.builds(
            lambda mass, front: Ranged(
                "r", "full", "empty", AxleLoads(front, mass - front), mass
            ),
            st.floats(-100, 300),
            masses,
        ),
        max_size=6,
    ),
    st.booleans(),
)
def test_the_extreme_share_equals_brute_force(ranges, least):
    fixed = AxleLoads(1200, 1000)
    shares = []
    for corner in itertools.product((0, 1), repeat=len(ranges)):
        on = [row.loads for row, full in zip(ranges, corner, strict=True) if full]
        loads = sum(on, fixed)
        shares.append(loads.front_kg / loads.total_kg)
    share, _ = extreme_share(fixed, ranges, least=least)
    assert share == pytest.approx(min(shares) if least else max(shares), abs=1e-9)


def test_worst_case_names_what_is_full_and_what_is_empty():
    ranges = [
        Ranged("a", "a full", "a empty", AxleLoads(-10, 40), 30),
        Ranged("b", "b full", "b empty", AxleLoads(20, -5), 15),
        Ranged("c", "c full", "c empty", AxleLoads(0, 0), 0),
    ]
    assert worst_case(100, ranges, "rear").state == ("a full", "b empty")
    assert worst_case(100, ranges, "front").value_kg == 120


def test_half_widths_combine_in_squares():
    rows = [
        PointMass("a", 60, -3.2, half_width_kg=3),
        PointMass("b", 40, -1.6, half_width_kg=4, x_half_width_m=0.16),
    ]
    assert items_variance(rows, 3.2, None) == pytest.approx((9 + 16) / 3)
    assert items_variance(rows, 3.2, "rear") == pytest.approx((9 + 4 + 2**2) / 3)
    assert items_variance(rows, 3.2, "front") == pytest.approx((0 + 4 + 2**2) / 3)
