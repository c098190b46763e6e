from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.db.models import Exists, F, OuterRef, QuerySet
from django.db.models.fields.json import KeyTextTransform, KeyTransform
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from builds.forms.jobs import BuildForm
from builds.hours import booked_hours
from builds.models import STAGES, BuildJob, Stage
from builds.services import jobs
from builds.views.common import build_context, get_build
from builds.views.week import week_load
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, everyone, office, typed_query, wants_fragment
from workshop.models import Person, Role
from workshop.saving import StaleError

PER_PAGE = 60
SET_ASIDE = "set-aside"
"""Asks the list for what no stage holds: the builds that do not go on."""


@dataclass(frozen=True, slots=True)
class ListedBuild:
    """One line of the list of builds."""

    build: BuildJob
    verdict: str
    booked_h: float
    estimate_h: Decimal
    mine: bool
    late: bool

    @property
    def stage_number(self) -> int:
        return STAGES.index(self.build.stage) + 1

    @property
    def stage_words(self) -> str:
        return f"stage {self.stage_number} of {len(STAGES)}"


def _listed(person: Person, stage: str) -> QuerySet[BuildJob]:
    """Builds with the most severe finding's verdict; the person's own come first."""
    found = BuildJob.objects.select_related("customer", "vehicle", "bay", "variant_of")
    found = found.filter(set_aside_at__isnull=stage != SET_ASIDE)
    if stage in Stage.values:
        found = found.filter(stage=stage)
    elif stage != SET_ASIDE:
        found = found.exclude(stage=Stage.HANDED_OVER)
    own = BuildJob.people_assigned.through.objects.filter(
        buildjob=OuterRef("pk"), person=person.pk
    )
    first = ["-mine"] if person.role == Role.FITTER else []
    # Findings are stored most severe first; the rest of the report stays behind.
    finding = KeyTransform("0", KeyTransform("findings", F("report__results")))
    return (
        found.annotate(mine=Exists(own), worst=KeyTextTransform("verdict", finding))
        .order_by(*first, F("promised_on").asc(nulls_last=True), "pk")
        .prefetch_related("items")
    )


def _rows(page: Page, today: date) -> list[ListedBuild]:
    builds = list(page.object_list)
    booked = booked_hours(build.pk for build in builds)
    return [
        ListedBuild(
            build=build,
            verdict=build.worst or "unknown",
            booked_h=booked[build.pk],
            estimate_h=sum((i.labour_h for i in build.items.all()), Decimal(0)),
            mine=build.mine,
            late=build.stage != Stage.HANDED_OVER
            and build.promised_on is not None
            and build.promised_on < today,
        )
        for build in builds
    ]


@require_safe
@everyone
def builds(request: StaffRequest) -> HttpResponse:
    stage = request.GET.get("stage", "")
    pages = Paginator(_listed(request.user, stage), PER_PAGE)
    page = pages.get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": _rows(page, timezone.localdate()),
        "stage": stage if stage in {*Stage.values, SET_ASIDE} else "",
        "stages": [*Stage.choices, (SET_ASIDE, "Set aside")],
        "stage_count": len(STAGES),
    }
    return render(request, "builds/builds.html", context)


@require_safe
@everyone
def build(request: StaffRequest, build_id: int) -> HttpResponse:
    context = build_context(
        get_build(build_id),
        request.user,
        zone=request.GET.get("zone", ""),
        q=typed_query(request),
    )
    if wants_fragment(request) and request.htmx.target == "item-list":
        return render(request, "builds/partials/_items.html", context)
    return render(request, "builds/build.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def build_new(request: StaffRequest) -> HttpResponse:
    initial = {
        "customer": request.GET.get("customer"),
        "vehicle": request.GET.get("vehicle"),
    }
    form = BuildForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = jobs.open_build(advisor=request.user, **form.values())
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"{made.number} is open.")
            return redirect(made)
    status = 422 if request.method == "POST" else 200
    context = {"form": form, "load": week_load(None)}
    return render(request, "builds/build_edit.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def build_edit(request: StaffRequest, build_id: int) -> HttpResponse:
    job, shown = get_build(build_id), get_build(build_id)
    form = BuildForm(request.POST or None, instance=shown)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                version = form.cleaned_data["version"]
                jobs.update_build(build=job, version=version, **form.values())
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
            else:
                messages.success(request, f"{job.number} is saved.")
                return redirect(job)
    stored = get_build(build_id)
    load = week_load(stored.booked_in_on, without=stored)
    context = {"form": form, "build": stored, "load": load}
    return render(request, "builds/build_edit.html", context, status=status)
