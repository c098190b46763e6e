from __future__ import annotations

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.models import BuildJob, PartType
from workshop.finding import vehicles_matching
from workshop.http import StaffRequest, everyone, typed_query
from workshop.models import Customer

MOST = 25


@require_safe
@everyone
def search(request: StaffRequest) -> HttpResponse:
    """Find by name, plate, VIN, number or part; a fitter finds builds and vehicles."""
    query = typed_query(request)
    context: dict[str, object] = {"query": query}
    if query:
        found = vehicles_matching(query)
        pks = [v.pk for v in found[:MOST]]
        builds = Q(number__icontains=query) | Q(title__icontains=query)
        builds |= Q(vehicle__in=pks) | Q(trailer__in=pks)
        if request.user.may_see_money:
            builds |= Q(customer__name__icontains=query)
            context["customers"] = Customer.objects.filter(
                Q(name__icontains=query) | Q(phone__icontains=query)
            )[:MOST]
            context["parts"] = PartType.objects.filter(
                Q(name__icontains=query) | Q(key__icontains=query)
            )[:MOST]
        context["vehicles"] = found.select_related("customer")[:MOST]
        context["builds"] = BuildJob.objects.filter(builds).select_related(
            "vehicle", "variant_of"
        )[:MOST]
    return render(request, "builds/search.html", context)
