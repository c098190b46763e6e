from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from builds.forms.supply import SupplyFields
from builds.models import BuildJob, Circuit, LineItem, Package, PartType
from workshop.forms_fields import PlainDecimalField, PlainIntegerField, plain_numbers
from workshop.models import Skill, SwitchPosition

GROUPS: list[tuple[str, list[str]]] = [
    (
        "What it is",
        ["label", "quantity", "kind", "maker", "zone", "supplied_by", "serial"],
    ),
    (
        "Where it is",
        [
            "place_text",
            "x_mm",
            "behind_mm",
            "x_half_width_mm",
            "y_mm",
            "z_mm",
            "carried_by",
            "carrier_limit_kg",
        ],
    ),
    (
        "Mass",
        [
            "mass_kg",
            "mass_half_width_kg",
            "mass_source",
            "removes_label",
            "removes_mass_kg",
            "removes_x_mm",
            "tank_fluid",
            "tank_capacity_l",
        ],
    ),
    (
        "Where it is switched",
        ["switch_kind", "switch_position", "switch_text", "interlock"],
    ),
    (
        "What it draws and what feeds it",
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
            "circuit",
        ],
    ),
    (
        "If it stores, charges or hands on current",
        ["supply_role", "charges", "output_circuit"],
    ),
    ("For the owner", ["use_text", "care_text", "caution_text", "warranty_months"]),
    (
        "Price, hours, papers",
        [
            "price",
            *(f"{skill}_h" for skill in Skill.values),
            "papers_text",
        ],
    ),
    ("If it raises a rating", ["raise_paper"]),
]

OWN_FIELDS = {
    "behind_mm",
    "papers_text",
    "supply_role",
    *(f"{skill}_h" for skill in Skill.values),
}


