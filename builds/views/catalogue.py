from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.cells import write_pairs, write_raises
from builds.forms.catalogue import PartTypeForm
from builds.forms.vehicles import UploadForm
from builds.models import ZONE_CHOICES, ZONE_LABELS, Package, PartType
from builds.services import catalogue as services
from builds.views.vehicles import csv_response
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query
from workshop.saving import StaleError


@require_safe
@office
def catalogue(request: StaffRequest) -> HttpResponse:
    query = typed_query(request)
    zone = request.GET.get("zone", "")
    found = PartType.objects.all()
    if query:
        found = found.filter(Q(name__icontains=query) | Q(kind__icontains=query))
    if zone in ZONE_LABELS:
        found = found.filter(zone=zone)
    context = {
        "parts": found,
        "q": query,
        "zone": zone,
        "zones": ZONE_CHOICES,
        "form": UploadForm(),
    }
    return render(request, "builds/catalogue.html", context)


@require_safe
@office
def part_type(request: StaffRequest, key: str) -> HttpResponse:
    part = get_object_or_404(PartType, key=key)
    context = {
        "part": part,
        "supply": write_pairs(part.supply),
        "raises": write_raises(part.raises),
    }
    return render(request, "builds/part_type.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def part_type_new(request: StaffRequest) -> HttpResponse:
    form = PartTypeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(services.add_part_type(**form.values()))
        except ValidationError as error:
            put_errors(form, error)
    status = 422 if request.method == "POST" else 200
    return render(request, "builds/part_type_edit.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def part_type_edit(request: StaffRequest, key: str) -> HttpResponse:
    part = get_object_or_404(PartType, key=key)
    shown = get_object_or_404(PartType, key=key)
    form = PartTypeForm(request.POST or None, instance=shown)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                version = form.cleaned_data["version"]
                services.update_part_type(part=part, version=version, **form.values())
                return redirect(part)
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
    context = {"form": form, "part": part}
    return render(request, "builds/part_type_edit.html", context, status=status)


@require_safe
@office
def catalogue_export(request: StaffRequest) -> HttpResponse:
    return csv_response(services.export_part_types(), "part_types.csv")


@require_POST
@office
def catalogue_import(request: StaffRequest) -> HttpResponse:
    form = UploadForm(request.POST, request.FILES)
    faults: list[str] = []
    if form.is_valid():
        try:
            text = services.decode(form.cleaned_data["file"].read())
            done = services.import_part_types(text=text)
            messages.success(request, f"{done.added} added, {done.changed} changed.")
            return redirect("catalogue")
        except ValidationError as error:
            faults = error.messages
    context = {
        "parts": PartType.objects.all(),
        "zones": ZONE_CHOICES,
        "form": form,
        "faults": faults,
    }
    return render(request, "builds/catalogue.html", context, status=422)


@require_safe
@office
def packages(request: StaffRequest) -> HttpResponse:
    found = Package.objects.prefetch_related("parts__part")
    return render(request, "builds/packages.html", {"packages": found})
