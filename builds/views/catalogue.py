from __future__ import annotations

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
from builds.forms.uploads import UploadForm
from builds.models import ZONE_CHOICES, ZONE_LABELS, PartType
from builds.services import catalogue as services
from builds.views.uploads import csv_response, take_file
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query
from workshop.saving import StaleError


def _listed(q: str = "", zone: str = "", kind: str = "") -> dict[str, object]:
    """Gather the list, narrowed to what was asked for, and what it can be narrowed by."""
    found = PartType.objects.all()
    kinds = sorted(set(found.values_list("kind", flat=True)))
    for word in q.split():
        found = found.filter(
            Q(name__icontains=word) | Q(kind__icontains=word) | Q(maker__icontains=word)
        )
    if zone in ZONE_LABELS:
        found = found.filter(zone=zone)
    if kind in kinds:
        found = found.filter(kind=kind)
    chosen = {"q": q, "zone": zone, "kind": kind}
    return {"parts": found, "zones": ZONE_CHOICES, "kinds": kinds, **chosen}


@require_safe
@office
def catalogue(request: StaffRequest) -> HttpResponse:
    zone, kind = request.GET.get("zone", ""), request.GET.get("kind", "")
    context = {**_listed(typed_query(request), zone, kind), "form": UploadForm()}
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
    return take_file(
        request,
        bring_in=services.import_part_types,
        page="catalogue",
        template="builds/catalogue.html",
        listed=_listed(),
    )
