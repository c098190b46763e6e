"""The job card's state, derived from its log: what is done, by whom, how long."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Prefetch
from django.utils import timezone

from builds.models import (
    BuildJob,
    EventKind,
    StepKind,
    Task,
    TaskEvent,
    TaskStep,
)
from compliance.inputs import ZONES


def _figure(value: Decimal) -> str:
    return f"{value.normalize():f}".replace("-", "−")  # noqa: RUF001 - true minus


@dataclass(slots=True)
class StepState:
    step: TaskStep
    done: bool = False
    by: str = ""
    at: datetime | None = None
    value: Decimal | None = None
    event_pk: int = 0

    @property
    def limits(self) -> str:
        """The reading's limits in words, with the unit; empty where none are given."""
        low, high, unit = self.step.low, self.step.high, self.step.unit
        if low is not None and high is not None:
            return f"{_figure(low)} to {_figure(high)} {unit}".strip()
        if low is not None:
            return f"at least {_figure(low)} {unit}".strip()
        return f"at most {_figure(high)} {unit}".strip() if high is not None else ""

    @property
    def outside(self) -> bool:
        """A reading was taken and lies outside its limits."""
        if self.value is None:
            return False
        low, high = self.step.low, self.step.high
        return (low is not None and self.value < low) or (
            high is not None and self.value > high
        )


WORD_MARKS = {
    "done": "done",
    "fault open": "over",
    "reading outside": "over",
    "second person checks": "caution",
}
WORD_CSS = {
    "done": "task--done",
    "fault open": "task--fault",
    "reading outside": "task--fault",
    "second person checks": "task--hold",
}


@dataclass(slots=True)
class TaskState:
    task: Task
    number: int | None = None
    steps: list[StepState] = field(default_factory=list)
    notes: list[TaskEvent] = field(default_factory=list)
    faults: list[TaskEvent] = field(default_factory=list)
    cleared: set[int] = field(default_factory=set)
    running: dict[int, datetime] = field(default_factory=dict)
    running_names: dict[int, str] = field(default_factory=dict)
    booked_s: float = 0.0
    serial: str = ""

    @property
    def open_steps(self) -> int:
        return sum(not s.done for s in self.steps)

    @property
    def open_faults(self) -> list[TaskEvent]:
        return [f for f in self.faults if f.pk not in self.cleared]

    @property
    def bad_readings(self) -> list[str]:
        """Readings outside limits; a fault raised and cleared since then settles one."""
        settled = {(f.step_id, f.pk) for f in self.faults if f.pk in self.cleared}
        return [
            f"reading {_figure(s.value)} {s.step.unit} is outside its limits"
            for s in self.steps
            if s.value is not None
            and s.outside
            and not any(step == s.step.pk and pk > s.event_pk for step, pk in settled)
        ]

    @property
    def steps_done(self) -> int:
        return sum(s.done for s in self.steps)

    @property
    def awaits_second(self) -> bool:
        """All that is left to tick is for a second person to check."""
        left = [s.step.kind for s in self.steps if not s.done]
        return bool(left) and all(kind == StepKind.HOLD for kind in left)

    @property
    def booked_h(self) -> float:
        """Hours on the clock, those still running counted up to now."""
        now = timezone.now()
        running = sum(
            max((now - since).total_seconds(), 0) for since in self.running.values()
        )
        return (self.booked_s + running) / 3600

    @property
    def done(self) -> bool:
        return self.open_steps == 0 and not self.open_faults

    @property
    def takes_entries(self) -> bool:
        return not self.task.withdrawn

    @property
    def may_be_withdrawn(self) -> bool:
        return not self.task.withdrawn and self.task.line_item_id is None

    @property
    def word(self) -> str:
        """How the task stands, in words."""
        if self.task.withdrawn:
            return "withdrawn"
        if self.open_faults:
            return "fault open"
        if self.done:
            return "reading outside" if self.bad_readings else "done"
        if self.awaits_second:
            return "second person checks"
        if self.running or self.steps_done:
            return "in work"
        return "not started"

    @property
    def mark(self) -> str:
        return WORD_MARKS.get(self.word, "open")

    @property
    def css(self) -> str:
        return WORD_CSS.get(self.word, "") + (" task--running" if self.running else "")

    @property
    def people(self) -> list[tuple[str, datetime]]:
        """Who has a clock running here, and since when."""
        return [
            (self.running_names[pk], timezone.localtime(since))
            for pk, since in self.running.items()
        ]

    @property
    def zone(self) -> str:
        item = self.task.line_item
        return item.zone if item is not None else "cabin"


