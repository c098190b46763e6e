"""Vehicles and trailers: their type sheet, their own plate, their switch places."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import BuildJob, CheckReport
from builds.services import line_items
from builds.snapshots import take_record
from tests.factories import (
    BuildJobFactory,
    CustomerFactory,
    LineItemFactory,
    PartTypeFactory,
    TypeSheetFactory,
    VehicleFactory,
)
from workshop.models import SHEET_FIELDS, SwitchPosition, TypeSheet, Vehicle

pytestmark = pytest.mark.django_db


def edit_url(vehicle: Vehicle) -> str:
    return reverse("vehicle-edit", args=[vehicle.pk])


def typed(client: Client, vehicle: Vehicle, **changes: object) -> dict[str, object]:
    """What a browser would send from the vehicle's page, with some fields changed."""
    form = client.get(edit_url(vehicle)).context["form"]
    values = {bound.name: bound.value() for bound in form}
    return {n: v for n, v in (values | changes).items() if v is not None}


def at_field(page: str, field: str) -> str:
    return page[page.index(f'id="id_{field}_error"') :].split("</ul>")[0]


# A new one.


def test_a_new_vehicle_copies_its_type_sheet_and_its_switch_places(office: Client):
    owner, sheet = CustomerFactory(), TypeSheetFactory()
    sent = {
        "customer": owner.pk,
        "type_sheet": sheet.pk,
        "plate": "riv 204",
        "vin": "7azdt28d4rw004417",
    }
    response = office.post(reverse("vehicle-new"), sent)
    vehicle = Vehicle.objects.get()

    assert response.url == edit_url(vehicle)
    assert (vehicle.plate, vehicle.vin) == ("RIV 204", "7AZDT28D4RW004417")
    assert all(getattr(vehicle, f) == getattr(sheet, f) for f in SHEET_FIELDS)
    assert vehicle.own_plate_fields() == []
    places = [(p.key, p.panel, p.label) for p in vehicle.switch_positions.all()]
    assert places == [
        (p["key"], p["panel"], p["label"]) for p in sheet.switch_positions
    ]


def test_a_sheet_changed_later_leaves_the_vehicle_as_it_is():
    vehicle = VehicleFactory()
    TypeSheet.objects.update(gvm_kg=2900)
    vehicle.refresh_from_db()

    assert vehicle.gvm_kg == 3200
    assert vehicle.own_plate_fields() == ["gvm_kg"]


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("customer", "987654", "not one of the available choices"),
        ("customer", "x", "not one of the available choices"),
        ("type_sheet", "", "This field is required."),
        ("plate", "P" * 16, "at most 15 characters"),
        (
            "vin",
            "7AZ_T28D4RW004417",
            "Use letters A to Z, figures, spaces and hyphens.",
        ),
        ("vin", "พลอย", "Use letters A to Z"),
    ],
)
def test_a_vehicle_that_cannot_be_is_refused_at_its_field(
    office: Client, field: str, value: str, sentence: str
):
    sent = {
        "customer": CustomerFactory().pk,
        "type_sheet": TypeSheetFactory().pk,
        "plate": "KEPT 1",
    } | {field: value}
    response = office.post(reverse("vehicle-new"), sent)
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in at_field(page, field)
    assert field == "plate" or "KEPT 1" in page
    assert not Vehicle.objects.exists()


def test_the_customer_one_comes_from_is_chosen_already(office: Client):
    owner = CustomerFactory()
    page = office.get(reverse("vehicle-new"), {"customer": owner.pk}).content.decode()

    assert f'<option value="{owner.pk}" selected>' in page


# VIN.


@pytest.mark.parametrize(
    ("vin", "warning"),
    [
        ("1M8GDM9AXKP042788", ""),
        ("11111111111111111", ""),
        ("1M8GDM9A1KP042788", "is 1 but works out as X"),
        ("7AZDT28D4RW004417", ""),
        ("TRL-0042", "has 7 characters; a VIN under ISO 3779 has 17"),
    ],
)
def test_a_vin_is_warned_of_and_never_refused(office: Client, vin: str, warning: str):
    vehicle = VehicleFactory()
    response = office.post(edit_url(vehicle), typed(office, vehicle, vin=vin))
    page = office.get(vehicle.get_absolute_url()).content.decode()

    assert response.status_code == 302
    assert vin in page
    assert (warning in page) if warning else ("notice--warn" not in page)


# Its own plate.


