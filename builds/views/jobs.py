from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from builds.forms.jobs import BuildForm
from builds.models import BuildJob, Stage
from builds.services import jobs
from builds.views.common import build_context, get_build
from builds.views.week import week_load
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, everyone, office
from workshop.models import Role
from workshop.saving import StaleError


@require_safe
@everyone
def builds(request: StaffRequest) -> HttpResponse:
    stage = request.GET.get("stage", "")
    listed = BuildJob.objects.select_related("customer", "vehicle", "report", "bay")
    if stage in Stage.values:
        listed = listed.filter(stage=stage)
    elif not request.GET.get("all"):
        listed = listed.exclude(stage=Stage.HANDED_OVER)
    if request.user.role == Role.FITTER:
        mine = Q(people_assigned=request.user)
        listed = listed.filter(
            mine | Q(stage__in=[Stage.BOOKED, Stage.IN_WORK])
        ).distinct()
    context = {
        "builds": listed,
        "stage": stage,
        "stages": Stage.choices,
        "today": timezone.localdate(),
    }
    return render(request, "builds/builds.html", context)


@require_safe
@everyone
def build(request: StaffRequest, build_id: int) -> HttpResponse:
    context = build_context(
        get_build(build_id), request.user, zone=request.GET.get("zone", "")
    )
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
            return redirect(made)
    status = 422 if request.method == "POST" else 200
    return render(request, "builds/build_edit.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@office
def build_edit(request: StaffRequest, build_id: int) -> HttpResponse:
    job = get_build(build_id)
    form = BuildForm(request.POST or None, instance=get_build(build_id))
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                version = form.cleaned_data.get("version")
                jobs.update_build(build=job, version=version, **form.values())
                return redirect(job)
            except ValidationError as error:
                status = 409 if isinstance(error, StaleError) else 422
                put_errors(form, error)
    context = {"form": form, "build": job, "load": week_load(job.booked_in_on)}
    return render(request, "builds/build_edit.html", context, status=status)
