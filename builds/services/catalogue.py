"""The catalogue and the type sheets as CSV: all of a file goes in, or none of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Field, Model

from builds.cells import (
    READERS,
    CellError,
    plain_text,
    read_flag,
    read_number,
    read_whole,
    write_pairs,
    write_raises,
    write_seats,
)
from builds.csv_files import (
    BadCell,
    BadFileError,
    Imported,
    Incoming,
    apart,
    read_rows,
    safe_text,
    write_rows,
)
from builds.models import PartType
from builds.steps import write_steps
from workshop.models import SHEET_FIELDS, Skill, TypeSheet
from workshop.saving import apply_version, save_clean, set_fields

LABOUR_COLUMNS = {f"{skill}_h": skill for skill in Skill.values}

PART_COLUMNS = [
    "key",
    "name",
    "maker",
    "kind",
    "zone",
    "description",
    "mass_kg",
    "mass_half_width_kg",
    "mass_source",
    "place_ref",
    "dx_mm",
    "dy_mm",
    "dz_mm",
    "place_text",
    "removes_label",
    "removes_mass_kg",
    "removes_dx_mm",
    "load_kind",
    "current_a",
    "power_w",
    "efficiency",
    "hours_per_day",
    "duty",
    "standby_a",
    "limit_percent",
    "short_time",
    "supply",
    "fuse_a",
    "fuse_kind",
    "area_mm2",
    "run_m",
    "tank_fluid",
    "tank_capacity_l",
    "carrier_limit_kg",
    "raises",
    "switch_kind",
    "switch_text",
    "interlock",
    "mechanical_h",
    "electrical_h",
    "body_h",
    "suspension_h",
    "steps",
    "tests",
    "use_text",
    "care_text",
    "caution_text",
    "papers",
    "price",
    "warranty_months",
]

SHEET_COLUMNS = ("key", *SHEET_FIELDS, "switch_positions")


def _read_cell(model: type[Model], column: str, text: str) -> Any:
    field = model._meta.get_field(column)
    assert isinstance(field, Field)
    if column in READERS:
        return READERS[column](text)
    if text == "":
        if field.null:
            return None
        return field.get_default()
    match field.get_internal_type():
        case "DecimalField":
            return read_number(text)
        case "IntegerField" | "PositiveIntegerField" | "PositiveSmallIntegerField":
            return read_whole(text)
        case "BooleanField":
            return read_flag(text)
        case _:
            return text


def _read_instance(
    model: type[Model], line: int, row: Mapping[str, str]
) -> tuple[dict[str, Any], list[BadCell]]:
    values: dict[str, Any] = {}
    faults: list[BadCell] = []
    labour: dict[str, float] = {}
    for column, text in row.items():
        try:
            if model is PartType and column in LABOUR_COLUMNS:
                if text:
                    hours = read_number(text)
                    if not 0 <= hours <= 500:
                        raise CellError("hours lie between 0 and 500.")
                    if hours:
                        labour[LABOUR_COLUMNS[column]] = float(hours)
            else:
                values[column] = _read_cell(model, column, text)
        except (CellError, ValueError) as error:
            faults.append(BadCell(line, column, str(error)))
    if model is PartType:
        values["labour"] = labour
    return values, faults


def _read(
    model: type[Model], text: str, columns: Iterable[str]
) -> list[tuple[int, dict[str, Any]]]:
    rows, faults = read_rows(text, columns)
    found: list[tuple[int, dict[str, Any]]] = []
    lines: dict[str, int] = {}
    for line, row in rows:
        values, bad = _read_instance(model, line, row)
        faults += bad
        key = row.get("key", "")
        if key in lines:
            sentence = f"{key} is already on line {lines[key]}."
            faults.append(BadCell(line, "key", sentence))
        lines.setdefault(key, line)
        found.append((line, values))
    if faults:
        raise BadFileError(faults)
    return found


def _import(model: type[Model], text: str, columns: Iterable[str]) -> Imported:
    columns = list(columns)
    rows = _read(model, text, columns)
    manager = model._default_manager
    stored: dict[str, Any] = {
        row.key: row  # type: ignore[attr-defined]
        for row in manager.filter(key__in=[values["key"] for _, values in rows])
    }
    faults: list[BadCell] = []
    incoming: list[Incoming] = []
    for line, values in rows:
        instance: Any = stored.get(values["key"]) or model()
        if instance.pk and all(getattr(instance, n) == v for n, v in values.items()):
            continue
        before = {c: _write_cell(instance, c) for c in columns} if instance.pk else {}
        set_fields(instance, values)
        if instance.pk and isinstance(instance, PartType):
            instance.version += 1  # so that a page opened before is stale
        try:
            save_clean(instance)
        except ValidationError as error:
            faults += _faults_of_row(line, error)
            continue
        incoming.append(
            Incoming(values["key"], str(instance), _cells(instance, before))
        )
    if faults:
        raise BadFileError(faults)
    added = len(rows) - len(stored)
    changed = sum(row.key in stored for row in incoming)
    return Imported(added, changed, tuple(incoming))


def _faults_of_row(line: int, error: ValidationError) -> list[BadCell]:
    return [
        BadCell(line, "" if column == "__all__" else column, sentence)
        for column, sentences in error.message_dict.items()
        for sentence in sentences
    ]


def _cells(
    instance: Model, before: Mapping[str, str]
) -> tuple[tuple[str, str, str], ...]:
    """List the columns of a known row that the file changes."""
    return tuple(
        (column, *apart(old.strip(), new.strip()))
        for column, old in before.items()
        if (new := _write_cell(instance, column)) != old
    )


@transaction.atomic
def add_part_type(**fields: Any) -> PartType:
    return save_clean(set_fields(PartType(), fields))


@transaction.atomic
def update_part_type(
    *, part: PartType, version: int | None = None, **fields: Any
) -> PartType:
    """Change a part type; line items that were made from it keep what they have."""
    apply_version(part, version, part.name)
    return save_clean(set_fields(part, fields))


@transaction.atomic
def import_part_types(*, text: str) -> Imported:
    """Add or change part types by key; every bad cell is named, none is stored."""
    return _import(PartType, text, PART_COLUMNS)


@transaction.atomic
def import_type_sheets(*, text: str) -> Imported:
    return _import(TypeSheet, text, SHEET_COLUMNS)


def _write_cell(instance: Model, column: str) -> str:
    if column in LABOUR_COLUMNS and isinstance(instance, PartType):
        value: Any = instance.labour.get(LABOUR_COLUMNS[column])
    else:
        value = getattr(instance, column)
    if value is None:
        return ""
    match column:
        case "supply":
            return write_pairs(value)
        case "raises":
            return write_raises(value)
        case "steps" | "tests":
            value = write_steps(value)
        case "papers":
            value = "; ".join(value)
        case "seats":
            value = write_seats(value)
        case "switch_positions":
            value = "\n".join(
                f"{p['key']} | {p['panel']} | {p['label']}" for p in value
            )
        case _:
            pass
    return safe_text(value) if isinstance(value, str) else plain_text(value)


def _export(rows: Iterable[Model], columns: Iterable[str]) -> str:
    columns = list(columns)
    cells = ([_write_cell(row, column) for column in columns] for row in rows)
    return write_rows(columns, cells)


def export_part_types() -> str:
    return _export(PartType.objects.order_by("key"), PART_COLUMNS)


def export_type_sheets() -> str:
    return _export(TypeSheet.objects.order_by("key"), SHEET_COLUMNS)
