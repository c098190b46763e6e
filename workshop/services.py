"""Writes of the lasting records that no build depends on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from axes.utils import reset as forget_failed_tries
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.models import Bay, Customer, LabourRate, Person, Role, Site
from workshop.saving import apply_version, save_clean, set_fields


@transaction.atomic
def add_customer(**fields: Any) -> Customer:
    return save_clean(set_fields(Customer(), fields))


@transaction.atomic
def update_customer(
    *, customer: Customer, version: int | None = None, **fields: Any
) -> Customer:
    apply_version(customer, version, customer.name)
    return save_clean(set_fields(customer, fields))


@transaction.atomic
def update_site(**fields: Any) -> Site:
    return save_clean(set_fields(Site.current(), fields))


@transaction.atomic
def set_own_figures(*, figures: Mapping[str, float]) -> Site:
    """Replace the workshop's own planning figures; what is left out is the table's.

    Every open build is then checked with them when it is next read: its report's
    digest no longer fits.
    """
    return save_clean(set_fields(Site.current(), {"own_figures": dict(figures)}))


@transaction.atomic
def set_rates(*, rates: Mapping[str, Any]) -> None:
    """Set what an hour of each skill costs: all of them or none."""
    stored = {rate.skill: rate for rate in LabourRate.objects.all()}
    for skill, rate_per_h in rates.items():
        rate = stored.get(skill) or LabourRate(skill=skill)
        save_clean(set_fields(rate, {"rate_per_h": rate_per_h}))


@transaction.atomic
def add_bay(**fields: Any) -> Bay:
    return save_clean(set_fields(Bay(), fields))


@transaction.atomic
def update_bay(*, bay: Bay, **fields: Any) -> Bay:
    return save_clean(set_fields(bay, fields))


@transaction.atomic
def add_person(*, password: str, **fields: Any) -> Person:
    """Add somebody who signs in; the password is held against Django's rules."""
    person = set_fields(Person(), fields)
    validate_new_password(password, person)
    person.set_password(password)
    return save_clean(person)


@transaction.atomic
def update_person(
    *, person: Person, role: str, is_active: bool, password: str = ""
) -> Person:
    """Change a role, switch somebody off, set a new password."""
    # Locked, so that two managers cannot each count on the other one to stay.
    managers = Person.objects.select_for_update().filter(
        role=Role.MANAGER, is_active=True
    )
    stays_manager = role == Role.MANAGER and is_active
    if not stays_manager and not {m.pk for m in managers} - {person.pk}:
        raise ValidationError(
            "This is the last manager who can sign in. Make somebody else one first."
        )
    person.role, person.is_active = role, is_active
    if password:
        validate_new_password(password, person)
        person.set_password(password)
        # Who was locked out for a forgotten password gets in with the new one.
        forget_failed_tries(username=person.username)
    return save_clean(person)


def validate_new_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
