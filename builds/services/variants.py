"""Variants of a build: the same job fitted out otherwise, until one is taken."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Model, Q, QuerySet
from django.db.models.fields.json import KeyTransform
from django.utils import timezone

from builds.models import (
    OPEN_STAGES,
    STAGES,
    BuildJob,
    Circuit,
    LineItem,
    Stage,
    Task,
)
from builds.money import totals_of
from builds.services import jobs
from builds.services.checks import refresh_checks
from builds.services.line_items import require_open
from builds.services.stages import blockers
from builds.services.tasks import add_task, plan_tasks
from workshop.models import Person
from workshop.saving import apply_version, save_clean

M = TypeVar("M", bound=Model)

NOT_SHARED = {
    "id",
    "number",
    "title",
    "stage",
    "variant_of",
    "set_aside_at",
    "set_aside_why",
    "roof_luggage_on",
    "bay",
    "booked_in_on",
    "promised_on",
    "approved_by",
    "approved_on",
    "approved_total",
    "released_by",
    "released_at",
    "handed_over_to",
    "handed_over_at",
    "created_at",
    "version",
}
"""What a variant does not take over: its own name, its own dates, its own approval."""

OWN_TITLE = re.compile(r", variant \S+$")


def root_of(build: BuildJob) -> BuildJob:
    return build.variant_of or build


def family_of(build: BuildJob) -> QuerySet[BuildJob]:
    """Give the build that was first and all its variants, in the order they came."""
    root = root_of(build).pk
    return BuildJob.objects.filter(Q(pk=root) | Q(variant_of=root)).order_by("pk")


def comparable_with(build: BuildJob) -> QuerySet[BuildJob]:
    """Give what a build may be held against: its family, what is open on its vehicle."""
    root = root_of(build).pk
    kin = Q(pk=root) | Q(variant_of=root)
    same = Q(vehicle=build.vehicle_id, stage__in=OPEN_STAGES, set_aside_at=None)
    return BuildJob.objects.filter(kin | same).exclude(pk=build.pk).order_by("pk")


@dataclass(frozen=True, slots=True)
class Member:
    """One build of a family with the two figures it is chosen by."""

    build: BuildJob
    payload_left_kg: float | None
    total: Decimal


def members_of(build: BuildJob) -> list[Member]:
    """Give a build's family with what was found of each when it was last checked."""
    load = KeyTransform("load", F("report__results"))
    found = family_of(build).prefetch_related("items")
    found = found.annotate(left_kg=KeyTransform("payload_left_kg", load))
    return [
        Member(
            member,
            member.left_kg,
            totals_of(member, list(member.items.all())).total,
        )
        for member in found
    ]


def _letter(count: int) -> str:
    """Name the variants B to Z; the build they come from is A."""
    return chr(ord("A") + count) if count < 26 else str(count + 1)


@transaction.atomic
def open_variant(*, build: BuildJob, by: Person) -> BuildJob:
    """Copy a build as it stands, with every link inside the copy, to try it otherwise.

    The copy is a build of its own, with no dates, no approval and nothing ticked.
    """
    require_open(build)
    root = root_of(build)
    name = f", variant {_letter(root.variants.count() + 1)}"
    title = OWN_TITLE.sub("", build.title)[: 120 - len(name)] + name
    variant = jobs.open_build(title=title, variant_of=root, **_shared(build))
    variant.tax_percent = build.tax_percent
    items = _copy_contents(build, variant)
    variant.roof_luggage_on = items.get(build.roof_luggage_on_id)
    _plan_work(build, items.values(), variant)
    specified = build.stage != Stage.ENQUIRY
    if specified and not blockers(build=variant, to=Stage.SPECIFIED, by=by):
        variant.stage = Stage.SPECIFIED
    save_clean(variant)
    refresh_checks(build=variant)
    return variant


def _shared(build: BuildJob) -> dict[str, Any]:
    fields = BuildJob._meta.concrete_fields
    return {f.name: getattr(build, f.name) for f in fields if f.name not in NOT_SHARED}


def _copied(row: M, **fields: Any) -> M:
    """Give an unsaved twin of a row; what is in ``fields`` differs."""
    twin = type(row)()
    for field in row._meta.concrete_fields:
        if not field.primary_key:
            setattr(twin, field.attname, getattr(row, field.attname))
    for name, value in fields.items():
        setattr(twin, name, value)
    return twin


