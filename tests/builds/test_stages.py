"""Stages: one at a time, and what is missing is said with a link."""

from __future__ import annotations

import html
import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import STAGES, BuildJob, Stage
from builds.services import jobs, line_items
from builds.services.stages import blockers
from tests.factories import (
    BayFactory,
    BuildJobFactory,
    LineItemFactory,
    PartTypeFactory,
    set_rates,
)
from workshop.models import Person

pytestmark = pytest.mark.django_db


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", html.unescape(text))


def move(client: Client, build: BuildJob, to: str, **more: str):
    return client.post(reverse("stage", args=[build.pk]), {"to": to, **more})


@pytest.fixture
def build() -> BuildJob:
    set_rates("100")
    made = BuildJobFactory()
    LineItemFactory(build=made)
    return made


def at(build: BuildJob, stage: str) -> BuildJob:
    BuildJob.objects.filter(pk=build.pk).update(stage=stage)
    return BuildJob.objects.get(pk=build.pk)


def test_a_stage_that_may_not_be_entered_names_what_is_missing(office: Client):
    build = BuildJobFactory(people=None)

    response = move(office, build, "specified")

    assert response.status_code == 422
    page = words(response)
    assert "Add at least one line item." in page
    assert "Say how many people ride along and what one weighs." in page
    assert reverse("build-edit", args=[build.pk]) in response.content.decode()
    build.refresh_from_db()
    assert build.stage == Stage.ENQUIRY


def test_the_page_lists_what_is_missing_before_anybody_asks(
    office: Client, build: BuildJob
):
    at(build, "specified")
    item = line_items.add_line_item(
        build=BuildJob.objects.get(pk=build.pk),
        label="Odd bracket",
        kind="bracket",
        zone="rear",
        mass_kg=Decimal(900),
        x_mm=-3800,
    )

    response = office.get(build.get_absolute_url())

    page = response.content.decode()
    assert "Odd bracket has no price." in page
    assert reverse("line-item-edit", args=[build.pk, item.pk]) in page
    assert any("#finding-axle-mass-rear" in b.url for b in response.context["blockers"])
    assert "Move to “Estimate given”" not in page


def test_a_build_moves_on_when_nothing_is_missing(office: Client, build: BuildJob):
    assert move(office, build, "specified").status_code == 302
    build.refresh_from_db()
    assert build.stage == Stage.SPECIFIED


@pytest.mark.parametrize("to", ["quoted", "released", "enquiry", "nonsense", ""])
def test_no_stage_is_skipped_or_made_up(office: Client, build: BuildJob, to: str):
    response = move(office, build, to)
    assert response.status_code == 422
    build.refresh_from_db()
    assert build.stage == Stage.ENQUIRY


def test_it_goes_back_without_asking(office: Client, build: BuildJob):
    at(build, "approved")
    assert move(office, build, "specified").status_code == 302
    build.refresh_from_db()
    assert build.stage == Stage.SPECIFIED


@pytest.mark.parametrize(
    ("stage", "to", "sentence"),
    [
        ("quoted", "approved", "Note who approved the estimate, and when."),
        ("approved", "booked", "Choose a bay."),
        ("booked", "in-work", "Say who works on it."),
        ("in-work", "fitted", "2 steps to tick."),
        ("fitted", "released", "A manager releases the vehicle."),
        ("released", "handed-over", "Print the final handover pack."),
    ],
)
def test_every_stage_asks_for_its_own(
    office: Client, build: BuildJob, stage: str, to: str, sentence: str
):
    at(build, stage)
    response = move(office, build, to, handed_over_to="Ilse Garn")
    assert response.status_code == 422
    assert sentence in words(response)


def test_every_stage_but_the_first_has_its_questions(build: BuildJob, advisor: Person):
    """A build with nothing but a line item is stopped somewhere on each step."""
    stopped = [to for to in STAGES[2:] if blockers(build=build, to=to, by=advisor)]
    assert stopped == [s for s in STAGES[2:] if s != Stage.QUOTED]


def test_a_fitter_says_fitted_and_nothing_else(shop: Client, build: BuildJob):
    response = move(shop, build, "specified")
    assert response.status_code == 422
    assert "The office moves a build to that stage." in words(response)
    assert "Move to" not in words(shop.get(build.get_absolute_url()))

    build.tasks.all().delete()
    at(build, "in-work")
    assert move(shop, build, "fitted").status_code == 302


def test_an_approval_keeps_who_when_and_how_much(office: Client, build: BuildJob):
    at(build, "quoted")
    url = reverse("approval", args=[build.pk])
    response = office.post(
        url, {"approved_by": "Ilse Garn", "approved_on": "2026-11-20"}
    )

    build.refresh_from_db()
    assert response.status_code == 302
    assert (build.approved_by, build.approved_on) == ("Ilse Garn", date(2026, 11, 20))
    # 150 for the part, 1.5 h at 100, 10 % tax.
    assert build.approved_total == Decimal("330.00")
    assert "The total has changed since" not in words(
        office.get(build.get_absolute_url())
    )


def test_an_approval_of_another_sum_does_not_count(
    office: Client, build: BuildJob, advisor: Person
):
    build = at(build, "quoted")
    jobs.record_approval(
        build=build, approved_by="Ilse Garn", approved_on=timezone.localdate()
    )
    LineItemFactory(build=build, part=PartTypeFactory(price=Decimal(10)))
    build = at(build, "quoted")

    assert "The total has changed since" in words(office.get(build.get_absolute_url()))
    assert (
        "ask the customer again"
        in blockers(build=build, to="approved", by=advisor)[0].sentence
    )


def test_nothing_is_approved_before_its_estimate(office: Client, build: BuildJob):
    response = office.post(
        reverse("approval", args=[build.pk]),
        {"approved_by": "Ilse Garn", "approved_on": "2026-11-20"},
    )

    assert response.status_code == 422
    assert "Give the estimate first" in words(response)
    build.refresh_from_db()
    assert build.approved_total is None


def test_a_sum_that_grew_holds_the_release_until_it_is_approved(
    build: BuildJob, manager: Person
):
    build = at(build, "quoted")
    jobs.record_approval(
        build=build, approved_by="Ilse Garn", approved_on=timezone.localdate()
    )
    LineItemFactory(build=build, part=PartTypeFactory(price=Decimal(10)))
    build = at(build, "fitted")

    asked = [b.sentence for b in blockers(build=build, to="released", by=manager)]
    assert any("ask the customer again" in sentence for sentence in asked)


def test_an_approval_to_come_is_refused_and_kept(office: Client, build: BuildJob):
    at(build, "quoted")
    day = timezone.localdate() + timedelta(2)
    response = office.post(
        reverse("approval", args=[build.pk]),
        {"approved_by": "Ilse Garn", "approved_on": f"{day:%Y-%m-%d}"},
    )

    assert response.status_code == 422
    assert "This date is still to come." in words(response)
    assert 'value="Ilse Garn"' in response.content.decode()


def test_booking_needs_bay_and_dates(office: Client, build: BuildJob):
    at(build, "approved")
    jobs.update_build(
        build=BuildJob.objects.get(pk=build.pk),
        bay=BayFactory(),
        booked_in_on=date(2026, 12, 1),
        promised_on=date(2026, 12, 2),
    )
    assert move(office, build, "booked").status_code == 302
