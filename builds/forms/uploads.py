from __future__ import annotations

import base64
import binascii
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

MOST_BYTES = 2 * 1024 * 1024


class UploadForm(forms.Form):
    """A CSV file; once looked at it comes back in the page, byte for byte."""

    file = forms.FileField(
        label="CSV file", error_messages={"required": "Choose a file."}
    )
    kept = forms.CharField(
        widget=forms.HiddenInput, required=False, max_length=MOST_BYTES * 4 // 3 + 4
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].required = not self.data.get("kept")

    def clean_kept(self) -> bytes:
        try:
            return base64.b64decode(self.cleaned_data["kept"], validate=True)
        except (binascii.Error, ValueError) as error:
            raise ValidationError("Choose the file again.") from error

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or {}
        upload = found.get("file")
        if upload is not None and upload.size > MOST_BYTES:
            self.add_error("file", "This file is over 2 MB; a catalogue is smaller.")
        elif upload is not None:
            found["content"] = upload.read()
        else:
            found["content"] = found.get("kept")
        return found


def kept_form(content: bytes) -> UploadForm:
    """Give the form that brings in, without asking for it again, what was looked at."""
    return UploadForm(
        initial={"kept": base64.b64encode(content).decode()}, auto_id="kept-%s"
    )
