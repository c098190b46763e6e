"""The charts of a build, each with its numbers as a table."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.charts import charts_of
from builds.services.checks import report_of
from builds.snapshots import circuits_of, items_of
from builds.views.common import get_build
from workshop.http import StaffRequest, everyone


@require_safe
@everyone
def charts(request: StaffRequest, build_id: int) -> HttpResponse:
    build = get_build(build_id)
    results = report_of(build=build).results
    found = charts_of(build, results, items_of(build), circuits_of(build))
    return render(request, "builds/charts.html", {"build": build, "charts": found})
