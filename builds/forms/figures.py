"""The planning figures a workshop may set for itself, one field each."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from compliance.settings import SETTINGS, Setting, Settings
from workshop.forms_fields import PlainDecimalField

GROUPS = {
    "Balance, room and heat": {"judging"},
    "Cables and fuses": {"conductors", "fuses"},
    "Batteries, chargers, sun": {"energy", "batteries"},
}
UNITS = {"C": "°C", "1": ""}


def unit_words(setting: Setting) -> str:
    """Write a unit as people read it; a ratio has none."""
    if setting.unit == "C" and setting.entry == "lead_charge_rate":
        return "C"  # the battery's own capacity in an hour, not degrees
    return UNITS.get(setting.unit, setting.unit)


class OwnFiguresForm(forms.Form):
    """Blank means that the figure of the table counts."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, setting in SETTINGS.items():
            self.fields[name] = PlainDecimalField(
                label=setting.label,
                unit=unit_words(setting),
                required=False,
                error_messages={
                    "min_value": f"Enter at least {setting.low:g}.",
                    "max_value": f"Enter at most {setting.high:g}.",
                },
                help_text=f"{setting.low:g} to {setting.high:g} {unit_words(setting)}",
                min_value=Decimal(str(setting.low)),
                max_value=Decimal(str(setting.high)),
                max_digits=8,
                decimal_places=3,
            )

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        figures = Settings({k: float(v) for k, v in cleaned.items() if v is not None})
        if figures.value("front_share_least") >= figures.value("front_share_most"):
            self.add_error(
                "front_share_most", "Enter more than the least share on the front axle."
            )
        return cleaned

    def own(self) -> dict[str, float]:
        """Give the figures that were filled in."""
        filled = self.cleaned_data.items()
        return {name: float(value) for name, value in filled if value is not None}