class LineItemForm(SupplyFields):
    raised = "raised to"
    most_kg = 60_000
    field_groups = GROUPS
    ratings_in = "If it raises a rating"
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    behind_mm = PlainDecimalField(
        required=False,
        label="or by tape, behind the front axle",
        help_text="If you fill this in, it counts instead.",
        max_digits=6,
        decimal_places=0,
    )
    papers_text = forms.CharField(
        required=False,
        label="Papers it needs",
        help_text="Divided by semicolons.",
        max_length=500,
    )
    wide = frozenset({"label", "place_text", "switch_position", "raise_paper"})
    shown_as = {"supply": "supply_role", "raises": "raise_gvm_kg", "labour": "price"}

    class Meta:
        model = LineItem
        fields = [
            name for _, names in GROUPS for name in names if name not in OWN_FIELDS
        ]
        formfield_callback = plain_numbers
        widgets = {
            name: forms.Textarea(attrs={"rows": 2})
            for name in ("use_text", "care_text", "caution_text")
        }
        labels = {
            "place_text": "In words",
            "mass_kg": "Mass of one",
            "mass_half_width_kg": "Known to within",
            "x_mm": "Forward of the front axle",
            "y_mm": "Left of the centre line",
            "z_mm": "Above the ground",
            "x_half_width_mm": "Its place along the vehicle, known to within ±",
            "carried_by": "Stands on",
            "carrier_limit_kg": "One of it may itself carry",
            "removes_label": "Original part it replaces",
            "removes_mass_kg": "Mass of that part",
            "removes_x_mm": "That part, forward of the front axle",
            "load_kind": "Electrical load",
            "current_a": "Current",
            "power_w": "Power",
            "hours_per_day": "Hours a day",
            "standby_a": "Standby current",
            "limit_percent": "Voltage drop allowed",
            "short_time": "Only for moments, like a winch",
            "switch_text": "Legend, or where its own control is",
            "circuit": "Fed by circuit",
            "charges": "Charges",
            "output_circuit": "Circuit between it and what it charges",
            "tank_fluid": "A tank for",
            "tank_capacity_l": "Tank holds",
            "price": "Price of one, before tax",
        }
        help_texts = {
            "x_mm": "Negative behind the front axle.",
            "y_mm": "Negative on the right.",
            "carried_by": "A rack, slide, drawers or tray of this build that states what "
            "it may carry.",
            "carrier_limit_kg": "For a rack, slide, drawers or tray: its maker's limit. "
            "Empty for everything else.",
            "kind": "Small letters and hyphens, such as driving-lamps.",
        }

    def __init__(self, *args: Any, build: BuildJob, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.instance
        item.build = build
        for skill, label in Skill.choices:
            self.fields[f"{skill}_h"] = PlainDecimalField(
                required=False,
                label=f"{label} hours for one",
                min_value=Decimal(0),
                max_value=Decimal(500),
                max_digits=6,
                decimal_places=2,
                initial=item.labour.get(skill),
            )
        self.fields["papers_text"].initial = "; ".join(item.papers)
        if item.pk is None:
            self.fields["kind"].initial = "other"
        else:
            self.initial["version"] = item.version
        self._narrow(build)

    def _narrow(self, build: BuildJob) -> None:
        others = build.items.exclude(pk=self.instance.pk)
        offer_places(self.fields["switch_position"], build, others)
        queries: dict[str, Any] = {
            "circuit": Circuit.objects.filter(build=build),
            "output_circuit": Circuit.objects.filter(build=build),
            "charges": others.filter(supply__role__in=["battery", "charger"]),
            "carried_by": others.filter(
                Q(carrier_limit_kg__gt=0) | Q(pk=self.instance.carried_by_id)
            ),
        }
        for name, query in queries.items():
            self.fields[name].queryset = query  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        found = super().clean()
        behind = found.get("behind_mm")
        if behind is not None:
            # A tape reads backwards from the axle; the record counts forwards.
            found["x_mm"] = -int(behind)
            self.instance.x_mm = found["x_mm"]
        kind = found.get("load_kind")
        name = "power_w" if kind == "power" else "current_a"
        if kind and found.get(name) is None and name not in self.errors:
            self.add_error(name, "Say how much it draws, or choose no electrical load.")
        return found

    def values(self) -> dict[str, Any]:
        """Give what the service takes, labour and papers put together."""
        found = {n: self.cleaned_data[n] for n in self._meta.fields or ()}
        found["labour"] = {
            skill: float(hours)
            for skill in Skill.values
            if (hours := self.cleaned_data.get(f"{skill}_h"))
        }
        found["supply"] = self.cleaned_data["supply"]
        found["raises"] = self.cleaned_data["raises"]
        papers = self.cleaned_data.get("papers_text", "")
        found["papers"] = [p.strip() for p in papers.split(";") if p.strip()]
        return found


def offer_places(field: forms.Field, build: BuildJob, others: QuerySet) -> None:
    """Offer the free switch places first and name who has the others."""
    assert isinstance(field, forms.ModelChoiceField)
    places = SwitchPosition.objects.filter(vehicle=build.vehicle_id)
    held = dict(
        others.exclude(switch_position=None).values_list("switch_position", "label")
    )
    field.queryset = places
    free = [(p.pk, str(p)) for p in places if p.pk not in held]
    taken = [(p.pk, f"{p}, has {held[p.pk]}") for p in places if p.pk in held]
    choices: list[Any] = [("", "Choose…"), ("Free", free), ("Taken", taken)]
    field.widget.choices = [c for c in choices if c[1]]


class AddPartForm(forms.Form):
    part = forms.ModelChoiceField(
        PartType.objects.filter(active=True),
        label="From the catalogue",
        to_field_name="key",
        empty_label="Choose a part…",
    )
    quantity = PlainIntegerField(min_value=1, max_value=99, initial=1, label="How many")
    supplied_by = forms.ChoiceField(
        choices=[("workshop", "The workshop"), ("customer", "The customer")],
        initial="workshop",
        label="Supplied by",
    )

    def __init__(self, *args: Any, q: str = "", keep: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["part"]
        assert isinstance(field, forms.ModelChoiceField)
        assert field.queryset is not None
        if q:
            field.queryset = field.queryset.filter(_matches(q) | Q(key=keep))
        field.initial = keep


def _matches(q: str) -> Q:
    """Every word typed stands somewhere in the name, the maker or the kind."""
    found = Q()
    for word in q.split():
        found &= (
            Q(name__icontains=word) | Q(maker__icontains=word) | Q(kind__icontains=word)
        )
    return found


class AddPackageForm(forms.Form):
    package = forms.ModelChoiceField(
        Package.objects.all(),
        label="Package",
        to_field_name="key",
        empty_label="Choose a package…",
    )


class PlaceSwitchForm(forms.Form):
    """Give one waiting item its switch place."""

    switch_position = forms.ModelChoiceField(
        SwitchPosition.objects.none(),
        label="Place",
        error_messages={"required": "Choose one of the places."},
    )

    def __init__(self, *args: Any, item: LineItem, **kwargs: Any) -> None:
        kwargs["auto_id"] = f"place-{item.pk}-%s"
        super().__init__(*args, **kwargs)
        self.item = item
        others = item.build.items.exclude(pk=item.pk)
        offer_places(self.fields["switch_position"], item.build, others)
