"""The switch places: what has one, what waits, and what is blank."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import BuildJob, LineItem
from builds.services import line_items
from tests.factories import BuildJobFactory, LineItemFactory, PartTypeFactory

pytestmark = pytest.mark.django_db


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", html.unescape(text))


@pytest.fixture
def build() -> BuildJob:
    return BuildJobFactory()


def lamps(build: BuildJob, name: str = "Driving lamps") -> LineItem:
    return LineItemFactory(build=build, part=PartTypeFactory(lamps=True, name=name))


def test_every_place_is_shown_with_its_legend_or_as_blank(
    office: Client, build: BuildJob
):
    item, place = lamps(build), build.vehicle.switch_positions.all()[0]
    line_items.update_line_item(item=item, switch_position=place)

    page = words(office.get(reverse("switching", args=[build.pk])))

    assert (
        "dash right row 1 col 1 DRIVING 1 Driving lamps ; only with main beam" in page
    )
    assert page.count("roof console left blank") == 1
    assert "1 used, 3 blank" in page


def test_an_item_that_waits_is_given_its_place(office: Client, build: BuildJob):
    item, place = lamps(build), build.vehicle.switch_positions.all()[2]
    assert "Waiting for a place (1)" in words(
        office.get(reverse("switching", args=[build.pk]))
    )

    response = office.post(
        reverse("place-switch", args=[build.pk, item.pk]), {"switch_position": place.pk}
    )

    item.refresh_from_db()
    assert response.status_code == 302
    assert item.switch_position == place
    assert "Waiting for a place" not in words(
        office.get(reverse("switching", args=[build.pk]))
    )


@pytest.mark.parametrize("chosen", ["", "x", "99999"])
def test_no_place_is_told_at_its_row(office: Client, build: BuildJob, chosen: str):
    item = lamps(build)
    lamps(build, "Side lamps")

    response = office.post(
        reverse("place-switch", args=[build.pk, item.pk]), {"switch_position": chosen}
    )

    assert response.status_code == 422
    wrong = [i.pk for _, i, form in response.context["waiting"] if form.errors]
    assert wrong == [item.pk]
    assert f'id="place-{item.pk}-switch_position_error"' in response.content.decode()


def test_a_taken_place_names_who_has_it(office: Client, build: BuildJob):
    place = build.vehicle.switch_positions.all()[0]
    line_items.update_line_item(item=lamps(build), switch_position=place)
    other = lamps(build, "Side lamps")

    response = office.post(
        reverse("place-switch", args=[build.pk, other.pk]),
        {"switch_position": place.pk},
    )

    assert response.status_code == 422
    assert "is already taken by Driving lamps" in words(response)


def test_what_nobody_said_and_what_is_switched_on_itself_are_listed(
    office: Client, build: BuildJob
):
    line_items.add_line_item(build=build, label="Odd lamp", kind="lamp", zone="rear")
    LineItemFactory(build=build, part=PartTypeFactory(fridge=True))

    page = words(office.get(reverse("switching", args=[build.pk])))

    assert "Nobody has said how these are switched 1 Odd lamp" in page
    assert "2 Fridge 45: on the item itself: Panel on the lid" in page


def test_a_fitter_sees_the_places_and_changes_none(shop: Client, build: BuildJob):
    item = lamps(build)
    page = shop.get(reverse("switching", args=[build.pk])).content.decode()
    assert "Driving lamps" in page
    assert reverse("place-switch", args=[build.pk, item.pk]) not in page
    assert reverse("line-item-edit", args=[build.pk, item.pk]) not in page
