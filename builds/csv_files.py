"""CSV files as workshops keep them: read whole or refused whole, every fault named."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError

MAX_ROWS = 5000
MOST_SHOWN = 200
"""Faults shown at once; whoever has more of them mends these first."""


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
        shown = [str(f) for f in faults[:MOST_SHOWN]]
        if rest := len(faults) - len(shown):
            shown.append(f"{rest} more of them further down.")
        super().__init__(shown)


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


def read_rows(
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
        if len(header) == 1 and any(mark in header[0] for mark in ";\t"):
            sentence = "Cells are divided by commas here. Save the sheet as CSV UTF-8."
            return [], [BadCell(1, "", sentence)]
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


@dataclass(frozen=True, slots=True)
class Incoming:
    """One row of a file that differs from what is stored."""

    key: str
    name: str
    cells: tuple[tuple[str, str, str], ...] = ()
    """Column, what is stored, what the file says; none for a row that is new."""


@dataclass(frozen=True, slots=True)
class Imported:
    added: int
    changed: int
    rows: tuple[Incoming, ...] = field(default=(), compare=False)


def apart(old: str, new: str) -> tuple[str, str]:
    """Leave out what two long texts begin with alike, so that a list shows where they part."""
    if max(len(old), len(new)) <= 60:
        return old, new
    pairs = enumerate(zip(old, new, strict=False))
    alike = next((n for n, (a, b) in pairs if a != b), min(len(old), len(new)))
    start = max(alike - 20, 0)
    mark = "…" if start else ""
    return mark + old[start:], mark + new[start:]


def safe_text(text: str) -> str:
    """Keep a spreadsheet from running a cell that starts like a formula."""
    return f" {text}" if text[:1] in ("=", "+", "-", "@") else text


def write_rows(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()
