from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from builds.forms.circuits import CircuitForm
from builds.models import BuildJob, Circuit
from builds.services import circuits
from builds.services.checks import report_of
from builds.views.common import build_context, get_build
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office
from workshop.saving import StaleError


def _get_circuit(build: BuildJob, circuit_id: int) -> Circuit:
    return get_object_or_404(
        Circuit.objects.select_related("build"), pk=circuit_id, build=build
    )


def _supply(build: BuildJob) -> str:
    return f"{build.get_absolute_url()}#supply"


@require_http_methods(["GET", "HEAD", "POST"])
@office
def circuit_new(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = CircuitForm(request.POST or None, build=build)
    if request.method == "POST" and form.is_valid():
        try:
            made = circuits.add_circuit(build=build, **form.values())
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{made.label} is added.")
            return redirect(_supply(build))
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "build": build}
    return render(request, "builds/circuit.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def circuit_edit(request: StaffRequest, build_id: int, circuit_id: int) -> HttpResponse:
    build = get_build(build_id)
    circuit, shown = (_get_circuit(build, circuit_id) for _ in range(2))
    form = CircuitForm(request.POST or None, instance=shown, build=build)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                version = form.cleaned_data["version"]
                circuits.update_circuit(
                    circuit=circuit, version=version, **form.values()
                )
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
            else:
                messages.success(request, f"{circuit.label} is saved.")
                return redirect(_supply(build))
    context = _circuit_context(build, _get_circuit(build, circuit_id), form)
    return render(request, "builds/circuit.html", context, status=status)


def _circuit_context(
    build: BuildJob, circuit: Circuit, form: CircuitForm
) -> dict[str, object]:
    results = report_of(build=build).results
    return {
        "form": form,
        "build": build,
        "circuit": circuit,
        "answer": results["power"]["circuits"].get(circuit.key, {}),
        "findings": [f for f in results["findings"] if f["subject"] == circuit.key],
        "items": circuit.items.walk_around(),
        "branches": circuit.branches.all(),
        "outputs": circuit.charged_by_items.select_related("charges"),
    }


@require_POST
@office
def circuit_remove(
    request: StaffRequest, build_id: int, circuit_id: int
) -> HttpResponse:
    build = get_build(build_id)
    circuit = _get_circuit(build, circuit_id)
    label = circuit.label
    try:
        circuits.remove_circuit(circuit=circuit)
    except ValidationError as error:
        context = build_context(build, request.user, problems=error.messages)
        return render(request, "builds/build.html", context, status=422)
    messages.success(request, f"{label} is taken off.")
    return redirect(_supply(build))
