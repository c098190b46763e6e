"""Writes of the lasting records that no build depends on."""

from __future__ import annotations

from typing import Any

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
def set_rate(*, skill: str, rate_per_h: Any) -> LabourRate:
    rate = LabourRate.objects.filter(skill=skill).first() or LabourRate(skill=skill)
    rate.rate_per_h = rate_per_h
    return save_clean(rate)


@transaction.atomic
def add_bay(**fields: Any) -> Bay:
    return save_clean(set_fields(Bay(), fields))


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
    managers = Person.objects.filter(role=Role.MANAGER, is_active=True)
    stays_manager = role == Role.MANAGER and is_active
    if not stays_manager and not managers.exclude(pk=person.pk).exists():
        raise ValidationError(
            "This is the last manager who can sign in. Make somebody else one first."
        )
    person.role, person.is_active = role, is_active
    if password:
        validate_new_password(password, person)
        person.set_password(password)
    return save_clean(person)


def validate_new_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
