from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from builds.worksheet_form import typed_from
from compliance.worksheets import WORKSHEETS
from tests.factories import PersonFactory
from workshop.models import Role


@pytest.mark.parametrize("name", sorted(WORKSHEETS))
def test_every_worksheet_computes_its_own_example(name: str, shop: Client):
    sheet = WORKSHEETS[name]
    page = reverse("worksheet", args=[name])
    assert shop.get(page + "?example=1").status_code == 200

    answer = shop.post(page, typed_from(sheet.fields, sheet.example()))

    assert answer.status_code == 200, answer.context["problem"]
    assert answer.context["working"]


def test_the_list_names_every_worksheet(shop: Client):
    page = shop.get(reverse("worksheets")).content.decode()

    for sheet in WORKSHEETS.values():
        assert escape(sheet.title) in page


def test_a_comma_is_told_at_the_field_and_nothing_is_lost(shop: Client):
    typed = {"wheelbase_m": "3,2", "base.mass_kg": "2100", "base.x_m": "-1.4"}

    answer = shop.post(reverse("worksheet", args=["axle-load"]), typed)

    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Use a point for decimals: 3.2" in page
    assert 'value="3,2"' in page
    assert 'value="2100"' in page


def test_an_error_of_the_sum_stands_at_the_row_that_was_typed(shop: Client):
    typed = {
        "wheelbase_m": "3.2",
        "base.mass_kg": "2100",
        "base.x_m": "-1.4",
        "items[2].label": "bar",
        "items[2].mass_kg": "60",
    }

    answer = shop.post(reverse("worksheet", args=["axle-load"]), typed)

    cells = [c for b in answer.context["form"].blocks for r in b.rows for c in r]
    assert answer.status_code == 422
    assert [c.name for c in cells if c.error] == ["items[2].x_m"]


def test_an_unknown_worksheet_is_not_found(shop: Client):
    assert shop.get(reverse("worksheet", args=["no-such-sheet"])).status_code == 404


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1_000", "Enter the number only"),
        ("nan", "Enter a number"),
        ("inf", "Enter a number"),
        ("1e3", "without an exponent"),
        ("3.2 m", "Enter the number only; the unit is m."),
        ("0", "must be"),
        ("9" * 400, "Enter a number"),
    ],
)
def test_what_is_no_number_is_told_at_its_field(shop: Client, typed: str, said: str):
    inputs = {"wheelbase_m": typed, "base.mass_kg": "2100", "base.x_m": "-1.4"}

    answer = shop.post(reverse("worksheet", args=["axle-load"]), inputs)

    cell = answer.context["form"].blocks[0].cells[0]
    assert answer.status_code == 422
    assert cell.value == typed
    assert said in cell.error


def test_more_rows_keep_what_was_typed_and_compute_nothing(shop: Client):
    typed = {"items[0].label": "bar", "items[0].mass_kg": "60", "do": "rows"}

    answer = shop.post(reverse("worksheet", args=["axle-load"]), typed)

    items = next(b for b in answer.context["form"].blocks if b.field.name == "items")
    assert answer.status_code == 200
    assert answer.context["result"] is None
    assert len(items.rows) == 12
    assert 'value="bar"' in answer.content.decode()


@pytest.mark.django_db
def test_a_signed_out_visitor_is_sent_to_sign_in(client: Client):
    for page in (reverse("worksheets"), reverse("worksheet", args=["axle-load"])):
        answer = client.get(page)
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith(reverse("sign-in"))


@pytest.mark.django_db
def test_every_role_may_compute(client: Client):
    for role in Role:
        client.force_login(PersonFactory(role=role))
        page = client.get(reverse("worksheet", args=["axle-load"]))
        assert page.status_code == 200, role


def test_another_method_is_refused(shop: Client):
    assert shop.post(reverse("worksheets")).status_code == 405
    assert shop.put(reverse("worksheet", args=["axle-load"])).status_code == 405
