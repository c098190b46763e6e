"""The workshop itself, its people, its bays and its customers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.core.validators import (
    MaxValueValidator,
    MinValueValidator,
)
from django.db import models
from django.db.models import Q
from django.urls import reverse


class Role(models.TextChoices):
    ADVISOR = "advisor", "Service advisor"
    FITTER = "fitter", "Fitter"
    MANAGER = "manager", "Manager"


class Skill(models.TextChoices):
    MECHANICAL = "mechanical", "Mechanical"
    ELECTRICAL = "electrical", "Electrical"
    BODY = "body", "Body and trim"
    SUSPENSION = "suspension", "Suspension"


class PersonManager(UserManager["Person"]):
    def create_superuser(
        self,
        username: str,
        email: str | None = None,
        password: str | None = None,
        **fields: Any,
    ) -> Person:
        """Make whoever sets the installation up a manager, so that they can go on."""
        fields.setdefault("role", Role.MANAGER)
        return super().create_superuser(username, email, password, **fields)


class Person(AbstractUser):
    """Somebody who signs in. No role means nothing is open to them."""

    role = models.CharField(max_length=10, choices=Role.choices, blank=True)

    objects: ClassVar[PersonManager] = PersonManager()

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"

    @property
    def name(self) -> str:
        return self.get_full_name() or self.username

    @property
    def may_see_money(self) -> bool:
        return self.role in (Role.ADVISOR, Role.MANAGER)


class Site(models.Model):
    """The one workshop this installation serves."""

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    help_phone = models.CharField(
        max_length=40, blank=True, help_text="Who a customer calls on the first night."
    )
    email = models.EmailField(blank=True)
    currency = models.CharField(max_length=3, default="AUD")
    tax_name = models.CharField(max_length=20, default="GST")
    tax_percent = models.DecimalField(
        max_digits=5,
        decimal_places=2,
        default=Decimal("10"),
        validators=[MinValueValidator(0), MaxValueValidator(100)],
        help_text="Rate in force where the workshop is; ask the tax office.",
    )
    is_demo = models.BooleanField(default=False, editable=False)
    own_figures = models.JSONField(
        default=dict,
        blank=True,
        editable=False,
        help_text="Planning figures the workshop has set for itself, by name.",
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(pk=1), name="one_site_only")
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Site:
        """Return the workshop, unsaved with a plain name on an empty machine."""
        return cls.objects.filter(pk=1).first() or cls(pk=1, name="Workshop")


class LabourRate(models.Model):
    """What an hour of one skill costs the customer, before tax."""

    skill = models.CharField(max_length=12, choices=Skill.choices, unique=True)
    rate_per_h = models.DecimalField(
        max_digits=8, decimal_places=2, validators=[MinValueValidator(0)]
    )

    class Meta:
        ordering: ClassVar = ["skill"]

    def __str__(self) -> str:
        return f"{self.get_skill_display()} {self.rate_per_h}/h"


class Bay(models.Model):
    name = models.CharField(max_length=40, unique=True)
    has_hoist = models.BooleanField(default=False)
    max_length_mm = models.PositiveIntegerField(null=True, blank=True)
    hours_per_day = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        default=Decimal("8"),
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(24)],
    )

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name


class Customer(models.Model):
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True, max_length=500)
    notes = models.TextField(blank=True, max_length=4000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("customer", args=[self.pk])
