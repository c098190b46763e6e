from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.cells import CellError, read_seats, write_seats
from workshop.forms_fields import plain_numbers
from workshop.models import SHEET_FIELDS, Customer, TypeSheet, Vehicle

GROUPS: list[tuple[str, list[str]]] = [
    (
        "Which one",
        [
            "plate",
            "vin",
            "maker",
            "model",
            "body_type",
            "category",
            "colour",
            "built_on",
        ],
    ),
    (
        "Ratings on its plate",
        [
            "gvm_kg",
            "front_axle_kg",
            "rear_axle_kg",
            "gcm_kg",
            "braked_towing_kg",
            "ball_kg",
            "roof_kg",
            "atm_kg",
            "gtm_kg",
        ],
    ),
    (
        "Mass before the build",
        [
            "base_definition",
            "base_mass_kg",
            "base_front_kg",
            "base_rear_kg",
            "base_left_kg",
            "base_fuel_l",
            "base_people",
            "scale_interval_kg",
        ],
    ),
    (
        "Geometry",
        [
            "wheelbase_mm",
            "track_mm",
            "front_overhang_mm",
            "rear_overhang_mm",
            "width_mm",
            "height_mm",
            "cg_height_mm",
            "ball_overhang_mm",
            "ball_to_axle_mm",
        ],
    ),
    (
        "Fuel, seats, electrics",
        [
            "fuel_type",
            "fuel_tank_l",
            "fuel_tank_x_mm",
            "seats_text",
            "system_v",
            "alternator_a",
            "alternator_variable",
            "alternator_own_load_a",
            "start_battery_ah",
            "standby_a",
            "tyre_size",
            "driver_assist",
        ],
    ),
]

LABELS = {
    "wheelbase_mm": "Wheelbase",
    "track_mm": "Track",
    "front_overhang_mm": "Front overhang",
    "rear_overhang_mm": "Rear overhang",
    "width_mm": "Width",
    "height_mm": "Height",
    "cg_height_mm": "Centre of gravity above the ground",
    "fuel_tank_l": "Fuel tank",
    "gvm_kg": "GVM",
    "front_axle_kg": "Front axle limit",
    "rear_axle_kg": "Rear axle limit",
    "gcm_kg": "GCM",
    "braked_towing_kg": "Braked towing capacity",
    "ball_kg": "Ball mass limit",
    "roof_kg": "Roof limit",
    "atm_kg": "ATM (trailer)",
    "gtm_kg": "GTM (trailer)",
    "base_definition": "What that mass is",
    "base_mass_kg": "Mass",
    "base_front_kg": "on the front axle",
    "base_rear_kg": "on the rear axle",
    "base_left_kg": "on both left wheels",
    "base_fuel_l": "Fuel aboard then",
    "base_people": "People aboard then",
    "scale_interval_kg": "Scale interval",
    "ball_overhang_mm": "Ball behind the rear axle",
    "ball_to_axle_mm": "Ball to axle (trailer)",
    "fuel_tank_x_mm": "Tank, forward of the front axle",
    "system_v": "Its electrical system",
    "alternator_a": "Alternator rating",
    "alternator_variable": "Variable-voltage alternator",
    "alternator_own_load_a": "The vehicle's own load",
    "start_battery_ah": "Start battery",
    "standby_a": "Standby current",
}


HELP = {
    "base_left_kg": "Weighed with both left wheels on the scale, at the same time as the "
    "rest. Tells which side is heavier before anything is fitted.",
    "cg_height_mm": "Before the build, from the maker or measured. Without it only the "
    "height of what is fitted is told.",
    "system_v": "What the lamps, chargers and fitted equipment run on.",
}


class VehicleForm(forms.ModelForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    seats_text = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 4}),
        required=False,
        label="Seats, one a line",
        help_text="Such as driver x=-1450 y=-380, in mm from the front axle and the centre line.",
    )

    class Meta:
        model = Vehicle
        fields = [name for _, names in GROUPS for name in names if name != "seats_text"]
        formfield_callback = plain_numbers
        labels = LABELS
        help_texts = HELP
        widgets = {
            "built_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "alternator_variable": forms.NullBooleanSelect,
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["seats_text"].initial = write_seats(self.instance.seats)
        if self.instance.pk is not None:
            self.initial["version"] = self.instance.version

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in GROUPS]

    def clean_vin(self) -> str:
        return str(self.cleaned_data["vin"]).upper().strip()

    def clean_plate(self) -> str:
        return str(self.cleaned_data["plate"]).upper().strip()

    def clean_seats_text(self) -> list[dict[str, object]]:
        try:
            return read_seats(self.cleaned_data["seats_text"])
        except CellError as error:
            raise ValidationError(str(error)) from error

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        # What could not be read is not known; the old value must not stand in for it
        # when the figures are compared with each other.
        for name in self.errors:
            if name in SHEET_FIELDS:
                setattr(self.instance, name, None)
        self.instance.seats = found.get("seats_text", [])
        return found

    def add_error(self, field: str | None, error: Any) -> None:
        faults = getattr(error, "error_dict", {})
        if "seats" in faults:
            faults["seats_text"] = faults.pop("seats")
        super().add_error(field, error)

    def values(self) -> dict[str, Any]:
        """Give what the service takes."""
        found = {
            n: v
            for n, v in self.cleaned_data.items()
            if n not in ("version", "seats_text")
        }
        found["seats"] = self.cleaned_data["seats_text"]
        return found


class NewVehicleForm(forms.Form):
    """A new vehicle starts from its type sheet; its own plate is entered after that."""

    customer = forms.ModelChoiceField(Customer.objects.all(), label="Belongs to")
    type_sheet = forms.ModelChoiceField(
        TypeSheet.objects.all(),
        label="Type sheet",
        help_text="What is on the vehicle's own plate can be entered afterwards.",
    )
    plate = forms.CharField(max_length=15, required=False)
    vin = forms.CharField(max_length=24, required=False, label="VIN or chassis number")

    def clean_vin(self) -> str:
        return str(self.cleaned_data["vin"]).upper().strip()

    def clean_plate(self) -> str:
        return str(self.cleaned_data["plate"]).upper().strip()


class SwitchPositionForm(forms.Form):
    panel = forms.CharField(max_length=40)
    label = forms.CharField(max_length=60, label="Where on it")
