"""One box finds builds, vehicles, customers and parts, whichever way they are typed."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import BuildJob
from tests.factories import (
    BuildJobFactory,
    CustomerFactory,
    PartTypeFactory,
    VehicleFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def build(db: None) -> BuildJob:
    owner = CustomerFactory(name="พลอย แสงทอง", phone="(00) 5550 0133")
    car = VehicleFactory(customer=owner, plate="RIV-204", vin="7AZDT28D4RW004417")
    VehicleFactory(plate="OTHER 1")
    return BuildJobFactory(vehicle=car, title="River survey ute")


def found(client: Client, query: str, what: str) -> list[object]:
    response = client.get(reverse("search"), {"q": query})
    assert response.status_code == 200
    return list(response.context.get(what) or [])


@pytest.mark.parametrize(
    "query", ["riv 204", "RIV204", "riv-2", "004417", "7azd t28d", "Heron"]
)
def test_a_vehicle_is_found_however_its_plate_is_typed(
    office: Client, build: BuildJob, query: str
):
    assert build.vehicle in found(office, query, "vehicles")
    assert build in found(office, query, "builds")


@pytest.mark.parametrize("query", ["river survey", "แสงทอง"])
def test_a_build_is_found_by_title_and_customer(
    office: Client, build: BuildJob, query: str
):
    assert found(office, query, "builds") == [build]


def test_a_build_is_found_by_its_number(office: Client, build: BuildJob):
    assert found(office, build.number, "builds") == [build]


def test_a_build_is_found_by_its_trailers_plate(office: Client, build: BuildJob):
    trailer = VehicleFactory(trailer=True, plate="TRL 20B")
    towing = BuildJobFactory(trailer=trailer)

    assert found(office, "trl20b", "builds") == [towing]


def test_customers_are_found_by_name_and_phone(office: Client, build: BuildJob):
    assert found(office, "พลอย", "customers") == [build.customer]
    assert found(office, "5550 0133", "customers") == [build.customer]


def test_parts_are_found_by_name_and_key(office: Client):
    part = PartTypeFactory(name="Fridge 45", key="cold-box")

    assert found(office, "fridge", "parts") == [part]
    assert found(office, "cold-b", "parts") == [part]


def test_a_fitter_finds_builds_and_vehicles_and_nobody(shop: Client, build: BuildJob):
    PartTypeFactory(name="River bracket")
    page = shop.get(reverse("search"), {"q": "riv"}).content.decode()

    assert build.number in page
    assert "RIV-204" in page
    assert "River bracket" not in page
    assert build.customer.name not in page
    assert build.vehicle.get_absolute_url() not in page
    assert found(shop, "แสงทอง", "builds") == []
    assert found(shop, "5550", "customers") == []


@pytest.mark.parametrize(
    "query", ["", " ", "-", "- -", "%", "_", "'", '"; DROP', "\x00", "x" * 5000, "🚙"]
)
def test_odd_words_find_nothing_and_break_nothing(
    office: Client, build: BuildJob, query: str
):
    response = office.get(reverse("search"), {"q": query})

    assert response.status_code == 200
    assert found(office, query, "vehicles") == []


def test_what_was_typed_is_shown_and_not_run(office: Client):
    page = office.get(reverse("search"), {"q": "<script>alert(1)</script>"})

    assert "<script>alert" not in page.content.decode()
    assert "&lt;script&gt;" in page.content.decode()


def test_no_more_than_a_page_of_each_is_shown(office: Client):
    for _ in range(30):
        PartTypeFactory()

    assert len(found(office, "Bracket", "parts")) == 25
