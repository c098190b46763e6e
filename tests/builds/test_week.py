"""The week: hours by bay and day, and who is on what."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

import pytest
from django.test import Client

from builds.models import BuildJob
from builds.views.week import week_load
from tests.factories import BayFactory, BuildJobFactory, LineItemFactory, PersonFactory

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 11, 30)


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", text)


def booked(first: date, last: date, *, pieces: int = 4, **more) -> BuildJob:
    """A build of 1.5 h a piece."""
    build = BuildJobFactory(booked_in_on=first, promised_on=last, **more)
    LineItemFactory(build=build, quantity=pieces)
    return build


def hours(load) -> list[list[Decimal]]:
    return [[day.hours for day in days] for _, days in load.rows]


def test_hours_are_spread_over_working_days():
    bay = BayFactory()
    booked(date(2026, 12, 3), date(2026, 12, 8), bay=bay)  # Thursday to Tuesday: four

    this, following = week_load(MONDAY), week_load(date(2026, 12, 9))

    assert hours(this) == [[0, 0, 0, Decimal("1.5"), Decimal("1.5")]]
    assert hours(following) == [[Decimal("1.5"), Decimal("1.5"), 0, 0, 0]]


def test_a_stay_of_many_weeks_counts_its_weekdays():
    bay = BayFactory()
    booked(MONDAY, date(2026, 12, 18), bay=bay, pieces=10)  # three weeks, 15 days
    assert hours(week_load(date(2026, 12, 7))) == [[Decimal(1)] * 5]


def test_more_than_the_bay_has_is_over(office: Client):
    bay = BayFactory(hours_per_day=Decimal(2))
    booked(MONDAY, MONDAY, bay=bay, pieces=2)

    page = words(office.get("/week/?from=2026-12-02"))

    assert "3.0 of 2.0 h over" in page
    assert "Week of 30 November 2026" in page


def test_the_edit_page_leaves_its_own_build_out(office: Client):
    bay = BayFactory()
    own, other = (booked(MONDAY, MONDAY, bay=bay) for _ in range(2))

    load = office.get(f"/builds/{own.pk}/edit/").context["load"]
    swap = office.get(
        f"/week/?booked_in_on=2026-12-01&without={own.pk}",
        headers={"HX-Request": "true"},
    )

    assert hours(load)[0][0] == 6
    assert other.number in swap.content.decode()
    assert own.number not in swap.content.decode()
    assert swap.content.decode().lstrip().startswith('<div id="week-table"')


def test_people_are_on_what_they_were_given(office: Client):
    person = PersonFactory(first_name="Ilse", last_name="Garn")
    build = booked(
        MONDAY, date(2026, 12, 1), bay=BayFactory(), people_assigned=[person]
    )

    found = week_load(MONDAY).people

    assert [w.person for w in found] == [person]
    assert [len(day) for day in found[0].days] == [1, 1, 0, 0, 0]
    assert f"Ilse Garn {build.number} {build.number} free free free" in words(
        office.get("/week/?from=2026-11-30")
    )


def test_booked_without_a_bay_is_said(office: Client):
    build = BuildJobFactory()
    BuildJob.objects.filter(pk=build.pk).update(stage="booked")
    assert "1 build is booked without a bay" in words(office.get("/week/"))


@pytest.mark.parametrize(
    "day", ["", "never", "2026-13-45", "0001-01-01", "9999-12-31", "2026-W10"]
)
def test_any_day_shows_a_week(shop: Client, day: str):
    assert shop.get("/week/", {"from": day, "without": "²"}).status_code == 200


def test_a_fitter_sees_no_customer_in_the_week(shop: Client):
    build = booked(MONDAY, MONDAY, bay=BayFactory())
    page = words(shop.get("/week/?from=2026-11-30"))
    assert build.number in page
    assert build.customer.name not in page