@dataclass(slots=True)
class CardState:
    tasks: list[TaskState]
    last_event: int

    @property
    def booked_h(self) -> float:
        return sum(t.booked_h for t in self.tasks)

    @property
    def estimate_h(self) -> Decimal:
        return sum(
            (t.task.estimate_h or Decimal(0) for t in self.tasks), start=Decimal(0)
        )

    @property
    def at_work(self) -> list[tuple[str, str]]:
        """Who is at which task."""
        return [
            (who, task.task.title)
            for task in self.tasks
            for who in task.running_names.values()
        ]

    @property
    def steps_done(self) -> int:
        return sum(s.done for t in self.tasks for s in t.steps)

    @property
    def steps_total(self) -> int:
        return sum(len(t.steps) for t in self.tasks)


def _stop_clock(state: TaskState, event: TaskEvent) -> None:
    since = state.running.pop(event.by_id, None)
    state.running_names.pop(event.by_id, None)
    if since is not None:
        state.booked_s += max((event.happened_at - since).total_seconds(), 0)


def _apply_to_step(row: StepState, event: TaskEvent) -> None:
    done = event.kind != EventKind.UNTICK
    row.done, row.event_pk = done, event.pk
    row.by = event.by.name if done else ""
    row.at = event.happened_at if done else None
    row.value = event.value


def _apply(
    states: dict[int, TaskState], steps: dict[int, StepState], event: TaskEvent
) -> None:
    state = states[event.task_id]
    row = steps.get(event.step_id) if event.step_id is not None else None
    match event.kind:
        case EventKind.TICK | EventKind.UNTICK | EventKind.READING if row is not None:
            _apply_to_step(row, event)
        case EventKind.NOTE:
            state.notes.append(event)
        case EventKind.FAULT:
            state.faults.append(event)
        case EventKind.FAULT_CLEARED if event.answers_id is not None:
            state.cleared.add(event.answers_id)
        case EventKind.SERIAL:
            state.serial = event.text
        case EventKind.START if event.by_id not in state.running:
            # A person works at one thing at a time: starting one stops the other.
            for other in states.values():
                _stop_clock(other, event)
            state.running[event.by_id] = event.happened_at
            state.running_names[event.by_id] = event.by.name
        case EventKind.STOP:
            _stop_clock(state, event)
        case _:
            pass


def card_state(build: BuildJob) -> CardState:
    """Replay a build's log over its tasks, in walk-around order; four queries."""
    numbers = {
        pk: n
        for n, pk in enumerate(
            build.items.walk_around().values_list("pk", flat=True), start=1
        )
    }
    tasks = build.tasks.select_related("line_item").prefetch_related(
        Prefetch("steps", queryset=TaskStep.objects.order_by("order"))
    )
    states: dict[int, TaskState] = {}
    steps: dict[int, StepState] = {}
    for task in tasks:
        state = TaskState(task, numbers.get(task.line_item_id or 0))
        state.steps = [StepState(step) for step in task.steps.all()]
        states[task.pk] = state
        steps.update({s.step.pk: s for s in state.steps})
    last = 0
    for event in build.events.select_related("by", "step").order_by("pk"):
        last = event.pk
        if event.task_id in states:
            _apply(states, steps, event)
    ordered = sorted(
        states.values(),
        key=lambda s: (
            s.task.withdrawn,
            s.number if s.number is not None else len(numbers) + 1,
            ZONES.index(s.zone),
            s.task.pk,
        ),
    )
    return CardState(ordered, last)


def readings_of(state: CardState) -> list[tuple[TaskState, StepState]]:
    """List the readings taken, for the pack and the release."""
    return [
        (task, step)
        for task in state.tasks
        for step in task.steps
        if step.step.kind == StepKind.READING and step.value is not None
    ]
