from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from workshop import services
from workshop.forms import (
    BayForm,
    PersonChangeForm,
    PersonForm,
    RatesForm,
    SiteForm,
)
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, managers
from workshop.models import Bay, LabourRate, Person, Site


def _context(**forms: BaseForm) -> dict[str, Any]:
    rates = dict(LabourRate.objects.values_list("skill", "rate_per_h"))
    return {
        "site_form": SiteForm(instance=Site.current()),
        "rates_form": RatesForm(initial=rates),
        "bay_form": BayForm(),
        "person_form": PersonForm(),
        "bays": Bay.objects.all(),
        "people": Person.objects.order_by("username"),
        **forms,
    }


def _set_rates(**rates: Any) -> None:
    services.set_rates(rates=rates)


@require_http_methods(["GET", "HEAD", "POST"])
@managers
def site(request: StaffRequest) -> HttpResponse:
    """Show and change the workshop; one of four forms is posted at a time."""
    if request.method != "POST":
        return render(request, "workshop/site.html", _context())
    actions: dict[str, tuple[BaseForm, Any]] = {
        "site_form": (
            SiteForm(request.POST, instance=Site.current()),
            services.update_site,
        ),
        "rates_form": (RatesForm(request.POST), _set_rates),
        "bay_form": (BayForm(request.POST), services.add_bay),
        "person_form": (PersonForm(request.POST), services.add_person),
    }
    name = request.POST.get("form", "")
    if name not in actions:
        return render(request, "workshop/site.html", _context(), status=422)
    form, save = actions[name]
    if form.is_valid():
        try:
            save(**form.cleaned_data)
            messages.success(request, "Saved.")
            return redirect("site")
        except ValidationError as error:
            put_errors(form, error)
    return render(request, "workshop/site.html", _context(**{name: form}), status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@managers
def bay(request: StaffRequest, bay_id: int) -> HttpResponse:
    found = get_object_or_404(Bay, pk=bay_id)
    form = BayForm(request.POST or None, instance=get_object_or_404(Bay, pk=bay_id))
    if request.method == "POST" and form.is_valid():
        services.update_bay(bay=found, **form.cleaned_data)
        messages.success(request, f"{found.name} is saved.")
        return redirect("site")
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "bay": found}
    return render(request, "workshop/bay.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@managers
def person(request: StaffRequest, person_id: int) -> HttpResponse:
    found = get_object_or_404(Person, pk=person_id)
    initial = {"role": found.role, "is_active": found.is_active}
    form = PersonChangeForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.update_person(person=found, **form.cleaned_data)
            if found == request.user:
                # A new password ends this person's other sessions, not this one.
                update_session_auth_hash(request, found)
            messages.success(request, f"{found.name} is saved.")
            return redirect("site")
        except ValidationError as error:
            put_errors(form, error)
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "person": found}
    return render(request, "workshop/person.html", context, status=status)
