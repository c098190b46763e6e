"""Line items: typed in, changed, taken off, and shown before they are saved."""

from __future__ import annotations

import html
import re
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from builds.models import SUPPLY_ROLES, BuildJob, LineItem, Task
from builds.services import line_items
from builds.snapshots import take_record
from compliance.record_geometry import HIGHEST_PILE
from tests.factories import BuildJobFactory, LineItemFactory, PartTypeFactory

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", html.unescape(text))


@pytest.fixture
def build() -> BuildJob:
    return BuildJobFactory()


def typed(**other: object) -> dict[str, object]:
    return {
        "label": "Toolbox",
        "quantity": "1",
        "kind": "toolbox",
        "zone": "cargo",
        "supplied_by": "workshop",
        "mass_kg": "30",
        **other,
    }


def sent_by(office: Client, item: LineItem) -> dict[str, object]:
    """What a browser sends back of an item's form, nothing changed."""
    form = office.get(reverse("line-item-edit", args=[item.build_id, item.pk])).context[
        "form"
    ]
    found = {}
    for field in form:
        value = field.value()
        if isinstance(value, bool):
            if value:
                found[field.html_name] = "on"
        elif value is not None:
            found[field.html_name] = str(value)
    return found


def test_an_item_is_typed_in(office: Client, build: BuildJob):
    response = office.post(
        reverse("line-item-new", args=[build.pk]),
        typed(
            mechanical_h="1.25",
            electrical_h="",
            papers_text="Plate; Test sheet ;",
            x_mm="-3500",
            price="99.90",
        ),
    )

    item = build.items.get()
    assert response.status_code == 302
    assert response["Location"] == item.get_absolute_url()
    assert (item.key, item.x_mm, item.price) == ("toolbox", -3500, Decimal("99.90"))
    assert item.labour == {"mechanical": 1.25}
    assert item.papers == ["Plate", "Test sheet"]
    assert item.tasks.get().estimate_h == Decimal("1.25")


def test_a_tape_reading_behind_the_axle_counts_backwards(
    office: Client, build: BuildJob
):
    office.post(
        reverse("line-item-new", args=[build.pk]),
        typed(x_mm="100", behind_mm="2650"),
    )
    assert build.items.get().x_mm == -2650


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("label", "", "This field is required"),
        ("mass_kg", "12,5", "Use a point for decimals: 12.5"),
        ("mass_kg", "12 kg", "Enter the number only"),
        ("mass_kg", "-4", "greater than or equal to 0"),
        ("mass_kg", "90000", "less than or equal to 5000"),
        ("mass_kg", "NaN", "Enter a number"),
        ("x_mm", "-3.5", "Enter a whole number"),
        ("x_mm", "-90000", "greater than or equal to -20000"),
        ("behind_mm", "90000", "greater than or equal to -20000"),
        ("quantity", "0", "greater than or equal to 1"),
        ("zone", "moon", "Select a valid choice"),
        ("kind", "Tool Box", "small letters"),
        ("duty", "often", "Enter a ratio from 0 to 1, or the word fridge"),
        ("load_kind", "current", "Say how much it draws"),
        ("mechanical_h", "two", "Enter a number"),
        ("supply_role", "rocket", "Select a valid choice"),
        ("battery_capacity_ah", "100", "What a battery states is filled in"),
        ("raise_gvm_kg", "-5", "greater than or equal to 0.1"),
        ("raise_gvm_kg", "high", "Enter a number"),
        ("raise_rear_axle_kg", "2050 kg", "the unit is kg"),
        ("circuit", "777", "Select a valid choice"),
        ("charges", "x", "Select a valid choice"),
        ("version", "x", "Enter a whole number"),
    ],
)
def test_what_cannot_be_is_told_at_the_field_and_kept(
    office: Client, build: BuildJob, field: str, value: str, sentence: str
):
    response = office.post(
        reverse("line-item-new", args=[build.pk]),
        typed(use_text="Keep this text", **{field: value}),
    )

    assert response.status_code == 422
    assert sentence in words(response)
    assert "Keep this text" in response.content.decode()
    assert not build.items.exists()


