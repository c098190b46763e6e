from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.forms.packages import BaseRows, PackageForm, row_set
from builds.forms.uploads import UploadForm
from builds.models import Package
from builds.services import packages as services
from builds.views.uploads import csv_response, take_file
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office
from workshop.saving import StaleError


def _get_package(key: str) -> Package:
    found = Package.objects.prefetch_related("parts__part")
    return get_object_or_404(found, key=key)


def _listed() -> dict[str, object]:
    return {"packages": Package.objects.prefetch_related("parts__part")}


@require_safe
@office
def packages(request: StaffRequest) -> HttpResponse:
    context = {**_listed(), "form": UploadForm()}
    return render(request, "builds/packages.html", context)


@require_safe
@office
def package(request: StaffRequest, key: str) -> HttpResponse:
    found = _get_package(key)
    context = {"package": found, "brings": services.what_it_brings(found)}
    return render(request, "builds/package.html", context)


def _edit_page(
    request: StaffRequest, form: PackageForm, rows: BaseRows, status: int
) -> HttpResponse:
    context = {"form": form, "rows": rows, "package": form.instance}
    return render(request, "builds/package_edit.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def package_new(request: StaffRequest) -> HttpResponse:
    form, rows = PackageForm(request.POST or None), row_set(request.POST or None)
    if request.method != "POST":
        return _edit_page(request, form, rows, 200)
    if form.is_valid() and rows.is_valid():
        form.cleaned_data.pop("version")
        try:
            return redirect(services.add_package(rows=rows.rows(), **form.cleaned_data))
        except ValidationError as error:
            put_errors(form, error)
    return _edit_page(request, form, rows, 422)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def package_edit(request: StaffRequest, key: str) -> HttpResponse:
    found = _get_package(key)
    form = PackageForm(request.POST or None, instance=_get_package(key))
    rows = row_set(request.POST or None, found)
    if request.method != "POST":
        return _edit_page(request, form, rows, 200)
    status = 422
    if form.is_valid() and rows.is_valid():
        try:
            return redirect(
                services.update_package(
                    package=found, rows=rows.rows(), **form.cleaned_data
                )
            )
        except ValidationError as error:
            status = 409 if isinstance(error, StaleError) else 422
            put_errors(form, error)
    return _edit_page(request, form, rows, status)


@require_POST
@office
def package_remove(request: StaffRequest, key: str) -> HttpResponse:
    found = _get_package(key)
    services.remove_package(package=found)
    messages.success(request, f"{found.name} is removed; its parts stay.")
    return redirect("packages")


@require_safe
@office
def packages_export(request: StaffRequest) -> HttpResponse:
    return csv_response(services.export_packages(), "packages.csv")


@require_POST
@office
def packages_import(request: StaffRequest) -> HttpResponse:
    return take_file(
        request,
        bring_in=services.import_packages,
        page="packages",
        template="builds/packages.html",
        listed=_listed(),
    )
