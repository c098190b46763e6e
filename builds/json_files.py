"""JSON that goes in and out by the command line, refused in plain words."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError


def read_json(name: str) -> Any:
    """Read a JSON file, or standard input for ``-``; CommandError says what is wrong."""
    try:
        raw = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        return json.loads(raw.decode("utf-8-sig"), object_pairs_hook=_each_name_once)
    except (OSError, ValueError, RecursionError) as error:
        raise CommandError(f"{name}: {_unreadable(error)}", returncode=2) from error


def _unreadable(error: Exception) -> str:
    """Say in plain words why a file is no JSON."""
    match error:
        case FileNotFoundError():
            return "there is no such file."
        case OSError():
            return "cannot be read; it must be a file that you may read."
        case UnicodeDecodeError():
            return "cannot be read as text: it must be UTF-8."
        case json.JSONDecodeError():
            where = f"line {error.lineno}, column {error.colno}"
            return f"is not JSON at {where}: {error.msg}."
        case RecursionError():
            return "is nested too deeply to be read."
        case TwiceError():
            return str(error)
    return "has a number with too many digits."


class TwiceError(ValueError):
    """A name that stands twice in one object: which one counts nobody knows."""


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            shown = " ".join(name.split())[:60]
            raise TwiceError(f"the name {shown!r} stands twice in one object.")
        found[name] = value
    return found


def write_json(value: Any) -> str:
    """Write results so that the same input always gives the same bytes."""
    return json.dumps(value, sort_keys=True, indent=2, ensure_ascii=False)
