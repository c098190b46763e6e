"""Tasks from line items, and the append-only log of what was done on the tablet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from builds.entry_rules import CLOCK_SLACK, differs, load_card, refusal
from builds.incoming import NewEvent, Receipt
from builds.models import (
    BuildJob,
    EventKind,
    LineItem,
    StepKind,
    Task,
    TaskEvent,
    TaskStep,
)
from workshop.models import Person
from workshop.saving import save_clean

__all__ = [
    "NewEvent",
    "Receipt",
    "add_task",
    "plan_tasks",
    "record_events",
    "withdraw_task",
    "withdraw_tasks",
]

PLAIN_STEPS = [{"text": "Fit it to the maker's instructions.", "kind": "step"}]
PLAIN_TESTS = [{"text": "Works as the customer will use it.", "kind": "test"}]


def _main_skill(item: LineItem) -> str:
    if not item.labour:
        return ""
    skill: str = max(item.labour, key=lambda name: float(item.labour[name]))
    return skill


def plan_tasks(*, item: LineItem) -> None:
    """Keep the job card's task in step with the line it comes from."""
    task = item.tasks.filter(withdrawn=False).first()
    if task is None:
        task = Task(build=item.build, line_item=item)
    task.title = item.label
    task.skill = _main_skill(item)
    task.estimate_h = item.labour_h
    is_new = task.pk is None
    save_clean(task)
    if not is_new:
        return
    part = item.part
    steps = (part.steps if part else None) or PLAIN_STEPS
    tests = (part.tests if part else None) or PLAIN_TESTS
    _add_steps(task, [*steps, *({"kind": StepKind.TEST, **test} for test in tests)])


def _add_steps(task: Task, rows: Iterable[Mapping[str, Any]]) -> None:
    steps = [
        TaskStep(
            task=task,
            order=order,
            kind=row.get("kind", StepKind.STEP),
            text=row["text"][:300],
            torque_nm=_decimal(row.get("torque_nm")),
            unit=row.get("unit", ""),
            low=_decimal(row.get("low")),
            high=_decimal(row.get("high")),
        )
        for order, row in enumerate(rows, start=1)
    ]
    for step in steps:
        try:
            step.clean_fields(exclude=["task"])
        except ValidationError as error:
            words = f"“{step.text[:60]}”: {' '.join(error.messages)}"
            raise ValidationError({"steps": words}) from error
    TaskStep.objects.bulk_create(steps)


def _decimal(value: object) -> Decimal | None:
    return None if value is None else Decimal(str(value))


def withdraw_tasks(*, item: LineItem) -> None:
    """Drop tasks nobody touched; those with a history stay, marked withdrawn."""
    for task in item.tasks.all():
        _withdraw(task)


def _withdraw(task: Task) -> None:
    if not task.events.exists():
        task.delete()
    elif not task.withdrawn:
        task.withdrawn = True
        task.title = f"{task.title[:128]} (withdrawn)"
        save_clean(task)


@transaction.atomic
def add_task(
    *,
    build: BuildJob,
    title: str,
    skill: str = "",
    estimate_h: Decimal | None = None,
    steps: Iterable[Mapping[str, Any]] = (),
) -> Task:
    """Add work that no line item brings."""
    _require_open(build)
    task = Task(build=build, title=title, skill=skill, estimate_h=estimate_h)
    save_clean(task)
    _add_steps(task, list(steps) or PLAIN_STEPS)
    return task


@transaction.atomic
def withdraw_task(*, task: Task) -> None:
    """Take a task that was added by hand off the card; its history stays."""
    _require_open(task.build)
    if task.line_item_id is not None:
        raise ValidationError(
            f"{task.title} comes from a line item. Remove the line item instead."
        )
    _withdraw(task)


def _require_open(build: BuildJob) -> None:
    if not build.is_open:
        raise ValidationError(
            f"{build.number} is {build.stands.lower()}: its tasks can no "
            "longer be changed."
        )


@transaction.atomic
def record_events(
    *, build: BuildJob, by: Person, events: Iterable[NewEvent | Receipt]
) -> list[Receipt]:
    """Keep each event once, in the order given; say what became of each.

    An event that is sent again changes nothing and is answered ``duplicate``. A
    receipt among the events, for one that could not be read, is passed on.
    """
    # One writer a build: ids rise in the order in which they become visible, so a
    # reader who asks for what came after an id misses nothing.
    locked = BuildJob.objects.select_for_update().only("stage", "number")
    build = locked.get(pk=build.pk)
    events = [_plain(e) if isinstance(e, NewEvent) else e for e in events]
    card = load_card(build, [e for e in events if isinstance(e, NewEvent)])
    now = timezone.now()
    receipts = []
    for event in events:
        if isinstance(event, Receipt):
            receipts.append(event)
            continue
        outcome, sentence = "applied", ""
        if (kept := card.known.get(event.event_id)) is not None:
            outcome = "duplicate"
            if kept.build_id != build.pk or differs(event, kept):
                outcome = "refused"
                sentence = "This was sent before with other content. Enter it again."
        elif sentence := refusal(card, event, by, now):
            outcome = "refused"
        else:
            try:
                card.keep(_keep_event(build, by, event, card.known, now))
            except ValidationError as error:
                outcome, sentence = "refused", " ".join(error.messages)
        receipts.append(
            Receipt(event_id=event.event_id, outcome=outcome, sentence=sentence)
        )
    return receipts


def _plain(event: NewEvent) -> NewEvent:
    """Drop what its kind does not carry, so that the same entry compares equal."""
    return replace(
        event,
        value=event.value if event.kind == EventKind.READING else None,
        answers=event.answers if event.kind == EventKind.FAULT_CLEARED else None,
        text=event.text.strip(),
    )


def _keep_event(
    build: BuildJob,
    by: Person,
    event: NewEvent,
    known: Mapping[UUID, TaskEvent],
    now: datetime,
) -> TaskEvent:
    fast = event.happened_at - now > CLOCK_SLACK
    row = TaskEvent(
        event_id=event.event_id,
        build=build,
        task_id=event.task_id,
        step_id=event.step_id,
        kind=event.kind,
        value=event.value,
        text=event.text,
        answers=known.get(event.answers) if event.answers else None,
        by=by,
        happened_at=now if fast else event.happened_at,
    )
    # Ids and links were looked up for the whole batch; only the fields are left.
    row.clean_fields(exclude=["build", "task", "step", "by", "answers"])
    row.save(force_insert=True)
    return row
