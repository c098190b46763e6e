"""Finding vehicles by what people type of a plate or a VIN."""

from __future__ import annotations

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Replace, Upper

from workshop.models import Vehicle


def bare(text: str) -> str:
    """A plate or VIN without spaces and hyphens, as people type it either way."""
    return text.upper().replace(" ", "").replace("-", "")


def _bare_column(name: str) -> Replace:
    no_space = Replace(Upper(name), Value(" "), Value(""))
    return Replace(no_space, Value("-"), Value(""))


def _with_bare() -> QuerySet[Vehicle]:
    return Vehicle.objects.annotate(
        bare_plate=_bare_column("plate"), bare_vin=_bare_column("vin")
    )


def vehicles_matching(query: str) -> QuerySet[Vehicle]:
    """Find by plate or VIN, however they are spaced, or by maker and model."""
    found = Q(model__icontains=query) | Q(maker__icontains=query)
    if text := bare(query):
        found |= Q(bare_plate__contains=text) | Q(bare_vin__contains=text)
    return _with_bare().filter(found)


def twin_warnings(vehicle: Vehicle) -> list[str]:
    """Say which other vehicle on file has the same VIN or plate."""
    found = []
    for name, words in (("vin", "VIN"), ("plate", "plate")):
        text = bare(getattr(vehicle, name))
        others = _with_bare().exclude(pk=vehicle.pk).filter(**{f"bare_{name}": text})
        if text and (other := others.select_related("customer").first()):
            found.append(
                f"{other}, of {other.customer}, is on file with this {words} too."
            )
    return found
