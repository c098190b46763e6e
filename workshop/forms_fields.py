"""Number fields that say what is wrong the way a person at the counter would."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from workshop.saving import StaleError

TYPED_UNIT = re.compile(r"^[-+]?[\d.,]+\s*[^\d\s.,eE+-].*$")
EXPONENT = re.compile(r"^[-+]?[\d.,]+[eE][-+]?\d+$")


def refuse_odd_number(text: str) -> None:
    """Raise ValidationError for what a number field gets instead of a number."""
    if "," in text:
        hint = text.replace(",", ".", 1)
        raise ValidationError(
            f"Use a point for decimals: {hint[:20]}"
            if text.count(",") == 1
            else "Use a point for decimals and no marks for thousands."
        )
    if EXPONENT.match(text):
        raise ValidationError("Write the number out in full, without an exponent.")
    if TYPED_UNIT.match(text):
        raise ValidationError(
            "Enter the number only; the unit stands beside the field."
        )


class PlainDecimalField(forms.DecimalField):
    widget = forms.TextInput

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal"}))
        super().__init__(*args, **kwargs)
        self.error_messages["invalid"] = "Enter a number, such as 12.5."
        too_many = "This has too many figures. Check the unit."
        self.error_messages |= {"max_digits": too_many, "max_whole_digits": too_many}

    def to_python(self, value: Any) -> Decimal | None:  # type: ignore[override]
        if isinstance(value, str):
            value = value.strip()
            refuse_odd_number(value)
        return super().to_python(value)


class PlainIntegerField(forms.IntegerField):
    widget = forms.TextInput

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric"}))
        super().__init__(*args, **kwargs)
        self.error_messages["invalid"] = "Enter a whole number."

    def to_python(self, value: Any) -> int | None:
        if isinstance(value, str):
            value = value.strip()
            refuse_odd_number(value)
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
    if not db_field.choices:
        if kind == "DecimalField":
            kwargs["form_class"] = PlainDecimalField
        elif "Integer" in kind:
            kwargs["form_class"] = PlainIntegerField
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
