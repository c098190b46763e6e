from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from builds.forms.line_items import CircuitForm
from builds.models import Circuit
from builds.services import circuits
from builds.services.checks import report_of
from builds.views.common import build_context, get_build
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office


@require_http_methods(["GET", "HEAD", "POST"])
@office
def circuit_new(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = CircuitForm(request.POST or None, build=build)
    if request.method == "POST" and form.is_valid():
        try:
            circuits.add_circuit(build=build, **form.values())
            return redirect(f"{build.get_absolute_url()}#supply")
        except ValidationError as error:
            put_errors(form, error)
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "build": build}
    return render(request, "builds/circuit.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def circuit_edit(request: StaffRequest, build_id: int, circuit_id: int) -> HttpResponse:
    build = get_build(build_id)
    circuit = get_object_or_404(Circuit, pk=circuit_id, build=build)
    shown = get_object_or_404(Circuit, pk=circuit_id, build=build)
    form = CircuitForm(request.POST or None, instance=shown, build=build)
    if request.method == "POST" and form.is_valid():
        try:
            circuits.update_circuit(circuit=circuit, **form.values())
            return redirect(f"{build.get_absolute_url()}#supply")
        except ValidationError as error:
            put_errors(form, error)
    findings = report_of(build=build).results["findings"]
    context = {
        "form": form,
        "build": build,
        "circuit": circuit,
        "findings": [f for f in findings if f["subject"] == circuit.key],
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "builds/circuit.html", context, status=status)


@require_POST
@office
def circuit_remove(
    request: StaffRequest, build_id: int, circuit_id: int
) -> HttpResponse:
    build = get_build(build_id)
    circuit = get_object_or_404(Circuit, pk=circuit_id, build=build)
    label = circuit.label
    try:
        circuits.remove_circuit(circuit=circuit)
    except ValidationError as error:
        context = build_context(build, request.user, problems=error.messages)
        return render(request, "builds/build.html", context, status=422)
    messages.success(request, f"{label} is taken off.")
    return redirect(f"{build.get_absolute_url()}#supply")