def test_what_its_own_plate_says_is_marked(office: Client):
    vehicle = VehicleFactory()
    sent = typed(office, vehicle, rear_axle_kg="1850", tyre_size="265/70R17")
    assert office.post(edit_url(vehicle), sent).status_code == 302
    vehicle.refresh_from_db()
    page = office.get(vehicle.get_absolute_url()).content.decode()

    assert vehicle.own_plate_fields() == ["rear_axle_kg", "tyre_size"]
    assert page.count("own plate") == 2
    assert str(vehicle.type_sheet) in page


def test_saved_without_a_change_it_is_the_same(office: Client):
    for vehicle in (
        VehicleFactory(vin="7AZDT28D4RW004417"),
        VehicleFactory(trailer=True),
    ):
        before = {f: getattr(vehicle, f) for f in (*SHEET_FIELDS, "plate", "vin")}
        assert office.post(edit_url(vehicle), typed(office, vehicle)).status_code == 302
        stored = Vehicle.objects.get(pk=vehicle.pk)
        assert {f: getattr(stored, f) for f in before} == before


def test_an_emptied_field_is_not_known_never_zero(office: Client):
    vehicle = VehicleFactory()
    office.post(
        edit_url(vehicle),
        typed(office, vehicle, roof_kg="", alternator_variable="unknown"),
    )
    vehicle.refresh_from_db()

    assert vehicle.roof_kg is None
    assert vehicle.alternator_variable is None


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("gvm_kg", "3,2", "Use a point for decimals: 3.2"),
        ("gvm_kg", "3200 kg", "Enter the number only"),
        ("gvm_kg", "-1", "greater than or equal to 1"),
        ("gvm_kg", "0", "greater than or equal to 1"),
        ("gvm_kg", "3200000", "too many figures"),
        ("gvm_kg", "1e4", "without an exponent"),
        ("gvm_kg", "NaN", "Enter a number"),
        ("wheelbase_mm", "3.2", "Enter a whole number."),
        ("wheelbase_mm", "3", "greater than or equal to 50"),
        ("built_on", "1/13/2020", "Enter a valid date."),
        ("maker", "", "This field is required."),
        ("seats_text", "driver x=-1450\nfront left", "“front left”: write a seat as"),
        ("seats_text", "driver x=-1.4 m", "“driver x=-1.4 m”"),
        ("seats_text", "driver x=wide", "“driver x=wide”: x and y are millimetres."),
        ("seats_text", "a x=1\na x=2", "the seat a is there twice."),
        ("seats_text", "a\u0007b x=1", "write a seat as"),
        ("seats_text", "driver x=1450", "The seat driver would be ahead of the front"),
        ("seats_text", "driver x=-1450 y=-3800", "The seat driver would be outside"),
        ("fuel_tank_x_mm", "1900", "Behind the front axle is negative."),
        ("rear_overhang_mm", "4000", "longer than the wheelbase, 3200 mm"),
        ("base_left_kg", "2120", "The whole vehicle is 2120 kg."),
        ("cg_height_mm", "1850", "above the roof, 1850 mm up"),
        ("system_v", "48", "Select a valid choice"),
        ("track_mm", "1900", "would stand outside the vehicle, 1880 mm wide"),
        ("gvm_kg", "3200 kg", "the unit is kg."),
    ],
)
def test_an_absurd_plate_is_refused_at_its_field(
    office: Client, field: str, value: str, sentence: str
):
    vehicle = VehicleFactory()
    sent = typed(office, vehicle, colour="typed and kept") | {field: value}
    response = office.post(edit_url(vehicle), sent)
    page = response.content.decode()
    stored = Vehicle.objects.get(pk=vehicle.pk)

    assert response.status_code == 422
    assert sentence in at_field(page, field)
    assert "typed and kept" in page
    assert (stored.colour, stored.version) == ("", 1)


def test_left_wheels_height_and_system_reach_the_record(office: Client):
    vehicle = VehicleFactory()
    build = BuildJobFactory(vehicle=vehicle)
    sent = {"base_left_kg": "1075.5", "cg_height_mm": "705", "system_v": "24"}

    assert office.post(edit_url(vehicle), typed(office, vehicle, **sent)).url
    record = take_record(BuildJob.objects.get(pk=build.pk))

    assert record["vehicle"]["base"]["left_kg"] == 1075.5
    assert record["vehicle"]["base"]["cg_z_m"] == 0.705
    assert record["supply"]["system_v"] == 24
    page = office.get(vehicle.get_absolute_url()).content.decode()
    assert "on both left wheels" in page
    assert "24 V" in page


