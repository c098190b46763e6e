"""The dash with every switch place, what it controls, and what still waits for one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST, require_safe

from builds.drawings.dash import dash_view
from builds.forms.line_items import PlaceSwitchForm
from builds.handover import dash_places, switch_words
from builds.models import BuildJob, SwitchKind
from builds.services import line_items
from builds.services.checks import report_of
from builds.snapshots import items_of
from builds.views.common import get_build
from builds.views.line_items import get_item
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, everyone, office


def _context(build: BuildJob, refused: PlaceSwitchForm | None = None) -> dict[str, Any]:
    items = list(enumerate(items_of(build), start=1))
    held = {item.switch_position_id: (number, item) for number, item in items}
    waiting = [
        (
            number,
            item,
            refused
            if refused is not None and refused.item.pk == item.pk
            else PlaceSwitchForm(item=item),
        )
        for number, item in items
        if item.switch_kind == SwitchKind.POSITION and item.switch_position is None
    ]
    drawn = dash_view(dash_places(build, [item for _, item in items]))
    return {
        "build": build,
        "places": [
            (place, *held.get(place.pk, (None, None)))
            for place in build.vehicle.switch_positions.all()
        ],
        "waiting": waiting,
        "unsaid": [(n, item) for n, item in items if not item.switch_kind],
        "elsewhere": [
            (n, item, switch_words(item))
            for n, item in items
            if item.switch_kind == SwitchKind.OWN
        ],
        "switching": report_of(build=build).results["switching"],
        "dash": mark_safe(drawn),  # noqa: S308 - the drawing escapes what it holds
    }


@require_safe
@everyone
def switching(request: StaffRequest, build_id: int) -> HttpResponse:
    return render(request, "builds/switching.html", _context(get_build(build_id)))


@require_POST
@office
def place_switch(request: StaffRequest, build_id: int, item_id: int) -> HttpResponse:
    build = get_build(build_id)
    item = get_item(build, item_id)
    form = PlaceSwitchForm(request.POST, item=item)
    if form.is_valid():
        try:
            line_items.update_line_item(
                item=item,
                switch_kind=SwitchKind.POSITION,
                switch_position=form.cleaned_data["switch_position"],
            )
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(
                request, f"{item.label} is switched at {item.switch_position}."
            )
            return redirect("switching", build.pk)
    context = _context(get_build(build_id), form)
    return render(request, "builds/switching.html", context, status=422)
