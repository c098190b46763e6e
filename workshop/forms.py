from __future__ import annotations

from typing import Any

from django import forms

from workshop.forms_fields import PlainDecimalField, plain_numbers
from workshop.models import Bay, Customer, Person, Role, Site, Skill


class CustomerForm(forms.ModelForm):
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    class Meta:
        model = Customer
        fields = ["name", "phone", "email", "address", "notes"]
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is not None:
            self.initial["version"] = self.instance.version


class SiteForm(forms.ModelForm):
    class Meta:
        model = Site
        fields = [
            "name",
            "address",
            "phone",
            "help_phone",
            "email",
            "currency",
            "tax_name",
            "tax_percent",
        ]
        formfield_callback = plain_numbers
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}
        labels = {"tax_percent": "Tax rate", "help_phone": "First-night phone"}


class RatesForm(forms.Form):
    """One field for each skill: what an hour costs the customer before tax."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for skill, label in Skill.choices:
            self.fields[skill] = PlainDecimalField(
                label=label, min_value=0, max_value=10000, decimal_places=2
            )


class BayForm(forms.ModelForm):
    class Meta:
        model = Bay
        fields = ["name", "has_hoist", "max_length_mm", "hours_per_day"]
        formfield_callback = plain_numbers


class PersonForm(forms.ModelForm):
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="First password",
    )
    role = forms.ChoiceField(choices=Role.choices)

    class Meta:
        model = Person
        fields = ["username", "first_name", "last_name", "role"]


class PersonChangeForm(forms.Form):
    role = forms.ChoiceField(choices=Role.choices)
    is_active = forms.BooleanField(required=False, label="May sign in")
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="New password",
        required=False,
    )
