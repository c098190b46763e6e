"""Line items: from the catalogue, typed in, changed, taken off; and what that does."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.forms.line_items import AddPackageForm, AddPartForm, LineItemForm
from builds.ledger import Change
from builds.models import BuildJob, LineItem
from builds.services import line_items
from builds.services.trial import picture_of, try_change
from builds.views.common import (
    build_context,
    change_shown,
    get_build,
    strip_of,
)
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, office, typed_query, wants_fragment
from workshop.saving import StaleError

EFFECT = "builds/partials/_effect_swap.html"


def get_item(build: BuildJob, item_id: int) -> LineItem:
    return get_object_or_404(
        LineItem.objects.select_related("build__vehicle", "part"),
        pk=item_id,
        build=build,
    )


def _wants_effect(request: HttpRequest) -> bool:
    return request.POST.get("do") == "effect"


def _effect_of(
    build: BuildJob, form: BaseForm | None, change: Callable[[], object]
) -> Change | None:
    """Try a change; what the service would refuse goes to the form's fields."""
    before = picture_of(build=build)
    try:
        after = try_change(build=build, change=change)
    except ValidationError as error:
        if form is not None:
            put_errors(form, error)
        return None
    return change_shown(build, before, after)


@require_safe
@office
def part_choices(request: StaffRequest, build_id: int) -> HttpResponse:
    """Narrow the catalogue's list while a name is typed."""
    build = get_build(build_id)
    q = typed_query(request)
    form = AddPartForm(q=q, keep=request.GET.get("part", "").replace("\x00", ""))
    if wants_fragment(request):
        context = {"add_part": form, "q": q}
        return render(request, "builds/partials/_part_choice.html", context)
    context = build_context(build, request.user, q=q, add_part=form)
    return render(request, "builds/build.html", context)


@require_POST
@office
def add_part(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = AddPartForm(request.POST)
    change = None
    if form.is_valid() and _wants_effect(request):
        change = _effect_of(
            build,
            form,
            lambda: line_items.add_part(build=get_build(build_id), **form.cleaned_data),
        )
    elif form.is_valid():
        try:
            item = line_items.add_part(build=build, **form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{item.label} is added.")
            return redirect(item)
    if wants_fragment(request):
        return render(request, EFFECT, {"change": change, "form": form})
    context = build_context(build, request.user, add_part=form, change=change)
    status = 200 if change else 422
    return render(request, "builds/build.html", context, status=status)


@require_POST
@office
def add_package(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = AddPackageForm(request.POST)
    change = None
    if form.is_valid() and _wants_effect(request):
        change = _effect_of(
            build,
            form,
            lambda: line_items.add_package(
                build=get_build(build_id), **form.cleaned_data
            ),
        )
    elif form.is_valid():
        try:
            added = line_items.add_package(build=build, **form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{len(added)} items are added.")
            return redirect(f"{build.get_absolute_url()}#items")
    context = build_context(build, request.user, add_package=form, change=change)
    status = 200 if change else 422
    return render(request, "builds/build.html", context, status=status)


def _try_form(
    build: BuildJob, item_id: int | None, form: LineItemForm
) -> Change | None:
    """Try what saving a line's form would do, on objects of its own."""
    fields = form.values()

    def change() -> None:
        fresh = get_build(build.pk)
        if item_id is None:
            line_items.add_line_item(build=fresh, **fields)
        else:
            line_items.update_line_item(item=get_item(fresh, item_id), **fields)

    return _effect_of(build, form, change)


@require_POST
@office
def item_preview(request: StaffRequest, build_id: int) -> HttpResponse:
    """Show what saving a line's form would do; keeps nothing."""
    build = get_build(build_id)
    pk = request.POST.get("item", "")
    item_id = int(pk) if pk.isascii() and pk.isdecimal() and len(pk) < 12 else None
    shown = LineItem(build=build) if item_id is None else get_item(build, item_id)
    form = LineItemForm(request.POST, instance=shown, build=build)
    change = _try_form(build, item_id, form) if form.is_valid() else None
    return render(request, EFFECT, {"change": change, "form": form})


def _line_item_page(
    request: StaffRequest,
    build: BuildJob,
    form: LineItemForm,
    *,
    item: LineItem | None = None,
    change: Change | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {
        "form": form,
        "build": build,
        "item": item,
        "change": change,
        "ledger": strip_of(build, picture_of(build=build), request.user, change),
    }
    return render(request, "builds/line_item.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_new(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = LineItemForm(request.POST or None, build=build)
    change = None
    if request.method == "POST" and form.is_valid():
        if _wants_effect(request):
            change = _try_form(build, None, form)
        else:
            try:
                item = line_items.add_line_item(build=build, **form.values())
            except ValidationError as error:
                put_errors(form, error)
            else:
                messages.success(request, f"{item.label} is added.")
                return redirect(item)
    status = 422 if form.errors or (request.method == "POST" and not change) else 200
    return _line_item_page(request, build, form, change=change, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_edit(request: StaffRequest, build_id: int, item_id: int) -> HttpResponse:
    build = get_build(build_id)
    item, shown = get_item(build, item_id), get_item(build, item_id)
    form = LineItemForm(request.POST or None, instance=shown, build=build)
    change, stale = None, False
    if request.method == "POST" and form.is_valid():
        if _wants_effect(request):
            change = _try_form(build, item_id, form)
        else:
            try:
                version = form.cleaned_data["version"]
                line_items.update_line_item(item=item, version=version, **form.values())
            except ValidationError as error:
                stale = isinstance(error, StaleError)
                put_errors(form, error)
            else:
                messages.success(request, f"{item.label} is saved.")
                return redirect(item)
    wrong = bool(form.errors) or (request.method == "POST" and not change)
    status = 409 if stale else 422 if wrong else 200
    return _line_item_page(
        request,
        build,
        form,
        item=get_item(build, item_id),
        change=change,
        status=status,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@office
def line_item_remove(
    request: StaffRequest, build_id: int, item_id: int
) -> HttpResponse:
    build = get_build(build_id)
    item = get_item(build, item_id)
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
    change = None
    if not problems:
        before = picture_of(build=build)
        try:
            after = try_change(
                build=build,
                change=lambda: line_items.remove_line_item(
                    item=get_item(get_build(build_id), item_id)
                ),
            )
            change = change_shown(build, before, after)
        except ValidationError as error:
            problems = error.messages
    context = {"build": build, "item": item, "change": change, "problems": problems}
    status = 422 if problems and request.method == "POST" else 200
    return render(request, "builds/line_item_remove.html", context, status=status)
