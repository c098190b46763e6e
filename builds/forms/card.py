from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from builds.steps import read_steps
from workshop.forms_fields import PlainDecimalField
from workshop.models import Skill


class TaskForm(forms.Form):
    title = forms.CharField(label="What is to be done", max_length=140)
    skill = forms.ChoiceField(
        choices=[("", "Any skill"), *Skill.choices], required=False
    )
    estimate_h = PlainDecimalField(
        label="Estimate", min_value=0, max_value=1000, decimal_places=2, required=False
    )
    steps = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 6}),
        required=False,
        help_text="One a line. After | may stand torque 110 Nm, hold, or "
        "reading V 11.9..14.8. Empty means one plain step.",
    )

    def clean_steps(self) -> list[dict[str, Any]]:
        try:
            return read_steps(self.cleaned_data["steps"])
        except ValueError as error:
            raise ValidationError(str(error)) from error
