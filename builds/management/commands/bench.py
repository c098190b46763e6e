"""Time the main jobs against floors of the same run; prints, never judges."""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable
from decimal import Decimal
from functools import partial
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandParser
from django.db import transaction
from django.test import Client
from django.utils import timezone

from builds.forms.line_items import LineItemForm
from builds.handover import pack_html, render_pdf
from builds.models import BuildJob, PartType, Stage, StepKind
from builds.services import line_items
from builds.snapshots import take_record
from compliance.assess import assess, calculate
from compliance.energy_days import BatteryDays, battery_days
from compliance.record import parse_record
from compliance.supply import SupplyTree
from tests.compliance.records import a_large_record
from workshop.models import Customer, Person

ITEMS = 60
GROWTH = (80, 200, 500, 1000, 2000)


def median_ms(
    work: Callable[[], object],
    rounds: int,
    clock: Callable[[], float] = time.perf_counter,
) -> float:
    times = []
    for _ in range(rounds):
        start = clock()
        work()
        times.append((clock() - start) * 1000)
    return statistics.median(times)


def core_ms(work: Callable[[], object], rounds: int) -> float:
    """Time of the processor: the core waits for nothing but what else is running."""
    return median_ms(work, rounds, time.process_time)


class Command(BaseCommand):
    help = "Time a save, a tick, a pack and the core beside floors of the same run."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--rounds", type=int, default=30)
        parser.add_argument(
            "--core", action="store_true", help="time the calculations alone"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        rounds = max(options["rounds"], 3)
        self.stdout.write(f"{'what':44}{'ms':>9}{'floor ms':>10}{'ratio':>7}  goal")
        self._calculate(rounds)
        self._growth(max(rounds // 5, 3))
        if options["core"]:
            return
        build = BuildJob.objects.order_by("pk")[0]
        self._fill(build)
        client = Client(SERVER_NAME="localhost")
        client.force_login(Person.objects.get(username="june"))
        self._save(client, build, rounds)
        self._tick(client, rounds)
        self._core(build, rounds)
        self._pack(build, max(rounds // 10, 3))

    def _line(self, what: str, ms: float, floor: float | None, goal: str) -> None:
        beside = f"{floor:10.2f}{ms / floor:7.2f}" if floor else " " * 17
        self.stdout.write(f"{what:44}{ms:9.2f}{beside}  {goal}")

    def _calculate(self, rounds: int) -> None:
        """The record of the goal, and a week of one battery hour by hour."""
        data = a_large_record(items=80, circuits=40, scenarios=12)
        record = parse_record(data)
        title = "calculate, 80 items, 40 circuits, 12 scenarios"
        self._line(title, core_ms(lambda: assess(record), rounds), None, "<= 10 ms")
        both = core_ms(lambda: calculate(data), rounds)
        self._line("the same, reading included", both, None, "<= 10 ms")
        # Where limits are broken, every way out is tried before it is said.
        heavy = a_large_record(items=80, circuits=40, scenarios=12, fitted_kg=600)
        ms = core_ms(lambda: calculate(heavy), rounds)
        self._line("the same with four load limits broken", ms, None, "")
        battery = record.supply.batteries[0]
        assert isinstance(battery_days(SupplyTree(record), battery), BatteryDays)
        week = core_ms(lambda: battery_days(SupplyTree(record), battery), rounds)
        self._line("state of charge, 7 days by the hour", week, None, "<= 5 ms")

    def _growth(self, rounds: int) -> None:
        """The same mix of items, more and more of it; linear stays level per item."""
        for items in GROWTH:
            data = a_large_record(items=items, circuits=items // 2)
            ms = core_ms(partial(calculate, data), rounds)
            title = f"calculate, {items} items, {items // 2} circuits"
            self._line(title, ms, None, f"{ms / items:.3f} ms an item, level")

    @transaction.atomic
    def _fill(self, build: BuildJob) -> None:
        """Bring the demo's main build to sixty items."""
        parts = PartType.objects.filter(load_kind="", supply={}, raises={})
        for part in parts[: max(ITEMS - build.items.count(), 0)]:
            line_items.add_part(build=build, part=part)

    def _floor_ms(self, client: Client, rounds: int) -> float:
        """A one-row save through the same stack: session, sign-in, form, service."""
        customer = Customer.objects.order_by("pk")[0]
        url = f"/customers/{customer.pk}/edit/"

        def save() -> None:
            fields = {"name": customer.name, "notes": uuid4().hex}
            assert client.post(url, fields).status_code == 302

        save()
        return median_ms(save, rounds)

    def _save(self, client: Client, build: BuildJob, rounds: int) -> None:
        item = build.items.filter(load_kind="")[0]
        url = f"/builds/{build.pk}/items/{item.pk}/"
        form = LineItemForm(instance=item, build=build)
        fields = {
            name: value
            for name in form.fields
            if name != "version"
            and (value := form[name].value()) not in (None, "", False)
        }

        def save() -> None:
            fields["mass_kg"] = str(Decimal(fields.get("mass_kg") or 1) + 1)
            answer = client.post(url, {**fields, "do": "save"})
            assert answer.status_code == 302, answer.status_code

        save()
        floor = self._floor_ms(client, rounds)
        title = f"save, all checks, {build.items.count()} items"
        self._line(title, median_ms(save, rounds), floor, "<= 3 x floor")

    def _tick(self, client: Client, rounds: int) -> None:
        build = BuildJob.objects.get(stage=Stage.IN_WORK)
        task = build.tasks.filter(steps__kind=StepKind.STEP).order_by("-pk")[0]
        step = task.steps.filter(kind=StepKind.STEP)[0]
        url = f"/builds/{build.pk}/job-card/events/"

        def tick() -> None:
            event = {
                "event_id": str(uuid4()),
                "task": task.pk,
                "step": step.pk,
                "kind": "tick",
                "happened_at": timezone.now().isoformat(),
            }
            answer = client.post(
                url, json.dumps({"events": [event]}), content_type="application/json"
            )
            assert answer.json()["results"][0]["outcome"] == "applied", answer.content

        tick()
        floor = self._floor_ms(client, rounds)
        self._line(
            "tick on the job card", median_ms(tick, rounds), floor, "<= 2 x floor"
        )

    def _core(self, build: BuildJob, rounds: int) -> None:
        record = take_record(build)
        parsed = parse_record(record)
        title = f"core, {len(parsed.items)} items"
        self._line(title, median_ms(lambda: assess(parsed), rounds), None, "<= 5 ms")
        both = median_ms(lambda: assess(parse_record(record)), rounds)
        self._line(f"{title}, reading included", both, None, "")

    def _pack(self, build: BuildJob, rounds: int) -> None:
        html = pack_html(build, final=False)
        render_pdf(html)
        floor = median_ms(lambda: render_pdf(html), rounds)
        whole = median_ms(lambda: render_pdf(pack_html(build, final=False)), rounds)
        self._line("pack, record to PDF", whole, floor, "<= 1.2 x floor")
