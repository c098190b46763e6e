"""How stored values stand in a record: in metres and floats, what is not known left out."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

Record = dict[str, Any]


def known(**values: object) -> dict[str, Any]:
    """Keep what is known; a missing value is left out of a record, never 0."""
    return {
        name: float(value) if isinstance(value, Decimal) else value
        for name, value in values.items()
        if value is not None and value != "" and value != {} and value != []
    }


def metres(length_mm: int | None) -> float | None:
    return None if length_mm is None else length_mm / 1000
