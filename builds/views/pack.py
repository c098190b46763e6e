from __future__ import annotations

from typing import Any, cast

from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from builds.models import BuildJob, Pack, PackState
from builds.services import packs
from builds.services.coverage import coverage_gaps
from workshop.http import StaffRequest, office, wants_fragment


def _context(build: BuildJob, problems: list[str] | None = None) -> dict[str, Any]:
    return {
        "build": build,
        "packs": build.packs.select_related("asked_by", "build"),
        "gaps": coverage_gaps(build=build),
        "may_be_final": build.stage in packs.FINAL_STAGES,
        "problems": problems or [],
    }


def _build(build_id: int) -> BuildJob:
    return get_object_or_404(
        BuildJob.objects.select_related("vehicle", "customer", "trailer"), pk=build_id
    )


@require_safe
@office
def pack(request: StaffRequest, build_id: int) -> HttpResponse:
    return render(request, "builds/pack.html", _context(_build(build_id)))


@require_POST
@office
def make_pack(request: StaffRequest, build_id: int) -> HttpResponse:
    build = _build(build_id)
    final = request.POST.get("final") == "yes"
    try:
        made = packs.ask_pack(build=build, by=request.user, final=final)
    except ValidationError as error:
        context = _context(build, error.messages)
        return render(request, "builds/pack.html", context, status=422)
    return redirect("pack-status", made.pk)


@require_safe
@office
def pack_status(request: StaffRequest, pack_id: int) -> HttpResponse:
    pack = get_object_or_404(Pack.objects.select_related("build"), pk=pack_id)
    pack = packs.revive(pack=pack)
    fragment = wants_fragment(request)
    template = (
        "builds/partials/_pack_status.html" if fragment else "builds/pack_status.html"
    )
    return render(request, template, {"pack": pack, "build": pack.build})


@require_safe
@office
def pack_file(request: StaffRequest, pack_id: int) -> HttpResponse:
    pack = get_object_or_404(
        Pack.objects.select_related("build"), pk=pack_id, state=PackState.READY
    )
    path = packs.pack_path(pack)
    if not path.exists():
        raise Http404("The file of this pack is no longer on this machine.")
    kind = "final" if pack.final else "draft"
    response = FileResponse(
        path.open("rb"),
        content_type="application/pdf",
        filename=f"{pack.build.number}-{kind}-{pack.revision}.pdf",
    )
    return cast(HttpResponse, response)
