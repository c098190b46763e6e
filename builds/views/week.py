"""The week's load: which build is in which bay, for how many hours, and who is on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.http import require_safe

from builds.models import BuildJob, Stage
from workshop.http import StaffRequest, everyone, wants_fragment
from workshop.models import Bay, Person

FIRST_DAY, LAST_DAY = date(2000, 1, 3), date(2199, 12, 30)
"""The years within which a week can be looked at."""


@dataclass(slots=True)
class Stay:
    """One build in the workshop, its hours spread over its working days there."""

    build: BuildJob
    first: date
    last: date
    hours_a_day: Decimal

    def on(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(slots=True)
class BayDay:
    """One bay on one day: who is in it, and the hours they want of it."""

    stays: list[Stay]
    available: Decimal

    @property
    def hours(self) -> Decimal:
        return sum((s.hours_a_day for s in self.stays), Decimal(0))

    @property
    def over(self) -> bool:
        return self.hours > self.available


@dataclass(slots=True)
class PersonWeek:
    person: Person
    days: list[list[Stay]] = field(default_factory=list)


@dataclass(slots=True)
class WeekLoad:
    monday: date
    days: list[date]
    rows: list[tuple[Bay, list[BayDay]]]
    people: list[PersonWeek]
    undated: int
    """Builds that are booked in but cannot be placed: no bay or no date."""


def _workdays(start: date, end: date) -> int:
    """Count Monday to Friday between two days, both included."""
    weeks, rest = divmod((end - start).days + 1, 7)
    return weeks * 5 + sum((start.weekday() + n) % 7 < 5 for n in range(rest))


def _stay(build: BuildJob) -> Stay:
    first, last = build.booked_in_on, build.promised_on
    assert first is not None
    assert last is not None
    hours = sum((item.labour_h for item in build.items.all()), Decimal(0))
    return Stay(build, first, last, hours / max(_workdays(first, last), 1))


def week_load(day: date | None, *, without: BuildJob | None = None) -> WeekLoad:
    """Add up the hours booked in each bay, Monday to Friday, and who is on what.

    ``without`` leaves one build out: the one whose booking is being chosen.
    """
    day = min(max(day or timezone.localdate(), FIRST_DAY), LAST_DAY)
    monday = day - timedelta(day.weekday())
    days = [monday + timedelta(n) for n in range(5)]
    coming = BuildJob.objects.filter(set_aside_at=None).exclude(
        stage__in=[Stage.RELEASED, Stage.HANDED_OVER]
    )
    if without is not None:
        coming = coming.exclude(pk=without.pk)
    placed = coming.filter(
        bay__isnull=False, booked_in_on__lte=days[-1], promised_on__gte=monday
    )
    stays = [
        _stay(build)
        for build in placed.select_related("vehicle").prefetch_related(
            "items", "people_assigned"
        )
    ]
    rows = [
        (
            bay,
            [
                BayDay(
                    [s for s in stays if s.build.bay_id == bay.pk and s.on(at)],
                    bay.hours_per_day,
                )
                for at in days
            ],
        )
        for bay in Bay.objects.all()
    ]
    booked = coming.filter(stage__in=[Stage.BOOKED, Stage.IN_WORK])
    undated = booked.filter(promised_on=None) | booked.filter(bay=None)
    return WeekLoad(monday, days, rows, _people(stays, days), undated.count())


def _people(stays: list[Stay], days: list[date]) -> list[PersonWeek]:
    found: dict[int, PersonWeek] = {}
    for stay in stays:
        for person in stay.build.people_assigned.all():
            found.setdefault(person.pk, PersonWeek(person))
    for pk, week in found.items():
        week.days = [
            [
                s
                for s in stays
                if s.on(at) and any(p.pk == pk for p in s.build.people_assigned.all())
            ]
            for at in days
        ]
    return sorted(found.values(), key=lambda w: w.person.name)


def _day_asked(request: StaffRequest) -> date | None:
    """Read the day from the address; anything else shows this week."""
    text = request.GET.get("from") or request.GET.get("booked_in_on") or ""
    try:
        return parse_date(text)
    except ValueError:
        return None


@require_safe
@everyone
def week(request: StaffRequest) -> HttpResponse:
    without = request.GET.get("without", "")
    skipped = None
    if without.isascii() and without.isdecimal() and len(without) < 12:
        skipped = BuildJob.objects.filter(pk=int(without)).first()
    load = week_load(_day_asked(request), without=skipped)
    context = {
        "load": load,
        "before": load.monday - timedelta(7),
        "after": load.monday + timedelta(7),
    }
    if wants_fragment(request):
        return render(request, "builds/partials/_week.html", context)
    return render(request, "builds/week.html", context)
