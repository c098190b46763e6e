"""Signed-in clients, one a role."""

from __future__ import annotations

import pytest
from django.test import Client
from hypothesis import HealthCheck, settings

from tests.factories import PersonFactory
from workshop.models import Person, Role

settings.register_profile(
    "project",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("project")


@pytest.fixture(autouse=True)
def quick_passwords(settings: object) -> None:
    """Argon2 is slow on purpose; only the sign-in tests ask for it."""
    settings.PASSWORD_HASHERS = [  # type: ignore[attr-defined]
        "django.contrib.auth.hashers.MD5PasswordHasher",
        "django.contrib.auth.hashers.Argon2PasswordHasher",
    ]


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
