"""Number fields that say what is wrong the way a person at the counter would."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from workshop.saving import StaleError

EXPONENT = re.compile(r"^[-+]?[\d.,]+[eE][-+]?\d+$")
NUMBER_AND_UNIT = re.compile(r"^([-+]?[\d.,]+)\s*([^\d\s.,+-].*)?$")

UNIT_ENDINGS = {
    "_mm2": "mm²",
    "_mm": "mm",
    "_m": "m",
    "_kg": "kg",
    "_kgm": "kg·m",
    "_ah": "Ah",
    "_a": "A",
    "_w": "W",
    "_v": "V",
    "_mohm": "mΩ",
    "_l": "L",
    "_h": "h",
    "_percent": "%",
    "_deg": "°",
    "_c": "°C",
    "_months": "months",
}


def unit_of(name: str) -> str:
    """Read a field's unit off the end of its name, where every quantity has it."""
    return UNIT_ENDINGS.get(f"_{name.rpartition('_')[2]}", "") if "_" in name else ""


def _comma_sentence(number: str) -> str:
    before, _, after = number.partition(",")
    if "," in after or "." in number:
        return "Use a point for decimals and no marks for thousands."
    if len(after) == 3 and before.strip("+-0"):
        # Nobody but the writer knows which of the two was meant.
        return (
            f"Write {before}{after} without a comma, or {before}.{after} with a point."
        )
    return f"Use a point for decimals: {before}.{after}"


def refuse_odd_number(text: str, unit: str = "") -> None:
    """Raise ValidationError for what a number field gets instead of a number."""
    if EXPONENT.match(text):
        raise ValidationError("Write the number out in full, without an exponent.")
    found = NUMBER_AND_UNIT.match(text[:40])
    if found is None:
        return
    number, typed_unit = found.groups()
    if "," in number:
        raise ValidationError(_comma_sentence(number[:20]))
    if typed_unit:
        where = f"is {unit}" if unit else "stands beside the field"
        raise ValidationError(f"Enter the number only; the unit {where}.")


class PlainDecimalField(forms.DecimalField):
    widget = forms.TextInput

    def __init__(self, *args: Any, unit: str = "", **kwargs: Any) -> None:
        self.unit = unit
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal"}))
        super().__init__(*args, **kwargs)
        self.error_messages["invalid"] = "Enter a number, such as 12.5."
        too_many = "This has too many figures. Check the unit."
        self.error_messages |= {"max_digits": too_many, "max_whole_digits": too_many}

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str):
            value = value.strip()
            refuse_odd_number(value, self.unit)
        return super().to_python(value)


class PlainIntegerField(forms.IntegerField):
    widget = forms.TextInput

    def __init__(self, *args: Any, unit: str = "", **kwargs: Any) -> None:
        self.unit = unit
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric"}))
        super().__init__(*args, **kwargs)
        self.error_messages["invalid"] = "Enter a whole number."

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, str):
            value = value.strip()
            refuse_odd_number(value, self.unit)
            if len(value) > 12:
                raise ValidationError("This has too many figures. Check the unit.")
        return super().to_python(value)


class ChosenRows(forms.ModelMultipleChoiceField):
    """Several rows to tick; what cannot be a row's number is no choice either."""

    def clean(self, value: Any) -> Any:
        for chosen in value or ():
            text = str(chosen)
            if not (text.isascii() and text.isdecimal() and len(text) < 18):
                raise ValidationError(
                    self.error_messages["invalid_pk_value"],
                    code="invalid_pk_value",
                    params={"pk": text[:20]},
                )
        return super().clean(value)


def plain_numbers(db_field: Any, **kwargs: Any) -> forms.Field | None:
    """Give a ModelForm our number fields for the model's own (formfield_callback)."""
    kind = db_field.get_internal_type()
    number = kind == "DecimalField" or "Integer" in kind
    if number and not db_field.choices:
        kwargs["form_class"] = (
            PlainDecimalField if kind == "DecimalField" else PlainIntegerField
        )
        kwargs["unit"] = unit_of(db_field.name)
        if kwargs["unit"] and not kwargs.get("label"):
            # The unit has its own place beside the label.
            words = db_field.name.rpartition("_")[0].replace("_", " ")
            kwargs["label"] = words.capitalize()
    found: forms.Field | None = db_field.formfield(**kwargs)
    return found


def put_errors(form: forms.BaseForm, error: ValidationError) -> None:
    """Put what a service refused at the fields it speaks of, the rest at the top.

    A form that shows a column under another name says so in ``shown_as``. After a
    stale save the form carries the version that is stored now: who has compared may
    save again.
    """
    if isinstance(error, StaleError) and "version" in form.fields:
        data = cast("QueryDict", form.data).copy()
        data[form.add_prefix("version")] = str(error.stored)
        form.data = data
    shown_as: dict[str, str] = getattr(form, "shown_as", {})
    if hasattr(error, "error_dict"):
        for name, errors in error.error_dict.items():
            field = shown_as.get(name, name)
            form.add_error(field if field in form.fields else None, errors)
    else:
        form.add_error(None, error)
