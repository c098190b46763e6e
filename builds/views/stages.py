from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from builds.forms.jobs import ApprovalForm, HandoverForm
from builds.models import Stage
from builds.services import jobs
from builds.views.common import FITTER_MOVES, build_context, get_build
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, everyone, office
from workshop.models import Role


@require_POST
@everyone
def move_stage(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    to = request.POST.get("to", "")
    problems = []
    handover = HandoverForm(request.POST if to == Stage.HANDED_OVER else None)
    if to not in Stage.values:
        problems = ["That stage is not known."]
    elif request.user.role == Role.FITTER and to not in FITTER_MOVES:
        problems = ["The office moves a build to that stage."]
    elif to != Stage.HANDED_OVER or handover.is_valid():
        name = request.POST.get("handed_over_to", "")[:120]
        try:
            jobs.move_stage(
                build=build, to=Stage(to), by=request.user, handed_over_to=name
            )
        except ValidationError as error:
            problems = error.messages
        else:
            messages.success(request, f"{build.number}: {Stage(to).label}.")
            return redirect(build)
    build = get_build(build_id)
    context = build_context(build, request.user, problems=problems, handover=handover)
    return render(request, "builds/build.html", context, status=422)


@require_POST
@office
def approval(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    form = ApprovalForm(request.POST)
    if form.is_valid():
        try:
            jobs.record_approval(build=build, **form.cleaned_data)
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, f"Approved by {build.approved_by}.")
            return redirect(build)
    context = build_context(build, request.user, approval=form)
    return render(request, "builds/build.html", context, status=422)
