"""The workshop's own planning figures: shown with their sources, set by a manager."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from compliance.settings import SETTINGS
from workshop.models import Site

pytestmark = pytest.mark.django_db


def page(client: Client) -> str:
    return client.get(reverse("own-figures")).content.decode()


def test_every_figure_is_shown_with_its_source_and_mark(office: Client):
    text = page(office)

    for setting in SETTINGS.values():
        assert setting.label in text
    assert "Common practice." in text
    assert "From memory." in text
    assert "AS/NZS 3001.2:2022" in text


def test_a_manager_sets_one_and_takes_it_back(desk: Client):
    url = reverse("own-figures-set")
    assert desk.post(url, {"fuse_load_factor": "0.75"}).status_code == 302
    assert Site.current().own_figures == {"fuse_load_factor": 0.75}
    assert 'value="0.75"' in page(desk)

    desk.post(url, {"fuse_load_factor": ""})
    assert Site.current().own_figures == {}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3", "Enter at most 1."),
        ("0,75", "Use a point for decimals"),
        ("nan", "Enter a number"),
        ("1e-1", "without an exponent"),
        ("0.8 A", "Enter the number only"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(desk: Client, typed, said):
    answer = desk.post(
        reverse("own-figures-set"), {"fuse_load_factor": typed, "panel_derate": "0.65"}
    )

    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert f'value="{typed}"' in answer.content.decode()
    assert 'value="0.65"' in answer.content.decode()
    assert Site.current().own_figures == {}


def test_the_least_share_stays_below_the_largest(desk: Client):
    answer = desk.post(reverse("own-figures-set"), {"front_share_least": "0.75"})

    assert answer.status_code == 422
    assert "more than the least share" in answer.content.decode()
    assert Site.current().own_figures == {}


def test_an_advisor_reads_and_does_not_change(office: Client):
    assert "fuse_load_factor" not in page(office)
    url = reverse("own-figures-set")
    assert office.post(url, {"panel_derate": "0.6"}).status_code == 403
    assert Site.current().own_figures == {}


def test_a_fitter_has_no_such_page(shop: Client):
    assert shop.get(reverse("own-figures")).status_code == 403
