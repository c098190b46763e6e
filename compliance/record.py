"""Reading the open build record: every fault with its path, or the record."""

import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

from compliance.inputs import BuildRecord
from compliance.record_links import link_faults
from compliance.record_shape import RECORD
from compliance.shape import (
    Either,
    Facts,
    Flag,
    Many,
    Named,
    Number,
    Object,
    Shape,
    Text,
)

FORMAT = "build-record"
VERSION = 1

UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_SPACE = re.compile(r"\s")

Fault = tuple[str, str]


class RecordError(ValueError):
    """
    A record that cannot be read.

    Parameters
    ----------
    faults : list of (path, sentence)
        Each fault with the path of its value, such as ``items[2].mass_kg``.
    """

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(f"{path}: {said}" for path, said in faults))
        self.faults = faults


def parse_record(data: Mapping[str, Any]) -> BuildRecord:
    """
    Read a build record from the values that JSON gives.

    Parameters
    ----------
    data : Mapping
        The whole document with ``format`` and ``version``. ``None`` for a member
        means that it is not recorded, as leaving it out does.

    Returns
    -------
    BuildRecord
        The frozen picture that the core computes from.

    Raises
    ------
    RecordError
        With every fault found: unknown names, wrong types, numbers that are not
        finite or beyond all reason, links that lead nowhere or in a circle, and
        places and masses that cannot be.
    """
    if not isinstance(data, Mapping):
        raise RecordError([("", "A record must be an object with named members.")])
    faults: list[Fault] = []
    if data.get("format") != FORMAT:
        faults.append(("format", f'must be "{FORMAT}".'))
    version = data.get("version")
    if isinstance(version, bool) or version != VERSION:
        faults.append(("version", f"must be {VERSION}."))
    body = {k: v for k, v in data.items() if k not in ("format", "version")}
    record = _read(RECORD, body, "", faults)
    if faults:
        raise RecordError(faults)
    assert isinstance(record, BuildRecord)
    faults = link_faults(record)
    if faults:
        raise RecordError(faults)
    return record


def _read(shape: Shape, value: Any, path: str, faults: list[Fault]) -> Any:
    """Read one value; what cannot be read is left as None and its fault noted."""
    kind = type(shape)
    if kind is Number:
        return _number(shape, value, path, faults)  # type: ignore[arg-type]
    if kind is Text:
        return _text(shape, value, path, faults)  # type: ignore[arg-type]
    if kind is Object:
        return _object(shape, value, path, faults)  # type: ignore[arg-type]
    if kind is Many:
        return _many(shape, value, path, faults)  # type: ignore[arg-type]
    if kind is Flag:
        if isinstance(value, bool):
            return value
        return _note(faults, path, "must be true or false.")
    return _read_rare(shape, value, path, faults)


def _read_rare(shape: Shape, value: Any, path: str, faults: list[Fault]) -> Any:
    if isinstance(shape, Either):
        if isinstance(value, str):
            if value in shape.words:
                return value
            words = " or ".join(shape.words)
            return _note(faults, path, f"must be a number or {words}.")
        return _number(shape.number, value, path, faults)
    if not isinstance(value, Mapping):
        return _note(faults, path, "must be an object with named members.")
    read: dict[str, Any] = {}
    for name, member in _members(value, path, faults):
        where = f"{path}.{name}"
        if isinstance(shape, Named):
            read[name] = _number(shape.of, member, where, faults)
        else:
            assert isinstance(shape, Facts)
            read[name] = _fact(member, where, faults)
    return read


def _members(
    value: Mapping[Any, Any], path: str, faults: list[Fault]
) -> Iterator[tuple[str, Any]]:
    for name, member in value.items():
        if not isinstance(name, str) or UNPRINTABLE.search(name):
            _note(faults, path, "has a name that is not plain text.")
        elif member is not None:
            yield name, member


def _fact(value: Any, path: str, faults: list[Fault]) -> Any:
    if isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _text(_FACT_TEXT, value, path, faults)
    if isinstance(value, int | float):
        return _number(_FACT_NUMBER, value, path, faults)
    return _note(faults, path, "must be a text, a number, or true or false.")


_FACT_TEXT = Text(longest=2_000)
_FACT_NUMBER = Number(low=-1e9, high=1e9)


def _number(shape: Number, value: Any, path: str, faults: list[Fault]) -> Any:
    if value.__class__ is not float and value.__class__ is not int:
        return _note(faults, path, "must be a number.")
    low, high = shape.low, shape.high
    if low < value <= high or (value == low and not shape.above):
        if not shape.whole:
            return float(value)
        if value == int(value):
            return int(value)
        return _note(faults, path, "must be a whole number.")
    if not math.isfinite(value if value.__class__ is float else 0.0):
        return _note(faults, path, "is not a finite number.")
    if value > high:
        return _note(faults, path, f"is beyond {high:,g}. Check the unit.")
    if shape.above:
        return _note(faults, path, f"must be more than {low:,g}.")
    return _note(faults, path, f"is below {low:,g}.")


def _text(shape: Text, value: Any, path: str, faults: list[Fault]) -> Any:
    if not isinstance(value, str):
        return _note(faults, path, "must be text.")
    if shape.choices:
        if value in shape.choices:
            return value
        return _note(faults, path, f"must be one of {', '.join(shape.choices)}.")
    if len(value) > shape.longest:
        return _note(faults, path, f"is longer than {shape.longest} characters.")
    if UNPRINTABLE.search(value):
        return _note(faults, path, "has characters that cannot be printed.")
    if shape.key and (not value or _SPACE.search(value)):
        return _note(faults, path, "must be a key: not empty and without spaces.")
    return value


def _many(shape: Many, value: Any, path: str, faults: list[Fault]) -> Any:
    if not isinstance(value, list | tuple):
        return _note(faults, path, "must be a list.")
    if len(value) > shape.most:
        return _note(faults, path, f"has more than {shape.most} entries.")
    read = [_read(shape.of, v, f"{path}[{i}]", faults) for i, v in enumerate(value)]
    if shape.unique:
        _check_unique(shape.unique, value, path, faults)
    return tuple(read)


def _check_unique(
    name: str, rows: list[Any] | tuple[Any, ...], path: str, faults: list[Fault]
) -> None:
    seen: dict[str, int] = {}
    for index, row in enumerate(rows):
        key = row.get(name) if isinstance(row, Mapping) else None
        if not isinstance(key, str):
            continue
        first = seen.setdefault(key, index)
        if first != index:
            where = f"{path}[{index}].{name}"
            _note(faults, where, f"{key!r} is already used by {path}[{first}].")


def _object(shape: Object, value: Any, path: str, faults: list[Fault]) -> Any:
    if not isinstance(value, Mapping):
        return _note(faults, path, "must be an object with named members.")
    before = len(faults)
    read: dict[str, Any] = {}
    members, renamed = shape.members, shape.renamed
    prefix = f"{path}." if path else ""
    for name, member in value.items():
        inner = members.get(name)
        if inner is None:
            _note(faults, f"{prefix}{name}", "is not a name of the record.")
        elif member is not None:
            read[renamed.get(name, name)] = _read(
                inner, member, f"{prefix}{name}", faults
            )
    for name in shape.required:
        if value.get(name) is None:
            _note(faults, f"{prefix}{name}", "is missing.")
    return shape.build(**read) if len(faults) == before else None


def _note(faults: list[Fault], path: str, said: str) -> None:
    faults.append((path, said))
