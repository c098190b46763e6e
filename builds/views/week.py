from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from builds.models import BuildJob, Stage
from workshop.http import StaffRequest, everyone
from workshop.models import Bay


@dataclass(slots=True)
class BayDay:
    """One bay on one day: who is in it, and the hours they want of it."""

    builds: list[BuildJob]
    hours: Decimal
    available: Decimal

    @property
    def over(self) -> bool:
        return self.hours > self.available


@dataclass(slots=True)
class WeekLoad:
    monday: date
    days: list[date]
    rows: list[tuple[Bay, list[BayDay]]]


def _workdays(start: date, end: date) -> int:
    return sum(
        (start + timedelta(n)).weekday() < 5 for n in range((end - start).days + 1)
    )


def _hours_a_day(build: BuildJob) -> Decimal:
    """Spread a build's hours over its working days in the workshop."""
    assert build.booked_in_on is not None
    assert build.promised_on is not None
    days = max(_workdays(build.booked_in_on, build.promised_on), 1)
    hours = sum((item.labour_h for item in build.items.all()), Decimal(0))
    return hours / days


def week_load(day: date | None) -> WeekLoad:
    """Add up the hours booked in each bay, Monday to Friday; three queries."""
    day = day or timezone.localdate()
    monday = day - timedelta(day.weekday())
    days = [monday + timedelta(n) for n in range(5)]
    booked = list(
        BuildJob.objects.filter(
            bay__isnull=False, booked_in_on__lte=days[-1], promised_on__gte=monday
        )
        .exclude(stage__in=[Stage.RELEASED, Stage.HANDED_OVER])
        .select_related("vehicle")
        .prefetch_related("items")
    )
    hours = {build.pk: _hours_a_day(build) for build in booked}
    rows = []
    for bay in Bay.objects.all():
        cells = []
        for at in days:
            inside = [
                b
                for b in booked
                if b.bay_id == bay.pk
                and b.booked_in_on is not None
                and b.promised_on is not None
                and b.booked_in_on <= at <= b.promised_on
            ]
            total = sum((hours[b.pk] for b in inside), Decimal(0))
            cells.append(BayDay(inside, total, bay.hours_per_day))
        rows.append((bay, cells))
    return WeekLoad(monday, days, rows)


@require_safe
@everyone
def week(request: StaffRequest) -> HttpResponse:
    try:
        day = parse_date(request.GET.get("from", "")) or timezone.localdate()
        load = week_load(day)
        before, after = load.monday - timedelta(7), load.monday + timedelta(7)
    except (ValueError, OverflowError):
        load = week_load(None)
        before, after = load.monday - timedelta(7), load.monday + timedelta(7)
    context = {"load": load, "before": before, "after": after}
    return render(request, "builds/week.html", context)