def test_axles_that_do_not_make_the_total_are_refused_with_the_gap(office: Client):
    vehicle = VehicleFactory()
    masses = {"base_front_kg": "1200", "base_rear_kg": "920", "scale_interval_kg": "20"}
    response = office.post(
        edit_url(vehicle), typed(office, vehicle, **masses, base_mass_kg="2200")
    )

    assert response.status_code == 422
    error = at_field(response.content.decode(), "base_mass_kg")
    assert "Front and rear make 2120 kg, +80 kg from this." in error


@pytest.mark.parametrize(
    ("total", "interval", "status"),
    [
        ("2150", "20", 302),  # three readings, each half of 20 kg off
        ("2151", "20", 422),
        ("2090", "20", 302),
        ("2121.5", "", 302),
        ("2122", "", 422),
    ],
)
def test_a_ticket_may_be_off_by_its_scale(office: Client, total, interval, status):
    vehicle = VehicleFactory()
    sent = typed(
        office,
        vehicle,
        base_front_kg="1200",
        base_rear_kg="920",
        base_mass_kg=total,
        scale_interval_kg=interval,
    )

    assert office.post(edit_url(vehicle), sent).status_code == status


def test_a_mass_above_the_gvm_asks_for_the_unit(office: Client):
    vehicle = VehicleFactory(base_front_kg=None, base_rear_kg=None)
    response = office.post(
        edit_url(vehicle), typed(office, vehicle, base_mass_kg="4600")
    )

    assert "above the GVM" in at_field(response.content.decode(), "base_mass_kg")


def test_a_stale_plate_overwrites_nothing_and_keeps_what_was_typed(office: Client):
    vehicle = VehicleFactory()
    old = typed(office, vehicle)
    office.post(edit_url(vehicle), old | {"colour": "Sand"})
    response = office.post(edit_url(vehicle), old | {"colour": "Slate"})
    vehicle.refresh_from_db()

    assert response.status_code == 409
    assert 'value="Slate"' in response.content.decode()
    assert vehicle.colour == "Sand"
    assert office.post(edit_url(vehicle), typed_again(response)).status_code == 302


def typed_again(response) -> dict[str, object]:
    values = {bound.name: bound.value() for bound in response.context["form"]}
    return {n: v for n, v in values.items() if v is not None}


def test_a_change_of_plate_checks_every_open_build_again(office: Client):
    build = BuildJobFactory()
    closed = BuildJobFactory(vehicle=build.vehicle, customer=build.customer)
    BuildJob.objects.filter(pk=closed.pk).update(stage="handed-over")
    sent = typed(office, build.vehicle, rear_axle_kg="900")
    office.post(edit_url(build.vehicle), sent)

    def rear(job: BuildJob) -> str:
        findings = CheckReport.objects.get(build=job).results["findings"]
        return next(f["verdict"] for f in findings if f["key"] == "axle-mass.rear")

    assert rear(build) == "over"
    assert rear(closed) == "within"


def test_a_change_of_a_trailers_plate_checks_who_tows_it(office: Client):
    trailer = VehicleFactory(trailer=True)
    build = BuildJobFactory(
        trailer=trailer, hitched=True, trailer_mass_kg=1500, trailer_ball_kg=150
    )
    before = CheckReport.objects.get(build=build).digest
    office.post(edit_url(trailer), typed(office, trailer, atm_kg="1400"))

    assert CheckReport.objects.get(build=build).digest != before


def test_what_cannot_be_read_is_not_compared(office: Client):
    """The old rear axle must not make a fault of the new front axle."""
    vehicle = VehicleFactory(base_mass_kg=2120)
    sent = typed(office, vehicle, base_front_kg="1280", base_rear_kg="840 kg")
    form = office.post(edit_url(vehicle), sent).context["form"]

    assert form.errors.keys() == {"base_rear_kg"}


def test_odd_ratings_and_a_twin_are_told_after_the_save(office: Client):
    VehicleFactory(plate="RIV 204")
    vehicle = VehicleFactory(plate="")
    sent = typed(office, vehicle, plate="riv-204", front_axle_kg="1200")
    response = office.post(edit_url(vehicle), sent, follow=True)
    page = response.content.decode()

    assert response.redirect_chain
    assert "The axle limits make 3100 kg together, less than the GVM" in page
    assert "is on file with this plate too." in page


# Removing.


