"""Variants of a build: opening one, holding two side by side, taking one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from builds.comparison import Differences, differences, finding_moves, groups_of
from builds.contents import circuits_said, items_said, use_said
from builds.forms.variants import SetAsideForm
from builds.models import BuildJob
from builds.services import variants
from builds.services.trial import picture_of
from builds.views.common import get_build
from workshop.http import StaffRequest, office


def _variants_page(
    request: StaffRequest,
    build: BuildJob,
    *,
    form: SetAsideForm | None = None,
    problems: list[str] | None = None,
    status: int = 200,
) -> HttpResponse:
    family = variants.members_of(build)
    kin = {member.build.pk for member in family}
    context = {
        "build": build,
        "family": family,
        "others": [
            other for other in variants.comparable_with(build) if other.pk not in kin
        ],
        "form": form or SetAsideForm(),
        "problems": problems or [],
    }
    return render(request, "builds/variants.html", context, status=status)


@require_safe
@office
def build_variants(request: StaffRequest, build_id: int) -> HttpResponse:
    return _variants_page(request, get_build(build_id))


@require_POST
@office
def variant_new(request: StaffRequest, build_id: int) -> HttpResponse:
    try:
        made = variants.open_variant(build=get_build(build_id), by=request.user)
    except ValidationError as error:
        build = get_build(build_id)
        return _variants_page(request, build, problems=error.messages, status=422)
    messages.success(request, f"{made.number} is open: change it as you like.")
    return redirect(made)


@require_safe
@office
def compare(request: StaffRequest, build_id: int, other_id: int) -> HttpResponse:
    """Hold two builds of one vehicle side by side: A, and B against it."""
    a = get_build(build_id)
    others = variants.comparable_with(a)
    get_object_or_404(others, pk=other_id)
    b = get_build(other_id)
    context = {
        "a": a,
        "b": b,
        "sides": [("A", a), ("B", b)],
        "kin": variants.root_of(a) == variants.root_of(b),
        "others": others,
        **_side_by_side(a, b),
    }
    return render(request, "builds/compare.html", context)


def _side_by_side(a: BuildJob, b: BuildJob) -> dict[str, Any]:
    in_a, in_b = picture_of(build=a), picture_of(build=b)
    main, *groups = groups_of(in_a.numbers(), in_b.numbers())
    parts: list[tuple[str, Differences]] = [
        ("Line items", differences(items_said(a), items_said(b))),
        ("Circuits", differences(circuits_said(a), circuits_said(b))),
        ("Use", differences(use_said(a), use_said(b))),
    ]
    return {
        "main": main,
        "groups": groups,
        "parts": [(title, found) for title, found in parts if found],
        "moves": finding_moves(in_a.results, in_b.results),
    }


@require_POST
@office
def take_variant(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    try:
        left = variants.take_variant(build=build)
    except ValidationError as error:
        build = get_build(build_id)
        return _variants_page(request, build, problems=error.messages, status=422)
    numbers = ", ".join(other.number for other in left)
    aside = f" Set aside: {numbers}." if numbers else ""
    messages.success(request, f"{build.number} is the one that goes on.{aside}")
    return redirect(build)


@require_POST
@office
def set_aside(request: StaffRequest, build_id: int) -> HttpResponse:
    form, problems = SetAsideForm(request.POST), []
    if form.is_valid():
        try:
            build = variants.set_aside(build=get_build(build_id), **form.cleaned_data)
        except ValidationError as error:
            problems = error.messages
        else:
            messages.success(request, f"{build.number} is set aside.")
            return redirect(build)
    build = get_build(build_id)
    return _variants_page(request, build, form=form, problems=problems, status=422)


@require_POST
@office
def take_up(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    try:
        variants.take_up(build=build)
    except ValidationError as error:
        build = get_build(build_id)
        return _variants_page(request, build, problems=error.messages, status=422)
    messages.success(request, f"{build.number} is taken up again.")
    return redirect(build)
