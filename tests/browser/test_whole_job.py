"""The whole job once through, by hand in a real browser: enquiry to handed over."""

from __future__ import annotations

import io
import re
from datetime import timedelta

import pdfplumber
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from builds.demo import scenario
from builds.models import BuildJob, Stage, StepKind, Task
from builds.services import packs
from workshop.models import Customer, Person, Vehicle

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def people(
    transactional_db: None, monkeypatch: pytest.MonkeyPatch
) -> dict[str, Person]:
    scenario.load()
    # The worker's own process would open the workshop's database, not the test's.
    monkeypatch.setattr(packs, "start_worker", lambda pack: packs.make_pack(pack=pack))
    return {person.username: person for person in Person.objects.all()}


def save(page: Page) -> None:
    page.locator("main").get_by_role("button", name=re.compile("^Save")).first.click()


def move_to(page: Page, label: str) -> None:
    page.get_by_role("button", name=f"Move to “{label}”").click()
    expect(page.locator("[aria-current=step]")).to_contain_text(label)


def book_customer_and_vehicle(page: Page) -> None:
    page.goto("/customers/new/")
    page.fill("#id_name", "Ελένη Ποταμιάνου")
    page.fill("#id_phone", "(00) 5550 0177")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("link", name="Add a vehicle").click()
    page.select_option("#id_type_sheet", label="Harrasby Lapwing 3.3 4x4 large wagon")
    page.fill("#id_plate", "ELE 9")
    page.fill("#id_vin", "7AHLW33L4SW000119")
    page.get_by_role("button", name="Go on to its own plate").click()
    page.fill("#id_base_people", "0")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("h1")).to_contain_text("ELE 9")
    page.get_by_role("link", name="New build").click()


def open_build(page: Page) -> BuildJob:
    page.fill("#id_title", "Radio, lamps and power")
    page.select_option("#id_jurisdiction", "AU-VIC")
    page.fill("#id_people", "2")
    page.fill("#id_person_kg", "80,5")
    page.get_by_role("button", name="Open the build").click()
    # A comma is told at the field, and what was typed is still there.
    expect(page.get_by_text("Use a point for decimals: 80.5").first).to_be_visible()
    expect(page.locator("#id_title")).to_have_value("Radio, lamps and power")
    page.fill("#id_person_kg", "80.5")
    for field, value in {
        "ambient_c": "25",
        "drive_h_per_day": "2",
        "days": "3",
    }.items():
        page.fill(f"#id_{field}", value)
    page.get_by_role("button", name="Open the build").click()
    expect(page.locator("h1")).to_contain_text("Radio, lamps and power")
    return BuildJob.objects.get(title="Radio, lamps and power")


def add_part(page: Page, build: BuildJob, key: str, name: str) -> None:
    page.goto(build.get_absolute_url())
    page.select_option("#id_part", key)
    # The effect is shown before anything is saved.
    expect(page.locator("#effect")).to_contain_text("Payload left")
    page.get_by_role("button", name="Add this part").click()
    expect(page.locator("#items")).to_contain_text(name)


def tick_everything(build: BuildJob, fitter: Page, second: Page) -> None:
    card = f"/builds/{build.pk}/job-card/"
    fitter.goto(card)
    second.goto(card)
    holds = []
    for task in Task.objects.filter(build=build):
        for step in task.steps.all():
            page = fitter
            if step.kind == StepKind.HOLD:
                holds.append(step)
                continue
            if step.kind == StepKind.READING:
                value = step.low if step.low is not None else step.high
                page.fill(f"#value-{step.pk}", str(0 if value is None else value))
                page.locator(f"#value-{step.pk}").press("Enter")
                expect(page.locator(f"#said-{step.pk}")).to_contain_text("Read")
            else:
                page.locator(f"#tick-{step.pk}").click()
                expect(page.locator(f"#tick-{step.pk}")).to_have_attribute(
                    "aria-pressed", "true"
                )
    expect(fitter.locator("#outbox")).to_be_hidden()
    for step in holds:
        second.locator(f"#tick-{step.pk}").click()
        expect(second.locator(f"#tick-{step.pk}")).to_have_attribute(
            "aria-pressed", "true"
        )
    expect(second.locator("#outbox")).to_be_hidden()


