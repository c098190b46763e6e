"""The demonstration workshop: every name, place and number in it is invented."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from builds.csv_files import decode
from builds.models import BuildJob, LineItem, PartType, Stage, StepKind, SwitchKind
from builds.services import (
    catalogue,
    circuits,
    jobs,
    line_items,
    packages,
    vehicles,
)
from builds.services.tasks import NewEvent, record_events
from workshop import services
from workshop.models import Bay, Customer, Person, Role, Site, Skill, TypeSheet, Vehicle

FOLDER = Path(__file__).parent

PASSWORD = "tallow-creek-4471"  # noqa: S105 - printed at start, for the demo only
PEOPLE = [
    ("june", "June", "Aberly", Role.ADVISOR),
    ("tavi", "Tavi", "Rook", Role.FITTER),
    ("rosa", "Rosa", "Lindmoor", Role.FITTER),
    ("hal", "Hal", "Merrin", Role.MANAGER),
]
RATES = {
    Skill.MECHANICAL: "128",
    Skill.ELECTRICAL: "136",
    Skill.BODY: "118",
    Skill.SUSPENSION: "132",
}
BAYS = [("Hoist 1", True, 7000), ("Hoist 2", True, 7000), ("Floor bay", False, 9000)]

MAIN_PARTS = [
    "aux-battery-lfp-100",
    "dcdc-charger-40",
    "fuse-board-rear-12",
    "solar-panel-200",
    "solar-inlet",
    "battery-monitor",
    "front-bar-alloy",
    "radar-relocation-kit",
    "winch-9500-rope",
    "driving-lamps-180",
    "antenna-uhf-6db",
    "antenna-phone",
    "front-recovery-points",
    "start-battery-isolator",
    "compressor-twin-tank",
    "awning-side-25",
    "side-lamps-pair",
    "roof-rack-cab",
    "roof-light-bar-1100",
    "beacon-amber",
    "snorkel-poly",
    "towing-mirrors",
    "air-outlet-hose",
    "tow-bar-3500",
    "trailer-wiring-12",
    "heavy-duty-plug-rear",
    "work-lamps-rear",
    "reversing-camera",
    "rear-bar-carrier",
    "jerry-holder-twin",
    "canopy-steel",
    "drawers-twin",
    "drawer-strip-lights",
    "fridge-slide",
    "fridge-45",
    "outlet-panel-rear",
    "cargo-barrier",
    "water-tank-40",
    "water-pump",
    "uhf-radio-remote",
    "phone-repeater",
    "brake-controller",
    "outlet-usb-cabin",
    "fire-extinguisher",
    "first-aid-mount",
    "air-springs-helper",
    "air-spring-control",
    "suspension-gvm-300",
    "underbody-plates",
]
STANDS_ON = {
    "awning-side-25": "roof-rack-cab",
    "roof-light-bar-1100": "roof-rack-cab",
    "beacon-amber": "roof-rack-cab",
    "solar-panel-200": "canopy-steel",
    "jerry-holder-twin": "rear-bar-carrier",
    "fridge-slide": "drawers-twin",
    "fridge-45": "fridge-slide",
}
SECOND_PARTS = [
    "aux-battery-lfp-60",
    "dcdc-charger-25",
    "uhf-radio-compact",
    "antenna-uhf-6db",
    "drawers-wagon",
    "tow-bar-3500",
    "trailer-wiring-12",
    "brake-controller",
    "reversing-camera",
]


def _read(name: str) -> str:
    return decode((FOLDER / name).read_bytes())


@transaction.atomic
def load() -> None:
    """Fill an empty database; all of it or none."""
    services.update_site(
        name="Tallow Creek Fitting Works",
        address="Invented address, 4 Slipway Lane\nTallow Creek",
        phone="(00) 5550 0142",
        help_phone="(00) 5550 0199",
        email="desk@tallowcreek.example",
        is_demo=True,
    )
    for username, first, last, role in PEOPLE:
        services.add_person(
            username=username,
            first_name=first,
            last_name=last,
            role=role,
            password=PASSWORD,
        )
    services.set_rates(rates={skill: Decimal(rate) for skill, rate in RATES.items()})
    for name, hoist, length in BAYS:
        services.add_bay(name=name, has_hoist=hoist, max_length_mm=length)
    catalogue.import_type_sheets(text=_read("type_sheets.csv"))
    catalogue.import_part_types(text=_read("part_types.csv"))
    packages.import_packages(text=_read("packages.csv"))
    fleet = _fleet()
    main = _main_build(fleet)
    assert main.stage == Stage.SPECIFIED
    _second_build(fleet)
    _third_build(fleet)


def _customer(name: str, phone: str, address: str) -> Customer:
    return services.add_customer(
        name=name, phone=phone, address=f"{address} (invented)"
    )


def _vehicle(owner: Customer, sheet: str, **own: Any) -> Vehicle:
    type_sheet = TypeSheet.objects.get(key=sheet)
    return vehicles.add_vehicle(customer=owner, type_sheet=type_sheet, **own)


def _fleet() -> dict[str, Vehicle]:
    survey = _customer("Saltmarsh River Survey", "(00) 5550 0110", "2 Weir Road")
    nova = _customer("Petra Novasel", "(00) 5550 0121", "18 Quarry Street")
    ploy = _customer("พลอย แสงทอง", "(00) 5550 0133", "7 Ferry Parade")
    weighed = {
        "base_definition": "weighed",
        "base_mass_kg": Decimal("2120"),
        "base_front_kg": Decimal("1200"),
        "base_rear_kg": Decimal("920"),
        "base_fuel_l": Decimal("80"),
        "base_people": 0,
        "scale_interval_kg": Decimal("20"),
    }
    return {
        "ute": _vehicle(
            survey,
            "tolvane-dotterel-dual",
            plate="RIV 204",
            vin="7AZDT28D4RW004417",
            colour="Sand",
            built_on=date(2025, 3, 1),
            **weighed,
        ),
        "boat": _vehicle(survey, "stavenor-gantry-20-boat", plate="TRL 20B"),
        "van": _vehicle(survey, "harrasby-sanderling-van", plate="RIV 118"),
        "wagon": _vehicle(
            nova, "harrasby-lapwing-wagon", plate="NVA 77", base_people=0
        ),
        "caravan": _vehicle(nova, "cressamoor-bellbrook-16", plate="CRV 16"),
        "short": _vehicle(ploy, "ostrelle-jacana-short", plate="PLS 3"),
    }


def _add(build: BuildJob, keys: list[str]) -> dict[str, LineItem]:
    parts = PartType.objects.in_bulk(keys, field_name="key")
    return {
        key: line_items.add_part(build=build, part=parts[key], check=False)
        for key in keys
    }


def _place_switches(build: BuildJob, preferred: dict[str, str]) -> None:
    """Give each item that needs one a place: the wished one, else the next blank."""
    places = {p.key: p for p in build.vehicle.switch_positions.all()}
    waiting = [
        item
        for item in build.items.walk_around()
        if item.switch_kind == SwitchKind.POSITION and item.switch_position is None
    ]
    chosen = {
        item.pk: places.pop(preferred[item.part.key])
        for item in waiting
        if item.part and preferred.get(item.part.key) in places
    }
    for item in waiting:
        place = chosen.get(item.pk)
        if place is None and places:
            place = places.pop(next(iter(places)))
        if place is not None:
            line_items.update_line_item(item=item, switch_position=place)


def _measure_output(charger: LineItem, *, run_m: Decimal) -> None:
    """Enter how far it is from a charger to its battery, along the cable."""
    assert charger.output_circuit is not None
    circuits.update_circuit(circuit=charger.output_circuit, run_m=run_m)


def _person(username: str) -> Person:
    return Person.objects.get(username=username)


def _main_build(fleet: dict[str, Vehicle]) -> BuildJob:
    ute = fleet["ute"]
    build = jobs.open_build(
        title="River survey ute",
        customer=ute.customer,
        vehicle=ute,
        trailer=fleet["boat"],
        jurisdiction="AU-QLD",
        advisor=_person("june"),
        people=2,
        person_kg=Decimal("85"),
        luggage_kg=Decimal("210"),
        luggage_x_mm=-3600,
        hitched=True,
        trailer_mass_kg=Decimal("1720"),
        trailer_ball_kg=Decimal("172"),
        ambient_c=Decimal("32"),
        latitude_deg=Decimal("-19.5"),
        month=8,
        drive_h_per_day=Decimal("1.5"),
        days=5,
        notes="Two surveyors, five days on the river bank, echo sounder on the boat.",
    )
    added = _add(build, MAIN_PARTS)
    line_items.update_line_item(
        item=added["suspension-gvm-300"], raise_paper="Demo certificate TC-0417"
    )
    line_items.update_line_item(item=added["fridge-45"], supplied_by="customer")
    for key, under in STANDS_ON.items():
        line_items.update_line_item(item=added[key], carried_by=added[under])
    _measure_output(added["dcdc-charger-40"], run_m=Decimal("0.8"))
    # A portable panel plugs in on the way from the fixed one to the charger.
    line_items.update_line_item(
        item=added["solar-inlet"], circuit=added["solar-panel-200"].output_circuit
    )
    _place_switches(
        build,
        {
            "driving-lamps-180": "dash-right-1",
            "roof-light-bar-1100": "dash-right-2",
            "beacon-amber": "roof-console-1",
            "work-lamps-rear": "dash-right-3",
            "water-pump": "tray-side-1",
        },
    )
    # The one circuit that is wrong until somebody mends it.
    fridge = added["fridge-45"].circuit
    assert fridge is not None
    circuits.update_circuit(
        circuit=fridge, area_mm2=Decimal("1.5"), run_m=Decimal("5.5")
    )
    jobs.move_stage(build=build, to=Stage.SPECIFIED, by=_person("june"))
    return build


def _second_build(fleet: dict[str, Vehicle]) -> None:
    wagon = fleet["wagon"]
    today = timezone.localdate()
    june, tavi = _person("june"), _person("tavi")
    build = jobs.open_build(
        title="Touring wagon, towing set",
        customer=wagon.customer,
        vehicle=wagon,
        trailer=fleet["caravan"],
        jurisdiction="AU-NSW",
        advisor=june,
        people=2,
        person_kg=Decimal("75"),
        luggage_kg=Decimal("60"),
        luggage_x_mm=-3000,
        hitched=True,
        trailer_mass_kg=Decimal("1900"),
        trailer_ball_kg=Decimal("170"),
        ambient_c=Decimal("25"),
        drive_h_per_day=Decimal("3"),
        days=3,
        month=4,
        latitude_deg=Decimal("-33"),
    )
    added = _add(build, SECOND_PARTS)
    _measure_output(added["dcdc-charger-25"], run_m=Decimal("1.2"))
    _place_switches(build, {})
    jobs.update_build(
        build=build,
        bay=Bay.objects.get(name="Hoist 1"),
        booked_in_on=today,
        promised_on=today + timedelta(days=4),
        people_assigned=[tavi, _person("rosa")],
    )
    for stage in (Stage.SPECIFIED, Stage.QUOTED):
        jobs.move_stage(build=build, to=stage, by=june)
    jobs.record_approval(build=build, approved_by="Petra Novasel", approved_on=today)
    for stage in (Stage.APPROVED, Stage.BOOKED, Stage.IN_WORK):
        jobs.move_stage(build=build, to=stage, by=june)
    _tick_first_task(build, tavi)


def _tick_first_task(build: BuildJob, fitter: Person) -> None:
    task = build.tasks.order_by("pk")[0]
    now = timezone.now()
    steps = [s for s in task.steps.all() if s.kind == StepKind.STEP][:2]

    def event(kind: str, step_id: int | None, minutes: int, text: str = "") -> NewEvent:
        return NewEvent(
            event_id=uuid4(),
            task_id=task.pk,
            step_id=step_id,
            kind=kind,
            value=None,
            text=text,
            answers=None,
            happened_at=now - timedelta(minutes=minutes),
        )

    events = [event("start", None, 95)]
    events += [event("tick", step.pk, 80) for step in steps]
    events += [event("note", None, 70, "Old tray bolts seized, drilled out.")]
    events += [event("stop", None, 30)]
    record_events(build=build, by=fitter, events=events)


def _third_build(fleet: dict[str, Vehicle]) -> None:
    short = fleet["short"]
    jobs.open_build(
        title="Weekend lamps and radio",
        customer=short.customer,
        vehicle=short,
        jurisdiction="AU-VIC",
        advisor=_person("june"),
    )


def is_empty() -> bool:
    return not (Person.objects.exists() or Site.objects.exists())
