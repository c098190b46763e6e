"""Tyres against series printed elsewhere, and against the rule they follow."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.air import free_air_l
from compliance.tyres import capacity_kg, read_size
from compliance.worksheets import run

PRINTED = json.loads(
    (Path(__file__).parents[1] / "reference" / "tyres.json").read_text("utf-8")
)
POUND_KG = 0.45359237


def series(name: str, unit: str) -> dict[int, float]:
    printed = PRINTED[name]
    return dict(enumerate(printed[unit], printed["first_index"]))


KILOGRAMS = series("load_index_kg", "kg") | series("load_index_above_kg", "kg")


def test_every_index_of_the_table_is_printed_elsewhere():
    assert min(KILOGRAMS) == 60
    assert max(KILOGRAMS) == 130
    for beyond in (59, 131):
        with pytest.raises(ValueError, match="lies between"):
            capacity_kg(beyond)


@pytest.mark.parametrize("index", sorted(KILOGRAMS))
def test_a_load_index_as_it_is_printed(index: int):
    assert capacity_kg(index) == KILOGRAMS[index]


@pytest.mark.parametrize(("index", "pounds"), series("load_index_lb", "lb").items())
def test_a_load_index_as_it_is_printed_in_pounds(index: int, pounds: float):
    assert capacity_kg(index) == pytest.approx(pounds * POUND_KG, abs=0.4)


@pytest.mark.parametrize("index", range(60, 131))
def test_the_series_is_geometric(index: int):
    """
    Eighty steps to the decade from 45 kg, rounded to preferred numbers.

    A misprint such as the 165 of index 62 in one public table does not pass.
    """
    exact = 45 * 10 ** (index / 80)

    assert capacity_kg(index) == pytest.approx(exact, rel=0.018)
    assert pytest.approx(45 * 10 ** (62 / 80), rel=0.018) != 165


@pytest.mark.parametrize("row", PRINTED["sizes_mm"]["rows"], ids=lambda r: r["size"])
def test_a_diameter_as_it_is_printed(row):
    # A page that rounds the rim to whole millimetres may be 0.9 mm away.
    assert read_size(row["size"]).diameter_mm == pytest.approx(
        row["diameter_mm"], abs=0.9
    )


def test_an_axle_carries_twice_what_its_tyre_does():
    answer = run(
        "tyre",
        {
            "original_size": "205/65R15",
            "new_size": "245/70R16",
            "load_index": 62,
            "axle_limit_kg": 530,
        },
    )
    assert answer["axle_capacity_kg"] == 2 * KILOGRAMS[62]
    assert answer["verdict"] == "within"


@given(st.floats(1, 60), st.floats(10, 15))
def test_the_air_of_a_tyre_does_not_care_for_the_unit_of_pressure(rise, outside):
    kilopascal = 6.894757293168361
    psi = free_air_l(86.6, rise, outside)
    kpa = free_air_l(86.6, kilopascal * rise, kilopascal * outside)

    assert psi == pytest.approx(kpa, rel=1e-12)
