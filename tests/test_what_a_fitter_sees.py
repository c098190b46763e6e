"""A fitter reads no price and no customer's contact details; the office reads both."""

from __future__ import annotations

import json
import re
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import BuildJob
from builds.services import jobs, packs
from tests.pages import (
    ADDRESS,
    CONTACTS,
    CURRENCY,
    EMAIL,
    LINE,
    MONEY,
    PHONE,
    World,
    addresses,
    make_world,
    move_on,
)

pytestmark = pytest.mark.django_db

FOR_FITTERS = [a for a in addresses() if a.roles and "fitter" in a.roles]


@pytest.fixture
def world(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(packs, "start_worker", lambda pack: None)
    made = make_world()
    stage = made.build.stage
    BuildJob.objects.update(stage="quoted")
    made.build.refresh_from_db()
    jobs.record_approval(
        build=made.build,
        approved_by="Quillon Ashgrove",
        approved_on=timezone.localdate(),
    )
    BuildJob.objects.update(stage=stage)
    made.build.refresh_from_db()
    return made


# A form's token is 64 random letters and digits: any three letters turn up in one.
TOKEN = re.compile(r"\b[A-Za-z0-9]{64}\b")


def secrets_on(text: str) -> list[str]:
    text = TOKEN.sub("", text)
    total = str(BuildJob.objects.get(variant_of=None).approved_total)
    assert float(total) > 3000
    return [s for s in (*CONTACTS, *MONEY, total) if s in text]


def pages_of(client: Client, url: str) -> list[str]:
    """Every face an address has: the page, its parts, and what a post answers."""
    answers = [
        client.get(url),
        client.get(url, headers={"HX-Request": "true", "HX-Target": "item-list"}),
        client.get(url, {"q": "Quillon", "stage": "specified", "zone": "front"}),
        client.get(url, {"after": "0", "plan": "older"}),
        client.post(url, {"to": "quoted", "do": "x"}),
        client.post(url, json.dumps({"events": []}), content_type="application/json"),
    ]
    return [answer.content.decode() for answer in answers]


@pytest.mark.parametrize("address", FOR_FITTERS, ids=lambda a: a.name)
def test_no_page_of_a_fitter_tells_money_or_contacts(
    address, world: World, shop: Client
):
    move_on(world, "specified")

    for text in pages_of(shop, world.url(address)):
        assert secrets_on(text) == []


@pytest.mark.parametrize(
    "stage", ["quoted", "approved", "booked", "in-work", "fitted", "released"]
)
def test_no_stage_tells_a_fitter_more(stage: str, world: World, shop: Client):
    BuildJob.objects.filter(pk=world.build.pk).update(stage=stage)
    for name in ("builds", "build", "switching", "job-card", "week"):
        url = reverse(
            name, args=[world.build.pk] if name not in ("builds", "week") else []
        )
        for text in pages_of(shop, url):
            assert secrets_on(text) == []


def test_entries_of_the_log_tell_nothing(world: World, shop: Client, fitter):
    BuildJob.objects.filter(pk=world.build.pk).update(stage="in-work")
    event = {
        "event_id": str(uuid4()),
        "task": world.ids["task_id"],
        "kind": "note",
        "text": "Washed.",
        "happened_at": timezone.now().isoformat(),
    }
    url = reverse("job-card-events", args=[world.build.pk])
    sent = shop.post(url, {"events": [event]}, content_type="application/json")
    seen = shop.get(reverse("job-card-state", args=[world.build.pk]))

    assert sent.json()["results"][0]["outcome"] == "applied"
    assert "Washed." in seen.content.decode()
    assert secrets_on(sent.content.decode() + seen.content.decode()) == []


@pytest.mark.parametrize(
    "name", ["customer", "customers", "vehicle", "catalogue", "part-type", "pack"]
)
def test_pages_that_hold_them_are_closed_to_a_fitter(
    name: str, world: World, shop: Client
):
    address = next(a for a in addresses() if a.name == name)
    response = shop.get(world.url(address))

    assert response.status_code == 403
    assert secrets_on(response.content.decode()) == []


@pytest.mark.parametrize("who", ["office", "desk"])
def test_the_office_reads_both(who: str, world: World, request: pytest.FixtureRequest):
    client: Client = request.getfixturevalue(who)

    def page(name: str, **query: str) -> str:
        address = next(a for a in addresses() if a.name == name)
        return client.get(world.url(address), query).content.decode()

    assert all(text in page("customer") for text in (PHONE, EMAIL, ADDRESS))
    assert LINE in page("build")
    assert CURRENCY in page("build")
    assert "3,141.59" in page("part-type")
    assert PHONE in page("search", q="Quillon")