def test_a_form_sent_back_unchanged_changes_nothing(office: Client, build: BuildJob):
    LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    for trait in ("charger", "fridge", "lamps", "battery"):
        item = LineItemFactory(build=build, part=PartTypeFactory(**{trait: True}))
        item.refresh_from_db()
        before = {k: v for k, v in vars(item).items() if k not in ("version", "_state")}

        response = office.post(
            reverse("line-item-edit", args=[build.pk, item.pk]), sent_by(office, item)
        )

        assert response.status_code == 302, response.context["form"].errors
        item.refresh_from_db()
        after = {k: v for k, v in vars(item).items() if k not in ("version", "_state")}
        assert after == before, trait


def test_a_second_save_from_an_old_page_overwrites_nothing(
    office: Client, build: BuildJob
):
    item = LineItemFactory(build=build)
    old = sent_by(office, item) | {"label": "Typed on the old page"}
    line_items.update_line_item(
        item=LineItem.objects.get(pk=item.pk), label="Saved since"
    )

    response = office.post(reverse("line-item-edit", args=[build.pk, item.pk]), old)

    assert response.status_code == 409
    assert "was changed by somebody else" in words(response)
    assert 'value="Typed on the old page"' in response.content.decode()
    item.refresh_from_db()
    assert item.label == "Saved since"
    # Who has compared may save: the refused page carries the version stored now.
    version = response.context["form"]["version"].value()
    url = reverse("line-item-edit", args=[build.pk, item.pk])
    assert office.post(url, old | {"version": version}).status_code == 302
    item.refresh_from_db()
    assert item.label == "Typed on the old page"


@pytest.mark.parametrize("htmx", [True, False])
def test_the_effect_of_an_edit_is_shown_and_not_kept(
    office: Client, build: BuildJob, htmx: bool
):
    item = LineItemFactory(build=build)
    sent = sent_by(office, item) | {"mass_kg": "110"}
    if htmx:
        url = reverse("item-preview", args=[build.pk])
        response = office.post(url, sent | {"item": item.pk}, headers=HTMX)
    else:
        url = reverse("line-item-edit", args=[build.pk, item.pk])
        response = office.post(url, sent | {"do": "effect"})

    assert response.status_code == 200
    assert "+100" in words(response)
    assert "−100" in words(response)  # payload
    assert "→" in words(response)
    item.refresh_from_db()
    assert (item.mass_kg, item.version) == (10, 1)


def test_the_effect_of_a_new_item_is_shown_and_not_kept(
    office: Client, build: BuildJob
):
    url = reverse("item-preview", args=[build.pk])
    swap = office.post(url, typed(x_mm="-3200"), headers=HTMX)
    page = office.post(
        reverse("line-item-new", args=[build.pk]), typed(x_mm="-3200", do="effect")
    )

    for response in (swap, page):
        assert response.status_code == 200
        assert "Rear axle kg 1,069 1,099 +30" in words(response)
    assert not LineItem.objects.exists()
    assert not Task.objects.exists()


@pytest.mark.parametrize("item", ["x", "²", "999999", "9" * 50, ""])
def test_a_preview_of_nonsense_is_no_error_of_ours(
    office: Client, build: BuildJob, item: str
):
    url = reverse("item-preview", args=[build.pk])
    response = office.post(url, {"item": item, "mass_kg": "1,5"}, headers=HTMX)
    assert response.status_code in (200, 404)
    if response.status_code == 200:
        assert "Use a point for decimals: 1.5" in words(response)


def test_free_places_come_first_and_taken_ones_are_named(
    office: Client, build: BuildJob
):
    first, second = build.vehicle.switch_positions.all()[:2]
    holder = LineItemFactory(build=build, part=PartTypeFactory(lamps=True))
    line_items.update_line_item(item=holder, switch_position=first)
    item = LineItemFactory(
        build=build, part=PartTypeFactory(lamps=True, name="Side lamps")
    )
    url = reverse("line-item-edit", args=[build.pk, item.pk])

    page = office.get(url).content.decode()
    assert page.index(">dash right, row 1, place 2<") < page.index(
        ">dash right, row 1, place 1, has Driving lamps<"
    )
    sent = sent_by(office, item)
    refused = office.post(url, sent | {"switch_position": first.pk})
    assert refused.status_code == 422
    assert "is already taken by Driving lamps" in words(refused)
    assert "switch_position" in refused.context["form"].errors
    assert office.post(url, sent | {"switch_position": second.pk}).status_code == 302


