from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.drawings.plan import plan_view
from builds.forms.uploads import UploadForm
from builds.forms.vehicles import (
    NewVehicleForm,
    SwitchPositionForm,
    VehicleForm,
)
from builds.handover import vehicle_shape
from builds.services import catalogue
from builds.services import vehicles as services
from builds.views.uploads import csv_response, take_file
from workshop.finding import twin_warnings, vehicles_matching
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query
from workshop.models import Sheet, SwitchPosition, TypeSheet, Vehicle
from workshop.plausible import rating_warnings
from workshop.saving import StaleError
from workshop.vin import vin_warning


def _get_vehicle(vehicle_id: int) -> Vehicle:
    return get_object_or_404(
        Vehicle.objects.select_related("customer", "type_sheet"), pk=vehicle_id
    )


@require_safe
@office
def vehicles(request: StaffRequest) -> HttpResponse:
    query = typed_query(request)
    found = Vehicle.objects.select_related("customer")
    if query:
        of_owner = Vehicle.objects.filter(customer__name__icontains=query)
        found = found.filter(
            Q(pk__in=vehicles_matching(query).values("pk")) | Q(pk__in=of_owner)
        )
    return render(request, "builds/vehicles.html", {"vehicles": found, "q": query})


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure of a sheet as it is read, and whether the own plate says it."""

    label: str
    value: object
    unit: str
    own: bool


def _groups(sheet: Sheet, own: Collection[str] = ()) -> list[tuple[str, list[Fact]]]:
    """Give what is known of a vehicle or a type sheet; a choice by its words."""
    form = VehicleForm()
    groups = []
    for title, bounds in form.groups:
        facts = []
        for bound in bounds:
            name, unit = bound.name, getattr(bound.field, "unit", "")
            words = getattr(sheet, f"get_{name}_display", None)
            value = words() if words else getattr(sheet, name, None)
            if value not in (None, "") and name not in ("vin", "plate"):
                facts.append(Fact(str(bound.label), value, unit, name in own))
        groups.append((title, facts))
    return [(title, facts) for title, facts in groups if facts]


def _warnings(vehicle: Vehicle) -> list[str]:
    odd_vin = vin_warning(vehicle.vin)
    found = [odd_vin] if odd_vin else []
    return [*found, *twin_warnings(vehicle), *rating_warnings(vehicle)]


def _vehicle_context(vehicle: Vehicle, form: SwitchPositionForm) -> dict[str, object]:
    return {
        "vehicle": vehicle,
        "groups": _groups(vehicle, vehicle.own_plate_fields()),
        "warnings": _warnings(vehicle),
        "place_form": form,
        "builds": vehicle.builds.all(),
        "plan": mark_safe(plan_view(vehicle_shape(vehicle), [])),  # noqa: S308
    }


@require_safe
@office
def vehicle(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    context = _vehicle_context(_get_vehicle(vehicle_id), SwitchPositionForm())
    return render(request, "builds/vehicle.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def vehicle_new(request: StaffRequest) -> HttpResponse:
    initial = {"customer": request.GET.get("customer")}
    form = NewVehicleForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = services.add_vehicle(**form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            return redirect("vehicle-edit", made.pk)
    status = 422 if request.method == "POST" else 200
    return render(request, "builds/vehicle_new.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def vehicle_edit(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    found = _get_vehicle(vehicle_id)
    form = VehicleForm(request.POST or None, instance=_get_vehicle(vehicle_id))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                version = form.cleaned_data["version"]
                services.update_vehicle(vehicle=found, version=version, **form.values())
                messages.success(request, "Saved; its open builds are checked again.")
                return redirect(found)
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
    context = {"form": form, "vehicle": found}
    return render(request, "builds/vehicle_edit.html", context, status=status)


@require_POST
@office
def vehicle_remove(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    found = _get_vehicle(vehicle_id)
    name = str(found)
    try:
        services.remove_vehicle(vehicle=found)
    except ValidationError as error:
        found = _get_vehicle(vehicle_id)
        context = _vehicle_context(found, SwitchPositionForm())
        context["problems"] = error.messages
        return render(request, "builds/vehicle.html", context, status=422)
    messages.success(request, f"{name} is removed.")
    return redirect("vehicles")


@require_POST
@office
def switch_position_new(request: StaffRequest, vehicle_id: int) -> HttpResponse:
    found = _get_vehicle(vehicle_id)
    form = SwitchPositionForm(request.POST)
    if form.is_valid():
        try:
            services.add_switch_position(vehicle=found, **form.cleaned_data)
            return redirect(f"{found.get_absolute_url()}#switches")
        except ValidationError as error:
            put_errors(form, error)
    context = _vehicle_context(found, form)
    return render(request, "builds/vehicle.html", context, status=422)


@require_POST
@office
def switch_position_remove(
    request: StaffRequest, vehicle_id: int, place_id: int
) -> HttpResponse:
    found = _get_vehicle(vehicle_id)
    place = get_object_or_404(SwitchPosition, pk=place_id, vehicle=found)
    try:
        services.remove_switch_position(place=place)
    except ValidationError as error:
        context = _vehicle_context(found, SwitchPositionForm())
        context["problems"] = error.messages
        return render(request, "builds/vehicle.html", context, status=422)
    return redirect(f"{found.get_absolute_url()}#switches")


@require_safe
@office
def type_sheets(request: StaffRequest) -> HttpResponse:
    context = {"sheets": TypeSheet.objects.all(), "form": UploadForm()}
    return render(request, "builds/type_sheets.html", context)


@require_safe
@office
def type_sheet(request: StaffRequest, key: str) -> HttpResponse:
    sheet = get_object_or_404(TypeSheet, key=key)
    places = [SwitchPosition(**place) for place in sheet.switch_positions]
    context = {"sheet": sheet, "groups": _groups(sheet), "places": places}
    return render(request, "builds/type_sheet.html", context)


@require_safe
@office
def type_sheets_export(request: StaffRequest) -> HttpResponse:
    return csv_response(catalogue.export_type_sheets(), "type_sheets.csv")


@require_POST
@office
def type_sheets_import(request: StaffRequest) -> HttpResponse:
    return take_file(
        request,
        bring_in=catalogue.import_type_sheets,
        page="type-sheets",
        template="builds/type_sheets.html",
        listed={"sheets": TypeSheet.objects.all()},
    )
