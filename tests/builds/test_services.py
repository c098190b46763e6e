"""Every service that changes a build leaves checks that answer for it as it stands."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from builds.models import BuildJob, CheckReport, Circuit, LineItem, Stage
from builds.money import totals_of
from builds.services import circuits, jobs, line_items, vehicles
from builds.services.checks import report_of
from builds.services.stages import blockers
from builds.snapshots import digest_of, take_record
from tests.factories import (
    BuildJobFactory,
    LineItemFactory,
    PackageFactory,
    PartTypeFactory,
    PersonFactory,
)
from workshop import services as site_services
from workshop.models import LabourRate, Site, Vehicle
from workshop.saving import StaleError

pytestmark = pytest.mark.django_db


def is_fresh(build: BuildJob) -> bool:
    stored = BuildJob.objects.get(pk=build.pk)
    report = CheckReport.objects.get(build=stored)
    return report.digest == digest_of(take_record(stored))


@pytest.fixture
def build() -> BuildJob:
    made = BuildJobFactory()
    LineItemFactory(build=made, part=PartTypeFactory(battery=True))
    LineItemFactory(build=made, part=PartTypeFactory(charger=True))
    LineItemFactory(build=made, part=PartTypeFactory(fridge=True))
    LineItemFactory(build=made, part=PartTypeFactory(lamps=True))
    return made


def fridge(build: BuildJob) -> LineItem:
    return build.items.select_related("build__vehicle").get(kind="fridge")


def lamps(build: BuildJob) -> LineItem:
    return build.items.select_related("build__vehicle").get(kind="driving-lamps")


CHANGES: dict[str, Callable[[BuildJob], object]] = {
    "add_part": lambda b: line_items.add_part(build=b, part=PartTypeFactory()),
    "add_package": lambda b: line_items.add_package(
        build=b, package=PackageFactory(parts=[PartTypeFactory(), PartTypeFactory()])
    ),
    "add_line_item": lambda b: line_items.add_line_item(
        build=b, label="Toolbox", kind="toolbox", zone="cargo", mass_kg=Decimal(30)
    ),
    "update_line_item": lambda b: line_items.update_line_item(
        item=fridge(b), mass_kg=Decimal(44)
    ),
    "place a switch": lambda b: line_items.update_line_item(
        item=lamps(b), switch_position=b.vehicle.switch_positions.all()[0]
    ),
    "remove_line_item": lambda b: line_items.remove_line_item(item=fridge(b)),
    "add_circuit": lambda b: circuits.add_circuit(
        build=b, label="Spare", fed_by_start_battery=True, fuse_a=Decimal(10)
    ),
    "update_circuit": lambda b: circuits.update_circuit(
        circuit=fridge(b).circuit, area_mm2=Decimal(1)
    ),
    "remove_circuit": lambda b: circuits.remove_circuit(
        circuit=circuits.add_circuit(build=b, label="Spare", fed_by_start_battery=True)
    ),
    "update_build": lambda b: jobs.update_build(build=b, people=4),
    "move_stage": lambda b: jobs.move_stage(
        build=b, to="specified", by=PersonFactory()
    ),
    "the vehicle's plate": lambda b: vehicles.update_vehicle(
        vehicle=Vehicle.objects.get(pk=b.vehicle_id), rear_axle_kg=Decimal(1200)
    ),
    "a new switch place": lambda b: vehicles.add_switch_position(
        vehicle=b.vehicle, panel="dash left", label="top"
    ),
    "a switch place less": lambda b: vehicles.remove_switch_position(
        place=b.vehicle.switch_positions.last()
    ),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_a_change_leaves_fresh_checks(build: BuildJob, change):
    assert is_fresh(build)

    change(build)

    assert is_fresh(build)


def test_changes_that_count_are_seen_by_the_checks(build: BuildJob):
    """Keep the test above honest: these changes do alter the stored answer."""
    for name in ("update_line_item", "update_circuit", "the vehicle's plate"):
        before = CheckReport.objects.get(build=build).digest
        CHANGES[name](build)
        assert CheckReport.objects.get(build=build).digest != before, name


def test_a_lowered_axle_limit_becomes_a_stop_at_once(build: BuildJob):
    vehicles.update_vehicle(vehicle=build.vehicle, rear_axle_kg=Decimal(1000))

    found = CheckReport.objects.get(build=build).results["findings"]
    rear = next(f for f in found if f["key"] == "axle-mass.rear")
    assert (rear["verdict"], rear["severity"]) == ("over", "stop")


def test_a_write_round_the_services_is_noticed_when_the_checks_are_read(
    build: BuildJob,
):
    build.items.filter(kind="fridge").update(mass_kg=Decimal(300))
    assert not is_fresh(build)

    shown = report_of(build=BuildJob.objects.get(pk=build.pk)).results

    assert is_fresh(build)
    gvm = next(f for f in shown["findings"] if f["key"] == "gvm")
    assert gvm["value"] > 2600


def test_what_is_released_keeps_its_findings(build: BuildJob):
    before = report_of(build=build)
    BuildJob.objects.filter(pk=build.pk).update(stage="released")
    Vehicle.objects.filter(pk=build.vehicle_id).update(rear_axle_kg=100)

    after = report_of(build=BuildJob.objects.get(pk=build.pk))
    assert after.digest == before.digest
    assert after.results == before.results


def test_a_figure_of_the_workshops_own_is_used_and_marked_at_once(build: BuildJob):
    before = report_of(build=build).results
    site_services.set_own_figures(figures={"fuse_load_factor": 0.5})
    Site.objects.update(own_figures={"fuse_load_factor": 0.5, "dropped_since": 1})
    assert not is_fresh(build)

    after = report_of(build=BuildJob.objects.get(pk=build.pk)).results

    assert is_fresh(build)
    marks = {
        step["mark"]
        for finding in after["findings"]
        for step in finding["working"]
        if step["value"] == 0.5
    }
    assert "workshop rule" in marks
    assert after["findings"] != before["findings"]
    assert take_record(build)["settings"] == {"fuse_load_factor": 0.5}


def test_a_record_is_taken_with_as_many_questions_for_any_size(
    build: BuildJob, django_assert_num_queries
):
    def asked(count: int) -> None:
        fresh = BuildJob.objects.select_related("vehicle", "trailer").get(pk=build.pk)
        with django_assert_num_queries(count):
            take_record(fresh)

    asked(4)  # items, circuits, switch places, the workshop's own figures
    rack = LineItemFactory(
        build=build, part=PartTypeFactory(carrier_limit_kg=Decimal(50))
    )
    panel = {"role": "panel", "power_w": 100}
    for _ in range(5):
        LineItemFactory(build=build, carried_by=rack)
        LineItemFactory(
            build=build, part=PartTypeFactory(supply=panel, fuse_a=Decimal(15))
        )
    jobs.update_build(
        build=BuildJob.objects.get(pk=build.pk),
        roof_luggage_kg=Decimal(9),
        roof_luggage_on=rack,
    )
    assert build.circuits.filter(fed_by_item__supply__role="panel").count() == 5
    asked(4)


def test_a_part_brings_its_supply_tasks_and_place(build: BuildJob):
    item = lamps(build)

    assert item.circuit is not None
    assert item.circuit.fed_by_start_battery
    assert item.circuit.fuse_a == 20
    assert item.x_mm == 930  # the front end of the vehicle
    assert [t.title for t in item.tasks.all()] == ["Driving lamps"]
    assert fridge(build).circuit.fed_by_circuit.label == "Main feed, Aux battery 100"


def test_a_refused_change_leaves_nothing_behind(build: BuildJob):
    count, circuits_before = build.items.count(), build.circuits.count()
    part = PartTypeFactory(fridge=True, mass_kg=Decimal("-1"))

    with pytest.raises(ValidationError):
        line_items.add_part(build=build, part=part)

    assert build.items.count() == count
    assert build.circuits.count() == circuits_before
    assert is_fresh(build)


def test_a_place_is_given_once(build: BuildJob):
    place = build.vehicle.switch_positions.all()[0]
    line_items.update_line_item(item=lamps(build), switch_position=place)
    other = LineItemFactory(
        build=build, part=PartTypeFactory(lamps=True, name="Roof bar")
    )

    with pytest.raises(ValidationError, match="already taken by Driving lamps"):
        line_items.update_line_item(item=other, switch_position=place)


def test_a_loop_of_circuits_is_refused(build: BuildJob):
    circuit = fridge(build).circuit
    feeder = circuit.fed_by_circuit

    with pytest.raises(ValidationError, match="is itself fed from this circuit"):
        circuits.update_circuit(
            circuit=feeder, fed_by_item=None, fed_by_circuit=circuit
        )

    assert Circuit.objects.get(pk=feeder.pk).fed_by_circuit is None


def test_removing_the_battery_names_what_it_feeds(build: BuildJob):
    battery = build.items.get(kind="aux-battery")

    with pytest.raises(ValidationError, match="feeds Main feed"):
        line_items.remove_line_item(item=battery)


def test_a_released_build_is_closed(build: BuildJob):
    BuildJob.objects.filter(pk=build.pk).update(stage="released")
    closed = BuildJob.objects.get(pk=build.pk)

    with pytest.raises(ValidationError, match="no longer"):
        line_items.add_part(build=closed, part=PartTypeFactory())
    with pytest.raises(ValidationError, match="no longer"):
        jobs.update_build(build=closed, title="Another")


def spare_battery(build: BuildJob) -> LineItem:
    return line_items.add_line_item(
        build=build,
        label="Spare battery",
        kind="aux-battery",
        zone="cargo",
        supply={"role": "battery", "chemistry": "lfp", "capacity_ah": 100.0},
    )


def test_a_battery_that_hangs_on_a_circuit_of_its_own_is_removed(build: BuildJob):
    battery = spare_battery(build)
    own = circuits.add_circuit(build=build, label="Own", fed_by_item=battery)
    line_items.update_line_item(item=battery, circuit=own)

    line_items.remove_line_item(item=battery)

    assert not build.items.filter(label="Spare battery").exists()
    assert not build.circuits.filter(label="Own").exists()


def test_a_battery_whose_circuit_a_charger_uses_is_not_removed(build: BuildJob):
    battery = spare_battery(build)
    out = circuits.add_circuit(build=build, label="Out", fed_by_item=battery)
    LineItem.objects.filter(pk=fridge(build).pk).update(output_circuit=out)

    with pytest.raises(ValidationError, match="feeds Out"):
        line_items.remove_line_item(item=battery)

    assert build.circuits.filter(label="Out").exists()


def test_what_was_read_before_another_save_does_not_put_it_back(build: BuildJob):
    read_before = BuildJob.objects.get(pk=build.pk)
    jobs.update_build(build=BuildJob.objects.get(pk=build.pk), title="Another")

    with pytest.raises(StaleError):
        jobs.move_stage(build=read_before, to=Stage.SPECIFIED, by=PersonFactory())

    assert BuildJob.objects.get(pk=build.pk).title == "Another"


def test_a_build_adds_up_to_the_cent():
    """Worked by hand: parts 3 × 33.35 = 100.05; labour 3 × (0.5 × 99.99 + 0.25 × 80)
    = 3 × 69.995 = 209.985, so 209.99; fitting the customer's own 1 × 80 = 80.00;
    tax 10 % of 390.04 = 39.004, so 39.00; together 429.04.
    """
    LabourRate.objects.create(skill="electrical", rate_per_h=Decimal("99.99"))
    LabourRate.objects.create(skill="body", rate_per_h=Decimal(80))
    build = BuildJobFactory()
    BuildJob.objects.filter(pk=build.pk).update(tax_percent=Decimal(10))
    line = {"kind": "toolbox", "zone": "cargo", "mass_kg": Decimal(5)}
    line_items.add_line_item(
        build=build,
        label="Socket",
        quantity=3,
        price=Decimal("33.35"),
        labour={"electrical": 0.5, "body": 0.25},
        **line,
    )
    line_items.add_line_item(
        build=build,
        label="Drawer brought along",
        supplied_by="customer",
        price=Decimal(900),
        labour={"body": 1},
        **line,
    )
    line_items.add_line_item(build=build, label="Not priced yet", **line)

    totals = totals_of(BuildJob.objects.get(pk=build.pk))

    assert (totals.parts, totals.labour) == (Decimal("100.05"), Decimal("289.99"))
    assert (totals.tax, totals.total) == (Decimal("39.00"), Decimal("429.04"))
    assert (totals.hours, totals.unpriced) == (Decimal("3.25"), 1)


def test_nothing_is_quoted_while_work_has_no_rate():
    build = BuildJobFactory()
    line_items.add_line_item(
        build=build,
        label="Toolbox",
        kind="toolbox",
        zone="cargo",
        mass_kg=Decimal(5),
        x_mm=-3000,
        price=Decimal(10),
        labour={"body": 1, "electrical": 0},
    )
    manager = PersonFactory(manager=True)

    missing = [b.sentence for b in blockers(build=build, to=Stage.QUOTED, by=manager)]
    assert (
        missing[0]
        == "Body and trim work has no rate: a manager sets it under Workshop."
    )

    LabourRate.objects.create(skill="body", rate_per_h=Decimal(0))
    left = blockers(build=build, to=Stage.QUOTED, by=manager)
    assert not [b for b in left if "no rate" in b.sentence]
