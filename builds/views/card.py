"""The job card on a tablet: the page, what it sends, and what others changed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from functools import wraps
from typing import Any, cast
from uuid import uuid4

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import BadRequest, ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from builds.card import CardState, TaskState, card_state
from builds.drawings.plan import plan_view
from builds.entry_rules import recording_closed
from builds.forms.card import TaskForm
from builds.handover import plan_marks, vehicle_shape
from builds.incoming import MAX_BODY, BatchError, read_batch, read_event
from builds.models import ZONE_LABELS, BuildJob, Task
from builds.services import tasks
from builds.snapshots import items_of
from builds.views.common import get_build
from workshop.forms_fields import put_errors
from workshop.http import P, StaffRequest, View, everyone, office
from workshop.models import Person, Role


def answers_in_json(view: View[P]) -> View[P]:
    """Say no in JSON: a tablet that is signed out keeps its entries, it can't redirect."""

    @wraps(view)
    def guarded(
        request: HttpRequest, *args: P.args, **kwargs: P.kwargs
    ) -> HttpResponse:
        if not isinstance(request.user, Person):
            return JsonResponse({"error": "Sign in to send."}, status=401)
        if request.user.role not in Role.values:
            return JsonResponse({"error": "This is not open to you."}, status=403)
        return view(cast("StaffRequest", request), *args, **kwargs)

    guarded.roles = frozenset(Role)  # type: ignore[attr-defined]
    return cast("View[P]", login_not_required(guarded))


def plan_key(build: BuildJob) -> str:
    """Name what the card's layout depends on, so that a page knows it is out of date."""
    rows = build.tasks.values_list(
        *("pk", "title", "skill", "estimate_h", "withdrawn"),
        *("line_item__zone", "line_item__x_mm"),
    )
    said = f"{build.stage} {list(rows)}"
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def _groups(state: CardState) -> list[tuple[str, str, list[TaskState]]]:
    """Tasks by zone in walk-around order; those without a line item come last."""
    groups: dict[str, list[TaskState]] = {}
    for row in state.tasks:
        if row.task.withdrawn:
            key = "withdrawn"
        else:
            key = row.zone if row.task.line_item_id else "whole"
        groups.setdefault(key, []).append(row)
    labels = ZONE_LABELS | {"whole": "Whole vehicle", "withdrawn": "Withdrawn"}
    return [(key, labels[key], rows) for key, rows in groups.items()]


def _fragment_context(
    request: StaffRequest, build: BuildJob, state: CardState
) -> dict[str, Any]:
    """What a task, the summary and the thumb bar need, on the page and alone."""
    closed = recording_closed(build)
    mine = next((t for t in state.tasks if request.user.pk in t.running), None)
    waiting = (t for t in state.tasks if not (t.done or t.task.withdrawn))
    return {
        "build": build,
        "state": state,
        "mine": mine,
        "next_task": mine or next(waiting, None),
        "closed": closed,
        "person": request.user,
        "may_plan": request.user.may_see_money and build.is_open,
        "today": timezone.localdate(),
        "new_id": uuid4,
    }


def _drawing(build: BuildJob, state: CardState, zones: list[str]) -> str:
    by_item = {t.task.line_item_id: t for t in state.tasks}
    items = items_of(build)
    marks = [
        replace(mark, href=f"#task-{row.task.pk}", done=row.done)
        if (row := by_item.get(item.pk))
        else mark
        for mark, item in zip(plan_marks(items), items, strict=True)
    ]
    links = {zone: f"#zone-{zone}" for zone in zones if zone in ZONE_LABELS}
    drawn = plan_view(vehicle_shape(build.vehicle), marks, zones=links)
    return mark_safe(drawn)  # noqa: S308 - the drawing escapes every text it holds


def _page(
    request: StaffRequest, build: BuildJob, *, status: int = 200, **more: Any
) -> HttpResponse:
    key = plan_key(build)
    state = card_state(build)
    groups = _groups(state)
    context = _fragment_context(request, build, state) | {
        "groups": groups,
        "plan_key": key,
        "drawing": _drawing(build, state, [group[0] for group in groups]),
        **more,
    }
    return render(request, "builds/job_card.html", context, status=status)


@require_safe
@everyone
def job_card(request: StaffRequest, build_id: int) -> HttpResponse:
    return _page(request, get_build(build_id))