def test_an_item_stands_on_one_that_may_carry(office: Client, build: BuildJob):
    rack = LineItemFactory(
        build=build, part=PartTypeFactory(name="Rack", carrier_limit_kg=Decimal(75))
    )
    LineItemFactory(build=build, part=PartTypeFactory(name="Bracket"))
    url = reverse("line-item-new", args=[build.pk])
    offered = office.get(url).context["form"].fields["carried_by"].queryset
    assert [item.label for item in offered] == ["Rack"]

    sent = typed(carried_by=rack.pk, x_half_width_mm="50", carrier_limit_kg="20")
    assert office.post(url, sent | {"x_mm": "-1800"}).status_code == 302

    box = build.items.get(label="Toolbox")
    assert box.carried_by == rack
    [record] = [i for i in take_record(build)["items"] if i["key"] == box.key]
    assert record["carried_by"] == rack.key
    assert (record["x_half_width_m"], record["carrier_limit_kg"]) == (0.05, 20)
    report = build.report.__class__.objects.get(build=build)
    carried = report.results["load"]["carriers"][rack.key]
    assert (carried["carried_kg"], carried["limit_kg"]) == (30, 75)

    # The rack on its own box: refused at the field, and nothing stands on itself.
    edit = reverse("line-item-edit", args=[build.pk, rack.pk])
    refused = office.post(edit, sent_by(office, rack) | {"carried_by": box.pk})
    assert refused.status_code == 422
    assert "itself stands on this one" in str(
        refused.context["form"].errors["carried_by"]
    )
    with pytest.raises(ValidationError, match="cannot stand on itself"):
        line_items.update_line_item(item=rack, carried_by=rack)


def test_a_pile_has_an_end(build: BuildJob):
    part = PartTypeFactory(carrier_limit_kg=Decimal(75))
    under = None
    for _ in range(HIGHEST_PILE + 1):
        under = LineItemFactory(build=build, part=part, carried_by=under)

    with pytest.raises(ValidationError) as caught:
        LineItemFactory(build=build, part=part, carried_by=under)

    assert list(caught.value.message_dict) == ["carried_by"]


BATTERY = {
    "supply_role": "battery",
    "battery_chemistry": "lfp",
    "battery_capacity_ah": "100",
    "battery_usable_ratio": "0.8",
    "battery_charge_min_c": "-5",
}


def test_a_battery_is_typed_in_and_feeds_the_day(office: Client, build: BuildJob):
    office.post(
        reverse("line-item-new", args=[build.pk]),
        typed(label="Spare battery", **BATTERY),
    )
    item = build.items.get()
    assert item.supply == {
        "role": "battery",
        "chemistry": "lfp",
        "capacity_ah": 100,
        "usable_ratio": 0.8,
        "charge_min_c": -5,
    }
    build.report.refresh_from_db()
    assert "load_ah" in build.report.results["power"]["day"]


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("battery_capacity_ah", "-5", "This must be more than 0."),
        ("battery_capacity_ah", "", "This is missing."),
        ("battery_capacity_ah", "1,5", "Use a point for decimals: 1.5"),
        ("battery_chemistry", "jam", "Select a valid choice"),
        ("battery_usable_ratio", "80", "This is beyond 1. Check the unit."),
    ],
)
def test_a_battery_that_cannot_be_is_told_at_the_field(
    office: Client, build: BuildJob, field: str, value: str, sentence: str
):
    sent = typed(**BATTERY | {field: value}, use_text="Keep this text")
    response = office.post(reverse("line-item-new", args=[build.pk]), sent)

    assert response.status_code == 422
    assert sentence in str(response.context["form"].errors[field])
    assert "Keep this text" in response.content.decode()
    assert not build.items.exists()


