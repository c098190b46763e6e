"""Hours on the clock of many builds at once, for the lists."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils import timezone

from builds.models import EventKind, TaskEvent


def booked_hours(build_ids: Iterable[int]) -> dict[int, float]:
    """Replay starts and stops as the job card does; one query for all the builds."""
    now = timezone.now()
    seconds: dict[int, float] = dict.fromkeys(build_ids, 0.0)
    running: dict[tuple[int, int], tuple[int, datetime]] = {}

    def stop(build_id: int, by_id: int, at: datetime) -> None:
        _, since = running.pop((build_id, by_id))
        seconds[build_id] += max((at - since).total_seconds(), 0)

    events = (
        TaskEvent.objects.filter(
            build__in=list(seconds), kind__in=[EventKind.START, EventKind.STOP]
        )
        .order_by("pk")
        .values_list("build_id", "task_id", "by_id", "kind", "happened_at")
    )
    for build_id, task_id, by_id, kind, at in events:
        on, _ = running.get((build_id, by_id), (None, None))
        if kind == EventKind.START and on != task_id:
            # A person works at one thing at a time: starting one stops the other.
            if on is not None:
                stop(build_id, by_id, at)
            running[build_id, by_id] = (task_id, at)
        elif kind == EventKind.STOP and on == task_id:
            stop(build_id, by_id, at)
    for build_id, by_id in list(running):
        stop(build_id, by_id, now)
    return {build_id: total / 3600 for build_id, total in seconds.items()}
