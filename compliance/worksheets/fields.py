"""What a worksheet asks for, and the reading of it without guessing."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from compliance.findings import Step
from compliance.record import UNPRINTABLE

Kind = Literal["number", "numbers", "text", "size", "choice", "flag", "group", "table"]

LARGEST = 1e9
"""No quantity here comes near it; what is larger is a slip of the keyboard."""


class WorksheetError(ValueError):
    """
    An input that cannot be used.

    Parameters
    ----------
    field : str
        Path of the field, such as ``items[2].mass_kg``; empty for the whole input.
    sentence : str
        What is wrong and what is wanted, for a person to read.
    """

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(f"{field}: {sentence}" if field else sentence)
        self.field = field
        self.sentence = sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """
    One input, enough to read it and to draw a form for it.

    ``kind`` is ``number``, ``numbers`` (one number or a list), ``text``, ``size`` (a
    text that may look like a number, such as 10 or 1/0), ``choice``, ``flag`` (true or
    false), ``group`` (an object with ``columns``) or ``table`` (a
    list of such objects). ``above`` excludes its value, ``minimum`` and ``maximum``
    include theirs.
    """

    name: str
    help: str
    unit: str = ""
    kind: Kind = "number"
    required: bool = True
    example: object = None
    above: float | None = None
    minimum: float | None = None
    maximum: float | None = None
    choices: tuple[str, ...] = ()
    columns: tuple["Field", ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Worksheet:
    """A calculation with named inputs; ``compute`` returns results and ``working``."""

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    compute: Callable[["Inputs"], dict[str, Any]]

    def example(self) -> dict[str, object]:
        """Give the inputs that the help shows; they can be computed as they are."""
        return {f.name: f.example for f in self.fields if f.example is not None}


class Inputs:
    """Inputs that were read against their fields, by name and by type."""

    def __init__(self, values: Mapping[str, Any], path: str = "") -> None:
        self._values = values
        self._path = path

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def path(self, name: str) -> str:
        """Give the full path of a field, for an error that the sums discover."""
        return f"{self._path}.{name}" if self._path else name

    def error(self, name: str, sentence: str) -> WorksheetError:
        """Build the error to raise when a field is readable but cannot be."""
        return WorksheetError(self.path(name) if name else self._path, sentence)

    def has(self, name: str) -> bool:
        """Say whether the field was given."""
        return name in self._values

    def number(self, name: str) -> float:
        """Give a number that must be there, required by its field or by the sum."""
        value = self.maybe(name)
        if value is None:
            raise self.error(name, "is needed here: give a number.")
        return value

    def maybe(self, name: str) -> float | None:
        """Give a number, or None when it was left out."""
        value: float | None = self._values.get(name)
        return value

    def numbers(self, name: str) -> list[float]:
        """Give the numbers of a field that takes one or a list."""
        value = self._values[name]
        return list(value) if isinstance(value, list) else [value]

    def is_list(self, name: str) -> bool:
        """Say whether a ``numbers`` field was given as a list."""
        return isinstance(self._values[name], list)

    def text(self, name: str, default: str = "") -> str:
        """Give a text or a choice, or the default when it was left out."""
        return str(self._values.get(name, default))

    def flag(self, name: str, default: bool = False) -> bool:
        """Give a yes or no, or the default when it was left out."""
        return bool(self._values.get(name, default))

    def group(self, name: str) -> "Inputs":
        """Give an object; empty when it was left out."""
        return Inputs(self._values.get(name, {}), self.path(name))

    def rows(self, name: str) -> list["Inputs"]:
        """Give the rows of a table; none when it was left out."""
        rows = self._values.get(name, [])
        return [Inputs(r, f"{self.path(name)}[{i}]") for i, r in enumerate(rows)]


def read_inputs(fields: Sequence[Field], values: object, path: str = "") -> Inputs:
    """
    Read a mapping against its fields.

    Parameters
    ----------
    fields : Sequence[Field]
        Every field that may occur.
    values : object
        What was given; ``None`` for a field means that it was left out.
    path : str
        Path of the mapping, for errors.

    Returns
    -------
    Inputs
        The values, of the types and within the bounds of their fields.

    Raises
    ------
    WorksheetError
        For the first field that is unknown, missing, of a wrong type or out of bounds.
    """
    if not isinstance(values, Mapping):
        raise WorksheetError(path, "must be an object with named fields.")
    known = {field.name for field in fields}
    for name in values:
        if name not in known:
            shown = f"{path}.{name}" if path else str(name)
            raise WorksheetError(
                shown, f"is not a field here. Known: {', '.join(sorted(known))}."
            )
    clean: dict[str, Any] = {}
    for field in fields:
        where = f"{path}.{field.name}" if path else field.name
        value = values.get(field.name)
        if value is not None:
            clean[field.name] = _read(field, value, where)
        elif field.required:
            unit = f" in {field.unit}" if field.unit else ""
            raise WorksheetError(where, f"is missing. Give {field.help}{unit}.")
    return Inputs(clean, path)


def _read(field: Field, value: object, where: str) -> object:
    match field.kind:
        case "number":
            return _number(field, value, where)
        case "numbers":
            if not isinstance(value, list):
                return _number(field, value, where)
            if not value:
                raise WorksheetError(where, "is an empty list. Give numbers.")
            return [_number(field, v, f"{where}[{i}]") for i, v in enumerate(value)]
        case "group":
            return read_inputs(field.columns, value, where)._values
        case "table":
            return _table(field, value, where)
        case "flag":
            if not isinstance(value, bool):
                raise WorksheetError(where, "must be true or false.")
            return value
        case "size" if type(value) is int and 0 <= value < 100:
            return str(value)
        case _:
            return _text(field, value, where)


def _number(field: Field, value: object, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise WorksheetError(where, "must be a number, with a point for decimals.")
    # The comparison comes first: a whole number may be too long for a float.
    if isinstance(value, float) and math.isnan(value):
        raise WorksheetError(where, "is not a number.")
    if abs(value) > LARGEST:
        raise WorksheetError(where, "is far too large. Check the unit.")
    unit = f" {field.unit}" if field.unit else ""
    if field.above is not None and value <= field.above:
        raise WorksheetError(where, f"must be more than {field.above:g}{unit}.")
    if field.minimum is not None and value < field.minimum:
        raise WorksheetError(where, f"must be at least {field.minimum:g}{unit}.")
    if field.maximum is not None and value > field.maximum:
        raise WorksheetError(where, f"must be at most {field.maximum:g}{unit}.")
    return float(value)


def _table(field: Field, value: object, where: str) -> list[Mapping[str, Any]]:
    if not isinstance(value, list):
        raise WorksheetError(where, "must be a list of rows.")
    if field.required and not value:
        raise WorksheetError(where, "has no rows. Give at least one.")
    return [
        read_inputs(field.columns, row, f"{where}[{i}]")._values
        for i, row in enumerate(value)
    ]


def _text(field: Field, value: object, where: str) -> str:
    if not isinstance(value, str):
        raise WorksheetError(where, "must be text.")
    if UNPRINTABLE.search(value):
        raise WorksheetError(where, "has characters that cannot be printed.")
    if field.kind == "choice" and value not in field.choices:
        raise WorksheetError(where, f"must be one of {', '.join(field.choices)}.")
    return value


def step_row(step: Step) -> dict[str, object]:
    """Give a line of working in the form that is printed and exported."""
    return {
        "label": step.label,
        "formula": step.formula,
        "value": step.value,
        "unit": step.unit,
        "source": step.source,
        "mark": step.mark,
    }
