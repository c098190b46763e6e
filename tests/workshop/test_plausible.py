"""What a sheet cannot say is refused; what is only odd is told."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.factories import CustomerFactory, TypeSheetFactory, VehicleFactory
from workshop.finding import twin_warnings, vehicles_matching
from workshop.models import Vehicle
from workshop.plausible import impossible, rating_warnings

pytestmark = pytest.mark.django_db


def sheet(**changes: object) -> Vehicle:
    built = TypeSheetFactory.build(**changes)
    names = [f.name for f in Vehicle._meta.fields if hasattr(built, f.name)]
    return Vehicle(**{n: getattr(built, n) for n in names if n != "id"})


def test_a_true_sheet_has_no_fault_and_no_warning():
    for true in (sheet(), TypeSheetFactory.build(trailer=True)):
        assert impossible(true) == {}
    assert rating_warnings(sheet()) == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"front_overhang_mm": 3201}, "front_overhang_mm"),
        ({"rear_overhang_mm": 3201}, "rear_overhang_mm"),
        ({"ball_overhang_mm": 3201}, "ball_overhang_mm"),
        ({"track_mm": 1881}, "track_mm"),
        ({"fuel_tank_x_mm": 931}, "fuel_tank_x_mm"),
        ({"fuel_tank_x_mm": -4431}, "fuel_tank_x_mm"),
        ({"seats": [{"key": "driver", "x_mm": 1450}]}, "seats"),
        ({"seats": [{"key": "driver", "x_mm": -4431}]}, "seats"),
        ({"seats": [{"key": "driver", "x_mm": -1, "y_mm": 941}]}, "seats"),
        ({"base_mass_kg": Decimal(2151)}, "base_mass_kg"),
        ({"base_mass_kg": Decimal(3201), "base_rear_kg": None}, "base_mass_kg"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(changes, field: str):
    assert impossible(sheet(**changes)).keys() == {field}


@pytest.mark.parametrize(
    "changes",
    [
        {"front_overhang_mm": 3200},
        {"rear_overhang_mm": 3200},
        {"track_mm": 1880},
        {"fuel_tank_x_mm": 930},
        {"fuel_tank_x_mm": -4430},
        {"seats": [{"key": "driver", "x_mm": 930, "y_mm": -940}]},
        {"base_mass_kg": Decimal(2150)},
        # What is not known says nothing about the rest.
        {"front_overhang_mm": None, "fuel_tank_x_mm": 2000},
        {"wheelbase_mm": None, "rear_overhang_mm": 3201},
        {"base_front_kg": None, "base_mass_kg": Decimal(3000)},
    ],
)
def test_what_may_just_be_is_taken(changes):
    assert impossible(sheet(**changes)) == {}


def test_the_gap_of_a_ticket_is_signed():
    low = impossible(sheet(base_mass_kg=Decimal("2000.0")))["base_mass_kg"]
    high = impossible(sheet(base_mass_kg=Decimal("2200.0")))["base_mass_kg"]

    assert "make 2120 kg, -120 kg from this" in low[0]
    assert "make 2120 kg, +80 kg from this" in high[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"front_axle_kg": Decimal(1299)}, "axle limits make 3199 kg"),
        ({"gcm_kg": Decimal(3199)}, "The GVM, 3200 kg, is above the GCM"),
        ({"ball_kg": Decimal(3501)}, "The ball mass limit"),
        ({"base_front_kg": Decimal(1481)}, "The front axle's own load"),
        ({"base_rear_kg": Decimal(1901)}, "The rear axle's own load"),
        ({"gtm_kg": Decimal(2001), "atm_kg": Decimal(2000)}, "The GTM, 2001 kg"),
    ],
)
def test_an_odd_rating_is_told_and_not_refused(changes, words: str):
    [warning] = rating_warnings(sheet(**changes))

    assert words in warning
    assert impossible(sheet(**changes)) == {}


@pytest.mark.parametrize(
    "changes",
    [{"front_axle_kg": Decimal(1300)}, {"gcm_kg": Decimal(3200)}, {"gcm_kg": None}],
)
def test_a_rating_at_its_limit_is_not_odd(changes):
    assert rating_warnings(sheet(**changes)) == []


def test_a_twin_on_file_is_told_however_it_is_spaced():
    owner = CustomerFactory(name="Petra Novasel")
    VehicleFactory(customer=owner, plate="QX 12 AB", vin="7AZDT28D4RW004417")
    twin = VehicleFactory(plate="QX-12AB", vin="7AZ DT28D4 RW004417")
    other = VehicleFactory(plate="", vin="")
    VehicleFactory(plate="", vin="")

    assert [w.rpartition("with this ")[2] for w in twin_warnings(twin)] == [
        "VIN too.",
        "plate too.",
    ]
    assert all("Petra Novasel" in w for w in twin_warnings(twin))
    assert twin_warnings(other) == []


@pytest.mark.parametrize("query", ["qx12ab", "QX-12", "7azdt28d4-rw", "heron", "ferro"])
def test_a_vehicle_is_found_however_its_plate_is_spaced(query: str):
    wanted = VehicleFactory(plate="QX 12 AB", vin="7AZDT28D4RW004417")

    assert wanted in vehicles_matching(query)


@pytest.mark.parametrize("query", ["-", " - ", "zzz"])
def test_a_query_of_nothing_finds_nothing(query: str):
    VehicleFactory(plate="QX 12 AB")

    assert not vehicles_matching(query).exists()
