from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import CustomerFactory, VehicleFactory
from workshop.models import Customer

pytestmark = pytest.mark.django_db

NAMES = [
    "พลอย แสงทอง",
    "ليلى البحري",
    "Ευδοκία Παπαθεοδώρου",
    "Bæk & Søn 🚙",
    "李 小龍",
    'O\'Dell "Jo" <b>Quarry</b>',
    "x" * 120,
]


def saved(customer: Customer) -> Customer:
    return Customer.objects.get(pk=customer.pk)


def typed(customer: Customer, **more: object) -> dict[str, object]:
    names = ("name", "phone", "email", "address", "notes", "version")
    return {name: getattr(customer, name) for name in names} | more


def test_a_new_customer_is_saved_and_shown(office: Client):
    sent = {
        "name": "Saltmarsh Survey",
        "phone": "(00) 5550 0110",
        "address": "2 Weir Rd",
    }
    response = office.post(reverse("customer-new"), sent)
    made = Customer.objects.get()
    page = office.get(response.url).content.decode()

    assert response.url == made.get_absolute_url()
    assert all(text in page for text in sent.values())


@pytest.mark.parametrize("name", NAMES)
def test_a_name_in_any_script_comes_back_as_it_was_typed(office: Client, name: str):
    office.post(reverse("customer-new"), {"name": name})
    made = Customer.objects.get()
    VehicleFactory(customer=made)

    assert made.name == name
    for url in (
        made.get_absolute_url(),
        reverse("customers"),
        reverse("customer-edit", args=[made.pk]),
        reverse("vehicles"),
    ):
        page = office.get(url).content.decode()
        assert "<b>Quarry" not in page
    assert (
        made in office.get(reverse("customers"), {"q": name[:5]}).context["customers"]
    )


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "", "This field is required."),
        ("name", "x" * 121, "at most 120 characters"),
        ("name", "a\x00b", "Null characters are not allowed."),
        ("email", "not an address", "Enter a valid email address."),
        ("phone", "1" * 41, "at most 40 characters"),
        ("notes", "n" * 4001, "at most 4000 characters"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_lost(
    office: Client, field: str, value: str, sentence: str
):
    sent = {"name": "Weir Road Boats", "address": "18 Quarry Street"} | {field: value}
    response = office.post(reverse("customer-new"), sent)
    page = response.content.decode()

    assert response.status_code == 422
    at_field = page[page.index(f'id="id_{field}_error"') :].split("</ul>")[0]
    assert sentence in at_field
    assert "18 Quarry Street" in page
    assert not Customer.objects.exists()


def test_a_change_is_saved(office: Client):
    customer = CustomerFactory()
    url = reverse("customer-edit", args=[customer.pk])
    response = office.post(url, typed(customer, phone="(00) 5550 0777"))

    assert response.status_code == 302
    assert (saved(customer).phone, saved(customer).version) == ("(00) 5550 0777", 2)


def test_a_stale_save_overwrites_nothing_and_keeps_what_was_typed(office: Client):
    customer = CustomerFactory(name="Weir Road Boats")
    url = reverse("customer-edit", args=[customer.pk])
    old_page = typed(customer, address="Typed on the old page")
    office.post(url, typed(customer, address="Saved by somebody else"))

    refused = office.post(url, old_page)
    page = refused.content.decode()

    assert refused.status_code == 409
    assert "Weir Road Boats was changed by somebody else" in page
    assert "Typed on the old page" in page
    assert saved(customer).address == "Saved by somebody else"

    # Who has compared may save again from the page that was answered.
    version = page.split('name="version" value="')[1].split('"')[0]
    assert office.post(url, old_page | {"version": version}).status_code == 302
    assert saved(customer).address == "Typed on the old page"


def test_a_version_that_is_no_number_is_refused(office: Client):
    customer = CustomerFactory()
    url = reverse("customer-edit", args=[customer.pk])
    response = office.post(url, typed(customer, version="newest", name="Other"))

    assert response.status_code == 422
    assert saved(customer).name == customer.name


def test_the_list_finds_by_a_part_of_the_name(office: Client):
    CustomerFactory(name="Saltmarsh Survey")
    CustomerFactory(name="Petra Novasel")
    page = office.get(reverse("customers"), {"q": "novas"}).content.decode()

    assert "Petra Novasel" in page
    assert "Saltmarsh" not in page


def test_nobody_found_offers_a_new_one(office: Client):
    page = office.get(reverse("customers"), {"q": "zzz"}).content.decode()

    assert reverse("customer-new") in page.split("<tbody>")[1]
