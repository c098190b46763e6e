from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from builds.models import BuildJob, Circuit, LineItem, Package, PartType
from workshop.forms_fields import PlainDecimalField, plain_numbers
from workshop.models import Skill, SwitchPosition

GROUPS: list[tuple[str, list[str]]] = [
    (
        "What it is",
        ["label", "quantity", "kind", "maker", "zone", "supplied_by", "serial"],
    ),
    (
        "Where it is",
        ["place_text", "x_mm", "behind_mm", "y_mm", "z_mm"],
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
        ],
    ),
    (
        "Where it is switched",
        ["switch_kind", "switch_position", "switch_text", "interlock"],
    ),
    (
        "What feeds it",
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
            "charges",
            "output_circuit",
        ],
    ),
    ("For the owner", ["use_text", "care_text", "caution_text", "warranty_months"]),
    (
        "Price, hours, papers",
        [
            "price",
            *(f"{skill}_h" for skill in Skill.values),
            "papers_text",
            "raise_paper",
        ],
    ),
]

OWN_FIELDS = {"behind_mm", "papers_text", *(f"{skill}_h" for skill in Skill.values)}


class LineItemForm(forms.ModelForm):
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
    units = {
        "mass_kg": "kg",
        "mass_half_width_kg": "± kg",
        "removes_mass_kg": "kg",
        "x_mm": "mm",
        "behind_mm": "mm",
        "y_mm": "mm",
        "z_mm": "mm",
        "removes_x_mm": "mm",
        "current_a": "A",
        "power_w": "W",
        "hours_per_day": "h",
        "standby_a": "A",
        "limit_percent": "%",
        **{f"{skill}_h": "h" for skill in Skill.values},
    }

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
            "price": "Price of one, before tax",
        }
        help_texts = {
            "x_mm": "Negative behind the front axle.",
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
        if item.pk is not None:
            self.initial["version"] = item.version
        self._narrow(build)

    def _narrow(self, build: BuildJob) -> None:
        others = build.items.exclude(pk=self.instance.pk)
        taken = others.exclude(switch_position=None).values("switch_position")
        places = SwitchPosition.objects.filter(vehicle=build.vehicle_id)
        queries: dict[str, Any] = {
            "switch_position": places.exclude(pk__in=taken),
            "circuit": Circuit.objects.filter(build=build),
            "output_circuit": Circuit.objects.filter(build=build),
            "charges": LineItem.objects.filter(
                pk__in=[o.pk for o in others if o.supply_role in ("battery", "charger")]
            ),
        }
        for name, query in queries.items():
            self.fields[name].queryset = query  # type: ignore[attr-defined]

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in GROUPS]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        behind = found.get("behind_mm")
        if behind is not None:
            # A tape reads backwards from the axle; the record counts forwards.
            found["x_mm"] = -int(behind)
            self.instance.x_mm = found["x_mm"]
        kind, value = found.get("load_kind"), None
        if kind:
            value = found.get("power_w" if kind == "power" else "current_a")
        if kind and value is None:
            name = "power_w" if kind == "power" else "current_a"
            self.add_error(name, "Say how much it draws, or choose no electrical load.")
        return found

    def values(self) -> dict[str, Any]:
        """Give what the service takes, labour and papers put together."""
        found = {
            n: v
            for n, v in self.cleaned_data.items()
            if n not in OWN_FIELDS and n != "version"
        }
        found["labour"] = {
            skill: float(hours)
            for skill in Skill.values
            if (hours := self.cleaned_data.get(f"{skill}_h"))
        }
        papers = self.cleaned_data.get("papers_text", "")
        found["papers"] = [p.strip() for p in papers.split(";") if p.strip()]
        return found


class AddPartForm(forms.Form):
    part = forms.ModelChoiceField(
        PartType.objects.filter(active=True),
        label="From the catalogue",
        to_field_name="key",
        empty_label="Choose a part…",
    )
    quantity = forms.IntegerField(
        min_value=1, max_value=99, initial=1, label="How many"
    )
    supplied_by = forms.ChoiceField(
        choices=[("workshop", "The workshop"), ("customer", "The customer")],
        initial="workshop",
        label="Supplied by",
    )


class AddPackageForm(forms.Form):
    package = forms.ModelChoiceField(
        Package.objects.all(), label="Package", to_field_name="key"
    )


class CircuitForm(forms.ModelForm):
    source = forms.ChoiceField(label="Fed from")
    units = {"fuse_a": "A", "fuse_to_source_mm": "mm", "area_mm2": "mm²", "run_m": "m"}

    class Meta:
        model = Circuit
        fields = [
            "label",
            "fuse_a",
            "fuse_kind",
            "fuse_place",
            "fuse_to_source_mm",
            "area_mm2",
            "run_m",
            "insulation_c",
            "engine_space",
        ]
        formfield_callback = plain_numbers
        labels = {
            "label": "Name",
            "fuse_a": "Fuse",
            "fuse_kind": "Fuse kind",
            "fuse_place": "Where the fuse is",
            "fuse_to_source_mm": "From the source to the fuse",
            "area_mm2": "Copper area",
            "run_m": "Length, one way",
            "insulation_c": "Insulation",
        }
        help_texts = {
            "area_mm2": "Square millimetres of copper, not the outside size "
            "that “6 mm” auto cable is sold by.",
        }

    field_order = ["label", "source"]

    def __init__(self, *args: Any, build: BuildJob, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        circuit = self.instance
        circuit.build = build
        choices = [("", "Choose…"), ("start", "Start battery")]
        choices += [
            (f"item-{i.pk}", i.label)
            for i in build.items.all()
            if i.supply_role == "battery"
        ]
        choices += [
            (f"circuit-{c.pk}", f"Circuit: {c.label}")
            for c in build.circuits.exclude(pk=circuit.pk)
        ]
        source = self.fields["source"]
        assert isinstance(source, forms.ChoiceField)
        source.choices = choices
        if circuit.fed_by_start_battery:
            source.initial = "start"
        elif circuit.fed_by_item_id:
            source.initial = f"item-{circuit.fed_by_item_id}"
        elif circuit.fed_by_circuit_id:
            source.initial = f"circuit-{circuit.fed_by_circuit_id}"

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        source = found.get("source", "")
        self.instance.fed_by_start_battery = source == "start"
        kind, _, pk = source.partition("-")
        self.instance.fed_by_item_id = int(pk) if kind == "item" else None
        self.instance.fed_by_circuit_id = int(pk) if kind == "circuit" else None
        return found

    def values(self) -> dict[str, Any]:
        """Give what the service takes; the form's source becomes three columns."""
        found = {n: v for n, v in self.cleaned_data.items() if n != "source"}
        for name in ("fed_by_start_battery", "fed_by_item_id", "fed_by_circuit_id"):
            found[name] = getattr(self.instance, name)
        return found


class PlaceSwitchForm(forms.Form):
    """Give one waiting item its switch place."""

    position = forms.ModelChoiceField(SwitchPosition.objects.none(), label="Place")

    def __init__(self, *args: Any, item: LineItem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        taken = item.build.items.exclude(switch_position=None).values("switch_position")
        places = SwitchPosition.objects.filter(vehicle=item.build.vehicle_id)
        field = self.fields["position"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = places.exclude(pk__in=taken)
