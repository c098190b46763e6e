"""The list of builds, opening one, and changing its use and booking."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from builds.card import card_state
from builds.hours import booked_hours
from builds.models import BuildJob, CheckReport
from builds.services import jobs
from builds.services.tasks import NewEvent, record_events
from builds.snapshots import take_record
from tests.factories import (
    BayFactory,
    BuildJobFactory,
    CustomerFactory,
    LineItemFactory,
    PartTypeFactory,
    PersonFactory,
    VehicleFactory,
)
from workshop.models import Person

pytestmark = pytest.mark.django_db


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", text)


def typed(build: BuildJob | None = None, **other: object) -> dict[str, object]:
    """What a browser would send of the form, with ``other`` typed over it."""
    vehicle = build.vehicle if build else VehicleFactory()
    found: dict[str, object] = {
        "title": "River survey ute",
        "customer": vehicle.customer_id,
        "vehicle": vehicle.pk,
        "jurisdiction": "AU-QLD",
        "people": "2",
        "person_kg": "80",
    }
    if build is not None:
        found["version"] = build.version
    return {**found, **other}


def test_the_list_says_what_stage_whose_when_and_how_it_checks(office: Client):
    build = BuildJobFactory(title="Lamps for the ferry")
    LineItemFactory(build=build, part=PartTypeFactory(mass_kg=Decimal(2000)))

    page = words(office.get("/"))

    assert f"{build.number} Lamps for the ferry" in page
    assert build.customer.name in page
    assert str(build.vehicle) in page
    assert "Enquiry" in page
    assert "1.5" in page  # hours estimated
    assert "over" in page


def test_a_fitter_sees_the_own_builds_first_and_no_customer(
    shop: Client, fitter: Person
):
    soon = BuildJobFactory(title="Another's", promised_on=timezone.localdate())
    own = BuildJobFactory(title="Own", people_assigned=[fitter])

    response = shop.get("/")

    assert [r.build.pk for r in response.context["rows"]] == [own.pk, soon.pk]
    assert "mine" in words(response)
    for build in (own, soon):
        assert build.customer.name not in words(response)


def test_a_late_build_says_so_in_a_word(office: Client):
    today = timezone.localdate()
    late = BuildJobFactory(promised_on=today - timedelta(1))
    BuildJobFactory(promised_on=today)

    rows = office.get("/").context["rows"]

    assert (rows[0].build.pk, rows[0].late) == (late.pk, True)
    assert not rows[1].late
    assert "late" in words(office.get("/"))


def test_the_list_is_narrowed_by_stage(office: Client, advisor: Person):
    plain, moved = BuildJobFactory(), BuildJobFactory()
    LineItemFactory(build=moved)
    jobs.move_stage(build=moved, to="specified", by=advisor)

    def shown(query: str) -> set[int]:
        return {r.build.pk for r in office.get(query).context["rows"]}

    assert shown("/?stage=specified") == {moved.pk}
    assert shown("/?stage=handed-over") == set()
    assert shown("/?stage=nonsense&page=x") == {plain.pk, moved.pk}


def test_hours_booked_agree_with_the_job_card(fitter: Person):
    build = BuildJobFactory()
    one, two = (LineItemFactory(build=build).tasks.get() for _ in range(2))
    BuildJob.objects.filter(pk=build.pk).update(stage="in-work")
    now = timezone.now()

    def event(kind: str, task, minutes: int) -> NewEvent:
        return NewEvent(
            event_id=uuid4(),
            task_id=task.pk,
            step_id=None,
            kind=kind,
            value=None,
            text="",
            answers=None,
            happened_at=now - timedelta(minutes=minutes),
        )

    record_events(
        build=build,
        by=fitter,
        events=[
            event("start", one, 120),
            event("start", two, 60),
            event("stop", two, 30),
        ],
    )
    record_events(build=build, by=PersonFactory(), events=[event("start", one, 60)])

    found = booked_hours([build.pk])[build.pk]

    assert found == pytest.approx(1.0 + 0.5 + 1.0, abs=0.01)
    assert found == pytest.approx(card_state(build).booked_h, abs=0.01)


def test_the_list_asks_as_often_for_ten_builds_as_for_one(office: Client):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            office.get("/")
        return len(found)

    LineItemFactory()
    one = queries()
    for _ in range(9):
        LineItemFactory()
    assert queries() == one


def test_a_build_is_opened_at_the_enquiry_stage_with_its_checks(
    office: Client, advisor: Person
):
    response = office.post(reverse("build-new"), typed(person_kg="82.5"))

    build = BuildJob.objects.get()
    assert response.status_code == 302
    assert (build.stage, build.advisor, build.person_kg) == (
        "enquiry",
        advisor,
        Decimal("82.5"),
    )
    assert re.fullmatch(r"B\d\d-0001", build.number)
    assert CheckReport.objects.filter(build=build).exists()


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("title", "", "This field is required"),
        ("person_kg", "80,5", "Use a point for decimals: 80.5"),
        ("person_kg", "80 kg", "Enter the number only"),
        ("person_kg", "8000", "less than or equal to 250"),
        ("person_kg", "1e2", "without an exponent"),
        ("people", "two", "Enter a whole number"),
        ("people", "-2", "greater than or equal to 0"),
        ("customer", "99999", "Select a valid choice"),
        ("booked_in_on", "31-31-2026", "Enter a valid date"),
        ("jurisdiction", "Atlantis", "Select a valid choice"),
        ("hitched", "on", "Choose the trailer it tows, or enter its mass"),
        ("latitude_deg", "-95", "greater than or equal to -90"),
    ],
)
def test_what_cannot_be_is_told_and_kept(
    office: Client, field: str, value: str, sentence: str
):
    response = office.post(
        reverse("build-new"), typed(notes="Keep me", **{field: value})
    )

    assert response.status_code == 422
    assert sentence in words(response)
    assert "Keep me" in response.content.decode()
    assert not BuildJob.objects.exists()


def test_somebody_elses_vehicle_is_refused_by_name(office: Client):
    other = CustomerFactory(name="Nokomis Traders")
    response = office.post(reverse("build-new"), typed(customer=other.pk))

    assert response.status_code == 422
    assert "not Nokomis Traders" in words(response)


def test_a_name_in_any_script_is_kept(office: Client):
    office.post(reverse("build-new"), typed(title="งานติดตั้ง 🚙 «Ålesund»"))
    assert "งานติดตั้ง 🚙 «Ålesund»" in words(office.get("/"))


def test_a_promise_before_the_booking_is_refused(office: Client):
    response = office.post(
        reverse("build-new"), typed(booked_in_on="2026-12-10", promised_on="2026-12-01")
    )
    assert response.status_code == 422
    assert "The promised date is before the booked-in date" in words(response)


def test_only_the_customers_vehicles_are_offered_when_asked_for(office: Client):
    own, other = VehicleFactory(), VehicleFactory()

    page = office.get(reverse("build-new"), {"customer": own.customer_id})
    choices = dict(page.context["form"].fields["vehicle"].choices)
    assert [str(v) for v in choices.values()][1:] == [f"{own} ({own.customer.name})"]

    for odd in ("x", "²", "9" * 40):
        assert office.get(reverse("build-new"), {"customer": odd}).status_code == 200
    assert other.plate in office.get(reverse("build-new")).content.decode()


def test_a_change_is_saved(office: Client):
    build, bay, person = BuildJobFactory(), BayFactory(), PersonFactory()
    url = reverse("build-edit", args=[build.pk])

    response = office.post(
        url,
        typed(
            build,
            title="Two boats",
            bay=bay.pk,
            booked_in_on="2026-12-01",
            promised_on="2026-12-04",
            people_assigned=[person.pk],
        ),
    )

    build.refresh_from_db()
    assert response.status_code == 302
    assert (build.title, build.bay) == ("Two boats", bay)
    assert list(build.people_assigned.all()) == [person]


def test_a_load_on_the_roof_lies_where_its_rack_is(office: Client):
    build = BuildJobFactory(luggage_kg=None, luggage_x_mm=None)
    url = reverse("build-edit", args=[build.pk])
    fields = office.get(url).context["form"].use[0][1]
    assert "roof_luggage_on" not in [field.name for field in fields]  # no rack yet
    part = PartTypeFactory(zone="roof", place_ref="mid-wheelbase", dx_mm=-100)
    rack = LineItemFactory(build=build, part=part)

    sent = typed(build, roof_luggage_kg="18.5", roof_luggage_on=rack.pk)
    assert office.post(url, sent).status_code == 302

    build.refresh_from_db()
    assert build.roof_luggage_x_mm == rack.x_mm == -1700
    [luggage] = take_record(build)["use"]["luggage"]
    assert luggage == {
        "mass_kg": 18.5,
        "x_m": -1.7,
        "zone": "roof",
        "carried_by": rack.key,
    }


def test_the_bars_of_a_hitch_reach_the_record(office: Client):
    trailer = VehicleFactory(trailer=True)
    build = BuildJobFactory(
        trailer=trailer,
        vehicle=VehicleFactory(customer=trailer.customer),
        trailer_mass_kg=Decimal(1800),
        trailer_ball_kg=Decimal(180),
    )
    sent = typed(
        build,
        trailer=trailer.pk,
        hitched="on",
        trailer_mass_kg="1800",
        trailer_ball_kg="180",
        hitch_moment_kgm="95.5",
    )

    office.post(reverse("build-edit", args=[build.pk]), sent)

    build.refresh_from_db()
    assert take_record(build)["trailer"]["hitch_moment_kgm"] == 95.5

    # 180 kg × 1.3 m / (1 + 1.3 / 4.6) puts all back that the ball takes off.
    refused = office.post(
        reverse("build-edit", args=[build.pk]),
        {**sent, "hitch_moment_kgm": "183", "version": str(build.version)},
    )
    assert refused.status_code == 422
    assert "at most 182 kg m" in refused.content.decode()


@pytest.mark.parametrize(
    ("field", "other", "sentence"),
    [
        ("roof_luggage_x_mm", {"roof_luggage_kg": "20"}, "Say where it lies"),
        ("luggage_x_mm", {"luggage_kg": "20"}, "Say where it lies"),
        ("roof_luggage_kg", {"roof_luggage_kg": "20 kg"}, "the unit is kg"),
        ("roof_luggage_on", {"roof_luggage_on": "999"}, "Select a valid choice"),
        ("hitch_moment_kgm", {"hitch_moment_kgm": "90"}, "Choose the trailer"),
        ("hitch_moment_kgm", {"hitch_moment_kgm": "-9"}, "greater than or equal to 0"),
        (
            "trailer_ball_kg",
            {"trailer_mass_kg": "500", "trailer_ball_kg": "600"},
            "This is more than the trailer",
        ),
    ],
)
def test_a_use_that_cannot_be_is_told_at_its_field(
    office: Client, field: str, other: dict[str, str], sentence: str
):
    build = BuildJobFactory()
    sent = typed(build, title="Kept", **other)
    response = office.post(reverse("build-edit", args=[build.pk]), sent)

    assert response.status_code == 422
    assert sentence in str(response.context["form"].errors[field])
    assert 'value="Kept"' in response.content.decode()


def test_a_save_from_an_old_page_overwrites_nothing_and_keeps_what_was_typed(
    office: Client,
):
    build = BuildJobFactory()
    old = typed(build, title="Typed on the old page", notes="Long note")
    jobs.update_build(build=BuildJob.objects.get(pk=build.pk), title="Saved since")
    url = reverse("build-edit", args=[build.pk])

    response = office.post(url, old)

    page = response.content.decode()
    assert response.status_code == 409
    assert "was changed by somebody else" in page
    assert 'value="Typed on the old page"' in page
    assert "Long note" in page
    build.refresh_from_db()
    assert build.title == "Saved since"


def test_items_keep_a_build_on_its_vehicle(office: Client):
    build = BuildJobFactory()
    LineItemFactory(build=build)
    other = VehicleFactory(customer=build.customer)

    response = office.post(
        reverse("build-edit", args=[build.pk]), typed(build, vehicle=other.pk)
    )

    assert response.status_code == 422
    assert "Items are already placed on this vehicle" in words(response)


def test_a_released_build_says_that_it_is_closed(office: Client):
    build = BuildJobFactory()
    BuildJob.objects.filter(pk=build.pk).update(stage="released")

    response = office.post(reverse("build-edit", args=[build.pk]), typed(build))

    assert response.status_code == 422
    assert "can no longer be changed" in words(response)


@pytest.mark.parametrize("name", ["build-new", "builds", "week"])
def test_signed_out_nothing_is_open(client: Client, name: str):
    assert client.get(reverse(name)).status_code == 302


def test_a_fitter_opens_and_changes_no_builds(shop: Client):
    build = BuildJobFactory()
    assert shop.get(reverse("build-new")).status_code == 403
    assert shop.post(reverse("build-new"), typed()).status_code == 403
    assert shop.get(reverse("build-edit", args=[build.pk])).status_code == 403


def test_the_list_takes_no_posts(office: Client):
    assert office.post("/").status_code == 405
