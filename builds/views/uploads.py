"""What the three pages that take and give CSV files share."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from builds.csv_files import Imported, decode
from builds.forms.uploads import UploadForm, kept_form
from builds.services.trial import try_import
from workshop.http import StaffRequest


def csv_response(text: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def take_file(
    request: StaffRequest,
    *,
    bring_in: Callable[..., Imported],
    page: str,
    template: str,
    listed: dict[str, object],
) -> HttpResponse:
    """Bring a file in, or only show what that would do; refused files are answered."""
    form = UploadForm(request.POST, request.FILES)
    context: dict[str, object] = {**listed, "form": form}
    if form.is_valid():
        content = form.cleaned_data["content"]
        try:
            text = decode(content)
            if request.POST.get("do") == "look":
                context["preview"] = try_import(bring_in=bring_in, text=text)
                context["kept"] = kept_form(content)
                return render(request, template, context)
            done = bring_in(text=text)
        except ValidationError as error:
            context["faults"] = error.messages
        else:
            messages.success(request, f"{done.added} added, {done.changed} changed.")
            return redirect(page)
    return render(request, template, context, status=422)
