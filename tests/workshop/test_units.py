"""Numbers and names the way a person reads them."""

from __future__ import annotations

import pytest

from workshop.templatetags import units


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("drop_v", "Drop, V"),
        ("smallest_area_mm2", "Smallest area, mm²"),
        ("ra_mj_m2", "Ra, MJ/m²"),
        ("days_to_flat", "Days to flat"),
        ("x_m", "X, m"),
        ("lever_ratio", "Lever ratio"),
    ],
)
def test_a_quantity_is_named_with_its_unit(name: str, words: str):
    assert units.measured(name) == words


def test_a_flag_asks_without_the_word_true():
    assert units.asked("true where it runs hot") == "It runs hot"
    assert units.asked("current") == "Current"


def test_short_times_are_said_in_hours():
    assert units.lasting(0.9) == "22 hours"
    assert units.lasting(2) == "2.0 days"
    assert "–" in units.lasting(None)
