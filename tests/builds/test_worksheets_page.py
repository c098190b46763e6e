from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from builds.worksheet_form import typed_from
from compliance.worksheets import WORKSHEETS


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