def test_a_vehicle_without_builds_is_removed(office: Client):
    vehicle = VehicleFactory()
    response = office.post(reverse("vehicle-remove", args=[vehicle.pk]))

    assert response.url == reverse("vehicles")
    assert not Vehicle.objects.exists()
    assert "is removed." in office.get(response.url).content.decode()


@pytest.mark.parametrize("as_trailer", [False, True])
def test_a_vehicle_with_builds_stays_and_their_numbers_are_named(
    office: Client, as_trailer: bool
):
    trailer = VehicleFactory(trailer=True)
    builds = [BuildJobFactory(trailer=trailer)]
    if not as_trailer:
        car = builds[0].vehicle
        builds.append(BuildJobFactory(vehicle=car, customer=car.customer))
    vehicle = trailer if as_trailer else builds[0].vehicle
    response = office.post(reverse("vehicle-remove", args=[vehicle.pk]))
    page = response.content.decode()

    assert response.status_code == 422
    assert (
        f"has builds ({', '.join(b.number for b in reversed(builds))}) and stays"
        in page
    )
    assert Vehicle.objects.filter(pk=vehicle.pk).exists()
    assert (
        vehicle.switch_positions.count()
        == SwitchPosition.objects.filter(vehicle=vehicle).count()
    )


# Switch places.


def add_place(client: Client, vehicle: Vehicle, panel: str, label: str):
    url = reverse("switch-position-new", args=[vehicle.pk])
    return client.post(url, {"panel": panel, "label": label})


@pytest.mark.parametrize(
    ("panel", "label"),
    [("dash left", "top"), ("แดช", "ซ้าย"), ("p" * 40, "l" * 60), ("<b>", '"')],
)
def test_places_are_added_twice_over_with_keys_of_their_own(
    office: Client, panel: str, label: str
):
    build = BuildJobFactory()
    for _ in range(3):
        response = add_place(office, build.vehicle, panel, label)
        assert response.status_code == 302, response.content.decode()[-800:]
    added = build.vehicle.switch_positions.filter(panel=panel)
    page = office.get(build.vehicle.get_absolute_url()).content.decode()

    assert len({p.key for p in added}) == 3
    assert "<b>" not in page
    assert CheckReport.objects.get(build=build).results["switching"]["spare"] == 7


@pytest.mark.parametrize(
    ("panel", "label", "field"), [("", "top", "panel"), ("dash", "l" * 61, "label")]
)
def test_a_place_that_cannot_be_is_refused_at_its_field(
    office: Client, panel: str, label: str, field: str
):
    vehicle = VehicleFactory()
    response = add_place(office, vehicle, panel, label)

    assert response.status_code == 422
    assert at_field(response.content.decode(), field)
    assert vehicle.switch_positions.count() == 4


def test_a_place_in_use_is_not_removed(office: Client):
    build = BuildJobFactory()
    place = build.vehicle.switch_positions.first()
    item = LineItemFactory(build=build, part=PartTypeFactory(lamps=True))
    line_items.update_line_item(item=item, switch_position=place)
    url = reverse("switch-position-remove", args=[build.vehicle.pk, place.pk])
    response = office.post(url)

    assert response.status_code == 422
    assert (
        f"Driving lamps ({build.number}) is switched here. Move it first."
        in response.content.decode()
    )
    line_items.update_line_item(item=item, switch_position=None)
    assert office.post(url).status_code == 302
    assert not SwitchPosition.objects.filter(pk=place.pk).exists()


# Lists and sheets.


@pytest.mark.parametrize("query", ["RIV", "riv-204", "4417", "heron", "saltmarsh"])
def test_the_list_finds_by_plate_vin_model_and_owner(office: Client, query: str):
    owner = CustomerFactory(name="Saltmarsh Survey")
    wanted = VehicleFactory(customer=owner, plate="RIV 204", vin="7AZDT28D4RW004417")
    other = VehicleFactory(type_sheet=TypeSheetFactory(model="Plover van"))
    found = office.get(reverse("vehicles"), {"q": query}).context["vehicles"]

    assert wanted in found
    assert other not in found


def test_a_type_sheet_shows_what_is_known(office: Client):
    sheet = TypeSheetFactory(model="<i>Heron</i>", roof_kg=None)
    page = office.get(sheet.get_absolute_url()).content.decode()

    assert "3200 kg" in page
    assert "Weighed on a weighbridge" in page
    assert "−1,450 mm from the front axle, 380 mm right" in page
    assert "dash right, row 1, place 1" in page
    assert "<i>Heron" not in page
    assert "None" not in page.split("<main")[1]
