"""What a build is made of, said in words, so that two can be held side by side."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Field, Model

from builds.comparison import Thing
from builds.figure_names import unit_of
from builds.models import BuildJob, Circuit, LineItem
from workshop.templatetags.units import measured, plain

NOT_SAID = {"id", "build", "key", "part", "version", "serial", "kind"}
FEEDS = {"fed_by_start_battery", "fed_by_item", "fed_by_circuit"}
USE = [
    "trailer",
    "jurisdiction",
    "people",
    "person_kg",
    "luggage_kg",
    "luggage_x_mm",
    "roof_luggage_kg",
    "roof_luggage_x_mm",
    "roof_luggage_on",
    "hitched",
    "trailer_mass_kg",
    "trailer_ball_kg",
    "hitch_moment_kgm",
    "ambient_c",
    "latitude_deg",
    "month",
    "drive_h_per_day",
    "days",
    "tax_percent",
    "notes",
]


def _name(field: Field[Any, Any]) -> str:
    words = str(field.verbose_name)
    if words == field.name.replace("_", " "):
        return measured(field.name)
    unit = unit_of(field.name)
    return f"{words[:1].upper()}{words[1:]}{f', {unit}' if unit else ''}"


def _value(row: Model, field: Field[Any, Any]) -> str:
    value = getattr(row, field.name)
    if value is None or value == "" or value == {} or value == []:
        return "not said"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "; ".join(f"{k.replace('_', ' ')} {v}" for k, v in value.items())
    if isinstance(value, list):
        return "; ".join(str(part) for part in value)
    if field.choices:
        return str(getattr(row, f"get_{field.name}_display")())
    return plain(value) if isinstance(value, int | Decimal) else str(value)


def _facts(row: Model, left_out: set[str]) -> dict[str, str]:
    fields = [f for f in row._meta.concrete_fields if f.name not in left_out]
    return {_name(field): _value(row, field) for field in fields}


def items_said(build: BuildJob) -> dict[str, Thing]:
    """Give each line item by key, in walk-around order, with all that is said of it."""
    rows = build.items.walk_around().select_related(
        "circuit", "switch_position", "charges", "output_circuit", "carried_by"
    )
    return {row.key: Thing(_label(row), _facts(row, NOT_SAID)) for row in rows}


def _label(item: LineItem) -> str:
    return item.label if item.quantity == 1 else f"{item.quantity} of {item.label}"


def circuits_said(build: BuildJob) -> dict[str, Thing]:
    """Give each circuit by key with its source, its fuse and its cable."""
    rows = build.circuits.select_related("fed_by_item", "fed_by_circuit")
    return {
        row.key: Thing(
            row.label, {"Fed from": _fed_from(row), **_facts(row, NOT_SAID | FEEDS)}
        )
        for row in rows
    }


def _fed_from(circuit: Circuit) -> str:
    if circuit.fed_by_start_battery:
        return "start battery"
    return str(circuit.fed_by_item or circuit.fed_by_circuit or "not said")


def use_said(build: BuildJob) -> dict[str, Thing]:
    """Give how the customer will use it, as one thing."""
    fields = {f.name: f for f in build._meta.concrete_fields}
    facts = {_name(fields[name]): _value(build, fields[name]) for name in USE}
    return {"use": Thing("How it is used", facts)}
