"""What the pages of one build share: fetching it, and the page's whole context."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.safestring import mark_safe

from builds.drawings.plan import plan_view
from builds.forms.jobs import ApprovalForm, HandoverForm
from builds.forms.line_items import AddPackageForm, AddPartForm
from builds.handover import (
    feed_words,
    plan_marks,
    switch_words,
    vehicle_shape,
    worst_rows,
)
from builds.ledger import Change, Figure, change_of, ledger
from builds.models import (
    STAGES,
    ZONE_LABELS,
    BuildJob,
    Circuit,
    LineItem,
    Package,
    Stage,
)
from builds.money import Line, line_of, rates, totals_of
from builds.services.checks import report_of
from builds.services.stages import blockers
from builds.services.trial import Picture
from builds.services.variants import members_of
from builds.snapshots import circuits_of, items_of
from compliance.inputs import ZONES
from workshop.models import Person, Role

Finding = dict[str, Any]

FITTER_MOVES = {Stage.FITTED}
"""What a fitter may say of a build without the office."""


def get_build(build_id: int) -> BuildJob:
    return get_object_or_404(
        BuildJob.objects.select_related(
            "vehicle",
            "vehicle__type_sheet",
            "customer",
            "trailer",
            "bay",
            "advisor",
            "variant_of",
        ),
        pk=build_id,
    )


@dataclass(slots=True)
class Row:
    """One line of the build page, answering the five questions."""

    number: int
    item: LineItem
    money: Line
    findings: list[Finding]

    @property
    def switch(self) -> str:
        return switch_words(self.item)

    @property
    def feed(self) -> str:
        return feed_words(self.item)

    @property
    def mass_kg(self) -> Decimal | None:
        each = self.item.mass_kg
        return None if each is None else each * self.item.quantity

    @property
    def priced(self) -> bool:
        """The workshop supplies it and knows what it costs, or need not know."""
        return self.item.supplied_by == "customer" or self.item.price is not None


@dataclass(frozen=True, slots=True)
class StageMark:
    label: str
    value: str
    done: bool
    current: bool


def stage_line(build: BuildJob) -> list[StageMark]:
    here = STAGES.index(build.stage)
    return [
        StageMark(Stage(value).label, value, n < here, n == here)
        for n, value in enumerate(STAGES)
    ]


def next_stage(build: BuildJob) -> Stage | None:
    here = STAGES.index(build.stage)
    return Stage(STAGES[here + 1]) if here + 1 < len(STAGES) else None


def previous_stage(build: BuildJob) -> Stage | None:
    here = STAGES.index(build.stage)
    if build.stage == Stage.HANDED_OVER or here == 0:
        return None
    return Stage(STAGES[here - 1])


def change_shown(build: BuildJob, before: Picture, after: Picture) -> Change:
    return change_of(
        before,
        after,
        page=build.get_absolute_url(),
        switches_page=reverse("switching", args=[build.pk]),
    )


def strip_of(
    build: BuildJob, now: Picture, person: Person, change: Change | None = None
) -> list[Figure]:
    """Give the ledger strip; beside a change that was tried, before and after."""
    if change is not None:
        return change.ledger
    return ledger(
        now,
        page=build.get_absolute_url(),
        switches_page=reverse("switching", args=[build.pk]),
        with_price=person.may_see_money,
    )


def circuit_rows(
    circuits: list[Circuit], results: dict[str, Any]
) -> list[tuple[Circuit, dict[str, Any], list[Finding]]]:
    """Each circuit with what was computed of it and what is not within."""
    by_subject = _by_subject(_open(results["findings"]))
    found = results["power"]["circuits"]
    return [(c, found.get(c.key, {}), by_subject.get(c.key, [])) for c in circuits]


def _open(findings: list[Finding]) -> list[Finding]:
    return [f for f in findings if f["severity"] != "clear"]


def _by_subject(findings: list[Finding]) -> dict[str, list[Finding]]:
    found: dict[str, list[Finding]] = {}
    for finding in findings:
        found.setdefault(finding["subject"], []).append(finding)
    return found


def build_context(
    build: BuildJob, person: Person, *, zone: str = "", q: str = "", **forms: Any
) -> dict[str, Any]:
    """Gather the build page; the same for the page and all its fragments."""
    items = items_of(build)
    now = Picture(report_of(build=build).results, totals_of(build, items))
    findings = now.results["findings"]
    return {
        "build": build,
        "zone": zone if zone in ZONE_LABELS else "",
        "q": q,
        "results": now.results,
        "worst": worst_rows(now.results),
        "still": now.results["load"]["still"],
        "findings": findings,
        "open_findings": _open(findings),
        "clear_findings": [f for f in findings if f["severity"] == "clear"],
        "totals": now.totals,
        "circuits": circuit_rows(circuits_of(build), now.results),
        "add_part": forms.get("add_part") or AddPartForm(q=q),
        "add_package": forms.get("add_package") or AddPackageForm(),
        "packages": Package.objects.exists() if person.may_see_money else False,
        "approval": forms.get("approval") or ApprovalForm(),
        "problems": forms.get("problems") or [],
        "change": forms.get("change"),
        "family": members_of(build) if person.may_see_money else [],
        "ledger": strip_of(build, now, person, forms.get("change")),
        **_stage_context(build, person, forms.get("handover")),
        **_item_context(build, items, now.results),
    }


def _stage_context(
    build: BuildJob, person: Person, handover: HandoverForm | None
) -> dict[str, Any]:
    upcoming = next_stage(build)
    return {
        "stages": stage_line(build),
        "next_stage": upcoming,
        "previous_stage": previous_stage(build),
        "blockers": blockers(build=build, to=upcoming, by=person) if upcoming else [],
        "may_move": person.role != Role.FITTER or upcoming in FITTER_MOVES,
        "handover": handover or HandoverForm(),
    }


def _item_context(
    build: BuildJob, items: list[LineItem], results: dict[str, Any]
) -> dict[str, Any]:
    rate_of = rates()
    by_subject = _by_subject(_open(results["findings"]))
    rows = [
        Row(n, item, line_of(item, rate_of), by_subject.get(item.key, []))
        for n, item in enumerate(items, start=1)
    ]
    zones = [
        (key, ZONE_LABELS[key], [r for r in rows if r.item.zone == key])
        for key in ZONES
    ]
    zones = [z for z in zones if z[2]]
    drawing = plan_view(
        vehicle_shape(build.vehicle),
        plan_marks(items, hrefs={item.pk: item.get_absolute_url() for item in items}),
        zones={key: f"?zone={key}#items" for key, _, _ in zones},
    )
    return {
        "rows": rows,
        "zones": zones,
        "plan": mark_safe(drawing),  # noqa: S308 - the drawing escapes what it holds
    }