def _copy_contents(build: BuildJob, variant: BuildJob) -> dict[int | None, LineItem]:
    """Copy items and circuits; what pointed inside the build points inside the copy.

    The rows were valid where they stood and only their links change, so they are
    written in bulk, first without the links that need the others' ids.
    """
    old_items = list(build.items.order_by("pk"))
    old_circuits = list(build.circuits.order_by("pk"))
    links = dict.fromkeys(["circuit", "output_circuit", "charges", "carried_by"])
    twins = [
        _copied(item, build=variant, version=1, serial="", **links)
        for item in old_items
    ]
    LineItem.objects.bulk_create(twins)
    items: dict[int | None, LineItem] = {
        old.pk: new for old, new in zip(old_items, twins, strict=True)
    }
    circuits: dict[int | None, Circuit] = {}
    made = [
        _copied(
            circuit,
            build=variant,
            version=1,
            fed_by_item=items.get(circuit.fed_by_item_id),
            fed_by_circuit=None,
        )
        for circuit in old_circuits
    ]
    Circuit.objects.bulk_create(made)
    circuits |= {old.pk: new for old, new in zip(old_circuits, made, strict=True)}
    for circuit in old_circuits:
        twin = circuits[circuit.pk]
        twin.fed_by_circuit = circuits.get(circuit.fed_by_circuit_id)
    Circuit.objects.bulk_update(made, ["fed_by_circuit"])
    for item in old_items:
        items[item.pk].circuit = circuits.get(item.circuit_id)
        items[item.pk].output_circuit = circuits.get(item.output_circuit_id)
        items[item.pk].charges = items.get(item.charges_id)
        items[item.pk].carried_by = items.get(item.carried_by_id)
    LineItem.objects.bulk_update(twins, list(links))
    return items


def _plan_work(build: BuildJob, items: Iterable[LineItem], variant: BuildJob) -> None:
    """Plan the work anew, what was added by hand too; nothing of it is ticked."""
    for item in items:
        plan_tasks(item=item)
    by_hand = Task.objects.filter(build=build, line_item=None, withdrawn=False)
    for task in by_hand.prefetch_related("steps"):
        add_task(
            build=variant,
            title=task.title,
            skill=task.skill,
            estimate_h=task.estimate_h,
            steps=[
                {
                    "kind": step.kind,
                    "text": step.text,
                    "torque_nm": step.torque_nm,
                    "unit": step.unit,
                    "low": step.low,
                    "high": step.high,
                }
                for step in task.steps.all()
            ],
        )


@transaction.atomic
def set_aside(*, build: BuildJob, why: str) -> BuildJob:
    """Take a build out of the lists, with the reason; nothing of it is lost."""
    if build.set_aside_at is not None:
        raise ValidationError(f"{build.number} is set aside already.")
    if STAGES.index(build.stage) >= STAGES.index(Stage.BOOKED):
        raise ValidationError(
            f"{build.number} is {build.stands.lower()}: a build is set aside before "
            f"it is booked in. Move it back to “{Stage.APPROVED.label}” first."
        )
    if not why.strip():
        raise ValidationError({"why": "Say why it does not go on."})
    apply_version(build, None, build.number)
    build.set_aside_at, build.set_aside_why = timezone.now(), why.strip()
    save_clean(build)
    refresh_checks(build=build)
    return build


@transaction.atomic
def take_up(*, build: BuildJob) -> BuildJob:
    """Let a build that was set aside go on where it stood."""
    if build.set_aside_at is None:
        raise ValidationError(f"{build.number} is not set aside.")
    apply_version(build, None, build.number)
    build.set_aside_at, build.set_aside_why = None, ""
    save_clean(build)
    refresh_checks(build=build)
    return build


@transaction.atomic
def take_variant(*, build: BuildJob) -> list[BuildJob]:
    """Let one variant go on: the others of its family that are open are set aside."""
    require_open(build)
    others = family_of(build).exclude(pk=build.pk).filter(set_aside_at=None)
    others = others.filter(stage__in=OPEN_STAGES)
    why = f"{build.number} was taken instead."
    return [set_aside(build=other, why=why) for other in others]
