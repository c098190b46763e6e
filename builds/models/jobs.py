"""A build: one vehicle, one customer, what is fitted and what feeds it."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Case, F, Q, Value, When
from django.urls import reverse

from builds.models.parts import (
    FuseKind,
    PartFacts,
    PartType,
    SwitchKind,
    quantity,
)
from compliance.inputs import ZONES
from workshop.models import Bay, Customer, Person, SwitchPosition, Vehicle


class Stage(models.TextChoices):
    """Where a build stands, in the order in which it gets there."""

    ENQUIRY = "enquiry", "Enquiry"
    SPECIFIED = "specified", "Specified"
    QUOTED = "quoted", "Estimate given"
    APPROVED = "approved", "Approved by the customer"
    BOOKED = "booked", "Booked in"
    IN_WORK = "in-work", "In work"
    FITTED = "fitted", "Fitted and tested"
    RELEASED = "released", "Released"
    HANDED_OVER = "handed-over", "Handed over"


STAGES = list(Stage.values)
OPEN_STAGES = STAGES[: STAGES.index(Stage.RELEASED)]
"""Stages in which a build may still change."""


class Jurisdiction(models.TextChoices):
    QLD = "AU-QLD", "Queensland"
    NSW = "AU-NSW", "New South Wales"
    VIC = "AU-VIC", "Victoria"
    SA = "AU-SA", "South Australia"
    WA = "AU-WA", "Western Australia"
    TAS = "AU-TAS", "Tasmania"
    NT = "AU-NT", "Northern Territory"
    ACT = "AU-ACT", "Australian Capital Territory"
    NZ = "NZ", "New Zealand"
    GB = "GB", "Great Britain"
    EU = "EU", "European Union"
    US = "US", "United States"


class BuildJob(models.Model):
    """One build from the first phone call to the day it is handed over."""

    number = models.CharField(max_length=16, unique=True, editable=False)
    title = models.CharField(max_length=120)
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="builds"
    )
    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.PROTECT, related_name="builds"
    )
    trailer = models.ForeignKey(
        Vehicle,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="towed_in_builds",
    )
    jurisdiction = models.CharField(max_length=8, choices=Jurisdiction.choices)
    stage = models.CharField(
        max_length=12, choices=Stage.choices, default=Stage.ENQUIRY, editable=False
    )
    advisor = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    variant_of = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        editable=False,
        related_name="variants",
    )
    set_aside_at = models.DateTimeField(null=True, blank=True, editable=False)
    set_aside_why = models.CharField(max_length=200, blank=True, editable=False)
    notes = models.TextField(blank=True)

    # How the customer will use it.
    people = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(20)]
    )
    person_kg = quantity(5, 1, 20, 250)
    luggage_kg = quantity(6, 1, 0, 5000)
    luggage_x_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-12000), MaxValueValidator(3000)],
    )
    roof_luggage_kg = quantity(5, 1, 0, 2000)
    roof_luggage_x_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-12000), MaxValueValidator(3000)],
    )
    roof_luggage_on = models.ForeignKey(
        "LineItem",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="The rack or box that carries it.",
    )
    hitched = models.BooleanField("tows the trailer", default=False)
    trailer_mass_kg = quantity(7, 1, 50, 60000)
    trailer_ball_kg = quantity(6, 1, 0, 5000)
    hitch_moment_kgm = quantity(6, 1, 0, 5000)
    ambient_c = quantity(4, 1, -30, 60)
    latitude_deg = quantity(4, 1, -90, 90)
    month = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    drive_h_per_day = quantity(4, 1, 0, 24)
    days = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(60)]
    )

    # When and where.
    bay = models.ForeignKey(
        Bay, on_delete=models.PROTECT, null=True, blank=True, related_name="builds"
    )
    booked_in_on = models.DateField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    people_assigned = models.ManyToManyField(Person, blank=True, related_name="+")

    # What the customer said to.
    tax_percent = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal("10")
    )
    approved_by = models.CharField(max_length=120, blank=True)
    approved_on = models.DateField(null=True, blank=True)
    approved_total = quantity(10, 2, 0, 10_000_000)
    released_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    released_at = models.DateTimeField(null=True, blank=True)
    handed_over_to = models.CharField(max_length=120, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)

    created_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(booked_in_on__isnull=True)
                | Q(promised_on__isnull=True)
                | Q(promised_on__gte=F("booked_in_on")),
                name="promised_not_before_booked_in",
                violation_error_message="The promised date is before the booked-in date.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    def get_absolute_url(self) -> str:
        return reverse("build", args=[self.pk])

    @property
    def is_open(self) -> bool:
        """It may still change; what was set aside is taken up again first."""
        return self.stage in OPEN_STAGES and self.set_aside_at is None

    @property
    def stands(self) -> str:
        return "Set aside" if self.set_aside_at else self.get_stage_display()


class Circuit(models.Model):
    """A protected pair of conductors and what feeds it."""

    build = models.ForeignKey(
        BuildJob, on_delete=models.CASCADE, related_name="circuits"
    )
    key = models.SlugField(max_length=60, editable=False)
    label = models.CharField(max_length=80)
    fed_by_start_battery = models.BooleanField(default=False)
    fed_by_item = models.ForeignKey(
        "LineItem",
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="fed_circuits",
        help_text="The battery this circuit starts at.",
    )
    fed_by_circuit = models.ForeignKey(
        "self",
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="branches",
    )
    fuse_a = quantity(5, 1, 0.5, 1000)
    fuse_kind = models.CharField(max_length=8, choices=FuseKind.choices, blank=True)
    fuse_place = models.CharField(max_length=80, blank=True)
    fuse_to_source_mm = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(30000)]
    )
    area_mm2 = quantity(6, 2, 0.1, 200)
    run_m = quantity(5, 2, 0.05, 30)
    insulation_c = models.PositiveSmallIntegerField(
        default=105, choices=[(c, f"{c} °C") for c in (60, 75, 90, 105, 125)]
    )
    engine_space = models.BooleanField("runs through the engine space", default=False)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["build", "key"], name="circuit_key_once"),
            models.CheckConstraint(
                condition=(
                    Q(
                        fed_by_start_battery=True,
                        fed_by_item__isnull=True,
                        fed_by_circuit__isnull=True,
                    )
                    | Q(fed_by_start_battery=False, fed_by_item__isnull=True)
                    | Q(fed_by_start_battery=False, fed_by_circuit__isnull=True)
                ),
                name="circuit_one_source",
                violation_error_message="Choose one source: the start battery, an aux battery, or another circuit.",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class LineItemQuerySet(models.QuerySet["LineItem"]):
    def walk_around(self) -> LineItemQuerySet:
        """Order as one walks round the vehicle; the order that numbers the items."""
        rank = Case(
            *[When(zone=zone, then=Value(i)) for i, zone in enumerate(ZONES)],
            default=Value(len(ZONES)),
            output_field=models.IntegerField(),
        )
        return self.annotate(zone_rank=rank).order_by("zone_rank", "-x_mm", "pk")


class LineItem(PartFacts):
    """One thing that is fitted. Masses and prices are for one piece."""

    build = models.ForeignKey(BuildJob, on_delete=models.CASCADE, related_name="items")
    part = models.ForeignKey(
        PartType, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    key = models.SlugField(max_length=60, editable=False)
    label = models.CharField("what it is", max_length=100)
    quantity = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(99)]
    )
    supplied_by = models.CharField(
        max_length=8,
        choices=[("workshop", "The workshop"), ("customer", "The customer")],
        default="workshop",
    )
    x_mm = models.IntegerField(
        "forward of the front axle",
        null=True,
        blank=True,
        validators=[MinValueValidator(-20000), MaxValueValidator(4000)],
    )
    y_mm = models.IntegerField(
        "left of the centre line",
        null=True,
        blank=True,
        validators=[MinValueValidator(-2000), MaxValueValidator(2000)],
    )
    z_mm = models.IntegerField(
        "above the ground",
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(5000)],
    )
    x_half_width_mm = models.PositiveIntegerField(
        "place known to within",
        null=True,
        blank=True,
        validators=[MaxValueValidator(2000)],
    )
    carried_by = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="carries",
        help_text="The rack, slide or tray it stands on.",
    )
    removes_x_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-20000), MaxValueValidator(4000)],
    )
    switch_kind = models.CharField(
        "where it is switched", max_length=8, choices=SwitchKind.choices, blank=True
    )
    switch_position = models.ForeignKey(
        SwitchPosition,
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="line_items",
    )
    circuit = models.ForeignKey(
        Circuit,
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="items",
        help_text="What feeds it.",
    )
    charges = models.ForeignKey(
        "self",
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="chargers",
        help_text="For a charger: the battery it charges. For a panel: its charger.",
    )
    output_circuit = models.ForeignKey(
        Circuit,
        on_delete=models.RESTRICT,
        null=True,
        blank=True,
        related_name="charged_by_items",
        help_text="For a charger: the circuit between it and the battery it charges.",
    )
    raise_paper = models.CharField(
        "paper that proves the raised rating",
        max_length=80,
        blank=True,
        help_text="Number and date of the certificate. Until it is here the original rating governs.",
    )
    serial = models.CharField(max_length=60, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = LineItemQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["build", "key"], name="item_key_once"),
        ]

    def __str__(self) -> str:
        return self.label

    def get_absolute_url(self) -> str:
        return f"{reverse('build', args=[self.build_id])}#item-{self.pk}"

    @property
    def labour_h(self) -> Decimal:
        hours = sum((Decimal(str(h)) for h in self.labour.values()), Decimal(0))
        return hours * self.quantity

    @property
    def supply_role(self) -> str:
        return str(self.supply.get("role", ""))