@require_POST
@everyone
def record_entry(request: StaffRequest, build_id: int) -> HttpResponse:
    """Take one entry from a plain form; the tablet's script sends batches instead."""
    build = get_build(build_id)
    typed = {name: str(value) for name, value in request.POST.items()}
    sent = typed | {"happened_at": timezone.now().isoformat()}
    try:
        event = read_event(sent)
    except BatchError as error:
        raise BadRequest(str(error)) from error
    [receipt] = tasks.record_events(build=build, by=request.user, events=[event])
    if receipt.outcome == "refused":
        refused = typed | {"sentence": receipt.sentence}
        return _page(request, build, status=422, refused=refused)
    return redirect(reverse("job-card", args=[build.pk]) + _anchor(typed))


def _anchor(typed: Mapping[str, str]) -> str:
    return f"#step-{typed['step']}" if typed.get("step") else f"#task-{typed['task']}"


@require_POST
@answers_in_json
def job_card_events(request: StaffRequest, build_id: int) -> HttpResponse:
    # A tick is the busiest request of a workshop: it fetches only what it needs.
    build = get_object_or_404(BuildJob.objects.only("stage", "number"), pk=build_id)
    if request.content_type != "application/json":
        return JsonResponse({"error": "Send entries as application/json."}, status=415)
    if int(request.META.get("CONTENT_LENGTH") or 0) > MAX_BODY:
        return JsonResponse({"error": "Send fewer entries at once."}, status=413)
    try:
        person_id, events = read_batch(request.body)
    except BatchError as error:
        return JsonResponse({"error": str(error)}, status=400)
    if person_id is not None and person_id != request.user.pk:
        return JsonResponse({"error": "Somebody else is signed in."}, status=409)
    receipts = tasks.record_events(build=build, by=request.user, events=events)
    return JsonResponse({"results": [_answer(receipt) for receipt in receipts]})


def _answer(receipt: tasks.Receipt) -> dict[str, str]:
    return {
        "event_id": str(receipt.event_id),
        "outcome": receipt.outcome,
        "sentence": receipt.sentence,
    }


@require_safe
@ensure_csrf_cookie
@answers_in_json
def job_card_state(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    after = request.GET.get("after", "0")
    if not (after.isascii() and after.isdigit() and len(after) < 16):
        return JsonResponse({"error": "after is the number of an entry."}, status=400)
    key = plan_key(build)
    last = build.events.order_by("-pk").values_list("pk", flat=True).first() or 0
    if last <= int(after) and request.GET.get("plan", key) == key:
        return HttpResponse(status=204)
    return JsonResponse(_changes(request, build, int(after)) | {"plan": key})


def _changes(request: StaffRequest, build: BuildJob, after: int) -> dict[str, Any]:
    state = card_state(build)
    context = _fragment_context(request, build, state)
    news = build.events.filter(pk__gt=after, pk__lte=state.last_event)
    changed = set(news.values_list("task_id", flat=True))

    def fragment(name: str, **more: Any) -> str:
        template = f"builds/partials/{name}.html"
        return render_to_string(template, context | more, request)

    return {
        "last": state.last_event,
        "person": request.user.pk,
        "tasks": {
            str(row.task.pk): fragment("_task", row=row)
            for row in state.tasks
            if row.task.pk in changed
        },
        "summary": fragment("_task_summary"),
        "thumb": fragment("_task_thumb"),
    }


@require_http_methods(["GET", "HEAD", "POST"])
@office
def task_new(request: StaffRequest, build_id: int) -> HttpResponse:
    """Add work that no line item brings."""
    build = get_build(build_id)
    form = TaskForm(request.POST or None)
    if form.is_valid():
        try:
            task = tasks.add_task(build=build, **form.cleaned_data)
            return redirect(f"{reverse('job-card', args=[build.pk])}#task-{task.pk}")
        except ValidationError as error:
            put_errors(form, error)
    status = 422 if request.method == "POST" else 200
    context = {"build": build, "form": form}
    return render(request, "builds/job_card_task.html", context, status=status)


@require_POST
@office
def task_withdraw(request: StaffRequest, build_id: int, task_id: int) -> HttpResponse:
    build = get_build(build_id)
    task = get_object_or_404(
        Task.objects.select_related("build"), pk=task_id, build=build
    )
    try:
        tasks.withdraw_task(task=task)
    except ValidationError as error:
        return _page(request, build, status=422, problems=error.messages)
    return redirect("job-card", build.pk)
