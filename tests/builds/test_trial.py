"""Trying a change: exactly what saving would do, and nothing kept of it."""

from __future__ import annotations

import time
import timeit
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from builds.ledger import change_of, ledger
from builds.models import BuildJob, CheckReport, Circuit, LineItem, Task
from builds.services import line_items
from builds.services.trial import picture_of, try_change
from tests.factories import (
    BuildJobFactory,
    LineItemFactory,
    PartTypeFactory,
    VehicleFactory,
    set_rates,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def build() -> BuildJob:
    made = BuildJobFactory()
    LineItemFactory(build=made, part=PartTypeFactory(battery=True))
    LineItemFactory(build=made, part=PartTypeFactory(charger=True))
    return made


def everything() -> list[object]:
    return [
        list(model.objects.order_by("pk").values())
        for model in (BuildJob, LineItem, Circuit, Task, CheckReport)
    ]


def effects(build: BuildJob, change) -> dict[str, tuple[float, float]]:
    before = picture_of(build=build)
    after = try_change(build=build, change=change)
    found = change_of(before, after, page="/b/", switches_page="/s/")
    return {row.label: (row.before, row.after) for row in found.main}


def test_it_shows_what_saving_then_does_and_keeps_nothing(build: BuildJob):
    set_rates("100")
    part = PartTypeFactory(fridge=True, dx_mm=0)
    before = everything()

    shown = effects(build, lambda: line_items.add_part(build=build, part=part))

    assert everything() == before
    # Right over the rear axle, so all of its 22 kg stands there.
    assert shown["Vehicle mass"][1] - shown["Vehicle mass"][0] == pytest.approx(22)
    assert shown["Rear axle"][1] - shown["Rear axle"][0] == pytest.approx(22)
    assert shown["Front axle"][1] == pytest.approx(shown["Front axle"][0])
    assert shown["Payload left"][1] - shown["Payload left"][0] == pytest.approx(-22)
    assert shown["Hours"][1] - shown["Hours"][0] == pytest.approx(1.5)
    assert shown["Price before tax"][1] - shown["Price before tax"][0] == 300
    assert shown["A day, over or under"][1] < shown["A day, over or under"][0]

    line_items.add_part(build=build, part=part)
    now = picture_of(build=build)
    day = now.results["power"]["day"]["net_ah"]
    assert day == pytest.approx(shown["A day, over or under"][1])
    assert now.results["load"]["payload_left_kg"] == pytest.approx(
        shown["Payload left"][1]
    )


def test_a_new_stop_is_told_and_one_that_goes_too(build: BuildJob):
    heavy = PartTypeFactory(mass_kg=Decimal(900), mass_half_width_kg=None)
    before = picture_of(build=build)
    after = try_change(
        build=build, change=lambda: line_items.add_part(build=build, part=heavy)
    )

    there = change_of(before, after, page="", switches_page="").findings
    back = change_of(after, before, page="", switches_page="").findings
    same = change_of(before, before, page="", switches_page="")

    rear = next(m for m in there.brings if "Rear axle" in m.sentence)
    assert (rear.before, rear.after) == ("within", "over")
    assert [m.sentence for m in back.settles] == [m.sentence for m in there.brings]
    assert not same.findings
    assert same.groups == []


def test_every_number_that_moves_is_told(build: BuildJob):
    """Whatever differs in the stored answer has its row, and nothing else has one."""
    before = picture_of(build=build)
    fridge = PartTypeFactory(fridge=True)
    after = try_change(
        build=build, change=lambda: line_items.add_part(build=build, part=fridge)
    )

    change = change_of(before, after, page="", switches_page="")

    titles = {group.title for group in change.groups}
    assert {
        "Scenario: driver only",
        "Each limit at its worst",
        "Energy a day",
        "Circuits",
        "Sources",
        "Price and hours",
        "What each item adds to the axles",
    } <= titles
    rows = {row.label: row for group in change.groups for row in group.rows}
    current = after.results["power"]["circuits"]["fridge-45"]["current_a"]
    assert rows["Fridge 45: current"].before is None
    assert rows["Fridge 45: current"].after == pytest.approx(current)
    assert rows["Fridge 45: current"].verdict
    feed = before.results["power"]["circuits"]["main-feed-aux-battery-100"]
    assert rows["Main feed, Aux battery 100: current"].before == feed["current_a"]
    assert "Aux battery 100: on the rear axle" not in rows  # it stays where it is


def test_the_effect_of_sixty_items_is_answered_in_a_tenth_of_a_second():
    build = BuildJobFactory()
    for trait in ("battery", "charger", "fridge"):
        LineItemFactory(build=build, part=PartTypeFactory(**{trait: True}))
    bracket = PartTypeFactory()
    for _ in range(37):
        LineItemFactory(build=build, part=bracket)
    lamp = PartTypeFactory(fridge=True, name="Camp lamp", duty="1")
    for _ in range(20):
        LineItemFactory(build=build, part=lamp)
    item = build.items.last()

    def effect() -> None:
        before = picture_of(build=build)
        after = try_change(
            build=build,
            change=lambda: line_items.update_line_item(
                item=LineItem.objects.get(pk=item.pk), mass_kg=Decimal(30)
            ),
        )
        assert change_of(before, after, page="", switches_page="").groups

    assert build.items.count() == 60
    # The processor's time: what else the machine does is none of its own.
    took_s = timeit.repeat(effect, number=1, repeat=5, timer=time.process_time)
    assert min(took_s) < 0.1


def test_what_the_service_refuses_the_trial_refuses(build: BuildJob):
    before = everything()

    with pytest.raises(ValidationError, match="charges Aux battery"):
        try_change(
            build=build,
            change=lambda: line_items.remove_line_item(
                item=build.items.get(kind="aux-battery")
            ),
        )

    assert everything() == before


def figures(build: BuildJob, **more) -> dict[str, object]:
    now = picture_of(build=build)
    found = ledger(now, page="/b/", switches_page="/s/", with_price=True, **more)
    return {f.key: f for f in found}


def test_the_strip_of_a_build_done_by_hand():
    build = BuildJobFactory(people=2, person_kg=Decimal(80), luggage_kg=None)
    strip = figures(build)

    # 1180 + 940 kg weighed with 80 L of fuel and nobody aboard, and two people.
    assert strip["payload"].value == pytest.approx(3200 - (1180 + 940 + 160))
    # Both sit 1.45 m behind the front axle of a 3.2 m wheelbase.
    rear = 1900 - (940 + 160 * 1.45 / 3.2)
    front = 1480 - (1180 + 160 * (1 - 1.45 / 3.2))
    assert strip["axle"].label == "Front axle left"
    assert strip["axle"].value == pytest.approx(min(front, rear))
    assert strip["energy"].value is None
    assert (strip["switches"].value, strip["switches"].unit) == (4, "of 4")
    assert strip["hours"].value == 0


def test_what_is_not_known_is_unknown_not_zero():
    vehicle = VehicleFactory(front_axle_kg=None, rear_axle_kg=None, gvm_kg=None)
    strip = figures(BuildJobFactory(vehicle=vehicle))

    assert strip["payload"].value is None
    assert strip["payload"].verdict == "unknown"
    assert strip["axle"].value is None
    assert strip["axle"].verdict == "unknown"


def test_more_items_waiting_than_places_left_is_over():
    build = BuildJobFactory()
    part = PartTypeFactory(lamps=True)
    for _ in range(5):
        LineItemFactory(build=build, part=part)

    assert figures(build)["switches"].verdict == "over"
