"""Vehicles and trailers: what their plates, papers and type sheets say."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import ClassVar

from django.core.exceptions import ValidationError
from django.core.validators import (
    MaxValueValidator,
    MinValueValidator,
    RegexValidator,
)
from django.db import models
from django.urls import reverse

from workshop.models.site import Customer
from workshop.plausible import impossible


class BodyType(models.TextChoices):
    DUAL_CAB_UTE = "dual-cab-ute", "Dual-cab ute"
    EXTRA_CAB_UTE = "extra-cab-ute", "Extra-cab ute"
    WAGON = "wagon", "Wagon"
    VAN = "van", "Van"
    CAB_CHASSIS = "cab-chassis", "Cab-chassis"
    CARAVAN = "caravan", "Caravan"
    CAMPER_TRAILER = "camper-trailer", "Camper trailer"
    PLANT_TRAILER = "plant-trailer", "Plant trailer"


TRAILER_BODIES = {
    BodyType.CARAVAN,
    BodyType.CAMPER_TRAILER,
    BodyType.PLANT_TRAILER,
}


class BaseDefinition(models.TextChoices):
    WEIGHED = "weighed", "Weighed on a weighbridge"
    TARE = "tare", "Tare (10 L fuel, options fitted)"
    KERB = "kerb", "Kerb (full fluids, nobody aboard)"
    RUNNING_ORDER = "running-order", "Running order (90 % fuel, driver 75 kg)"


def mass_field(maximum_kg: int = 60000) -> models.DecimalField:
    return models.DecimalField(
        max_digits=7,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(maximum_kg)],
    )


def length_field(maximum_mm: int = 20000) -> models.PositiveIntegerField:
    return models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(50), MaxValueValidator(maximum_mm)],
    )


class Sheet(models.Model):
    """Geometry, ratings and electrical basis; empty means not known, never zero."""

    maker = models.CharField(max_length=60)
    model = models.CharField(max_length=80)
    body_type = models.CharField(max_length=20, choices=BodyType.choices)
    category = models.CharField(
        max_length=6, blank=True, help_text="ADR or UNECE category, such as NA or N1."
    )
    wheelbase_mm = length_field(9000)
    track_mm = length_field(3000)
    front_overhang_mm = length_field(4000)
    rear_overhang_mm = length_field(5000)
    width_mm = length_field(3000)
    height_mm = length_field(5000)
    ball_overhang_mm = length_field(4000)
    ball_to_axle_mm = length_field(15000)
    gvm_kg = mass_field()
    front_axle_kg = mass_field()
    rear_axle_kg = mass_field()
    gcm_kg = mass_field()
    braked_towing_kg = mass_field()
    ball_kg = mass_field(5000)
    roof_kg = mass_field(2000)
    atm_kg = mass_field()
    gtm_kg = mass_field()
    base_definition = models.CharField(
        max_length=14, choices=BaseDefinition.choices, blank=True
    )
    base_mass_kg = mass_field()
    base_front_kg = mass_field()
    base_rear_kg = mass_field()
    base_fuel_l = models.DecimalField(
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(2000)],
    )
    base_people = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(20)]
    )
    scale_interval_kg = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(200)],
    )
    base_left_kg = mass_field()
    cg_height_mm = length_field(3000)
    fuel_type = models.CharField(
        max_length=8,
        choices=[("diesel", "Diesel"), ("petrol", "Petrol")],
        blank=True,
    )
    fuel_tank_l = models.DecimalField(
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(2000)],
    )
    fuel_tank_x_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-15000), MaxValueValidator(5000)],
    )
    seats = models.JSONField(
        default=list,
        blank=True,
        help_text="One a line: name, x and y in mm, such as driver x=-1450 y=-380.",
    )
    system_v = models.PositiveSmallIntegerField(
        choices=[(12, "12 V"), (24, "24 V")], default=12
    )
    alternator_a = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(10), MaxValueValidator(900)],
    )
    alternator_variable = models.BooleanField(null=True, blank=True)
    alternator_own_load_a = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(500)]
    )
    start_battery_ah = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(10), MaxValueValidator(900)],
    )
    standby_a = models.DecimalField(
        max_digits=6,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(10)],
    )
    tyre_size = models.CharField(max_length=24, blank=True)
    driver_assist = models.CharField(
        max_length=200,
        blank=True,
        help_text="Factory sensors, radar and cameras that a bar or lamp could blind.",
    )

    class Meta:
        abstract = True

    def clean(self) -> None:
        if faults := impossible(self):
            raise ValidationError(faults)

    @property
    def is_trailer(self) -> bool:
        return self.body_type in TRAILER_BODIES


class TypeSheet(Sheet):
    """Ratings and geometry of one vehicle model, in the workshop's library."""

    key = models.SlugField(max_length=60, unique=True)
    switch_positions = models.JSONField(default=list, blank=True)

    class Meta:
        ordering: ClassVar = ["maker", "model"]

    def __str__(self) -> str:
        return f"{self.maker} {self.model}"

    def get_absolute_url(self) -> str:
        return reverse("type-sheet", args=[self.key])


SHEET_FIELDS = tuple(f.name for f in Sheet._meta.local_fields)


class Vehicle(Sheet):
    """One real vehicle or trailer; its own plate overrides what its type sheet says."""

    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="vehicles"
    )
    type_sheet = models.ForeignKey(
        TypeSheet, on_delete=models.PROTECT, null=True, blank=True
    )
    plate = models.CharField(max_length=15, blank=True, db_index=True)
    vin = models.CharField(
        "VIN or chassis number",
        max_length=24,
        blank=True,
        db_index=True,
        validators=[
            RegexValidator(
                r"^[A-Z0-9 -]*$", "Use letters A to Z, figures, spaces and hyphens."
            )
        ],
    )
    built_on = models.DateField(null=True, blank=True)
    colour = models.CharField(max_length=30, blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["maker", "model", "plate"]

    def __str__(self) -> str:
        plate = f" · {self.plate}" if self.plate else ""
        return f"{self.maker} {self.model}{plate}"

    def get_absolute_url(self) -> str:
        return reverse("vehicle", args=[self.pk])

    def own_plate_fields(self) -> list[str]:
        """Name the fields in which this vehicle departs from its type sheet."""
        if self.type_sheet is None:
            return []
        sheet = self.type_sheet
        return [f for f in SHEET_FIELDS if getattr(self, f) != getattr(sheet, f)]


class SwitchPosition(models.Model):
    """One place in the cabin that takes a switch."""

    vehicle = models.ForeignKey(
        Vehicle, on_delete=models.CASCADE, related_name="switch_positions"
    )
    key = models.SlugField(max_length=40)
    panel = models.CharField(max_length=40)
    label = models.CharField(max_length=60, blank=True)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering: ClassVar = ["order", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["vehicle", "key"],
                name="switch_position_key_once",
                violation_error_message="This vehicle already has a switch place of that name.",
            )
        ]

    def __str__(self) -> str:
        # "row 1 col 2" places it on the drawing; people say it with a word.
        where = re.sub(r"^row (\d+) col (\d+)$", r"row \1, place \2", self.label)
        return f"{self.panel}, {where or self.key}"
