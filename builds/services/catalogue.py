"""The catalogue and the type sheets as CSV: all of a file goes in, or none of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import slug_re
from django.db import transaction
from django.db.models import Field, Model

from builds.models import SUPPLY_ROLES, Package, PackagePart, PartType
from builds.steps import read_steps, write_steps
from compliance.record import FORMAT, VERSION, RecordError, parse_record
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


class CellError(ValueError):
    """A cell that cannot be read; its text is the sentence to show."""


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


def read_number(text: str) -> Decimal:
    if "," in text:
        raise CellError(f"“{text}”: use a point for decimals, such as 12.5.")
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise CellError(f"“{text}” is not a number.") from None
    if not number.is_finite():
        raise CellError(f"“{text}” is not a number.")
    return number


def _read_whole(text: str) -> int:
    number = read_number(text)
    if number != number.to_integral_value() or abs(number) > 10**9:
        raise CellError(f"“{text}” is not a whole number.")
    return int(number)


def _read_flag(text: str) -> bool:
    flags = {"yes": True, "no": False}
    if text.lower() not in flags:
        raise CellError(f"“{text}”: say yes or no.")
    return flags[text.lower()]


def read_pairs(text: str) -> dict[str, float | str]:
    """Read ``name=value; name=value``; numbers become numbers."""
    found: dict[str, float | str] = {}
    for piece in filter(None, map(str.strip, text.split(";"))):
        name, equals, value = (part.strip() for part in piece.partition("="))
        if not equals or not name or not value:
            raise CellError(f"“{piece}”: write name=value, divided by semicolons.")
        if name in found:
            raise CellError(f"{name} is there twice.")
        try:
            number = read_number(value)
        except CellError:
            found[name] = value
        else:
            if abs(number) > 10**7:
                raise CellError(f"{name}: “{value[:20]}” is beyond all reason.")
            found[name] = float(number)
    return found


def read_supply(text: str) -> dict[str, float | str]:
    found = read_pairs(text)
    if not found:
        return found
    role = str(found.get("role", ""))
    if role not in SUPPLY_ROLES:
        raise CellError(f"start with role= one of {', '.join(SUPPLY_ROLES)}.")
    for name in found:
        if name != "role" and name not in SUPPLY_ROLES[role]:
            raise CellError(f"a {role} has no {name}.")
    _check_supply(role, {n: v for n, v in found.items() if n != "role"})
    return found


def _check_supply(role: str, facts: dict[str, float | str]) -> None:
    """Hold a part's facts against what the calculation core will read of them."""
    part = {"key": "part", **facts}
    aux = {"key": "aux", "chemistry": "lfp", "capacity_ah": 1}
    supply: dict[str, dict[str, Any]] = {
        "battery": {"batteries": [part]},
        "charger": {
            "batteries": [aux],
            "chargers": [{**part, "from": "start", "to": "aux"}],
        },
        "panel": {"panels": [part]},
    }
    if role not in supply:
        ways = facts.get("ways", 1)
        if ways not in range(1, 101):
            raise CellError("ways is a whole number from 1 to 100.")
        return
    record = {
        "format": FORMAT,
        "version": VERSION,
        "vehicle": {"label": role},
        "supply": supply[role],
    }
    try:
        parse_record(record)
    except RecordError as error:
        path, sentence = error.faults[0]
        raise CellError(f"{path.rpartition('.')[2]} {sentence}") from error


RAISABLE = (
    "gvm_kg",
    "front_axle_kg",
    "rear_axle_kg",
    "gcm_kg",
    "braked_towing_kg",
    "ball_kg",
    "roof_kg",
)


def read_raises(text: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, value in read_pairs(text).items():
        if name not in RAISABLE:
            raise CellError(f"{name} is not a rating that can be raised.")
        if not isinstance(value, float):
            raise CellError(f"{name}: “{value}” is not a number.")
        if not 0 < value <= 20000:
            raise CellError(f"{name}: a rating is raised by 1 to 20000 kg.")
        found[name] = value
    return found


def read_seats(text: str) -> list[dict[str, object]]:
    """Read one seat a line, such as ``driver x=-1450 y=-380``."""
    seats: list[dict[str, object]] = []
    for line in filter(None, map(str.strip, text.splitlines())):
        key, *places = line.split()
        try:
            found = read_pairs(";".join(places))
        except CellError:
            found = {}
        named = len(key) <= 60 and key.isprintable()
        if not named or set(found) - {"x", "y"} or "x" not in found:
            raise CellError(f"“{line}”: write a seat as driver x=-1450 y=-380.")
        numbers = {n: v for n, v in found.items() if isinstance(v, float)}
        if len(numbers) != len(found) or any(abs(v) > 15000 for v in numbers.values()):
            raise CellError(f"“{line}”: x and y are millimetres.")
        seat: dict[str, object] = {"key": key, "x_mm": int(numbers["x"])}
        if "y" in numbers:
            seat["y_mm"] = int(numbers["y"])
        if key in [s["key"] for s in seats]:
            raise CellError(f"the seat {key} is there twice.")
        seats.append(seat)
    return seats


def write_seats(seats: Iterable[Mapping[str, Any]]) -> str:
    return "\n".join(
        f"{s['key']} x={s['x_mm']}" + (f" y={s['y_mm']}" if "y_mm" in s else "")
        for s in seats
    )


def _read_switch_positions(text: str) -> list[dict[str, str]]:
    places: list[dict[str, str]] = []
    for line in filter(None, map(str.strip, text.splitlines())):
        parts = [p.strip() for p in line.split("|")]
        if len(parts) != 3 or not all(parts):
            raise CellError(f"“{line}”: write key | panel | where on it.")
        if any(len(part) > n for part, n in zip(parts, (40, 40, 60), strict=True)):
            raise CellError(f"“{line[:60]}”: 40, 40 and 60 characters at most.")
        if not slug_re.match(parts[0]):
            raise CellError(f"“{parts[0]}”: a key has letters, figures and hyphens.")
        if parts[0] in [p["key"] for p in places]:
            raise CellError(f"the switch place {parts[0]} is there twice.")
        places.append({"key": parts[0], "panel": parts[1], "label": parts[2]})
    return places


def _read_papers(text: str) -> list[str]:
    return [p.strip() for p in text.split(";") if p.strip()]


SPECIAL: dict[str, Callable[[str], Any]] = {
    "supply": read_supply,
    "raises": read_raises,
    "steps": read_steps,
    "tests": read_steps,
    "papers": _read_papers,
    "seats": read_seats,
    "switch_positions": _read_switch_positions,
}


def _read_cell(model: type[Model], column: str, text: str) -> Any:
    field = model._meta.get_field(column)
    assert isinstance(field, Field)
    if column in SPECIAL:
        return SPECIAL[column](text)
    if text == "":
        if field.null:
            return None
        return field.get_default()
    match field.get_internal_type():
        case "DecimalField":
            return read_number(text)
        case "IntegerField" | "PositiveIntegerField" | "PositiveSmallIntegerField":
            return _read_whole(text)
        case "BooleanField":
            return _read_flag(text)
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
            quantity = _read_whole(row["quantity"] or "1")
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
    return f" {value}" if formula else _plain(value)


def write_pairs(pairs: Mapping[str, object]) -> str:
    return "; ".join(f"{name}={_plain(value)}" for name, value in pairs.items())


def write_raises(raises: Mapping[str, float]) -> str:
    return "; ".join(f"{name}={delta:+g}" for name, delta in raises.items())


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(value)


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
