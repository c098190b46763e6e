from __future__ import annotations

from typing import Any

from django import forms

from builds.models import BuildJob, Circuit
from builds.services.circuits import SOURCES
from workshop.forms_fields import plain_numbers


class CircuitForm(forms.ModelForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    source = forms.ChoiceField(label="Fed from")
    shown_as = {"fed_by_item": "source", "fed_by_circuit": "source"}

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
            "insulation_c": "Insulation good to",
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
        source = self.fields["source"]
        assert isinstance(source, forms.ChoiceField)
        source.choices = self._sources(build, circuit)
        if circuit.pk is not None:
            self.initial["version"] = circuit.version
        if circuit.fed_by_start_battery:
            source.initial = "start"
        elif circuit.fed_by_item_id:
            source.initial = f"item-{circuit.fed_by_item_id}"
        elif circuit.fed_by_circuit_id:
            source.initial = f"circuit-{circuit.fed_by_circuit_id}"

    def _sources(self, build: BuildJob, circuit: Circuit) -> list[tuple[str, str]]:
        own = [i for i in build.items.all() if i.supply_role in SOURCES]
        others = build.circuits.exclude(pk=circuit.pk)
        return [
            ("", "Choose…"),
            ("start", "Start battery"),
            *((f"item-{i.pk}", i.label) for i in own),
            *((f"circuit-{c.pk}", f"Circuit: {c.label}") for c in others),
        ]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        kind, _, pk = found.get("source", "").partition("-")
        self.instance.fed_by_start_battery = kind == "start"
        self.instance.fed_by_item_id = int(pk) if kind == "item" else None
        self.instance.fed_by_circuit_id = int(pk) if kind == "circuit" else None
        return found

    def values(self) -> dict[str, Any]:
        """Give what the service takes; the form's source becomes three columns."""
        found = {
            n: v for n, v in self.cleaned_data.items() if n not in ("source", "version")
        }
        for name in ("fed_by_start_battery", "fed_by_item_id", "fed_by_circuit_id"):
            found[name] = getattr(self.instance, name)
        return found
