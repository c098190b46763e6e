"""The catalogue: part types a workshop fits, and packages of them."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.core.validators import (
    MaxLengthValidator,
    MaxValueValidator,
    MinValueValidator,
    RegexValidator,
)
from django.db import models
from django.urls import reverse

from compliance.inputs import ZONES

ZONE_LABELS = {
    "front": "Front",
    "under-bonnet": "Under the bonnet",
    "left-side": "Left side",
    "roof": "Roof",
    "right-side": "Right side",
    "rear": "Rear",
    "cargo": "Cargo",
    "cabin": "Cabin",
    "underneath": "Underneath",
    "wheels": "Wheels",
    "trailer": "Trailer",
}
ZONE_CHOICES = [(zone, ZONE_LABELS[zone]) for zone in ZONES]


class PlaceRef(models.TextChoices):
    FRONT_AXLE = "front-axle", "Front axle"
    REAR_AXLE = "rear-axle", "Rear axle"
    FRONT_END = "front-end", "Front end"
    REAR_END = "rear-end", "Rear end"
    MID_WHEELBASE = "mid-wheelbase", "Middle of the wheelbase"
    TOW_BALL = "tow-ball", "Tow ball"
    TRAILER_AXLE = "trailer-axle", "Trailer axle"


class MassSource(models.TextChoices):
    WEIGHED = "weighed", "Weighed"
    CATALOGUE = "catalogue", "Maker's catalogue"
    ESTIMATED = "estimated", "Estimated"


class LoadKind(models.TextChoices):
    CURRENT = "current", "Draws a steady current"
    POWER = "power", "Draws a steady power"
    RESISTIVE = "resistive", "Heater or filament"


class SwitchKind(models.TextChoices):
    NONE = "none", "Nothing to switch"
    OWN = "own", "Control on the item itself"
    POSITION = "position", "Needs a switch place in the cabin"


class Interlock(models.TextChoices):
    MAIN_BEAM = "main-beam", "Only with main beam"
    REVERSE = "reverse", "Only in reverse"
    IGNITION = "ignition", "Only with ignition"
    PARK_LAMPS = "park-lamps", "Only with park lamps"


class FuseKind(models.TextChoices):
    BLADE = "blade", "Blade"
    MAXI = "maxi", "Maxi blade"
    MIDI = "midi", "Midi, bolted"
    MEGA = "mega", "Mega, bolted"
    ANL = "anl", "ANL, bolted"
    CLASS_T = "class-t", "Class T"


SUPPLY_ROLES = {
    "battery": (
        "chemistry",
        "capacity_ah",
        "usable_ratio",
        "charge_limit_a",
        "discharge_limit_a",
        "internal_mohm",
        "place",
        "charge_min_c",
        "charge_max_c",
        "discharge_min_c",
        "discharge_max_c",
    ),
    "charger": ("kind", "out_a", "out_v", "efficiency", "solar_input_w"),
    "panel": ("power_w", "derate", "short_circuit_a", "open_circuit_v"),
    "board": ("ways",),
}
"""What an item that is part of the supply states about itself, by role."""

slug_list = RegexValidator(
    r"^[a-z0-9]+(-[a-z0-9]+)*$", "Use small letters, figures and single hyphens."
)


def quantity(digits: int, places: int, low: float, high: float) -> models.DecimalField:
    """An optional measured number with its sane range; empty means not known."""
    return models.DecimalField(
        max_digits=digits,
        decimal_places=places,
        null=True,
        blank=True,
        validators=[
            MinValueValidator(Decimal(str(low))),
            MaxValueValidator(Decimal(str(high))),
        ],
    )


class PartFacts(models.Model):
    """What a catalogue part and a line item both say about a thing that is fitted."""

    maker = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=40, validators=[slug_list])
    zone = models.CharField(max_length=14, choices=ZONE_CHOICES)
    mass_kg = quantity(7, 2, 0, 5000)
    mass_half_width_kg = quantity(6, 2, 0, 1000)
    mass_source = models.CharField(
        max_length=10, choices=MassSource.choices, blank=True
    )
    place_text = models.CharField("place", max_length=160, blank=True)
    removes_label = models.CharField(max_length=80, blank=True)
    removes_mass_kg = quantity(6, 2, 0, 2000)
    load_kind = models.CharField(max_length=10, choices=LoadKind.choices, blank=True)
    current_a = quantity(7, 3, 0, 2000)
    power_w = quantity(7, 1, 0, 20000)
    efficiency = quantity(4, 3, 0.05, 1)
    hours_per_day = quantity(5, 2, 0, 24)
    duty = models.CharField(
        max_length=8,
        blank=True,
        validators=[
            RegexValidator(
                r"^(fridge|0|1|1\.0+|0?\.\d+)$",
                "Enter a ratio from 0 to 1, or the word fridge.",
            )
        ],
        help_text="Share of those hours it really runs: 0 to 1, or fridge.",
    )
    standby_a = quantity(6, 3, 0, 20)
    limit_percent = quantity(4, 1, 0.1, 20)
    short_time = models.BooleanField(default=False)
    supply = models.JSONField(default=dict, blank=True)
    tank_fluid = models.CharField(
        max_length=8,
        choices=[("water", "Water"), ("diesel", "Diesel"), ("petrol", "Petrol")],
        blank=True,
    )
    tank_capacity_l = quantity(6, 1, 0.5, 2000)
    carrier_limit_kg = quantity(6, 1, 1, 5000)
    raises = models.JSONField(default=dict, blank=True)
    switch_text = models.CharField(
        max_length=60,
        blank=True,
        help_text="The legend on the switch, or where the item's own control is.",
    )
    interlock = models.CharField(max_length=12, choices=Interlock.choices, blank=True)
    use_text = models.TextField(
        "how to use it", blank=True, validators=[MaxLengthValidator(4000)]
    )
    care_text = models.TextField(
        "care", blank=True, validators=[MaxLengthValidator(4000)]
    )
    caution_text = models.TextField(
        "cautions", blank=True, validators=[MaxLengthValidator(4000)]
    )
    papers = models.JSONField(default=list, blank=True)
    price = quantity(9, 2, 0, 200000)
    warranty_months = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(240)]
    )
    labour = models.JSONField(
        default=dict, blank=True, help_text="Hours by skill, for one."
    )

    class Meta:
        abstract = True


FACT_FIELDS = tuple(f.name for f in PartFacts._meta.local_fields)


class PartType(PartFacts):
    """Something the workshop fits again and again."""

    key = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=100)
    description = models.TextField(blank=True)
    place_ref = models.CharField(max_length=14, choices=PlaceRef.choices)
    dx_mm = models.IntegerField(
        default=0, validators=[MinValueValidator(-9000), MaxValueValidator(9000)]
    )
    dy_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-2000), MaxValueValidator(2000)],
    )
    dz_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(5000)],
    )
    removes_dx_mm = models.IntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(-9000), MaxValueValidator(9000)],
    )
    switch_kind = models.CharField(max_length=8, choices=SwitchKind.choices)
    fuse_a = quantity(5, 1, 0.5, 1000)
    fuse_kind = models.CharField(max_length=8, choices=FuseKind.choices, blank=True)
    area_mm2 = quantity(6, 2, 0.1, 200)
    run_m = quantity(5, 2, 0.05, 30)
    steps = models.JSONField(default=list, blank=True)
    tests = models.JSONField(default=list, blank=True)
    active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["name", "key"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("part-type", args=[self.key])


class Package(models.Model):
    """Several part types that are usually fitted together."""

    key = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=100)
    description = models.TextField(blank=True, max_length=1000)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering: ClassVar = ["name", "key"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("package", args=[self.key])


class PackagePart(models.Model):
    package = models.ForeignKey(Package, on_delete=models.CASCADE, related_name="parts")
    part = models.ForeignKey(PartType, on_delete=models.PROTECT, related_name="+")
    quantity = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(50)]
    )

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["package", "part"], name="part_once_per_package"
            )
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.part}"
