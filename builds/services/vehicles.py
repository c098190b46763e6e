"""Vehicles: a change of plate or geometry checks every open build again."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError, RestrictedError

from builds.services.checks import recheck_vehicle
from workshop.models import SHEET_FIELDS, Customer, SwitchPosition, TypeSheet, Vehicle
from workshop.saving import apply_version, free_key, save_clean, set_fields


def draft_from_type_sheet(*, type_sheet: TypeSheet) -> dict[str, Any]:
    """Give what a new vehicle of this model starts from."""
    return {name: getattr(type_sheet, name) for name in SHEET_FIELDS}


@transaction.atomic
def add_vehicle(
    *, customer: Customer, type_sheet: TypeSheet | None, **fields: Any
) -> Vehicle:
    """Add a vehicle; it copies its type sheet, then what its own plate says."""
    start = draft_from_type_sheet(type_sheet=type_sheet) if type_sheet else {}
    vehicle = set_fields(
        Vehicle(customer=customer, type_sheet=type_sheet), {**start, **fields}
    )
    save_clean(vehicle)
    if type_sheet is not None:
        SwitchPosition.objects.bulk_create(
            SwitchPosition(
                vehicle=vehicle,
                key=place["key"],
                panel=place["panel"],
                label=place.get("label", ""),
                order=order,
            )
            for order, place in enumerate(type_sheet.switch_positions)
        )
    return vehicle


@transaction.atomic
def update_vehicle(
    *, vehicle: Vehicle, version: int | None = None, **fields: Any
) -> Vehicle:
    apply_version(vehicle, version, str(vehicle))
    save_clean(set_fields(vehicle, fields))
    recheck_vehicle(vehicle=vehicle)
    return vehicle


@transaction.atomic
def remove_vehicle(*, vehicle: Vehicle) -> None:
    """Delete a vehicle that was never built on."""
    try:
        vehicle.delete()
    except (ProtectedError, RestrictedError) as error:
        numbers = [
            *vehicle.builds.values_list("number", flat=True),
            *vehicle.towed_in_builds.values_list("number", flat=True),
        ]
        raise ValidationError(
            f"{vehicle} has builds ({', '.join(numbers)}) and stays on file with them."
        ) from error


@transaction.atomic
def add_switch_position(*, vehicle: Vehicle, panel: str, label: str) -> SwitchPosition:
    taken = set(vehicle.switch_positions.values_list("key", flat=True))
    place = SwitchPosition(
        vehicle=vehicle,
        key=free_key(f"{panel} {label}", taken, "place", longest=40),
        panel=panel,
        label=label,
        order=len(taken),
    )
    save_clean(place)
    recheck_vehicle(vehicle=vehicle)
    return place


@transaction.atomic
def remove_switch_position(*, place: SwitchPosition) -> None:
    vehicle = place.vehicle
    if item := place.line_items.first():
        raise ValidationError(
            f"{item.label} ({item.build.number}) is switched here. Move it first."
        )
    place.delete()
    recheck_vehicle(vehicle=vehicle)
