"""Number fields: what was typed wrongly is answered with what to type instead."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

import pytest
from django import forms
from django.core.exceptions import ValidationError

from workshop.forms_fields import (
    PlainDecimalField,
    PlainIntegerField,
    plain_numbers,
    unit_of,
)
from workshop.models import Bay

MASS = PlainDecimalField(max_digits=7, decimal_places=1, unit="kg")
COUNT = PlainIntegerField()
BARE = "the unit stands beside the field."
MANY = "This has too many figures. Check the unit."


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("12.5", "12.5"),
        (" 12 ", "12"),
        ("+5", "5"),
        ("-0.5", "-0.5"),
        (".5", "0.5"),
        ("5.", "5"),
        ("٣", "3"),
    ],
)
def test_a_number_is_read(typed: str, number: str):
    assert MASS.clean(typed) == Decimal(number)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("12,5", "Use a point for decimals: 12.5"),
        ("0,125", "Use a point for decimals: 0.125"),
        ("12,5 kg", "Use a point for decimals: 12.5"),
        ("1,200", "Write 1200 without a comma, or 1.200 with a point."),
        ("1,234.5", "Use a point for decimals and no marks for thousands."),
        ("1.234,5", "Use a point for decimals and no marks for thousands."),
        ("1,234,567", "Use a point for decimals and no marks for thousands."),
        ("12 kg", "Enter the number only; the unit is kg."),
        ("12kg", "Enter the number only; the unit is kg."),
        ("12\u00a0kg", "Enter the number only; the unit is kg."),
        ("12 each", "Enter the number only; the unit is kg."),
        ("12 กก.", "Enter the number only; the unit is kg."),
        ("1_0", "Enter the number only; the unit is kg."),
        ("1e5", "Write the number out in full, without an exponent."),
        ("-1E-5", "Write the number out in full, without an exponent."),
        ("NaN", "Enter a number, such as 12.5."),
        ("sNaN", "Enter a number, such as 12.5."),
        ("inf", "Enter a number, such as 12.5."),
        ("-Infinity", "Enter a number, such as 12.5."),
        ("heavy", "Enter a number, such as 12.5."),
        ("1 200", "Enter a number, such as 12.5."),
        ("1, 5", "Enter a number, such as 12.5."),
        ("½", "Enter a number, such as 12.5."),
        ("--5", "Enter a number, such as 12.5."),
        ("12345678", MANY),
        ("9" * 5000, MANY),
    ],
)
def test_what_is_no_number_is_answered_in_words(typed: str, sentence: str):
    with pytest.raises(ValidationError) as refused:
        MASS.clean(typed)

    assert refused.value.messages[0] == sentence


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("12 kg", f"Enter the number only; {BARE}"),
        ("1.5", "Enter a whole number."),
        ("NaN", "Enter a whole number."),
        ("1,5", "Use a point for decimals: 1.5"),
        ("9" * 5000, MANY),
    ],
)
def test_a_whole_number_is_asked_for_in_words(typed: str, sentence: str):
    with pytest.raises(ValidationError) as refused:
        COUNT.clean(typed)

    assert refused.value.messages == [sentence]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("gvm_kg", "kg"),
        ("area_mm2", "mm²"),
        ("run_m", "m"),
        ("start_battery_ah", "Ah"),
        ("base_people", ""),
        ("a", ""),
        ("hours_per_day", ""),
    ],
)
def test_a_unit_is_read_off_a_name(name: str, unit: str):
    assert unit_of(name) == unit


def test_a_models_numbers_get_a_unit_of_their_own_beside_a_bare_label():
    class BayForm(forms.ModelForm):
        class Meta:
            model = Bay
            fields = ("max_length_mm", "hours_per_day")
            labels: ClassVar = {"hours_per_day": "Hours"}
            formfield_callback = plain_numbers

    length, hours = BayForm().fields.values()

    assert isinstance(length, PlainIntegerField)
    assert (length.label, length.unit) == ("Max length", "mm")
    assert (hours.label, hours.unit) == ("Hours", "")
    form = BayForm({"max_length_mm": "6000 mm", "hours_per_day": "8"})
    assert form.errors["max_length_mm"] == ["Enter the number only; the unit is mm."]
