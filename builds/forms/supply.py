"""What a part of the supply states, and the ratings a part raises: one field for each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from builds.cells import plain_text, supply_faults
from builds.forms.vehicles import LABELS as RATING_LABELS
from builds.models import SUPPLY_ROLES, ZONE_CHOICES
from compliance.inputs import RATING_NAMES
from workshop.forms_fields import PlainDecimalField, unit_of

ROLES = {
    "battery": "A battery",
    "charger": "A charger",
    "panel": "A solar panel",
    "board": "A distribution board",
}
CHOICES: dict[str, list[tuple[str, str]]] = {
    "battery_chemistry": [
        ("lfp", "Lithium (LFP)"),
        ("agm", "AGM"),
        ("flooded", "Flooded lead-acid"),
    ],
    "battery_place": ZONE_CHOICES,
    "charger_kind": [
        ("dc-dc", "From another battery (DC-DC)"),
        ("solar", "From solar panels"),
        ("shore", "From mains"),
    ],
}
LABELS = {
    "battery_chemistry": "Kind of battery",
    "battery_capacity_ah": "Capacity",
    "battery_usable_ratio": "Share of it to use",
    "battery_charge_limit_a": "Largest charge current",
    "battery_discharge_limit_a": "Largest lasting current it gives",
    "battery_internal_mohm": "Internal resistance",
    "battery_place": "Where the battery stands",
    "battery_charge_min_c": "Charges from",
    "battery_charge_max_c": "Charges up to",
    "battery_discharge_min_c": "Gives current from",
    "battery_discharge_max_c": "Gives current up to",
    "charger_kind": "Charges",
    "charger_out_a": "Output current",
    "charger_out_v": "Output voltage",
    "charger_efficiency": "Efficiency",
    "charger_solar_input_w": "Panels it may take",
    "panel_power_w": "Rated power",
    "panel_derate": "Yield lying flat",
    "panel_short_circuit_a": "Short-circuit current",
    "panel_open_circuit_v": "Open-circuit voltage",
    "board_ways": "Ways",
}
HELP = {
    "battery_usable_ratio": "0 to 1. Empty: the planning figure for its kind.",
    "battery_place": "Empty: where the item itself is.",
    "charger_efficiency": "0 to 1, from its data sheet.",
    "panel_derate": "0 to 1: what it gives of its rated power. Empty: the planning figure.",
}


def _fact_field(name: str, value: object) -> forms.Field:
    shown = None if value is None else plain_text(value)
    common: dict[str, Any] = {
        "required": False,
        "label": LABELS[name],
        "help_text": HELP.get(name, ""),
        "initial": shown,
    }
    if name not in CHOICES:
        return PlainDecimalField(unit=unit_of(name), max_digits=12, **common)
    choices = [("", "not said"), *CHOICES[name]]
    if shown and shown not in dict(choices):
        choices.append((shown, shown))
    return forms.ChoiceField(choices=choices, **common)


class SupplyFields(forms.ModelForm):
    """The fields that stand in the ``supply`` and ``raises`` of a part or a line."""

    raised: ClassVar[str]
    """How a raised rating is asked for, after its name."""
    most_kg: ClassVar[int]
    field_groups: ClassVar[list[tuple[str, list[str]]]]
    ratings_in: ClassVar[str]
    """The group that the ratings stand in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        supply, raises = self.instance.supply, self.instance.raises
        self.fields["supply_role"] = forms.ChoiceField(
            required=False,
            label="Part of the supply",
            choices=[
                ("", "No, it stores, charges and hands on nothing"),
                *ROLES.items(),
            ],
            initial=supply.get("role", ""),
        )
        for role, facts in SUPPLY_ROLES.items():
            own = supply if supply.get("role") == role else {}
            for fact in facts:
                name = f"{role}_{fact}"
                self.fields[name] = _fact_field(name, own.get(fact))
        for rating in RATING_NAMES:
            self.fields[f"raise_{rating}"] = PlainDecimalField(
                required=False,
                label=f"{RATING_LABELS[rating]}, {self.raised}",
                min_value=Decimal("0.1"),
                max_value=Decimal(self.most_kg),
                max_digits=8,
                unit="kg",
                initial=raises.get(rating) and plain_text(raises[rating]),
            )

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        role = found.get("supply_role", "")
        found["supply"] = {"role": role, **self._facts(role, found)} if role else {}
        for name, sentence in self._supply_faults(role, found):
            if name not in self.errors:
                self.add_error(name, sentence)
        found["raises"] = {
            rating: float(value)
            for rating in RATING_NAMES
            if (value := found.get(f"raise_{rating}")) is not None
        }
        return found

    def _facts(self, role: str, found: Mapping[str, Any]) -> dict[str, float | str]:
        facts: dict[str, float | str] = {}
        for fact in SUPPLY_ROLES[role]:
            value: Decimal | str | None = found.get(f"{role}_{fact}")
            if isinstance(value, Decimal):
                facts[fact] = float(value)
            elif value:
                facts[fact] = value
        return facts

    def _supply_faults(
        self, role: str, found: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        if role:
            for fact, sentence in supply_faults(role, self._facts(role, found)):
                yield f"{role}_{fact}", f"This {sentence}"
            return
        filled = [r for r in SUPPLY_ROLES if self._facts(r, found)]
        if filled and not self.instance.supply:
            said = (
                f"What {ROLES[filled[0]].lower()} states is filled in: choose that it "
            )
            yield "supply_role", f"{said}is one, or empty those fields."

    def _part(self, title: str, names: list[str]) -> tuple[str, bool, list[Any]]:
        """Give some fields that are folded away, open where something is in them."""
        fields = [self[name] for name in names]
        filled = any(f.value() not in (None, "") or f.errors for f in fields)
        return title, filled, fields

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField], list[Any]]]:
        """Give each group with its title, its fields, and what is folded away in it."""
        found = []
        for title, names in self.field_groups:
            parts = []
            if "supply_role" in names:
                parts = [
                    self._part(ROLES[role], [f"{role}_{fact}" for fact in facts])
                    for role, facts in SUPPLY_ROLES.items()
                ]
            if title == self.ratings_in:
                ratings = [f"raise_{rating}" for rating in RATING_NAMES]
                parts.append(self._part("Ratings it raises", ratings))
            found.append((title, [self[name] for name in names], parts))
        return found
