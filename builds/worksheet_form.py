"""A worksheet's declared fields as a plain HTML form, and what was posted as its inputs."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as made_of
from typing import Any

from django.core.exceptions import ValidationError

from compliance.worksheets import Field
from workshop.forms_fields import refuse_odd_number

ROWS = 6
MOST_ROWS = 60


@dataclass(slots=True)
class Cell:
    """One input of the form; ``name`` is its path, ``value`` what was typed."""

    field: Field
    name: str
    value: str = ""
    error: str = ""

    @property
    def id(self) -> str:
        return "in-" + re.sub(r"[^a-z0-9]+", "-", self.name)

    @property
    def is_set(self) -> bool:
        return self.value == "on"


@dataclass(slots=True)
class Block:
    """A cell, a group of cells, or a table of them."""

    field: Field
    cells: list[Cell] = made_of(default_factory=list)
    rows: list[list[Cell]] = made_of(default_factory=list)
    error: str = ""

    @property
    def is_plain(self) -> bool:
        """One input of its own, not a group or a table of them."""
        return self.field.kind not in ("group", "table")


class WorksheetForm:
    """What was typed, the inputs read from it, and what could not be read."""

    def __init__(
        self, fields: Sequence[Field], typed: Mapping[str, str], rows: int = ROWS
    ) -> None:
        self.typed = typed
        self.rows = max(1, min(rows, MOST_ROWS))
        self.errors: dict[str, str] = {}
        self._kept: dict[str, list[int]] = {}
        self.blocks = [self._block(f) for f in fields]
        self.values = {
            block.field.name: value
            for block in self.blocks
            if (value := self._value(block)) not in (None, {}, [])
        }

    def _cell(self, declared: Field, prefix: str) -> Cell:
        name = f"{prefix}{declared.name}"
        return Cell(declared, name, self.typed.get(name, "").strip())

    def _block(self, declared: Field) -> Block:
        block = Block(declared)
        if declared.kind == "group":
            block.cells = [self._cell(c, f"{declared.name}.") for c in declared.columns]
        elif declared.kind == "table":
            block.rows = [
                [self._cell(c, f"{declared.name}[{n}].") for c in declared.columns]
                for n in range(self.rows)
            ]
        else:
            block.cells = [self._cell(declared, "")]
        return block

    def _value(self, block: Block) -> Any:
        kind = block.field.kind
        if kind == "group":
            return self._object(block.cells)
        if kind == "table":
            rows = [self._object(row) for row in block.rows]
            kept = [n for n, row in enumerate(rows) if row]
            self._kept[block.field.name] = kept
            return [rows[n] for n in kept]
        return self._read(block.cells[0])

    def _object(self, cells: list[Cell]) -> dict[str, Any]:
        return {
            cell.field.name: value
            for cell in cells
            if (value := self._read(cell)) is not None
        }

    def _read(self, cell: Cell) -> Any:
        text = cell.value
        if cell.field.kind == "flag":
            return True if text else None
        if not text:
            return None
        try:
            if cell.field.kind == "number":
                return self._number(text, cell.field.unit)
            if cell.field.kind == "numbers":
                found = [
                    self._number(part, cell.field.unit)
                    for part in re.split(r"[\s;]+", text)
                ]
                return found[0] if len(found) == 1 else found
        except ValidationError as error:
            self.errors[cell.name] = cell.error = error.messages[0]
            return None
        return text

    def _number(self, text: str, unit: str) -> float:
        refuse_odd_number(text, unit)
        try:
            number = float(text)
        except ValueError:
            raise ValidationError("Enter a number, such as 12.5.") from None
        if not math.isfinite(number):
            raise ValidationError("Enter a number, such as 12.5.")
        return number

    def put_error(self, path: str, sentence: str) -> str:
        """Put the core's error at its cell; give it back if it has none."""

        def as_typed(match: re.Match[str]) -> str:
            kept = self._kept.get(match[1], [])
            n = int(match[2])
            return f"{match[1]}[{kept[n] if n < len(kept) else n}]"

        path = re.sub(r"^(\w+)\[(\d+)\]", as_typed, path)
        for block in self.blocks:
            for cell in [*block.cells, *(c for row in block.rows for c in row)]:
                if cell.name == path:
                    cell.error = f"This {sentence}"
                    return ""
            if block.field.name == path:
                block.error = f"This {sentence}"
                return ""
        return f"{path} {sentence}".strip()


def typed_from(fields: Sequence[Field], values: Mapping[str, Any]) -> dict[str, str]:
    """Write inputs, such as a worksheet's example, as they would be typed."""
    typed: dict[str, str] = {}

    def put(name: str, value: Any) -> None:
        if isinstance(value, bool):
            typed[name] = "on" if value else ""
        elif isinstance(value, Mapping):
            for key, inner in value.items():
                put(f"{name}.{key}", inner)
        elif isinstance(value, list | tuple):
            if value and isinstance(value[0], Mapping):
                for n, row in enumerate(value):
                    put(f"{name}[{n}]", row)
            else:
                typed[name] = " ".join(f"{v:.12g}" for v in value)
        elif isinstance(value, int | float):
            typed[name] = f"{value:.12g}"
        else:
            typed[name] = str(value)

    for declared in fields:
        if declared.name in values:
            put(declared.name, values[declared.name])
    return typed
