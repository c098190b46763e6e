"""Packages: several part types that are usually fitted together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from builds.cells import CellError, read_whole
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
from builds.models import Package, PackagePart, PartType
from workshop.saving import apply_version, save_clean, set_fields

COLUMNS = ("package_key", "package_name", "description", "part_key", "quantity")

Rows = Sequence[tuple[PartType, int]]


@transaction.atomic
def add_package(*, rows: Rows, **fields: Any) -> Package:
    package = save_clean(set_fields(Package(), fields))
    _put_rows(package, rows)
    return package


@transaction.atomic
def update_package(
    *, package: Package, rows: Rows, version: int | None = None, **fields: Any
) -> Package:
    """Change a package; builds that were given it before keep what they have."""
    apply_version(package, version, package.name)
    save_clean(set_fields(package, fields))
    package.parts.all().delete()
    _put_rows(package, rows)
    return package


@transaction.atomic
def remove_package(*, package: Package) -> None:
    package.delete()


def _put_rows(package: Package, rows: Rows) -> None:
    if not rows:
        raise ValidationError("A package has at least one part.")
    for part, quantity in rows:
        save_clean(PackagePart(package=package, part=part, quantity=quantity))


@dataclass(slots=True)
class _Draft:
    """One package of a file: where it starts and what it holds."""

    line: int
    name: str
    description: str
    rows: dict[PartType, int] = field(default_factory=dict)

    @property
    def about(self) -> dict[str, str]:
        return {"name": self.name, "description": self.description}

    def cells_against(self, package: Package) -> tuple[tuple[str, str, str], ...]:
        now = (package.name, package.description, _in_words(rows_of(package)))
        then = (self.name, self.description, _in_words(self.rows.items()))
        cells = zip(("package_name", "description", "parts"), now, then, strict=True)
        return tuple(
            (column, *apart(old, new)) for column, old, new in cells if old != new
        )


def _in_words(rows: Iterable[tuple[PartType, int]]) -> str:
    return ", ".join(f"{n} {part.key}" for part, n in rows)


def _draft_packages(text: str) -> tuple[dict[str, _Draft], list[BadCell]]:
    lines, faults = read_rows(text, COLUMNS)
    parts = PartType.objects.in_bulk(
        {row["part_key"] for _, row in lines}, field_name="key"
    )
    drafts: dict[str, _Draft] = {}
    for line, row in lines:
        key = row["package_key"]
        draft = drafts.setdefault(
            key, _Draft(line, row["package_name"], row["description"])
        )
        for column, first in (
            ("package_name", draft.name),
            ("description", draft.description),
        ):
            if row[column] != first:
                sentence = f"{key} says something else on line {draft.line}."
                faults.append(BadCell(line, column, sentence))
        if fault := _draft_row(draft, row, parts.get(row["part_key"])):
            faults.append(BadCell(line, *fault))
    return drafts, faults


def _draft_row(
    draft: _Draft, row: dict[str, str], part: PartType | None
) -> tuple[str, str] | None:
    """Put one part into a draft, or say which column is wrong and why."""
    if part is None:
        return "part_key", f"there is no part type {row['part_key']}."
    if part in draft.rows:
        return "part_key", f"{part.key} is in this package already."
    try:
        draft.rows[part] = read_whole(row["quantity"] or "1")
        PackagePart(part=part, quantity=draft.rows[part]).clean_fields(["package"])
    except CellError as error:
        return "quantity", str(error)
    except ValidationError as error:
        return "quantity", " ".join(error.messages)
    return None


@transaction.atomic
def import_packages(*, text: str) -> Imported:
    """Add or change packages by key, one row a part; all of the file or none of it."""
    drafts, faults = _draft_packages(text)
    stored = Package.objects.prefetch_related("parts__part").in_bulk(
        drafts, field_name="key"
    )
    for key, draft in drafts.items():
        try:
            known = ["key"] if key in stored else []
            Package(key=key, **draft.about).full_clean(exclude=known)
        except ValidationError as error:
            faults += _faults_of_package(draft.line, error)
    if faults:
        raise BadFileError(faults)
    incoming: list[Incoming] = []
    for key, draft in drafts.items():
        package, rows = stored.get(key), list(draft.rows.items())
        cells = draft.cells_against(package) if package else ()
        if package is None:
            add_package(key=key, rows=rows, **draft.about)
        elif cells:
            update_package(
                package=package,
                rows=rows,
                name=draft.name,
                description=draft.description,
            )
        else:
            continue
        incoming.append(Incoming(key, draft.name, cells))
    added = len(drafts) - len(stored)
    return Imported(added, len(incoming) - added, tuple(incoming))


def _faults_of_package(line: int, error: ValidationError) -> list[BadCell]:
    columns = {"key": "package_key", "name": "package_name"}
    return [
        BadCell(line, columns.get(name, name), sentence)
        for name, sentences in error.message_dict.items()
        for sentence in sentences
    ]


def rows_of(package: Package) -> list[tuple[PartType, int]]:
    return [(row.part, row.quantity) for row in package.parts.all()]


def export_packages() -> str:
    packages = Package.objects.order_by("key").prefetch_related("parts__part")
    return write_rows(COLUMNS, _cells(packages))


def _cells(packages: Iterable[Package]) -> Iterable[list[str]]:
    for package in packages:
        about = [package.key, package.name, package.description]
        for part, quantity in rows_of(package):
            yield [*map(safe_text, about), part.key, str(quantity)]


@dataclass(frozen=True, slots=True)
class Brings:
    """What a package adds to a build, as far as its parts say."""

    mass_kg: Decimal
    price: Decimal
    labour_h: Decimal
    unweighed: int
    unpriced: int


def what_it_brings(package: Package) -> Brings:
    rows = rows_of(package)
    zero = Decimal(0)
    return Brings(
        mass_kg=sum((p.mass_kg * n for p, n in rows if p.mass_kg is not None), zero),
        price=sum((p.price * n for p, n in rows if p.price is not None), zero),
        labour_h=sum(
            (Decimal(str(h)) * n for p, n in rows for h in p.labour.values()), zero
        ),
        unweighed=sum(p.mass_kg is None for p, _ in rows),
        unpriced=sum(p.price is None for p, _ in rows),
    )
