"""VIN check digits: published examples, and where there is none to check."""

from __future__ import annotations

import pytest

from workshop.vin import check_digit, vin_warning

PUBLISHED = [
    # 49 CFR 565.15 is worked with this one in most texts about it (from memory).
    ("1M8GDM9AXKP042788", "X"),
    # Every weight times one: 89, which leaves 1 of 11 (derived).
    ("11111111111111111", "1"),
]


@pytest.mark.parametrize(("vin", "digit"), PUBLISHED)
def test_published_examples(vin: str, digit: str):
    assert check_digit(vin) == digit == vin[8]
    assert vin_warning(vin) is None


@pytest.mark.parametrize("at", [n for n in range(17) if n != 8])
def test_one_wrong_figure_is_noticed(at: int):
    vin = "11111111111111111"
    typed = vin[:at] + "2" + vin[at + 1 :]

    assert "check digit" in str(vin_warning(typed))


def test_two_figures_changed_about_are_noticed():
    assert "works out as" in str(vin_warning("1M8GDM9AXKP042878"))


def test_the_warning_names_both_digits():
    warning = str(vin_warning("1M8GDM9A1KP042788"))

    assert "is 1 but works out as X" in warning


@pytest.mark.parametrize(
    "vin", ["7AZDT28D4RW004417", "6T1BE42K08X123456", "WVWZZZ1JZXW000001"]
)
def test_outside_north_america_the_ninth_place_says_nothing(vin: str):
    assert check_digit(vin) != vin[8]
    assert vin_warning(vin) is None


@pytest.mark.parametrize(
    ("vin", "sentence"),
    [
        ("1M8GDM9AXKP04278", "This has 16 characters"),
        ("1M8GDM9AXKP0427880", "This has 18 characters"),
        ("7AZDT28D4RWO04417", "never uses O"),
        ("7AZDT28D4RWÉ04417", "only letters A to Z"),
    ],
)
def test_what_looks_odd_is_said(vin: str, sentence: str):
    assert sentence in str(vin_warning(vin))


@pytest.mark.parametrize("vin", ["", "1m8gdm9axkp042788", "1M8-GDM9AXKP 042788"])
def test_empty_small_letters_and_spaces_are_no_matter(vin: str):
    assert vin_warning(vin) is None


@pytest.mark.parametrize("vin", ["SHORT", "7AZDT28D4RWO04417"])
def test_there_is_no_digit_of_what_is_no_vin(vin: str):
    with pytest.raises(ValueError, match="17 letters"):
        check_digit(vin)
