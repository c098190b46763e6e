"""What the pages of one build share: fetching it, and the page's whole context."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils.safestring import mark_safe

from builds.drawings.plan import plan_view
from builds.forms.jobs import ApprovalForm, HandoverForm
from builds.forms.line_items import AddPackageForm, AddPartForm
from builds.handover import feed_words, plan_marks, switch_words, vehicle_shape
from builds.ledger import ledger
from builds.models import STAGES, ZONE_LABELS, BuildJob, LineItem, Stage
from builds.money import Line, line_of, rates, totals_of
from builds.services.checks import report_of
from builds.services.stages import blockers
from builds.snapshots import circuits_of, items_of
from compliance.inputs import ZONES
from workshop.models import Person


def get_build(build_id: int) -> BuildJob:
    return get_object_or_404(
        BuildJob.objects.select_related(
            "vehicle", "vehicle__type_sheet", "customer", "trailer", "bay"
        ),
        pk=build_id,
    )


@dataclass(slots=True)
class Row:
    """One line of the build page, answering the five questions."""

    number: int
    item: LineItem
    money: Line
    findings: list[dict[str, Any]]

    @property
    def switch(self) -> str:
        return switch_words(self.item)

    @property
    def feed(self) -> str:
        return feed_words(self.item)


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


def build_context(
    build: BuildJob, person: Person, *, zone: str = "", **forms: Any
) -> dict[str, Any]:
    """Gather the build page; the same for the page and all its fragments."""
    items = items_of(build)
    results = report_of(build=build).results
    rate_of = rates()
    by_subject: dict[str, list[dict[str, Any]]] = {}
    for finding in results["findings"]:
        by_subject.setdefault(finding["subject"], []).append(finding)
    rows = [
        Row(n, item, line_of(item, rate_of), by_subject.get(item.key, []))
        for n, item in enumerate(items, start=1)
    ]
    zones = [
        (key, ZONE_LABELS[key], [r for r in rows if r.item.zone == key])
        for key in ZONES
    ]
    totals = totals_of(build, items)
    upcoming = next_stage(build)
    return {
        "build": build,
        "rows": rows,
        "zones": [z for z in zones if z[2]],
        "zone": zone if zone in ZONE_LABELS else "",
        "results": results,
        "findings": results["findings"],
        "open_findings": [f for f in results["findings"] if f["severity"] != "clear"],
        "ledger": ledger(results, totals),
        "totals": totals,
        "circuits": [
            (c, results["power"]["circuits"].get(c.key, {})) for c in circuits_of(build)
        ],
        "stages": stage_line(build),
        "next_stage": upcoming,
        "previous_stage": previous_stage(build),
        "blockers": blockers(build=build, to=upcoming, by=person) if upcoming else [],
        "plan": mark_safe(  # noqa: S308 - the drawing escapes every text it holds
            plan_view(
                vehicle_shape(build.vehicle),
                plan_marks(items, hrefs={i.pk: f"#item-{i.pk}" for i in items}),
            )
        ),
        "add_part": forms.get("add_part") or AddPartForm(),
        "add_package": forms.get("add_package") or AddPackageForm(),
        "approval": forms.get("approval") or ApprovalForm(),
        "handover": forms.get("handover") or HandoverForm(),
        "problems": forms.get("problems") or [],
    }
