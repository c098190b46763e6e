from __future__ import annotations

from django import forms


class SetAsideForm(forms.Form):
    why = forms.CharField(
        label="Why it does not go on",
        max_length=200,
        error_messages={"required": "Say why it does not go on."},
    )
