from __future__ import annotations

from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q

from builds.models import Package, PartType
from builds.services.packages import Rows, rows_of
from workshop.forms_fields import PlainIntegerField

SPARE_ROWS = 6
MOST_ROWS = 60


class PackageForm(forms.ModelForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = Package
        fields = ["key", "name", "description"]
        widgets = {"description": forms.Textarea(attrs={"rows": 3})}
        help_texts = {
            "key": "Stays for good: small letters, figures and hyphens, such as "
            "dual-battery."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is not None:
            self.fields["key"].disabled = True
            self.initial["version"] = self.instance.version


class RowForm(forms.Form):
    part = forms.ModelChoiceField(
        PartType.objects.all(),
        to_field_name="key",
        required=False,
        empty_label="No part",
    )
    quantity = PlainIntegerField(
        min_value=1,
        max_value=50,
        initial=1,
        label="How many",
        error_messages={"required": "Say how many."},
    )

    def __init__(
        self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        # Asked for once for all rows, not once a row.
        self.fields["part"].widget.choices = choices

    def has_changed(self) -> bool:
        return True  # every row is read; the one without a part is left out


class BaseRows(forms.BaseFormSet):
    def clean(self) -> None:
        seen: set[PartType] = set()
        for form in self.forms:
            part = getattr(form, "cleaned_data", {}).get("part")
            if part in seen:
                form.add_error("part", f"{part} is chosen twice. Raise its number.")
            elif part:
                seen.add(part)
        if not seen and not self.total_error_count():
            raise ValidationError("Choose at least one part.")

    def rows(self) -> Rows:
        cleaned = [form.cleaned_data for form in self.forms]
        return [(row["part"], row["quantity"]) for row in cleaned if row["part"]]


RowSet = forms.formset_factory(
    RowForm, BaseRows, extra=SPARE_ROWS, max_num=MOST_ROWS, validate_max=True
)


def row_set(data: Any = None, package: Package | None = None) -> BaseRows:
    """Give the rows of a package, and spare ones; choosing no part takes one away."""
    rows = rows_of(package) if package else []
    kept = [part.pk for part, _ in rows]
    parts = PartType.objects.filter(Q(active=True) | Q(pk__in=kept))
    choices = [("", "No part"), *((p.key, p.name) for p in parts)]
    initial = [{"part": part.key, "quantity": n} for part, n in rows]
    found = RowSet(
        data,
        initial=initial,
        prefix="rows",
        form_kwargs={"choices": choices},
        error_messages={"missing_management_form": "Reload the page and try again."},
    )
    return cast("BaseRows", found)
