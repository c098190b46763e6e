"""The catalogue and the type sheets as CSV: all of a file goes in, or none of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
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
from builds.models import Package, PackagePart, PartType
from builds.steps import write_steps
from workshop.models import SHEET_FIELDS, Skill, TypeSheet
from workshop.saving import apply_version, save_clean, set_fields

MAX_ROWS = 5000
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


@dataclass(frozen=True, slots=True)
class BadCell:
    """One thing wrong in a file: where, and what to do about it."""

    line: int
    column: str
    sentence: str

    def __str__(self) -> str:
        where = f"line {self.line}"
        if self.column:
            where += f", column {self.column}"
        return f"{where[0].upper()}{where[1:]}: {self.sentence}"


class BadFileError(ValidationError):
    """A file that was refused as a whole, with every fault found in it."""

    def __init__(self, faults: list[BadCell]) -> None:
        self.faults = faults
        super().__init__([str(f) for f in faults[:200]])


def decode(content: bytes) -> str:
    """Read an uploaded file as text; refuse what is not a CSV in UTF-8."""
    if b"\x00" in content or content[:2] == b"PK":
        raise BadFileError(
            [BadCell(1, "", "This is not a CSV file. Save the sheet as CSV UTF-8.")]
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise BadFileError(
            [BadCell(line, "", "This is not UTF-8 text. Save the sheet as CSV UTF-8.")]
        ) from error


def _read_rows(
    text: str, columns: Iterable[str]
) -> tuple[list[tuple[int, dict[str, str]]], list[BadCell]]:
    wanted = list(columns)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    faults: list[BadCell] = []
    try:
        header = [name.strip() for name in next(reader, [])]
        if not any(header):
            return [], [BadCell(1, "", "The file is empty.")]
        for name in sorted(set(header) - set(wanted)):
            faults.append(BadCell(1, name, "This column is not known here."))
        for name in wanted:
            if name not in header:
                faults.append(BadCell(1, name, "This column is missing."))
            elif header.count(name) > 1:
                faults.append(BadCell(1, name, "This column is there twice."))
        if faults:
            return [], faults
        while True:
            line = reader.line_num + 1
            cells = next(reader, None)
            if cells is None:
                break
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                faults.append(
                    BadCell(
                        line,
                        "",
                        f"There are {len(cells)} cells for {len(header)} columns. "
                        "Check quotes and commas.",
                    )
                )
                continue
            rows.append((line, dict(zip(header, map(str.strip, cells), strict=True))))
            if len(rows) > MAX_ROWS:
                faults.append(BadCell(line, "", f"More than {MAX_ROWS} rows."))
                break
    except csv.Error as error:
        faults.append(BadCell(reader.line_num, "", f"The CSV is broken: {error}."))
    return rows, faults


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
    rows, faults = _read_rows(text, columns)
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


@dataclass(frozen=True, slots=True)
class Imported:
    added: int
    changed: int


def _import(model: type[Model], text: str, columns: Iterable[str]) -> Imported:
    rows = _read(model, text, columns)
    manager = model._default_manager
    stored: dict[str, Any] = {
        row.key: row  # type: ignore[attr-defined]
        for row in manager.filter(key__in=[values["key"] for _, values in rows])
    }
    faults: list[BadCell] = []
    changed = 0
    for line, values in rows:
        instance = stored.get(values["key"]) or model()
        if instance.pk and all(getattr(instance, n) == v for n, v in values.items()):
            continue
        set_fields(instance, values)
        if instance.pk:
            changed += 1
            if isinstance(instance, PartType):
                instance.version += 1  # so that a page opened before is stale
        try:
            instance.full_clean()
        except ValidationError as error:
            faults += [
                BadCell(line, "" if column == "__all__" else column, sentence)
                for column, sentences in error.message_dict.items()
                for sentence in sentences
            ]
            continue
        instance.save()
    if faults:
        raise BadFileError(faults)
    return Imported(added=len(rows) - len(stored), changed=changed)


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


@transaction.atomic
def import_packages(*, text: str) -> Imported:
    """Add packages, one row a part; a package that is known is made anew."""
    columns = ("package_key", "package_name", "description", "part_key", "quantity")
    rows, faults = _read_rows(text, columns)
    parts = PartType.objects.in_bulk(field_name="key")
    packages: dict[str, Package] = {}
    for line, row in rows:
        part = parts.get(row["part_key"])
        if part is None:
            sentence = f"there is no part type {row['part_key']}."
            faults.append(BadCell(line, "part_key", sentence))
            continue
        package = packages.get(row["package_key"])
        if package is None:
            package, _ = Package.objects.update_or_create(
                key=row["package_key"],
                defaults={
                    "name": row["package_name"],
                    "description": row["description"],
                },
            )
            package.parts.all().delete()
            packages[package.key] = package
        try:
            quantity = read_whole(row["quantity"] or "1")
            link = PackagePart(package=package, part=part, quantity=quantity)
            link.full_clean()
            link.save()
        except CellError as error:
            faults.append(BadCell(line, "quantity", str(error)))
        except ValidationError as error:
            faults.append(BadCell(line, "quantity", " ".join(error.messages)))
    if faults:
        raise BadFileError(faults)
    return Imported(added=len(packages), changed=0)


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
    # A spreadsheet would run a cell that starts like a formula.
    formula = isinstance(value, str) and value[:1] in ("=", "+", "-", "@")
    return f" {value}" if formula else plain_text(value)


def _export(rows: Iterable[Model], columns: Iterable[str]) -> str:
    columns = list(columns)
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_write_cell(row, column) for column in columns])
    return out.getvalue()


def export_part_types() -> str:
    return _export(PartType.objects.order_by("key"), PART_COLUMNS)


def export_type_sheets() -> str:
    return _export(TypeSheet.objects.order_by("key"), SHEET_COLUMNS)
