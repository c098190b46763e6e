"""The demonstration workshop loads whole, and its story is true."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from builds.demo import scenario
from builds.models import BuildJob, CheckReport, LineItem, Stage
from builds.services import circuits, line_items
from builds.services.coverage import coverage_gaps
from workshop.models import Person, Role, Site, TypeSheet, Vehicle

pytestmark = pytest.mark.django_db


def findings(build: BuildJob) -> dict[str, dict]:
    stored = CheckReport.objects.get(build=build).results["findings"]
    return {finding["key"]: finding for finding in stored}


def stops(build: BuildJob) -> list[str]:
    return [key for key, f in findings(build).items() if f["severity"] == "stop"]


def test_the_demo_tells_its_story():
    """One load, looked at from all sides: loading takes seconds."""
    assert scenario.is_empty()
    scenario.load()
    assert not scenario.is_empty()

    check_people_and_vehicles()
    main = BuildJob.objects.get(title="River survey ute")
    check_stages(main)
    check_main_build(main)
    check_what_stands_on_what(main)
    check_the_wrong_circuit(main)
    check_the_re_rating(main)


def check_people_and_vehicles() -> None:
    assert Site.current().is_demo
    assert {p.role for p in Person.objects.all()} == set(Role.values)
    assert Person.objects.get(username="june").check_password(scenario.PASSWORD)
    vehicles = Vehicle.objects.all()
    assert len(vehicles) == 6
    assert sum(v.is_trailer for v in vehicles) == 2
    assert TypeSheet.objects.filter(system_v=24).exists()
    assert all((v.type_sheet and v.gvm_kg) or v.is_trailer for v in vehicles)


def check_stages(main: BuildJob) -> None:
    stages = dict(BuildJob.objects.values_list("title", "stage"))
    assert len(stages) == len(set(stages.values())) == 3
    assert stages[main.title] == Stage.SPECIFIED
    second = BuildJob.objects.get(stage=Stage.IN_WORK)
    assert second.events.count() >= 4
    assert second.approved_total > 0


def check_main_build(main: BuildJob) -> None:
    items = list(main.items.all())
    assert len(items) >= 40
    assert main.trailer is not None
    assert main.hitched
    assert coverage_gaps(build=main) == []
    switched = [i for i in items if i.switch_kind == "position"]
    places = [i.switch_position_id for i in switched]
    assert len(set(places)) == len(places) >= 5
    assert None not in places
    assert {i.supplied_by for i in items} == {"workshop", "customer"}


def check_what_stands_on_what(main: BuildJob) -> None:
    """Roof and cargo stand on what says how much it carries, and none of it is over."""
    carried = main.report.results["load"]["carriers"]
    assert sum(c["carried_kg"] > 0 for c in carried.values()) >= 5
    assert {c["verdict"] for c in carried.values()} == {"within"}
    fridge = main.items.get(part__key="fridge-45")
    assert fridge.carried_by.carried_by.part.key == "drawers-twin"
    assert main.report.results["load"]["cg"]["rise_m"] > 0
    unknown = [f for f in findings(main).values() if f["verdict"] == "unknown"]
    assert unknown == []  # every circuit, both ends of chargers and panels, is entered
    [lead] = main.circuits.filter(fed_by_item__supply__role="panel")
    assert main.items.get(part__key="solar-inlet").circuit == lead


def check_the_wrong_circuit(main: BuildJob) -> None:
    """Exactly one stop; doing what it asks for clears it."""
    [key] = stops(main)
    wrong = findings(main)[key]
    circuit = main.items.get(part__key="fridge-45").circuit
    assert wrong["subject"] == circuit.key
    assert wrong["value"] > wrong["limit"]
    advice = re.fullmatch(
        r"Fit ([\d.]+) mm² instead of 1.5 mm² .*", wrong["would_clear"]
    )
    assert advice, wrong["would_clear"]

    circuits.update_circuit(circuit=circuit, area_mm2=Decimal(advice[1]))

    assert stops(main) == []
    mended = findings(main)[key]
    assert (mended["verdict"], mended["severity"]) == ("within", "clear")
    assert mended["value"] <= mended["limit"]


def check_the_re_rating(main: BuildJob) -> None:
    """The rear axle fits with the paper of its re-rating and not without it."""
    rear = findings(main)["axle-mass.rear"]
    assert (rear["verdict"], rear["severity"]) == ("within", "clear")
    assert 0 < rear["limit"] - rear["value"] < 100  # it only just fits
    kit = LineItem.objects.get(build=main, part__key="suspension-gvm-300")
    assert kit.raise_paper

    line_items.update_line_item(item=kit, raise_paper="")

    rear = findings(main)["axle-mass.rear"]
    assert (rear["verdict"], rear["severity"]) == ("over", "stop")
    assert rear["limit"] == float(main.vehicle.rear_axle_kg)
    assert "axle-mass.rear" in stops(main)
