from __future__ import annotations

from django.db.models import Q, Value
from django.db.models.functions import Replace, Upper
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from builds.models import BuildJob, PartType
from workshop.http import StaffRequest, everyone, typed_query
from workshop.models import Customer, Vehicle

MOST = 25


def _bare(field: str) -> Replace:
    """A plate or VIN without spaces and hyphens, as people type it either way."""
    no_space = Replace(Upper(field), Value(" "), Value(""))
    return Replace(no_space, Value("-"), Value(""))


@require_safe
@everyone
def search(request: StaffRequest) -> HttpResponse:
    """Find by name, plate, VIN, number or part; a fitter finds builds and vehicles."""
    query = typed_query(request)
    context: dict[str, object] = {"query": query}
    if query:
        bare = query.upper().replace(" ", "").replace("-", "")
        found = Vehicle.objects.annotate(
            bare_plate=_bare("plate"), bare_vin=_bare("vin")
        ).filter(
            Q(model__icontains=query)
            | (Q(bare_plate__contains=bare) | Q(bare_vin__contains=bare))
            if bare
            else Q(model__icontains=query)
        )
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
        context["builds"] = BuildJob.objects.filter(builds).select_related("vehicle")[
            :MOST
        ]
    return render(request, "builds/search.html", context)
