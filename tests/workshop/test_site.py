"""The workshop's own page: details, rates, bays and people."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import BayFactory, PersonFactory
from workshop.models import Bay, LabourRate, Person, Role, Site

pytestmark = pytest.mark.django_db

GOOD = "plain-river-2291"


def post(client: Client, form: str, **typed: object):
    return client.post(reverse("site"), {"form": form, **typed})


def at_field(page: str, field: str) -> str:
    return page[page.index(f'id="id_{field}_error"') :].split("</ul>")[0]


def details(**more: str) -> dict[str, str]:
    return {
        "name": "Marl Point Fitting",
        "currency": "AUD",
        "tax_name": "GST",
        "tax_percent": "10",
    } | more


def test_an_empty_machine_has_a_page_to_start_from(desk: Client):
    response = desk.get(reverse("site"))

    assert response.status_code == 200
    assert not Site.objects.exists()


def test_details_are_saved_and_head_every_page(desk: Client):
    post(desk, "site_form", **details(help_phone="(00) 5550 0199", tax_percent="12.5"))
    site = Site.objects.get()

    assert (site.help_phone, site.tax_percent) == ("(00) 5550 0199", Decimal("12.5"))
    assert "Marl Point Fitting</title>" in desk.get("/").content.decode()


@pytest.mark.parametrize(
    ("value", "sentence"),
    [
        ("12,5", "Use a point for decimals: 12.5"),
        ("10 %", "Enter the number only"),
        ("101", "less than or equal to 100"),
        ("-1", "greater than or equal to 0"),
        ("ten", "Enter a number, such as 12.5."),
    ],
)
def test_an_odd_tax_rate_is_refused_at_its_field(desk: Client, value, sentence):
    response = post(desk, "site_form", **details(tax_percent=value, phone="typed 7"))
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in at_field(page, "tax_percent")
    assert 'value="typed 7"' in page
    assert not Site.objects.exists()


def rates(**more: str) -> dict[str, str]:
    return {
        "mechanical": "128",
        "electrical": "136.50",
        "body": "118",
        "suspension": "132",
    } | more


def test_rates_are_saved_and_shown_again(desk: Client):
    assert post(desk, "rates_form", **rates()).status_code == 302
    post(desk, "rates_form", **rates(body="119"))

    assert LabourRate.objects.count() == 4
    assert LabourRate.objects.get(skill="body").rate_per_h == 119
    assert 'value="136.50"' in desk.get(reverse("site")).content.decode()


@pytest.mark.parametrize("value", ["-1", "1e3", "128,00", "12345", "128.005", ""])
def test_a_bad_rate_saves_none_of_the_four(desk: Client, value: str):
    response = post(desk, "rates_form", **rates(suspension=value))

    assert response.status_code == 422
    assert at_field(response.content.decode(), "suspension")
    assert not LabourRate.objects.exists()


def test_a_bay_is_added(desk: Client):
    post(desk, "bay_form", name="Hoist 1", has_hoist="on", hours_per_day="7.6")
    bay = Bay.objects.get()

    assert (bay.name, bay.has_hoist, bay.hours_per_day) == (
        "Hoist 1",
        True,
        Decimal("7.6"),
    )


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", "Hoist 1"),
        ("name", ""),
        ("hours_per_day", "25"),
        ("hours_per_day", "0"),
    ],
)
def test_a_bad_bay_is_refused_at_its_field(desk: Client, field: str, value: str):
    BayFactory(name="Hoist 1")
    typed = {"name": "Hoist 2", "hours_per_day": "8"} | {field: value}
    response = post(desk, "bay_form", **typed)

    assert response.status_code == 422
    assert at_field(response.content.decode(), field)
    assert Bay.objects.count() == 1


def change_bay(client: Client, bay: Bay, **typed: str):
    sent = {"name": bay.name, "hours_per_day": "8"} | typed
    return client.post(reverse("bay", args=[bay.pk]), sent)


def test_a_bay_is_changed(desk: Client):
    bay = BayFactory(name="Hoist 1", has_hoist=True)
    response = change_bay(desk, bay, name="Bay of Fundy", max_length_mm="6500")
    bay.refresh_from_db()
    page = desk.get(response.url).content.decode()

    assert (bay.name, bay.max_length_mm, bay.has_hoist) == ("Bay of Fundy", 6500, False)
    assert "Bay of Fundy is saved." in page
    assert "to 6,500 mm" in page


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "Hoist 2", "already exists"),
        ("name", "", "required"),
        ("hours_per_day", "25", "less than or equal to 24"),
        ("max_length_mm", "6,5 m", "Use a point for decimals: 6.5"),
        ("max_length_mm", "6500 mm", "the unit is mm."),
    ],
)
def test_a_bay_is_not_changed_for_the_worse(desk: Client, field, value, sentence):
    BayFactory(name="Hoist 2")
    bay = BayFactory(name="Hoist 1")
    response = change_bay(desk, bay, **{field: value})
    bay.refresh_from_db()

    assert response.status_code == 422
    assert sentence in at_field(response.content.decode(), field)
    assert (bay.name, bay.max_length_mm) == ("Hoist 1", None)


def person(**more: str) -> dict[str, str]:
    return {
        "username": "wren",
        "first_name": "Wren",
        "last_name": "Okonedo",
        "role": "fitter",
        "password": GOOD,
    } | more


def test_somebody_added_can_sign_in(desk: Client):
    assert post(desk, "person_form", **person()).status_code == 302

    assert Person.objects.get(username="wren").role == Role.FITTER
    browser = Client()
    sent = {"username": "wren", "password": GOOD}
    assert browser.post(reverse("sign-in"), sent).status_code == 302


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("password", "short1", "too short"),
        ("password", "password123", "too common"),
        ("password", "9381756204", "entirely numeric"),
        ("password", "wren-okonedo", "too similar"),
        ("password", "", "required"),
        ("username", "has space", "Enter a valid username"),
        ("username", "", "required"),
        ("role", "", "required"),
        ("role", "owner", "not one of the available choices"),
    ],
)
def test_a_bad_person_is_refused_at_the_field(desk: Client, field, value, sentence):
    response = post(desk, "person_form", **person(**{field: value}))
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in at_field(page, field)
    assert 'value="Okonedo"' in page
    assert not Person.objects.filter(last_name="Okonedo").exists()


def test_a_name_is_taken_once(desk: Client):
    PersonFactory(username="wren")
    response = post(desk, "person_form", **person())

    assert response.status_code == 422
    assert "already exists" in at_field(response.content.decode(), "username")


def test_a_typed_password_never_comes_back_in_a_page(desk: Client):
    page = post(desk, "person_form", **person(role="owner")).content.decode()

    assert GOOD not in page


def test_a_form_nobody_knows_changes_nothing(desk: Client):
    assert post(desk, "other_form", name="x").status_code == 422


def change(client: Client, who: Person, **typed: str):
    return client.post(reverse("person", args=[who.pk]), typed)


def test_a_role_and_a_password_are_changed(desk: Client):
    wren = PersonFactory(username="wren", role=Role.FITTER)
    response = change(desk, wren, role="advisor", is_active="on", password=GOOD)
    wren.refresh_from_db()

    assert response.status_code == 302
    assert (wren.role, wren.check_password(GOOD)) == (Role.ADVISOR, True)


def test_an_empty_password_leaves_the_old_one(desk: Client):
    wren = PersonFactory(role=Role.FITTER)
    wren.set_password(GOOD)
    wren.save()
    change(desk, wren, role="fitter", is_active="on", password="")
    wren.refresh_from_db()

    assert wren.check_password(GOOD)


def test_a_weak_new_password_is_refused(desk: Client):
    wren = PersonFactory(role=Role.FITTER)
    response = change(desk, wren, role="fitter", is_active="on", password="12345678")

    assert response.status_code == 422
    assert "numeric" in at_field(response.content.decode(), "password")


@pytest.mark.parametrize(
    "typed", [{"role": "advisor", "is_active": "on"}, {"role": "manager"}]
)
def test_the_last_manager_stays(desk: Client, manager: Person, typed: dict[str, str]):
    PersonFactory(role=Role.MANAGER, is_active=False)
    response = change(desk, manager, **typed)
    manager.refresh_from_db()

    assert response.status_code == 422
    assert "This is the last manager who can sign in." in response.content.decode()
    assert (manager.role, manager.is_active) == (Role.MANAGER, True)


def test_with_a_second_manager_the_first_may_go(desk: Client, manager: Person):
    PersonFactory(role=Role.MANAGER)

    assert change(desk, manager, role="fitter", is_active="on").status_code == 302
    assert desk.get(reverse("site")).status_code == 403


def test_a_manager_who_changes_the_own_password_stays_signed_in(
    desk: Client, manager: Person
):
    elsewhere = Client()
    elsewhere.force_login(manager)
    response = change(desk, manager, role="manager", is_active="on", password=GOOD)
    manager.refresh_from_db()

    assert manager.check_password(GOOD)
    assert desk.get(response.url).status_code == 200
    assert elsewhere.get(reverse("site")).status_code == 302


def test_a_new_password_lets_a_locked_out_person_in(desk: Client):
    wren = PersonFactory(username="wren", role=Role.FITTER)
    wren.set_password("forgotten-river-1")
    wren.save()
    browser = Client()

    def sign_in(password: str) -> int:
        sent = {"username": "wren", "password": password}
        return browser.post(reverse("sign-in"), sent).status_code

    tries = [sign_in(f"guess-{n}") for n in range(8)]
    assert tries[-1] == sign_in("forgotten-river-1") == 429

    change(desk, wren, role="fitter", is_active="on", password=GOOD)
    assert sign_in(GOOD) == 302
