"""The build page: what it says, to whom, and for how many queries."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.models import BuildJob
from builds.services import circuits, line_items
from tests.factories import (
    BuildJobFactory,
    LineItemFactory,
    PackageFactory,
    PartTypeFactory,
    set_rates,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def build() -> BuildJob:
    set_rates("100")
    made = BuildJobFactory()
    LineItemFactory(build=made, part=PartTypeFactory(battery=True))
    LineItemFactory(build=made, part=PartTypeFactory(charger=True))
    LineItemFactory(build=made, part=PartTypeFactory(fridge=True))
    LineItemFactory(build=made, part=PartTypeFactory(lamps=True))
    return made


def words(response) -> str:
    """Everything a page says, tags and doubled spaces taken out."""
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", text)


def test_a_row_answers_the_five_questions(office: Client, build: BuildJob):
    place = build.vehicle.switch_positions.all()[0]
    lamps = build.items.get(kind="driving-lamps")
    line_items.update_line_item(
        item=lamps, switch_position=place, use_text="Only off the road."
    )

    page = words(office.get(build.get_absolute_url()))

    assert "Driving lamps" in page
    assert "On the front bar" in page
    assert "dash right, row 1, place 1, marked “DRIVING”; only with main beam" in page
    assert "20 A fuse (Blade), at the start battery" in page
    assert "Only off the road." in page


def test_items_are_numbered_in_walk_around_order(office: Client, build: BuildJob):
    LineItemFactory(build=build, part=PartTypeFactory(name="Rear bar", zone="rear"))
    rows = office.get(build.get_absolute_url()).context["rows"]

    assert [r.number for r in rows] == [1, 2, 3, 4, 5]
    assert [r.item.zone for r in rows] == ["front", "rear", "cargo", "cargo", "cargo"]


def test_the_strip_leads_to_each_working(office: Client, build: BuildJob):
    response = office.get(build.get_absolute_url())
    page = response.content.decode()

    for figure in response.context["ledger"]:
        path, _, anchor = figure.href.partition("#")
        if path == build.get_absolute_url():
            assert f'id="{anchor}"' in page, figure.key
        else:
            assert office.get(path).status_code == 200


def test_findings_come_worst_first_and_open_to_their_working(
    office: Client, build: BuildJob
):
    fridge = build.items.get(kind="fridge")
    circuits.update_circuit(circuit=fridge.circuit, area_mm2=Decimal("0.5"))

    response = office.get(build.get_absolute_url())
    order = [f["severity"] for f in response.context["findings"]]
    page = words(response)

    assert order == sorted(order, key=["stop", "check", "clear"].index)
    assert order[0] == "stop"
    assert "Fridge 45 drops" in page
    assert "published" in page or "common practice" in page


def test_the_zone_narrows_the_list_as_page_and_as_fragment(
    office: Client, build: BuildJob
):
    url = build.get_absolute_url() + "?zone=front"
    whole = words(office.get(url))
    part = office.get(url, headers={"HX-Request": "true", "HX-Target": "item-list"})

    assert "On the slide, left" not in whole
    assert "On the front bar" in whole
    assert part.content.decode().lstrip().startswith('<div id="item-list">')
    assert "On the slide, left" not in part.content.decode()


@pytest.mark.parametrize("zone", ["nowhere", "<script>", "%00"])
def test_a_zone_that_is_none_shows_all(office: Client, build: BuildJob, zone: str):
    assert "On the slide, left" in words(office.get(f"/builds/{build.pk}/?zone={zone}"))


def test_a_fitter_sees_neither_prices_nor_how_to_reach_the_customer(
    shop: Client, build: BuildJob
):
    customer = build.customer
    page = shop.get(build.get_absolute_url()).content.decode()

    for secret in (customer.name, customer.phone, customer.email, customer.address):
        assert secret not in page
    assert "150.00" not in page  # the part
    assert "100.00" not in page  # an hour
    assert "AUD" not in page
    assert "Price" not in page
    assert reverse("build-edit", args=[build.pk]) not in page
    assert "Driving lamps" in page


def test_signed_out_nobody_sees_it(client: Client, build: BuildJob):
    response = client.get(build.get_absolute_url())
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign-in"))


def test_a_build_that_is_not_there_is_not_found(office: Client):
    assert office.get("/builds/999999/").status_code == 404


def count_queries(client: Client, build: BuildJob) -> int:
    with CaptureQueriesContext(
        connection,
    ) as found:
        assert client.get(build.get_absolute_url()).status_code == 200
    return len(found)


def test_the_page_asks_as_often_for_40_items_as_for_one(office: Client):
    one, many = BuildJobFactory(), BuildJobFactory()
    LineItemFactory(build=one, part=PartTypeFactory(lamps=True))
    part, other = PartTypeFactory(lamps=True), PartTypeFactory(fridge=True)
    LineItemFactory(build=many, part=PartTypeFactory(battery=True))
    for _ in range(20):
        line_items.add_part(build=many, part=part, check=False)
        line_items.add_part(build=many, part=other, check=False)
    for build in (one, many):  # the first look checks again, the second is counted
        office.get(build.get_absolute_url())

    few, lots = count_queries(office, one), count_queries(office, many)

    assert lots == few
    assert few < 40


def test_the_price_and_what_has_none(office: Client, build: BuildJob):
    line_items.add_line_item(
        build=build, label="Odd bracket", kind="bracket", zone="rear"
    )
    page = words(office.get(build.get_absolute_url()))

    # Four parts at 150 and 1.5 h each at 100 an hour; 10 % tax.
    assert "Parts 600.00" in page
    assert "Labour, 6.0 h 600.00" in page
    assert "GST 10 % 120.00" in page
    assert "1,320.00" in page
    assert "1 line: the total is not complete" in page
    assert "no price yet" in page


def test_a_part_is_added_from_the_catalogue(office: Client, build: BuildJob):
    part = PartTypeFactory(name="Rear step")
    typed = {"part": part.key, "quantity": "2", "supplied_by": "customer", "do": "save"}

    response = office.post(reverse("build-add-part", args=[build.pk]), typed)

    item = build.items.get(part=part)
    assert response.status_code == 302
    assert response["Location"] == item.get_absolute_url()
    assert (item.quantity, item.supplied_by) == (2, "customer")


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("part", "no-such-part", "Select a valid choice"),
        ("part", "", "This field is required"),
        ("quantity", "2 pieces", "Enter the number only"),
        ("quantity", "1,5", "Use a point for decimals: 1.5"),
        ("quantity", "-1", "greater than or equal to 1"),
        ("quantity", "9" * 30, "too many figures"),
        ("supplied_by", "nobody", "Select a valid choice"),
    ],
)
def test_a_part_that_cannot_be_added_says_why(
    office: Client, build: BuildJob, field: str, value: str, sentence: str
):
    typed = {"part": PartTypeFactory().key, "quantity": "1", "supplied_by": "workshop"}
    typed[field] = value
    before = build.items.count()

    response = office.post(reverse("build-add-part", args=[build.pk]), typed)

    assert response.status_code == 422
    assert sentence in words(response)
    assert build.items.count() == before


def test_the_effect_of_a_part_is_shown_and_not_kept(office: Client, build: BuildJob):
    typed = {
        "part": PartTypeFactory(mass_kg=Decimal(35)).key,
        "quantity": "2",
        "supplied_by": "workshop",
        "do": "effect",
    }
    url = reverse("build-add-part", args=[build.pk])
    plain = office.post(url, typed)
    swap = office.post(url, typed, headers={"HX-Request": "true"})

    for response in (plain, swap):
        assert response.status_code == 200
        assert "+70" in words(response)
        assert "→" in words(response)  # the strip too
    assert b"<html" not in swap.content
    assert b'hx-swap-oob="true"' in swap.content
    assert 'value="2"' in plain.content.decode()
    assert build.items.count() == 4


def test_a_package_brings_all_its_parts_or_shows_what_they_would_do(
    office: Client, build: BuildJob
):
    package = PackageFactory(parts=[PartTypeFactory(), PartTypeFactory()])
    url = reverse("build-add-package", args=[build.pk])

    shown = office.post(url, {"package": package.key, "do": "effect"})
    assert shown.status_code == 200
    assert "+20" in words(shown)
    assert build.items.count() == 4

    assert office.post(url, {"package": package.key}).status_code == 302
    assert build.items.count() == 6
    assert office.post(url, {"package": "none"}).status_code == 422


def test_the_catalogue_narrows_while_a_name_is_typed(office: Client, build: BuildJob):
    wanted = PartTypeFactory(name="Snorkel, steel", maker="Umberlin")
    PartTypeFactory(name="Snorkel, plastic")
    url = reverse("part-choices", args=[build.pk])

    swap = office.get(url, {"q": "umber snork"}, headers={"HX-Request": "true"})
    page = office.get(build.get_absolute_url(), {"q": "umber snork"})

    for response in (swap, page):
        text = response.content.decode()
        assert f'value="{wanted.key}"' in text
        assert "Snorkel, plastic" not in text
        assert "1 part fits" in text
    kept = office.get(
        url, {"q": "zzz", "part": wanted.key}, headers={"HX-Request": "true"}
    ).content.decode()
    assert f'value="{wanted.key}" selected' in kept


@pytest.mark.parametrize(
    "name", ["build-add-part", "build-add-package", "stage", "approval", "item-preview"]
)
def test_a_write_is_refused_as_a_get(office: Client, build: BuildJob, name: str):
    assert office.get(reverse(name, args=[build.pk])).status_code == 405


@pytest.mark.parametrize(
    "name", ["build-add-part", "build-add-package", "approval", "item-preview"]
)
def test_a_fitter_may_not_write_here(shop: Client, build: BuildJob, name: str):
    assert shop.post(reverse(name, args=[build.pk])).status_code == 403
