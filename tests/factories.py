"""Rows for tests: invented makers, plausible numbers, written by the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import factory

from builds.models import BuildJob, LineItem, Package, PackagePart, PartType
from builds.services import jobs, line_items, vehicles
from workshop.models import (
    Bay,
    BodyType,
    Customer,
    LabourRate,
    Person,
    Role,
    Skill,
    TypeSheet,
    Vehicle,
)


class PersonFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Person

    class Params:
        fitter = factory.Trait(role=Role.FITTER)
        manager = factory.Trait(role=Role.MANAGER)

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = "Orla"
    last_name = factory.Sequence(lambda n: f"Testerley{n}")
    role = Role.ADVISOR
    password = "!"  # nobody signs in with it: tests use force_login


class CustomerFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Customer

    name = factory.Sequence(lambda n: f"Corriebank Survey {n}")
    phone = "(00) 5550 0190"
    email = "owner@corriebank.example"
    address = "3 Invented Wharf"


class BayFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Bay

    name = factory.Sequence(lambda n: f"Bay {n}")


class TypeSheetFactory(factory.django.DjangoModelFactory):
    """A dual-cab ute that is known well enough for every check of it."""

    class Meta:
        model = TypeSheet

    class Params:
        trailer = factory.Trait(
            model="Gantry boat trailer",
            body_type=BodyType.PLANT_TRAILER,
            category="TC",
            ball_to_axle_mm=4600,
            atm_kg=Decimal(2000),
            gtm_kg=Decimal(1850),
            switch_positions=[],
            seats=[],
            **dict.fromkeys(
                [
                    "wheelbase_mm",
                    "front_overhang_mm",
                    "ball_overhang_mm",
                    "gvm_kg",
                    "front_axle_kg",
                    "rear_axle_kg",
                    "gcm_kg",
                    "braked_towing_kg",
                    "ball_kg",
                    "roof_kg",
                    "base_front_kg",
                    "base_rear_kg",
                    "fuel_tank_l",
                    "fuel_tank_x_mm",
                    "alternator_a",
                    "alternator_own_load_a",
                    "start_battery_ah",
                ]
            ),
        )

    key = factory.Sequence(lambda n: f"test-dual-cab-{n}")
    maker = "Ferrowold"
    model = "Heron dual cab"
    body_type = BodyType.DUAL_CAB_UTE
    category = "NA"
    wheelbase_mm = 3200
    track_mm = 1560
    front_overhang_mm = 930
    rear_overhang_mm = 1230
    width_mm = 1880
    height_mm = 1850
    ball_overhang_mm = 1300
    gvm_kg = Decimal(3200)
    front_axle_kg = Decimal(1480)
    rear_axle_kg = Decimal(1900)
    gcm_kg = Decimal(6000)
    braked_towing_kg = Decimal(3500)
    ball_kg = Decimal(350)
    roof_kg = Decimal(100)
    base_definition = "weighed"
    base_front_kg = Decimal(1180)
    base_rear_kg = Decimal(940)
    base_fuel_l = Decimal(80)
    base_people = 0
    scale_interval_kg = Decimal(20)
    fuel_type = "diesel"
    fuel_tank_l = Decimal(80)
    fuel_tank_x_mm = -1900
    seats = factory.LazyFunction(
        lambda: [
            {"key": "driver", "x_mm": -1450, "y_mm": -380},
            {"key": "front-left", "x_mm": -1450, "y_mm": 380},
            {"key": "rear-left", "x_mm": -2290, "y_mm": 400},
            {"key": "rear-right", "x_mm": -2290, "y_mm": -400},
        ]
    )
    alternator_a = 150
    alternator_variable = True
    alternator_own_load_a = 35
    start_battery_ah = 80
    standby_a = Decimal("0.030")
    switch_positions = factory.LazyFunction(
        lambda: [
            {"key": "dash-right-1", "panel": "dash right", "label": "row 1 col 1"},
            {"key": "dash-right-2", "panel": "dash right", "label": "row 1 col 2"},
            {"key": "console-1", "panel": "console", "label": "front"},
            {"key": "roof-console-1", "panel": "roof console", "label": "left"},
        ]
    )


class VehicleFactory(factory.django.DjangoModelFactory):
    """A vehicle that copies a type sheet, switch places too, as the counter does it."""

    class Meta:
        model = Vehicle

    class Params:
        trailer = factory.Trait(
            type_sheet=factory.SubFactory(TypeSheetFactory, trailer=True)
        )

    customer = factory.SubFactory(CustomerFactory)
    type_sheet = factory.SubFactory(TypeSheetFactory)
    plate = factory.Sequence(lambda n: f"TST {n:03d}")

    @classmethod
    def _create(cls, model_class: type[Vehicle], *args: Any, **fields: Any) -> Vehicle:
        return vehicles.add_vehicle(**fields)


class PartTypeFactory(factory.django.DjangoModelFactory):
    """A steel bracket; the traits make it something with a wire."""

    class Meta:
        model = PartType

    class Params:
        lamps = factory.Trait(
            name="Driving lamps",
            kind="driving-lamps",
            zone="front",
            place_ref="front-end",
            mass_kg=Decimal(6),
            place_text="On the front bar",
            load_kind="current",
            current_a=Decimal(15),
            hours_per_day=Decimal("0.5"),
            switch_kind="position",
            switch_text="DRIVING",
            interlock="main-beam",
            fuse_a=Decimal(20),
            fuse_kind="blade",
            area_mm2=Decimal(4),
            run_m=Decimal(3),
        )
        battery = factory.Trait(
            name="Aux battery 100",
            kind="aux-battery",
            zone="cargo",
            place_ref="rear-axle",
            dx_mm=400,
            mass_kg=Decimal(13),
            place_text="Behind the left seat",
            supply=factory.LazyFunction(
                lambda: {
                    "role": "battery",
                    "chemistry": "lfp",
                    "capacity_ah": 100,
                    "usable_ratio": 0.8,
                    "charge_limit_a": 50,
                    "discharge_limit_a": 100,
                    "internal_mohm": 4,
                    "place": "cargo",
                }
            ),
            fuse_a=Decimal(100),
            fuse_kind="class-t",
            area_mm2=Decimal(25),
            run_m=Decimal("0.5"),
        )
        charger = factory.Trait(
            name="DC-DC charger 40",
            kind="dc-dc-charger",
            zone="cargo",
            place_ref="rear-axle",
            mass_kg=Decimal(2),
            place_text="Beside the aux battery",
            supply=factory.LazyFunction(
                lambda: {
                    "role": "charger",
                    "kind": "dc-dc",
                    "out_a": 40,
                    "out_v": 14.4,
                    "efficiency": 0.92,
                    "solar_input_w": 250,
                }
            ),
            fuse_a=Decimal(60),
            fuse_kind="midi",
            area_mm2=Decimal(16),
            run_m=Decimal(5),
        )
        fridge = factory.Trait(
            name="Fridge 45",
            kind="fridge",
            zone="cargo",
            place_ref="rear-axle",
            mass_kg=Decimal(22),
            place_text="On the slide, left",
            load_kind="current",
            current_a=Decimal("4.5"),
            hours_per_day=Decimal(24),
            duty="fridge",
            limit_percent=Decimal(3),
            switch_kind="own",
            switch_text="Panel on the lid",
            fuse_a=Decimal(15),
            fuse_kind="blade",
            area_mm2=Decimal(6),
            run_m=Decimal(2),
        )

    key = factory.Sequence(lambda n: f"test-part-{n}")
    name = factory.Sequence(lambda n: f"Bracket {n}")
    maker = "Marravale Steel"
    kind = "bracket"
    zone = "rear"
    place_ref = "rear-end"
    dx_mm = 0
    dy_mm = 0
    dz_mm = 600
    mass_kg = Decimal(10)
    mass_half_width_kg = Decimal("0.5")
    mass_source = "catalogue"
    place_text = "Behind the rear bumper"
    switch_kind = "none"
    use_text = "Nothing to do."
    price = Decimal("150.00")
    labour = factory.LazyFunction(lambda: {"mechanical": 1.5})
    steps = factory.LazyFunction(lambda: [{"kind": "step", "text": "Bolt it on."}])
    tests = factory.LazyFunction(lambda: [{"kind": "test", "text": "It holds."}])


class PackageFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Package
        skip_postgeneration_save = True

    key = factory.Sequence(lambda n: f"test-package-{n}")
    name = factory.Sequence(lambda n: f"Package {n}")

    @factory.post_generation
    def parts(self, create: bool, extracted: list[PartType] | None, **_: Any) -> None:
        for part in extracted or []:
            PackagePart.objects.create(package=self, part=part)


class BuildJobFactory(factory.django.DjangoModelFactory):
    """A build opened by the service, so its checks are stored with it."""

    class Meta:
        model = BuildJob

    title = "River survey ute"
    vehicle = factory.SubFactory(VehicleFactory)
    customer = factory.LazyAttribute(lambda o: o.vehicle.customer)
    jurisdiction = "AU-QLD"
    people = 2
    person_kg = Decimal(80)
    luggage_kg = Decimal(60)
    luggage_x_mm = -3000
    ambient_c = Decimal(30)
    latitude_deg = Decimal(-23)
    month = 7
    drive_h_per_day = Decimal(2)
    days = 3

    @classmethod
    def _create(
        cls, model_class: type[BuildJob], *args: Any, **fields: Any
    ) -> BuildJob:
        return jobs.open_build(**fields)


class LineItemFactory(factory.django.DjangoModelFactory):
    """A line from the catalogue; what is not ``part`` or ``quantity`` overrides it."""

    class Meta:
        model = LineItem

    build = factory.SubFactory(BuildJobFactory)
    part = factory.SubFactory(PartTypeFactory)
    quantity = 1
    supplied_by = "workshop"

    @classmethod
    def _create(
        cls, model_class: type[LineItem], *args: Any, **fields: Any
    ) -> LineItem:
        named = {n: fields.pop(n) for n in ("build", "part", "quantity", "supplied_by")}
        return line_items.add_part(**named, fields=fields)


def set_rates(rate_per_h: str = "100") -> None:
    """Give every skill the same rate, so that a price can be done in the head."""
    for skill in Skill.values:
        LabourRate.objects.create(skill=skill, rate_per_h=Decimal(rate_per_h))
