"""Every address of the app with every role and with none: closed unless opened."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from builds.services import packs
from tests.factories import BuildJobFactory, LineItemFactory, PersonFactory
from tests.pages import Address, World, addresses, make_world
from workshop.models import Role

pytestmark = pytest.mark.django_db

ALL = addresses()
OPEN = {"sign-in", "sign-out", "contrast"}
"""Open to everybody; each of them for a reason that needs no role."""
ANSWERS_401 = {"job-card-events", "job-card-state"}
"""For a tablet's script, which can't follow a redirect to the sign-in."""
ROLES = ["advisor", "fitter", "manager", ""]
KEY_KWARGS = {"key", "name"}

each_address = pytest.mark.parametrize("address", ALL, ids=lambda a: a.name)


@pytest.fixture
def world(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(packs, "start_worker", lambda pack: None)
    return make_world()


def client_as(role: str | None) -> Client:
    client = Client()
    if role is not None:
        client.force_login(PersonFactory(role=role))
    return client


def undone(client: Client, method: str, url: str, *args: object, **kwargs: object):
    """Send a request and take back what it wrote, so that the next finds the same."""
    with transaction.atomic():
        response = getattr(client, method)(url, *args, **kwargs)
        if response.streaming:
            response.getvalue()
        transaction.set_rollback(True)
    return response


def test_every_address_has_a_name_of_its_own():
    names = [address.name for address in ALL]

    assert len(names) == len(set(names)) > 40


def test_every_view_names_its_roles_or_is_known_to_be_open():
    without = {address.name for address in ALL if address.roles is None}

    assert without == OPEN
    known = {str(role) for role in Role}
    assert all(a.roles and a.roles <= known for a in ALL if a.name not in OPEN)


@each_address
def test_signed_out_leads_to_the_sign_in(address: Address, world: World):
    if address.name in OPEN:
        return
    url, client = world.url(address), client_as(None)
    for method in ("get", "post", "put", "delete"):
        response = undone(client, method, url)
        if address.name in ANSWERS_401:
            assert response.status_code in (401, 405), method
        else:
            assert response.status_code == 302, method
            assert response.url == f"{reverse('sign-in')}?next={url}"


@each_address
def test_a_role_opens_what_it_is_named_for(address: Address, world: World):
    """The same for a whole page and for a swap of a part of it."""
    if address.name in OPEN:
        return
    url = world.url(address)
    for role in ROLES:
        client = client_as(role)
        for headers in ({}, {"HX-Request": "true"}):
            answers = {
                undone(client, method, url, headers=headers).status_code
                for method in ("get", "post")
            }
            assert max(answers) < 500, role
            assert answers != {405}, role
            if role in address.roles:
                assert 403 not in answers, role
            else:
                # what a view does not know it refuses before it asks who wants it
                assert 403 in answers, role
                assert answers <= {403, 405}, role


def manager_fields(world: World) -> set[str]:
    """Every field name that any form of the app shows."""
    client, found = client_as("manager"), set()
    for address in ALL:
        response = undone(client, "get", world.url(address))
        if "html" in response.headers.get("Content-Type", ""):
            found |= set(re.findall(r'\bname="([\w-]+)"', response.content.decode()))
    return found - {"viewport", "htmx-config"}


JUNK = [
    "",
    " ",
    "\x00",
    "1,5",
    "12 kg",
    "-1e9999",
    "NaN",
    "9" * 400,
    "-0",
    "💥<b>ก́\u202e",
    "999999999",
    "2026-02-31",
    "[]",
]


@pytest.fixture
def fields(world: World) -> set[str]:
    return manager_fields(world)


@each_address
def test_junk_is_answered_never_a_crash(
    address: Address, world: World, fields: set[str]
):
    assert {"vin", "mass_kg", "password", "stage", "q"} <= fields
    url, client = world.url(address), client_as("manager")
    for junk in JUNK:
        for chosen in ({}, {"form": "bay_form"}, {"form": "rates_form"}):
            if chosen and address.name != "site":
                continue
            sent = dict.fromkeys(fields, junk) | chosen
            response = undone(client, "post", url, sent)
            assert response.status_code < 500, junk
        asked = undone(client, "get", url, dict.fromkeys(fields | {"from"}, junk))
        assert asked.status_code < 500, junk


@each_address
def test_what_is_not_a_form_is_answered(address: Address, world: World):
    url, client = world.url(address), client_as("manager")
    for kind in ("application/json", "text/plain", "multipart/form-data; boundary=x"):
        response = undone(client, "post", url, b"\xff\x00{", content_type=kind)
        assert response.status_code < 500, kind


def wrong_ids(address: Address) -> Iterator[dict[str, object]]:
    for kwarg in address.kwargs:
        if kwarg in KEY_KWARGS:
            yield {kwarg: "no-such-key"}
        else:
            yield {kwarg: 987654}
            yield {kwarg: 10**30}


@each_address
def test_an_id_that_is_nobodys_is_not_found(address: Address, world: World):
    client = client_as("manager")
    for other in wrong_ids(address):
        url = world.url(address, **other)
        answers = {undone(client, m, url).status_code for m in ("get", "post")}
        assert answers <= {404, 405, 415}, other
        assert 404 in answers or 415 in answers, other


@each_address
def test_a_part_of_another_build_or_vehicle_is_not_found(
    address: Address, world: World
):
    if len(address.kwargs) < 2:
        return
    other = BuildJobFactory()
    LineItemFactory(build=other)
    foreign = {"build_id": other.pk, "vehicle_id": other.vehicle_id}
    named = {name: foreign[name] for name in address.kwargs if name in foreign}
    url, client = world.url(address, **named), client_as("manager")

    answers = {undone(client, m, url).status_code for m in ("get", "post")}

    assert answers <= {404, 405}
