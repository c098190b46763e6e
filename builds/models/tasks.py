"""The job card: tasks, their steps, and the append-only log of what was done."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from builds.models.jobs import BuildJob, LineItem
from builds.models.parts import quantity
from workshop.models import Person, Skill


class Task(models.Model):
    """The work that one line item brings, or one the workshop added by hand."""

    build = models.ForeignKey(BuildJob, on_delete=models.CASCADE, related_name="tasks")
    line_item = models.ForeignKey(
        LineItem, on_delete=models.SET_NULL, null=True, blank=True, related_name="tasks"
    )
    title = models.CharField(max_length=140)
    skill = models.CharField(max_length=12, choices=Skill.choices, blank=True)
    estimate_h = quantity(6, 2, 0, 1000)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        return self.title


class StepKind(models.TextChoices):
    STEP = "step", "Step"
    HOLD = "hold", "Hold point: a second person checks"
    READING = "reading", "Reading"
    TEST = "test", "Test"


class TaskStep(models.Model):
    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="steps")
    order = models.PositiveSmallIntegerField(validators=[MaxValueValidator(500)])
    kind = models.CharField(max_length=8, choices=StepKind.choices)
    text = models.CharField(max_length=300)
    torque_nm = quantity(6, 1, 0.1, 2000)
    unit = models.CharField(max_length=12, blank=True)
    low = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    high = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["task", "order"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["task", "order"], name="step_order_once"),
            models.CheckConstraint(
                condition=Q(low__isnull=True)
                | Q(high__isnull=True)
                | Q(high__gte=models.F("low")),
                name="reading_range_right_way_round",
            ),
        ]

    def __str__(self) -> str:
        return self.text


class EventKind(models.TextChoices):
    START = "start", "Started"
    STOP = "stop", "Stopped"
    TICK = "tick", "Ticked"
    UNTICK = "untick", "Tick taken back"
    READING = "reading", "Reading"
    NOTE = "note", "Note"
    FAULT = "fault", "Fault found"
    FAULT_CLEARED = "fault-cleared", "Fault cleared"
    SERIAL = "serial", "Serial number"


class TaskEvent(models.Model):
    """One thing done on the tablet. Never changed, never deleted; state is derived."""

    event_id = models.UUIDField(unique=True)
    build = models.ForeignKey(BuildJob, on_delete=models.CASCADE, related_name="events")
    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="events")
    step = models.ForeignKey(
        TaskStep, on_delete=models.CASCADE, null=True, blank=True, related_name="events"
    )
    kind = models.CharField(max_length=14, choices=EventKind.choices)
    value = models.DecimalField(
        max_digits=10,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(-1_000_000), MaxValueValidator(1_000_000)],
    )
    text = models.CharField(max_length=1000, blank=True)
    answers = models.ForeignKey(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="answered"
    )
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["pk"]
        indexes: ClassVar = [
            # The job card reads one build's events in order on every poll.
            models.Index(fields=["build", "id"], name="event_build_order"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.task}"
