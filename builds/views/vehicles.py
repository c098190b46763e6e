from __future__ import annotations

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
from builds.forms.vehicles import (
    NewVehicleForm,
    SwitchPositionForm,
    UploadForm,
    VehicleForm,
)
from builds.handover import vehicle_shape
from builds.services import catalogue
from builds.services import vehicles as services
from workshop.finding import twin_warnings, vehicles_matching
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query
from workshop.models import SwitchPosition, TypeSheet, Vehicle
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


def _shown(vehicle: Vehicle, name: str) -> object:
    """Give a field's value the way it is read: a choice by its words."""
    words = getattr(vehicle, f"get_{name}_display", None)
    return words() if words else getattr(vehicle, name)


def _warnings(vehicle: Vehicle) -> list[str]:
    odd_vin = vin_warning(vehicle.vin)
    found = [odd_vin] if odd_vin else []
    return [*found, *twin_warnings(vehicle), *rating_warnings(vehicle)]


def _vehicle_context(vehicle: Vehicle, form: SwitchPositionForm) -> dict[str, object]:
    labels = VehicleForm(instance=vehicle)
    own = set(vehicle.own_plate_fields())
    rows = [
        (
            title,
            [
                (
                    f.label,
                    _shown(vehicle, f.name),
                    getattr(f.field, "unit", ""),
                    f.name in own,
                )
                for f in fields
                if f.name not in ("vin", "plate", "seats_text")
            ],
        )
        for title, fields in labels.groups
    ]
    return {
        "vehicle": vehicle,
        "groups": rows,
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
    names = [f for f in sheet._meta.fields if f.name not in ("id", "key")]
    rows = [(f.verbose_name, getattr(sheet, f.name)) for f in names]
    return render(request, "builds/type_sheet.html", {"sheet": sheet, "rows": rows})


def csv_response(text: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_safe
@office
def type_sheets_export(request: StaffRequest) -> HttpResponse:
    return csv_response(catalogue.export_type_sheets(), "type_sheets.csv")


@require_POST
@office
def type_sheets_import(request: StaffRequest) -> HttpResponse:
    form = UploadForm(request.POST, request.FILES)
    faults: list[str] = []
    if form.is_valid():
        try:
            text = catalogue.decode(form.cleaned_data["file"].read())
            done = catalogue.import_type_sheets(text=text)
            messages.success(request, f"{done.added} added, {done.changed} changed.")
            return redirect("type-sheets")
        except ValidationError as error:
            faults = error.messages
    context = {"sheets": TypeSheet.objects.all(), "form": form, "faults": faults}
    return render(request, "builds/type_sheets.html", context, status=422)
