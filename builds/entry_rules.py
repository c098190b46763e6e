"""Which entries a job card takes, decided on the log as it stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from uuid import UUID

from builds.incoming import NewEvent
from builds.models import (
    BuildJob,
    EventKind,
    Stage,
    StepKind,
    Task,
    TaskEvent,
    TaskStep,
)
from workshop.models import Person

RECORDING_STAGES = (Stage.BOOKED, Stage.IN_WORK, Stage.FITTED)
CLOCK_SLACK = timedelta(minutes=10)
"""How far ahead a tablet's clock may run. Common practice, no source."""
CLOCK_LIMIT = timedelta(days=1)
"""A clock further ahead than this is wrong, not merely fast. Common practice."""
OLDEST = timedelta(days=60)
"""How long a tablet may keep an entry before it is sent. Common practice."""
MAX_SERIAL = 60
TICKING = (EventKind.TICK, EventKind.READING)
STEP_KINDS = (EventKind.TICK, EventKind.UNTICK, EventKind.READING)
ALWAYS_TAKEN = (EventKind.STOP, EventKind.NOTE)
"""What a withdrawn task still takes: its clock must stop, its story may end."""


def recording_closed(build: BuildJob) -> str:
    """Say why nothing can be recorded now; empty when entries are taken."""
    if build.stage in (Stage.RELEASED, Stage.HANDED_OVER):
        return "The vehicle is released; nothing more can be recorded here."
    if build.stage not in RECORDING_STAGES:
        return "This build is not booked in yet; nothing can be recorded here."
    return ""


@dataclass(frozen=True, slots=True)
class Ticking:
    """One entry that ticks a step or takes the tick back."""

    step_id: int
    person_id: int
    kind: str
    at: datetime


@dataclass(slots=True)
class Card:
    """The part of a job card that some entries are decided on."""

    build: BuildJob
    tasks: dict[int, Task]
    steps: dict[int, TaskStep]
    known: dict[UUID, TaskEvent]
    ticking: list[Ticking] = field(default_factory=list)

    def step_of(self, event: NewEvent) -> TaskStep | None:
        step = self.steps.get(event.step_id or 0)
        return step if step is not None and step.task_id == event.task_id else None

    def keep(self, row: TaskEvent) -> None:
        self.known[row.event_id] = row
        if row.kind in STEP_KINDS and row.step_id is not None:
            self.ticking.append(
                Ticking(row.step_id, row.by_id, row.kind, row.happened_at)
            )


def load_card(build: BuildJob, events: Iterable[NewEvent]) -> Card:
    """Fetch what the entries are decided on: four queries, however many entries."""
    events = list(events)
    tasks = {t.pk: t for t in build.tasks.filter(pk__in={e.task_id for e in events})}
    steps = {s.pk: s for s in TaskStep.objects.filter(task__in=tasks)}
    ids = {e.event_id for e in events} | {e.answers for e in events if e.answers}
    known = {e.event_id: e for e in TaskEvent.objects.filter(event_id__in=ids)}
    card = Card(build, tasks, steps, known)
    held = {s.task_id for s in steps.values() if s.kind == StepKind.HOLD}
    if held and any(e.kind in TICKING for e in events):
        log = TaskEvent.objects.filter(
            task__in=held, kind__in=STEP_KINDS, step__isnull=False
        ).order_by("pk")
        card.ticking = [
            Ticking(*row)
            for row in log.values_list("step_id", "by_id", "kind", "happened_at")
        ]
    return card


def differs(event: NewEvent, kept: TaskEvent) -> bool:
    """Whether an id that is already taken stands for something else."""
    sent = (event.task_id, event.step_id, event.kind, event.value, event.text)
    return sent != (kept.task_id, kept.step_id, kept.kind, kept.value, kept.text)


def refusal(card: Card, event: NewEvent, by: Person, now: datetime) -> str:
    """Say why an entry is not taken; empty when it is."""
    task, step = card.tasks.get(event.task_id), card.step_of(event)
    if sentence := recording_closed(card.build):
        return sentence
    if task is None:
        return "That task is not on this job card."
    if event.step_id is not None and step is None:
        return "That step is not part of the task."
    if event.kind not in EventKind.values:
        return "This kind of entry is not known."
    if task.withdrawn and event.kind not in ALWAYS_TAKEN:
        return "This task was withdrawn; only a note or a stop is kept."
    return (
        _clock_refusal(event, now)
        or _content_refusal(card, event, step)
        or _hold_refusal(card, event, step, by)
    )


def _clock_refusal(event: NewEvent, now: datetime) -> str:
    if event.happened_at - now > CLOCK_LIMIT:
        return "This tablet's clock is more than a day ahead. Set it, then enter this again."
    if now - event.happened_at > OLDEST:
        return (
            f"This entry is dated more than {OLDEST.days} days back. "
            "Check the tablet's clock, then enter it again."
        )
    return ""


def _content_refusal(card: Card, event: NewEvent, step: TaskStep | None) -> str:
    match event.kind:
        case EventKind.TICK | EventKind.UNTICK if step is None:
            return "A tick needs a step."
        case EventKind.TICK if step is not None and step.kind == StepKind.READING:
            return "This step is done by entering its reading."
        case EventKind.READING if step is None or step.kind != StepKind.READING:
            return "There is no reading to take at this step."
        case EventKind.READING if event.value is None:
            return "A reading needs a number."
        case EventKind.FAULT | EventKind.NOTE if not event.text:
            return "Say in a few words what you found."
        case EventKind.SERIAL if not event.text:
            return "Enter the serial number."
        case EventKind.SERIAL if len(event.text) > MAX_SERIAL:
            return f"A serial number has at most {MAX_SERIAL} characters."
        case EventKind.FAULT_CLEARED:
            fault = card.known.get(event.answers) if event.answers else None
            if (
                fault is None
                or fault.kind != EventKind.FAULT
                or fault.task_id != event.task_id
            ):
                return "There is no such fault on this task."
    return ""


def _hold_refusal(
    card: Card, event: NewEvent, step: TaskStep | None, by: Person
) -> str:
    """Keep who checks a hold point apart from who ticked the task's other steps.

    Looked at twice: on the log as it is, and as it was when the entry happened, so
    that an entry refused once is refused again when an unanswered batch is resent.
    """
    if event.kind not in TICKING or step is None:
        return ""
    checks = step.kind == StepKind.HOLD
    for ticking in _views(card.ticking, event.happened_at):
        for step_id, people in _who_ticked(ticking).items():
            other = card.steps.get(step_id)
            if other is None or other.task_id != step.task_id:
                continue
            if by.pk in people and (other.kind == StepKind.HOLD) is not checks:
                return (
                    "A second person checks this: you ticked other steps of the task."
                    if checks
                    else "You checked this task's hold point, so somebody else ticks "
                    "its other steps. If that was a slip, take the tick back there."
                )
    return ""


def _views(ticking: list[Ticking], at: datetime) -> Iterator[list[Ticking]]:
    yield ticking
    yield [t for t in ticking if t.at <= at]


def _who_ticked(ticking: Iterable[Ticking]) -> dict[int, set[int]]:
    """Everybody who ticked each step since its tick was last taken back."""
    people: dict[int, set[int]] = {}
    for entry in ticking:
        if entry.kind == EventKind.UNTICK:
            people.pop(entry.step_id, None)
        else:
            people.setdefault(entry.step_id, set()).add(entry.person_id)
    return people
