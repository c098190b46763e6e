from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.cells import CellError
from builds.forms.supply import SupplyFields
from builds.models import PartType
from builds.steps import read_steps, write_steps
from workshop.forms_fields import PlainDecimalField, plain_numbers
from workshop.models import Skill

TEXTS = ("steps", "tests", "papers")
GROUPS: list[tuple[str, list[str]]] = [
    ("What it is", ["key", "name", "maker", "kind", "description", "active"]),
    (
        "Mass and place",
        [
            "zone",
            "place_ref",
            "dx_mm",
            "dy_mm",
            "dz_mm",
            "place_text",
            "mass_kg",
            "mass_half_width_kg",
            "mass_source",
            "carrier_limit_kg",
            "removes_label",
            "removes_mass_kg",
            "removes_dx_mm",
        ],
    ),
    (
        "Electrical",
        [
            "load_kind",
            "current_a",
            "power_w",
            "efficiency",
            "hours_per_day",
            "duty",
            "standby_a",
            "limit_percent",
            "short_time",
            "supply_role",
            "fuse_a",
            "fuse_kind",
            "area_mm2",
            "run_m",
        ],
    ),
    ("Switching", ["switch_kind", "switch_text", "interlock"]),
    ("Tanks and ratings", ["tank_fluid", "tank_capacity_l"]),
    (
        "Work",
        [*(f"{skill}_h" for skill in Skill.values), "steps_text", "tests_text"],
    ),
    (
        "For the owner, price and papers",
        [
            "use_text",
            "care_text",
            "caution_text",
            "papers_text",
            "price",
            "warranty_months",
        ],
    ),
]
LABELS = {
    "place_ref": "Its place is measured from",
    "dx_mm": "Forward of that",
    "dy_mm": "Left of the centre line",
    "dz_mm": "Above the ground",
    "place_text": "Place in words",
    "mass_half_width_kg": "Mass known to within ±",
    "mass_source": "Where the mass comes from",
    "carrier_limit_kg": "May itself carry",
    "removes_label": "Original part it replaces",
    "removes_mass_kg": "Mass of that part",
    "removes_dx_mm": "That part, forward of the same point",
    "load_kind": "Electrical load",
    "standby_a": "Standby current",
    "limit_percent": "Voltage drop allowed",
    "short_time": "Only for moments, like a winch",
    "fuse_a": "Fuse",
    "area_mm2": "Copper area",
    "run_m": "Cable run, one way",
    "switch_kind": "Switching",
    "switch_text": "Legend, or where its own control is",
    "tank_fluid": "A tank for",
    "tank_capacity_l": "Tank holds",
    "price": "Price of one, before tax",
    "warranty_months": "Warranty",
    "active": "Offered for new builds",
}
HELP = {
    "key": "Stays for good: small letters, figures and hyphens, such as winch-4500.",
    "kind": "Small letters and hyphens, such as driving-lamps.",
    "dx_mm": "Negative behind that point.",
    "carrier_limit_kg": "For a rack, slide, drawers or tray: its maker's limit for one.",
}
OWN = (
    {"supply_role"}
    | {f"{name}_text" for name in TEXTS}
    | {f"{skill}_h" for skill in Skill.values}
)


def _lines(rows: int, label: str, help_text: str) -> forms.CharField:
    return forms.CharField(
        widget=forms.Textarea(attrs={"rows": rows}),
        required=False,
        label=label,
        help_text=help_text,
    )


class PartTypeForm(SupplyFields):
    raised = "raised by"
    most_kg = 20_000
    field_groups = GROUPS
    ratings_in = "Tanks and ratings"
    shown_as = {"supply": "supply_role", "raises": "raise_gvm_kg"}
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    steps_text = _lines(
        6, "Steps, one a line", "After a | you may write torque 110 Nm, or hold."
    )
    tests_text = _lines(
        3, "Tests, one a line", "After a | you may write reading V 11.9..14.8."
    )
    papers_text = _lines(1, "Papers it needs", "Divided by semicolons.")

    class Meta:
        model = PartType
        fields = [n for _, names in GROUPS for n in names if n not in OWN]
        formfield_callback = plain_numbers
        widgets = {
            name: forms.Textarea(attrs={"rows": 2})
            for name in ("description", "use_text", "care_text", "caution_text")
        }
        labels = LABELS
        help_texts = HELP

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        part = self.instance
        for skill, label in Skill.choices:
            self.fields[f"{skill}_h"] = PlainDecimalField(
                required=False,
                label=f"{label} hours",
                min_value=Decimal(0),
                max_value=Decimal(500),
                max_digits=6,
                decimal_places=2,
                initial=part.labour.get(skill),
                unit="h",
            )
        shown = {
            "steps_text": write_steps(part.steps),
            "tests_text": write_steps(part.tests),
            "papers_text": "; ".join(part.papers),
        }
        for name, text in shown.items():
            self.fields[name].initial = text
        if part.pk is not None:
            self.fields["key"].disabled = True
            self.initial["version"] = part.version

    def _read(self, name: str, reader: Any) -> Any:
        try:
            return reader(self.cleaned_data[name])
        except (CellError, ValueError) as error:
            raise ValidationError(str(error)) from error

    def clean_steps_text(self) -> Any:
        return self._read("steps_text", read_steps)

    def clean_tests_text(self) -> Any:
        return self._read("tests_text", read_steps)

    def clean_papers_text(self) -> list[str]:
        text = self.cleaned_data["papers_text"]
        return [p.strip() for p in text.split(";") if p.strip()]

    def values(self) -> dict[str, Any]:
        """Give what the service takes, texts read into what is stored."""
        cleaned = self.cleaned_data
        found = {n: cleaned[n] for n in self._meta.fields or ()}
        found |= {"supply": cleaned["supply"], "raises": cleaned["raises"]}
        found |= {name: cleaned[f"{name}_text"] for name in TEXTS}
        found["labour"] = {
            skill: float(hours)
            for skill in Skill.values
            if (hours := cleaned.get(f"{skill}_h"))
        }
        return found
