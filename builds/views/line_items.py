from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.drawings.dash import dash_view
from builds.forms.line_items import (
    AddPackageForm,
    AddPartForm,
    LineItemForm,
    PlaceSwitchForm,
)
from builds.handover import dash_places
from builds.ledger import effect_of
from builds.models import BuildJob, LineItem, SwitchKind
from builds.services import line_items
from builds.services.checks import report_of
from builds.snapshots import items_of
from builds.views.common import build_context, get_build
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, everyone, office, wants_fragment
from workshop.saving import StaleError


def _get_item(build: BuildJob, item_id: int) -> LineItem:
    return get_object_or_404(
        LineItem.objects.select_related("build__vehicle", "part"),
        pk=item_id,
        build=build,
    )


def _wants_effect(request: HttpRequest) -> bool:
    return request.POST.get("do") == "effect"


@require_POST
@office
def add_part(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = AddPartForm(request.POST)
    effect = None
    if form.is_valid():
        if _wants_effect(request):
            draft = line_items.draft_from_part(
                build=build,
                part=form.cleaned_data["part"],
                quantity=form.cleaned_data["quantity"],
            )
            draft.supplied_by = form.cleaned_data["supplied_by"]
            effect = effect_of(build=build, changed=draft)
        else:
            try:
                item = line_items.add_part(build=build, **form.cleaned_data)
            except ValidationError as error:
                put_errors(form, error)
            else:
                messages.success(request, f"{item.label} is added.")
                return redirect(item)
    if wants_fragment(request):
        return render(
            request, "builds/partials/_effect.html", {"effect": effect, "form": form}
        )
    context = build_context(build, request.user, add_part=form) | {"effect": effect}
    status = 200 if effect else 422
    return render(request, "builds/build.html", context, status=status)


@require_POST
@office
def add_package(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = AddPackageForm(request.POST)
    if form.is_valid():
        try:
            added = line_items.add_package(build=build, **form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{len(added)} items are added.")
            return redirect(f"{build.get_absolute_url()}#items")
    context = build_context(build, request.user, add_package=form)
    return render(request, "builds/build.html", context, status=422)


def _fill(item: LineItem, form: LineItemForm) -> LineItem:
    for name, value in form.values().items():
        setattr(item, name, value)
    item.key = item.key or "draft"
    return item


@require_POST
@office
def item_preview(request: StaffRequest, build_id: int) -> HttpResponse:
    """Show what saving a line's form would do; stores nothing."""
    build = get_build(build_id)
    pk = request.POST.get("item", "")
    item = _get_item(build, int(pk)) if pk.isdecimal() and len(pk) < 12 else None
    form = LineItemForm(
        request.POST, instance=item or LineItem(build=build), build=build
    )
    effect = None
    if form.is_valid():
        effect = effect_of(build=build, changed=_fill(form.instance, form))
    context = {"effect": effect, "form": form}
    return render(request, "builds/partials/_effect.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_new(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = LineItemForm(request.POST or None, build=build)
    effect = None
    if request.method == "POST" and form.is_valid():
        if _wants_effect(request):
            effect = effect_of(build=build, changed=_fill(form.instance, form))
        else:
            try:
                item = line_items.add_line_item(build=build, **form.values())
                messages.success(request, f"{item.label} is added.")
                return redirect(item)
            except ValidationError as error:
                put_errors(form, error)
    status = 422 if request.method == "POST" and effect is None else 200
    context = {"form": form, "build": build, "effect": effect}
    return render(request, "builds/line_item.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_edit(request: StaffRequest, build_id: int, item_id: int) -> HttpResponse:
    build = get_build(build_id)
    item, shown = _get_item(build, item_id), _get_item(build, item_id)
    form = LineItemForm(request.POST or None, instance=shown, build=build)
    effect, status = None, 200
    if request.method == "POST":
        status = 422
        if form.is_valid() and _wants_effect(request):
            effect, status = effect_of(build=build, changed=_fill(shown, form)), 200
        elif form.is_valid():
            try:
                version = form.cleaned_data.get("version")
                line_items.update_line_item(item=item, version=version, **form.values())
                messages.success(request, f"{item.label} is saved.")
                return redirect(item)
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
    context = {"form": form, "build": build, "item": item, "effect": effect}
    return render(request, "builds/line_item.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_remove(
    request: StaffRequest, build_id: int, item_id: int
) -> HttpResponse:
    build = get_build(build_id)
    item = _get_item(build, item_id)
    problems: list[str] = []
    if request.method == "POST":
        label = item.label
        try:
            line_items.remove_line_item(item=item)
        except ValidationError as error:
            problems = error.messages
        else:
            messages.success(request, f"{label} is taken off.")
            return redirect(f"{build.get_absolute_url()}#items")
    effect = effect_of(build=build, changed=None, removed_pk=item.pk)
    context = {"build": build, "item": item, "effect": effect, "problems": problems}
    status = 422 if problems else 200
    return render(request, "builds/line_item_remove.html", context, status=status)


def _switching_context(build: BuildJob, problems: list[str]) -> dict[str, object]:
    items = items_of(build)
    waiting = [
        (number, item, PlaceSwitchForm(item=item))
        for number, item in enumerate(items, start=1)
        if item.switch_kind == SwitchKind.POSITION and item.switch_position is None
    ]
    places = dash_places(build, items)
    return {
        "build": build,
        "places": places,
        "waiting": waiting,
        "unsaid": [i for i in items if not i.switch_kind],
        "switching": report_of(build=build).results["switching"],
        "problems": problems,
        "dash": mark_safe(dash_view(places)),  # noqa: S308 - escapes what it holds
    }


@require_safe
@everyone
def switching(request: StaffRequest, build_id: int) -> HttpResponse:
    context = _switching_context(get_build(build_id), [])
    return render(request, "builds/switching.html", context)


@require_POST
@office
def place_switch(request: StaffRequest, build_id: int, item_id: int) -> HttpResponse:
    build = get_build(build_id)
    item = _get_item(build, item_id)
    form = PlaceSwitchForm(request.POST, item=item)
    problems = ["Choose one of the places that are free."]
    if form.is_valid():
        try:
            line_items.update_line_item(
                item=item,
                switch_kind=SwitchKind.POSITION,
                switch_position=form.cleaned_data["position"],
            )
            return redirect("switching", build.pk)
        except ValidationError as error:
            problems = error.messages
    context = _switching_context(build, problems)
    return render(request, "builds/switching.html", context, status=422)
