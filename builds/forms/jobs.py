from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils import timezone

from builds.models import BuildJob, LineItem
from workshop.forms_fields import ChosenRows, plain_numbers
from workshop.models import TRAILER_BODIES, Person, Vehicle

DATE = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

ABOUT = ["title", "customer", "vehicle", "trailer", "jurisdiction", "notes"]
LOAD = [
    "people",
    "person_kg",
    "luggage_kg",
    "luggage_x_mm",
    "roof_luggage_kg",
    "roof_luggage_x_mm",
    "roof_luggage_on",
]
TOWED = ["hitched", "trailer_mass_kg", "trailer_ball_kg", "hitch_moment_kgm"]
TRIP = ["ambient_c", "latitude_deg", "month", "drive_h_per_day", "days"]
USE = [*LOAD, *TOWED, *TRIP]
BOOKING = ["bay", "booked_in_on", "promised_on", "people_assigned"]

MONTHS = [
    ("", "not said"),
    *enumerate(
        [
            "January",
            "February",
            "March",
            "April",
            "May",
            "June",
            "July",
            "August",
            "September",
            "October",
            "November",
            "December",
        ],
        start=1,
    ),
]


class BuildForm(forms.ModelForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = BuildJob
        fields = [*ABOUT, *USE, *BOOKING]
        formfield_callback = plain_numbers
        field_classes = {"people_assigned": ChosenRows}
        widgets = {
            "notes": forms.Textarea(attrs={"rows": 3}),
            "booked_in_on": DATE,
            "promised_on": DATE,
            "month": forms.Select(choices=MONTHS),
            "people_assigned": forms.CheckboxSelectMultiple,
        }
        labels = {
            "person_kg": "One person weighs",
            "people": "People aboard",
            "luggage_kg": "Luggage",
            "luggage_x_mm": "Luggage, forward of the front axle",
            "roof_luggage_kg": "On the roof",
            "roof_luggage_x_mm": "On the roof, forward of the front axle",
            "roof_luggage_on": "On the roof, it lies on",
            "hitch_moment_kgm": "Moment of a weight-distributing hitch",
            "trailer_mass_kg": "Trailer mass, loaded",
            "trailer_ball_kg": "Ball mass, loaded",
            "ambient_c": "Air temperature on the trip",
            "latitude_deg": "Latitude",
            "drive_h_per_day": "Driving a day",
            "days": "Days away from mains",
            "booked_in_on": "Booked in on",
            "promised_on": "Promised for",
            "people_assigned": "Who works on it",
        }
        help_texts = {
            "luggage_x_mm": "Negative behind the front axle: -3000 is 3 m behind it.",
            "roof_luggage_kg": "What the customer loads up there: tents, boards, cases.",
            "roof_luggage_x_mm": "Empty: where the rack is that it lies on.",
            "roof_luggage_on": "Its mass then counts against that rack's own limit.",
            "hitch_moment_kgm": "Its bars move load to the front axle and to the trailer's "
            "wheels. The pull of both chains together times the length of a bar. Empty "
            "without one.",
            "trailer_mass_kg": "As it goes on the road, with what is fitted to it here.",
            "latitude_deg": "South is negative: -27 for southern Queensland.",
            "ambient_c": "It decides how long a fridge runs.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        vehicles = Vehicle.objects.select_related("customer")
        if only := self._customer_chosen():
            vehicles = vehicles.filter(customer=only)
        towed = vehicles.filter(body_type__in=TRAILER_BODIES)
        self._offer("vehicle", vehicles)
        self._offer("trailer", towed)
        people = Person.objects.filter(is_active=True).exclude(role="")
        self._offer("people_assigned", people)
        racks = LineItem.objects.none()
        if self.instance.pk is not None:
            self.initial["version"] = self.instance.version
            racks = self.instance.items.filter(
                Q(zone="roof") | Q(carrier_limit_kg__gt=0)
            )
        self.fields["roof_luggage_on"].queryset = racks  # type: ignore[attr-defined]

    def _customer_chosen(self) -> int | None:
        """Whose vehicles to offer: of a page asked for with a customer, theirs."""
        chosen = str(self.initial.get("customer") or "")
        if self.is_bound or self.instance.pk is not None:
            return None
        readable = chosen.isascii() and chosen.isdecimal() and len(chosen) < 12
        return int(chosen) if readable else None

    def _offer(self, name: str, rows: QuerySet) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = rows
        label = _name if name == "people_assigned" else _with_owner
        field.label_from_instance = label  # type: ignore[method-assign,assignment]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        vehicle, customer = found.get("vehicle"), found.get("customer")
        if vehicle and customer and vehicle.customer_id != customer.pk:
            self.add_error(
                "vehicle", f"{vehicle} belongs to {vehicle.customer}, not {customer}."
            )
        unplaced = found.get("luggage_kg") and found.get("luggage_x_mm") is None
        if unplaced and "luggage_x_mm" not in self.errors:
            self.add_error("luggage_x_mm", "Say where it lies, or it is not counted.")
        return found

    wide = frozenset({"title", "customer", "vehicle", "trailer", "notes"})

    def section(self, names: list[str]) -> list[forms.BoundField]:
        return [self[name] for name in names]

    @property
    def about(self) -> list[forms.BoundField]:
        return self.section(ABOUT)

    @property
    def use(self) -> list[tuple[str, list[forms.BoundField]]]:
        """How it will be used, in three groups; a rack is chosen once there is one."""
        racks = self.fields["roof_luggage_on"].queryset.exists()  # type: ignore[attr-defined]
        load = [n for n in LOAD if racks or n != "roof_luggage_on"]
        return [
            ("People and luggage", self.section(load)),
            ("Trailer", self.section(TOWED)),
            ("The trip", self.section(TRIP)),
        ]

    @property
    def booking(self) -> list[forms.BoundField]:
        return self.section(BOOKING)

    def values(self) -> dict[str, Any]:
        """Give what the service takes, without the page's own fields."""
        return {n: v for n, v in self.cleaned_data.items() if n != "version"}


def _name(person: Person) -> str:
    return f"{person.name}, {person.get_role_display().lower()}"


def _with_owner(vehicle: Vehicle) -> str:
    return f"{vehicle} ({vehicle.customer.name})"


class ApprovalForm(forms.Form):
    approved_by = forms.CharField(max_length=120, label="Approved by")
    approved_on = forms.DateField(widget=DATE, label="On", initial=timezone.localdate)


class HandoverForm(forms.Form):
    handed_over_to = forms.CharField(max_length=120, label="Taken over by")
