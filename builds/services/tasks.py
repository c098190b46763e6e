"""Tasks from line items, and the append-only log of what was done on the tablet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from builds.models import (
    BuildJob,
    EventKind,
    LineItem,
    Stage,
    StepKind,
    Task,
    TaskEvent,
    TaskStep,
)
from workshop.models import Person
from workshop.saving import save_clean

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
    rows = [*steps, *({"kind": StepKind.TEST, **test} for test in tests)]
    TaskStep.objects.bulk_create(
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
    )


def _decimal(value: object) -> Decimal | None:
    return None if value is None else Decimal(str(value))


def withdraw_tasks(*, item: LineItem) -> None:
    """Drop tasks nobody touched; those with a history stay, marked withdrawn."""
    for task in item.tasks.all():
        if task.events.exists():
            task.withdrawn = True
            task.title = f"{task.title} (withdrawn)"[:140]
            save_clean(task)
        else:
            task.delete()


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEvent:
    """One event as a tablet sends it."""

    event_id: UUID
    task_id: int
    step_id: int | None
    kind: str
    value: Decimal | None
    text: str
    answers: UUID | None
    happened_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What became of one event: ``applied``, ``duplicate`` or ``refused``."""

    event_id: UUID
    outcome: str
    sentence: str = ""


CLOCK_SLACK = timedelta(minutes=10)
"""How far ahead a tablet's clock may run. Common practice, no source."""


def _refusal(
    build: BuildJob, event: NewEvent, task: Task | None, step: TaskStep | None
) -> str:
    if task is None:
        return "That task is not on this job card."
    if event.step_id is not None and step is None:
        return "That step is not part of the task."
    if build.stage in (Stage.RELEASED, Stage.HANDED_OVER):
        return "The vehicle is released; nothing more can be recorded here."
    if event.kind not in EventKind.values:
        return "This kind of entry is not known."
    if event.kind in (EventKind.TICK, EventKind.UNTICK) and step is None:
        return "A tick needs a step."
    if event.kind == EventKind.READING:
        if step is None or step.kind != StepKind.READING:
            return "There is no reading to take at this step."
        if event.value is None:
            return "A reading needs a number."
    if event.kind in (EventKind.FAULT, EventKind.NOTE) and not event.text.strip():
        return "Say in a few words what you found."
    return ""


@transaction.atomic
def record_events(
    *, build: BuildJob, by: Person, events: Iterable[NewEvent]
) -> list[Receipt]:
    """Keep each event once, in the order given; say what became of each.

    An event that is sent again changes nothing and is answered ``duplicate``.
    """
    events = list(events)
    tasks = {t.pk: t for t in build.tasks.all()}
    steps = {
        s.pk: s
        for s in TaskStep.objects.filter(
            pk__in=[e.step_id for e in events if e.step_id is not None]
        )
    }
    known = {
        e.event_id: e
        for e in TaskEvent.objects.filter(
            event_id__in=[e.event_id for e in events]
            + [e.answers for e in events if e.answers]
        )
    }
    latest = timezone.now() + CLOCK_SLACK
    receipts = []
    for event in events:
        if event.event_id in known:
            receipts.append(Receipt(event_id=event.event_id, outcome="duplicate"))
            continue
        task = tasks.get(event.task_id)
        step = steps.get(event.step_id) if event.step_id is not None else None
        if step is not None and step.task_id != event.task_id:
            step = None
        if sentence := _refusal(build, event, task, step):
            receipts.append(
                Receipt(event_id=event.event_id, outcome="refused", sentence=sentence)
            )
            continue
        row = TaskEvent(
            event_id=event.event_id,
            build=build,
            task=task,
            step=step,
            kind=event.kind,
            value=event.value,
            text=event.text[:1000],
            answers=known.get(event.answers) if event.answers else None,
            by=by,
            happened_at=min(event.happened_at, latest),
        )
        try:
            row.full_clean(exclude=["build", "task", "step", "by", "answers"])
        except ValidationError as error:
            receipts.append(
                Receipt(
                    event_id=event.event_id,
                    outcome="refused",
                    sentence=" ".join(error.messages),
                )
            )
            continue
        row.save(force_insert=True)
        known[event.event_id] = row
        receipts.append(Receipt(event_id=event.event_id, outcome="applied"))
    return receipts
