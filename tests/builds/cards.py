"""A small job card: one task with a step, a hold point and a reading, and another."""

from __future__ import annotations

from dataclasses import dataclass

from builds.models import BuildJob, LineItem, Stage, Task, TaskStep
from workshop.models import Customer, Person, Role, Vehicle


@dataclass
class SmallCard:
    build: BuildJob
    task: Task
    step: TaskStep
    hold: TaskStep
    reading: TaskStep
    other: Task
    other_step: TaskStep
    tavi: Person
    rosa: Person


def make_person(username, role=Role.FITTER):
    found = Person.objects.filter(username=username).first()
    return found or Person.objects.create_user(
        username, password="bench-vice-2207", first_name=username.title(), role=role
    )


def make_card(number="B26-0001", *, stage=Stage.IN_WORK, with_item=False):
    customer = Customer.objects.create(
        name="Orla Quell",
        phone="5550 1234",
        email="orla@example.org",
        address="7 Invented Lane",
    )
    vehicle = Vehicle.objects.create(
        customer=customer,
        maker="Corvane",
        model="Tarn",
        body_type="dual-cab-ute",
        wheelbase_mm=3200,
    )
    build = BuildJob.objects.create(
        number=number,
        title="River survey",
        customer=customer,
        vehicle=vehicle,
        jurisdiction="AU-QLD",
        stage=stage,
    )
    item = None
    if with_item:
        item = LineItem.objects.create(
            build=build,
            key="front-bar",
            label="Front bar",
            kind="front-bar",
            zone="front",
            x_mm=700,
            price="1987.65",
            place_text="On the chassis rails",
            caution_text="Keep the radar clear.",
        )
    task = Task.objects.create(
        build=build, line_item=item, title="Front bar", estimate_h="3.5"
    )
    step, hold, reading = (
        TaskStep.objects.create(task=task, order=n, **fields)
        for n, fields in enumerate(
            [
                {"kind": "step", "text": "Tighten the mounts", "torque_nm": "110"},
                {"kind": "hold", "text": "Second person checks the mounts"},
                {
                    "kind": "reading",
                    "text": "Voltage at the lamp plug",
                    "unit": "V",
                    "low": "11.9",
                    "high": "14.8",
                },
            ],
            start=1,
        )
    )
    other = Task.objects.create(build=build, title="Fridge feed")
    other_step = TaskStep.objects.create(
        task=other, order=1, kind="step", text="Run the cable"
    )
    return SmallCard(
        build,
        task,
        step,
        hold,
        reading,
        other,
        other_step,
        make_person("tavi"),
        make_person("rosa"),
    )