def test_every_fact_of_the_supply_has_a_field_that_stores_it(
    office: Client, build: BuildJob
):
    """Each by itself, so that no two fields can stand in for each other."""
    battery = LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    charger = LineItemFactory(build=build, part=PartTypeFactory(charger=True))
    panel = LineItemFactory(
        build=build, part=PartTypeFactory(supply={"role": "panel", "power_w": 200})
    )
    board = LineItemFactory(build=build, part=PartTypeFactory(supply={"role": "board"}))
    words = {"chemistry": "agm", "place": "rear", "kind": "solar"}
    for item in (battery, charger, panel, board):
        role = item.supply["role"]
        sent = sent_by(office, item)
        facts = {
            fact: words.get(fact, 1 if fact in RATIOS else 12 + n)
            for n, fact in enumerate(SUPPLY_ROLES[role])
        }
        sent |= {f"{role}_{fact}": str(value) for fact, value in facts.items()}

        url = reverse("line-item-edit", args=[build.pk, item.pk])
        response = office.post(url, sent)

        assert response.status_code == 302, response.context["form"].errors
        item.refresh_from_db()
        assert item.supply == {"role": role, **facts}


RATIOS = {"usable_ratio", "efficiency", "derate"}


def test_what_a_board_cannot_have_is_told(office: Client, build: BuildJob):
    sent = typed(supply_role="board", board_ways="2.5")
    response = office.post(reverse("line-item-new", args=[build.pk]), sent)

    assert "whole number from 1 to 100" in str(
        response.context["form"].errors["board_ways"]
    )


def test_ratings_are_raised_one_by_one(office: Client, build: BuildJob):
    sent = typed(raise_gvm_kg="3500", raise_rear_axle_kg="2050.5", raise_paper="TC 1")
    office.post(reverse("line-item-new", args=[build.pk]), sent)

    item = build.items.get()
    assert item.raises == {"gvm_kg": 3500, "rear_axle_kg": 2050.5}
    assert take_record(build)["items"][0]["raises"]["evidence"] == "TC 1"


def test_what_is_folded_away_is_open_where_something_is_in_it(
    office: Client, build: BuildJob
):
    battery = LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    groups = (
        office.get(reverse("line-item-edit", args=[build.pk, battery.pk]))
        .context["form"]
        .groups
    )
    opened = {title: is_open for _, _, parts in groups for title, is_open, _ in parts}

    assert opened == {
        "A battery": True,
        "A charger": False,
        "A solar panel": False,
        "A distribution board": False,
        "Ratings it raises": False,
    }


def test_taking_an_item_off_shows_its_effect_first(office: Client, build: BuildJob):
    item = LineItemFactory(build=build, part=PartTypeFactory(lamps=True))
    url = reverse("line-item-remove", args=[build.pk, item.pk])

    page = office.get(url)
    assert "−6" in words(page)
    assert build.items.exists()

    assert office.post(url).status_code == 302
    assert not build.items.exists()
    assert not build.circuits.exists()  # its own circuit goes with it


def test_an_item_others_need_stays_and_says_why(office: Client, build: BuildJob):
    battery = LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    LineItemFactory(build=build, part=PartTypeFactory(fridge=True))
    url = reverse("line-item-remove", args=[build.pk, battery.pk])

    assert "Feed these from something else first" in words(office.get(url))
    response = office.post(url)

    assert response.status_code == 422
    assert "Feed these from something else first" in words(response)
    assert build.items.count() == 2


def test_an_item_of_another_build_is_not_found(office: Client, build: BuildJob):
    other = LineItemFactory()
    for name in ("line-item-edit", "line-item-remove"):
        assert office.get(reverse(name, args=[build.pk, other.pk])).status_code == 404


def test_a_fitter_changes_no_items(shop: Client, build: BuildJob):
    item = LineItemFactory(build=build)
    for name in ("line-item-edit", "line-item-remove", "place-switch"):
        url = reverse(name, args=[build.pk, item.pk])
        assert shop.post(url).status_code == 403
    assert shop.get(reverse("line-item-new", args=[build.pk])).status_code == 403
