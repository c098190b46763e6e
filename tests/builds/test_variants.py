"""Variants: a faithful copy, held beside its original, one taken and the rest aside."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from builds.models import BuildJob, Circuit, LineItem, Stage, Task
from builds.services import circuits, jobs, line_items, variants
from builds.services.stages import blockers
from builds.services.tasks import add_task
from builds.snapshots import take_record
from tests.builds.test_line_items import words
from tests.factories import (
    BayFactory,
    BuildJobFactory,
    LineItemFactory,
    PartTypeFactory,
    PersonFactory,
    VehicleFactory,
    set_rates,
)
from workshop.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def build() -> BuildJob:
    """A build with every link an item or a circuit can have."""
    made = BuildJobFactory()
    for trait in ("battery", "charger", "fridge", "lamps"):
        LineItemFactory(build=made, part=PartTypeFactory(**{trait: True}))
    rack = LineItemFactory(build=made, part=PartTypeFactory(name="Roof rack"))
    slide = LineItemFactory(
        build=made, part=PartTypeFactory(name="Slide"), carrier_limit_kg=Decimal(90)
    )
    fridge, lamps = made.items.get(kind="fridge"), made.items.get(kind="driving-lamps")
    line_items.update_line_item(item=fridge, carried_by=slide)
    place = made.vehicle.switch_positions.first()
    line_items.update_line_item(item=lamps, switch_position=place)
    charger = made.items.get(kind="dc-dc-charger")
    battery = made.items.get(kind="aux-battery")
    output = circuits.add_circuit(
        build=made,
        label="Charger output",
        fed_by_item=battery,
        fuse_a=Decimal(60),
        area_mm2=Decimal(16),
        run_m=Decimal(1),
    )
    line_items.update_line_item(item=charger, output_circuit=output, serial="SN 1")
    made = BuildJob.objects.get(pk=made.pk)
    return jobs.update_build(
        build=made,
        roof_luggage_kg=Decimal(20),
        roof_luggage_x_mm=-1200,
        roof_luggage_on=rack,
    )


@pytest.fixture
def by() -> Person:
    return PersonFactory()


def links_of(build: BuildJob) -> dict[str, list[str | None]]:
    """Every link of every row by key, whichever ids the rows have."""

    def key(row: LineItem | Circuit | None) -> str | None:
        return row and row.key

    found = {
        f"item {i.key}": [
            key(i.circuit),
            key(i.output_circuit),
            key(i.charges),
            key(i.carried_by),
            i.switch_position and i.switch_position.key,
        ]
        for i in build.items.all()
    }
    found |= {
        f"circuit {c.key}": [
            str(c.fed_by_start_battery),
            key(c.fed_by_item),
            key(c.fed_by_circuit),
        ]
        for c in build.circuits.all()
    }
    return found | {"roof": [key(build.roof_luggage_on)]}


def test_a_variant_is_the_same_record(build: BuildJob, by: Person):
    variant = variants.open_variant(build=build, by=by)

    assert take_record(variant) == take_record(build)
    assert variant.report.results == build.report.results
    links = links_of(build)
    assert links_of(variant) == links
    # The fixture has each kind of link, or the comparison would prove nothing.
    for n in range(5):
        assert any(row[n] for key, row in links.items() if key.startswith("item"))
    for n in range(3):
        assert any(row[n] for key, row in links.items() if key.startswith("circuit"))
    assert links["roof"] == ["roof-rack"]


def test_no_link_of_a_variant_leads_back_to_the_original(build: BuildJob, by: Person):
    variant = variants.open_variant(build=build, by=by)

    for item in variant.items.all():
        for other in (item.circuit, item.output_circuit, item.charges, item.carried_by):
            assert other is None or other.build_id == variant.pk
    for circuit in variant.circuits.all():
        for other in (circuit.fed_by_item, circuit.fed_by_circuit):
            assert other is None or other.build_id == variant.pk
    assert variant.roof_luggage_on.build_id == variant.pk


def test_a_variant_starts_without_dates_approval_or_ticks(build: BuildJob, by: Person):
    add_task(
        build=build,
        title="Wash the chassis",
        steps=[{"kind": "reading", "text": "Water", "unit": "kPa", "low": 100}],
    )
    jobs.move_stage(build=build, to=Stage.SPECIFIED, by=by)
    variant = variants.open_variant(build=build, by=by)
    variant.refresh_from_db()

    assert variant.title == "River survey ute, variant B"
    assert variant.number != build.number
    assert (variant.variant_of, variant.stage) == (build, Stage.SPECIFIED)
    assert variant.customer == build.customer
    assert variant.vehicle == build.vehicle
    assert (variant.approved_on, variant.bay, variant.booked_in_on) == (None,) * 3
    assert not variant.events.exists()
    assert not variant.packs.exists()
    assert not variant.items.exclude(serial="").exists()
    plan = Task.objects.order_by("pk").values_list("title", "skill", "estimate_h")
    assert list(plan.filter(build=variant)) == list(plan.filter(build=build))
    step = variant.tasks.get(line_item=None).steps.get()
    assert (step.kind, step.unit, step.low) == ("reading", "kPa", 100)


def test_a_variant_of_a_variant_belongs_to_the_first(build: BuildJob, by: Person):
    second = variants.open_variant(build=build, by=by)
    third = variants.open_variant(build=second, by=by)

    assert third.variant_of == build
    assert third.title == "River survey ute, variant C"
    assert list(variants.family_of(third)) == [build, second, third]


def test_a_long_title_leaves_room_for_its_letter(by: Person):
    build = BuildJobFactory(title="x" * 120)

    assert variants.open_variant(build=build, by=by).title.endswith("x, variant B")


def test_a_change_of_the_variant_leaves_the_original_as_it_was(
    build: BuildJob, by: Person
):
    before = take_record(build)
    variant = variants.open_variant(build=build, by=by)
    line_items.remove_line_item(item=variant.items.get(kind="fridge"))

    assert take_record(BuildJob.objects.get(pk=build.pk)) == before


def test_copying_asks_the_database_no_more_for_more_links(
    build: BuildJob, by: Person, django_assert_max_num_queries
):
    """Apart from the work that is planned for each line."""
    for n in range(30):
        LineItemFactory(build=build, part=PartTypeFactory(fridge=True, name=f"L {n}"))
    empty = BuildJobFactory(vehicle=VehicleFactory())
    with django_assert_max_num_queries(20):
        variants._copy_contents(build, empty)


def test_one_is_taken_and_the_others_are_set_aside(build: BuildJob, by: Person):
    second = variants.open_variant(build=build, by=by)
    third = variants.open_variant(build=build, by=by)

    left = variants.take_variant(build=second)

    assert left == [build, third]
    build.refresh_from_db()
    assert build.set_aside_why == f"{second.number} was taken instead."
    assert not build.is_open
    with pytest.raises(ValidationError, match="Take it up again first"):
        line_items.add_part(build=build, part=PartTypeFactory())
    with pytest.raises(ValidationError, match="Take it up again first"):
        jobs.move_stage(build=build, to=Stage.SPECIFIED, by=by)

    build.refresh_from_db()
    variants.take_up(build=build)
    line_items.add_part(build=build, part=PartTypeFactory())
    with pytest.raises(ValidationError, match="is not set aside"):
        variants.take_up(build=build)


def test_nothing_is_taken_over_the_head_of_one_that_is_booked(
    build: BuildJob, by: Person
):
    second = variants.open_variant(build=build, by=by)
    third = variants.open_variant(build=build, by=by)
    BuildJob.objects.filter(pk=third.pk).update(stage=Stage.BOOKED)

    with pytest.raises(ValidationError, match="Move it back"):
        variants.take_variant(build=second)

    build.refresh_from_db()
    assert build.set_aside_at is None  # all of it or nothing


def test_a_build_is_set_aside_once_and_with_a_reason(build: BuildJob):
    with pytest.raises(ValidationError, match="Say why"):
        variants.set_aside(build=build, why="  ")
    variants.set_aside(build=build, why="Too heavy")
    with pytest.raises(ValidationError, match="already"):
        variants.set_aside(build=build, why="Too heavy")
    with pytest.raises(ValidationError, match="Take it up again"):
        variants.open_variant(build=build, by=PersonFactory())


def test_a_variant_is_opened_and_compared_at_the_desk(office: Client, build: BuildJob):
    set_rates("100")
    page = words(office.get(build.get_absolute_url()))
    assert "Try a variant" in page
    opened = office.post(reverse("variant-new", args=[build.pk]))
    variant = BuildJob.objects.get(variant_of=build)
    assert opened.url == variant.get_absolute_url()
    fridge = variant.items.get(kind="fridge")
    line_items.update_line_item(item=fridge, mass_kg=Decimal(40))
    line_items.remove_line_item(item=variant.items.get(kind="driving-lamps"))
    line_items.add_part(
        build=BuildJob.objects.get(pk=variant.pk),
        part=PartTypeFactory(name="Snorkel bracket", mass_kg=Decimal(900)),
    )

    page = office.get(reverse("compare", args=[build.pk, variant.pk]))

    assert page.status_code == 200
    text = words(page)
    # 22 kg of fridge became 40, 6 kg of lamps went, 900 kg came.
    assert "A better: 912 kg more in hand" in text
    assert "A better: 912 kg lighter" in text
    assert "B better: 0.5 h" not in text  # a lamp's hours went, a bracket's came
    assert "In A only Driving lamps In B only Snorkel bracket" in text
    assert "Mass, kg 22 40" in text
    assert "To look at in B only:" in text
    assert "Rear axle" in text
    back = words(office.get(reverse("compare", args=[variant.pk, build.pk])))
    assert "B better: 912 kg more in hand" in back
    assert "To look at in A only:" in back
    assert "B: within." in back  # the rear axle, which is over in A


def test_the_same_twice_is_said_to_be_the_same(office: Client, build: BuildJob):
    office.post(reverse("variant-new", args=[build.pk]))
    variant = BuildJob.objects.get(variant_of=build)

    page = words(office.get(reverse("compare", args=[build.pk, variant.pk])))

    assert "Both are fitted, fed and used alike." in page
    assert "The same checks stand open in both." in page
    assert "better:" not in page


def test_the_use_that_differs_is_named(office: Client, build: BuildJob):
    office.post(reverse("variant-new", args=[build.pk]))
    variant = BuildJob.objects.get(variant_of=build)
    jobs.update_build(build=variant, people=4)

    page = words(office.get(reverse("compare", args=[build.pk, variant.pk])))

    assert "How it is used People 2 4" in page


def test_another_open_build_of_the_vehicle_is_offered(office: Client, build: BuildJob):
    other = BuildJobFactory(vehicle=build.vehicle, title="Lamps alone")
    foreign = BuildJobFactory()

    page = words(office.get(reverse("build-variants", args=[build.pk])))
    assert f"Compare with {other.number} Lamps alone" in page
    compare = reverse("compare", args=[build.pk, other.pk])
    assert office.get(compare).status_code == 200
    assert "Take this one" not in words(office.get(compare))
    for wrong in (foreign.pk, build.pk):
        url = reverse("compare", args=[build.pk, wrong])
        assert office.get(url).status_code == 404
    variants.set_aside(build=other, why="Dropped")
    assert office.get(compare).status_code == 404


def test_taking_one_at_the_desk(office: Client, build: BuildJob):
    office.post(reverse("variant-new", args=[build.pk]))
    variant = BuildJob.objects.get(variant_of=build)

    page = office.post(reverse("variant-take", args=[variant.pk]), follow=True)

    assert f"{variant.number} is the one that goes on." in words(page)
    shown = words(office.get(build.get_absolute_url()))
    assert f"{variant.number} was taken instead." in shown
    assert "Add this part" not in shown
    listed = office.get(reverse("builds"))
    assert [row.build for row in listed.context["rows"]] == [variant]
    assert f"variant of {build.number}" in words(listed)
    aside = office.get(reverse("builds"), {"stage": "set-aside"})
    assert [row.build for row in aside.context["rows"]] == [build]
    office.post(reverse("take-up", args=[build.pk]))
    assert len(office.get(reverse("builds")).context["rows"]) == 2


def test_setting_aside_at_the_desk_asks_for_the_reason(office: Client, build: BuildJob):
    url = reverse("set-aside", args=[build.pk])

    refused = office.post(url, {"why": ""})
    assert refused.status_code == 422
    assert "Say why it does not go on." in words(refused)
    assert office.post(url, {"why": "x" * 201}).status_code == 422
    assert office.post(url, {"why": "Sold the vehicle"}).status_code == 302
    again = office.post(url, {"why": "Once more"})
    assert again.status_code == 422
    assert "is set aside already" in words(again)
    for name in ("variant-new", "variant-take"):
        refused = office.post(reverse(name, args=[build.pk]))
        assert refused.status_code == 422
        assert "Take it up again first" in words(refused)
    office.post(reverse("take-up", args=[build.pk]))
    assert office.post(reverse("take-up", args=[build.pk])).status_code == 422


def test_what_is_set_aside_is_not_in_the_week(office: Client, build: BuildJob):
    jobs.update_build(build=build, booked_in_on="2026-03-02", promised_on="2026-03-04")
    jobs.update_build(build=build, bay=BayFactory())
    week = reverse("week") + "?from=2026-03-02"
    assert build.number in words(office.get(week))
    variants.set_aside(build=build, why="Dropped")
    assert build.number not in words(office.get(week))


def test_a_fitter_sees_no_variants(shop: Client, build: BuildJob, by: Person):
    variant = variants.open_variant(build=build, by=by)

    for name in ("build-variants", "variant-new", "variant-take", "set-aside"):
        url = reverse(name, args=[build.pk])
        method = shop.get if name == "build-variants" else shop.post
        assert method(url).status_code == 403
    compare = reverse("compare", args=[build.pk, variant.pk])
    assert shop.get(compare).status_code == 403
    page = words(shop.get(variant.get_absolute_url()))
    assert "Try a variant" not in page
    assert f"variant of {build.number}" in page


def test_a_variant_needs_what_any_build_needs(build: BuildJob, by: Person):
    """Of a build whose stage asks for more than the copy has, it stays an enquiry."""
    jobs.move_stage(build=build, to=Stage.SPECIFIED, by=by)
    jobs.update_build(build=build, people=None)
    variant = variants.open_variant(build=build, by=by)

    assert blockers(build=variant, to=Stage.SPECIFIED, by=by)
    assert variant.stage == Stage.ENQUIRY


def test_opening_a_variant_twice_gives_two_letters(office: Client, build: BuildJob):
    for _ in range(2):
        office.post(reverse("variant-new", args=[build.pk]))

    titles = BuildJob.objects.filter(variant_of=build).values_list("title", flat=True)
    assert [title[-1] for title in titles.order_by("pk")] == ["B", "C"]
