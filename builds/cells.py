"""What one cell or one text field holds, read into what is stored, and written back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.validators import slug_re

from builds.models import SUPPLY_ROLES
from builds.steps import read_steps
from compliance.inputs import RATING_NAMES
from compliance.record import FORMAT, VERSION, RecordError, parse_record


class CellError(ValueError):
    """A cell that cannot be read; its text is the sentence to show."""


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


def read_whole(text: str) -> int:
    number = read_number(text)
    if number != number.to_integral_value() or abs(number) > 10**9:
        raise CellError(f"“{text}” is not a whole number.")
    return int(number)


def read_flag(text: str) -> bool:
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
    for name, sentence in supply_faults(role, facts):
        raise CellError(f"{name} {sentence}")


def supply_faults(role: str, facts: Mapping[str, float | str]) -> list[tuple[str, str]]:
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
        whole = facts.get("ways", 1) in range(1, 101)
        return [] if whole else [("ways", "is a whole number from 1 to 100.")]
    record = {
        "format": FORMAT,
        "version": VERSION,
        "vehicle": {"label": role},
        "supply": supply[role],
    }
    try:
        parse_record(record)
    except RecordError as error:
        return [(path.rpartition(".")[2], said) for path, said in error.faults]
    return []


def read_raises(text: str) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, value in read_pairs(text).items():
        if name not in RATING_NAMES:
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


def read_switch_positions(text: str) -> list[dict[str, str]]:
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


def read_papers(text: str) -> list[str]:
    return [p.strip() for p in text.split(";") if p.strip()]


READERS: dict[str, Callable[[str], Any]] = {
    "supply": read_supply,
    "raises": read_raises,
    "steps": read_steps,
    "tests": read_steps,
    "papers": read_papers,
    "seats": read_seats,
    "switch_positions": read_switch_positions,
}


def write_pairs(pairs: Mapping[str, object]) -> str:
    return "; ".join(f"{name}={plain_text(value)}" for name, value in pairs.items())


def write_raises(raises: Mapping[str, float]) -> str:
    return "; ".join(f"{name}={delta:+g}" for name, delta in raises.items())


def plain_text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    return str(value)