def test_from_enquiry_to_handed_over(people, open_page):
    june = open_page(people["june"])
    book_customer_and_vehicle(june)
    build = open_build(june)
    assert Customer.objects.filter(name="Ελένη Ποταμιάνου").exists()

    add_part(june, build, "aux-battery-lfp-60", "Second battery LFP 60 Ah")
    add_part(june, build, "uhf-radio-compact", "UHF radio")
    add_part(june, build, "driving-lamps-180", "LED driving lamps")

    june.goto(f"/builds/{build.pk}/switches/")
    waiting = june.locator("select[name$=position]").first
    waiting.select_option(index=1)
    june.get_by_role("button", name=re.compile("Place")).first.click()
    expect(june.locator("main")).to_contain_text("1 used")

    june.goto(build.get_absolute_url())
    move_to(june, "Specified")
    move_to(june, "Estimate given")
    # A stage that may not be entered says what is missing.
    expect(june.locator("#next-stage")).to_contain_text("who approved the estimate")
    june.fill("#id_approved_by", "Ελένη Ποταμιάνου")
    june.get_by_role("button", name="Note the approval").click()
    move_to(june, "Approved by the customer")
    expect(june.locator("#next-stage")).to_contain_text("Choose a bay.")

    today = timezone.localdate()
    june.goto(f"/builds/{build.pk}/edit/")
    june.select_option("#id_bay", label="Floor bay")
    june.fill("#id_booked_in_on", today.isoformat())
    june.fill("#id_promised_on", (today + timedelta(days=1)).isoformat())
    june.get_by_label(re.compile("Tavi Rook|tavi")).first.check()
    save(june)
    move_to(june, "Booked in")
    move_to(june, "In work")

    tavi, rosa = (
        open_page(people["tavi"], 1024, 768),
        open_page(people["rosa"], 768, 1024),
    )
    tick_everything(build, tavi, rosa)

    tavi.goto(build.get_absolute_url())
    expect(tavi.locator("main")).not_to_contain_text("5550 0177")
    june.goto(build.get_absolute_url())
    move_to(june, "Fitted and tested")
    expect(june.locator("#next-stage")).to_contain_text(
        "A manager releases the vehicle"
    )

    hal = open_page(people["hal"])
    hal.goto(build.get_absolute_url())
    move_to(hal, "Released")
    hal.get_by_role("link", name="Handover pack").first.click()
    hal.get_by_role("button", name="Print the final pack").click()
    expect(hal.get_by_role("link", name="Open the PDF")).to_be_visible(timeout=30_000)
    check_pack(hal, build)

    hal.goto(build.get_absolute_url())
    hal.fill("#id_handed_over_to", "Ελένη Ποταμιάνου")
    hal.get_by_role("button", name="Move to “Handed over”").click()
    expect(hal.locator("#next-stage")).to_contain_text("Handed over to Ελένη")
    build.refresh_from_db()
    assert build.stage == Stage.HANDED_OVER
    assert Vehicle.objects.get(plate="ELE 9").builds.get() == build


def check_pack(page: Page, build: BuildJob) -> None:
    answer = page.request.get(
        page.get_by_role("link", name="Open the PDF").get_attribute("href")
    )
    assert answer.headers["content-type"] == "application/pdf"
    with pdfplumber.open(io.BytesIO(answer.body())) as pdf:
        text = " ".join((page.extract_text() or "") for page in pdf.pages)
    said = re.sub(r"\s+", " ", text)
    assert "Draft" not in said
    assert "Ελένη Ποταμιάνου" in said
    for item in build.items.select_related("switch_position", "circuit"):
        assert item.label in said
        assert item.place_text.split(",")[0] in said
        if item.circuit is not None and item.circuit.fuse_a is not None:
            assert f"{item.circuit.fuse_a.normalize():f} A" in said
        if item.switch_position is not None:
            assert str(item.switch_position) in said
