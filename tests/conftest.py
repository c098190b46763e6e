"""Signed-in clients, one a role."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.factories import PersonFactory
from workshop.models import Person, Role


@pytest.fixture
def advisor(db: None) -> Person:
    return PersonFactory(role=Role.ADVISOR)


@pytest.fixture
def fitter(db: None) -> Person:
    return PersonFactory(role=Role.FITTER)


@pytest.fixture
def manager(db: None) -> Person:
    return PersonFactory(role=Role.MANAGER)


def _client(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def office(advisor: Person) -> Client:
    """A browser with the advisor signed in."""
    return _client(advisor)


@pytest.fixture
def shop(fitter: Person) -> Client:
    """A browser with the fitter signed in."""
    return _client(fitter)


@pytest.fixture
def desk(manager: Person) -> Client:
    """A browser with the manager signed in."""
    return _client(manager)
