"""What a fact may hold, and how a fault in the rules is told."""

import math
import re
from datetime import date
from typing import Literal, get_args

Kind = Literal["flag", "number", "text", "date", "list"]
KINDS: tuple[str, ...] = get_args(Kind)

BEYOND = 1e12
"""A number at or past this is a slip, not a measure; it counts as not known."""

_DATE = re.compile(r"[12]\d{3}-\d{2}-\d{2}\Z", re.ASCII)


class LawError(ValueError):
    """
    Rule data that cannot be used.

    Parameters
    ----------
    said : str
        What is wrong.
    file : str
        The file it stands in, empty where not yet known.
    rule : str
        The rule, fact or kind it belongs to, empty for the file as a whole.
    column : int
        Column of the predicate or of the file, from 1; 0 for none.
    """

    def __init__(
        self, said: str, file: str = "", rule: str = "", column: int = 0
    ) -> None:
        where = [file, rule, f"column {column}" if column else ""]
        super().__init__(
            ": ".join([", ".join(w for w in where if w), said]).lstrip(": ")
        )
        self.said, self.file, self.rule, self.column = said, file, rule, column

    def within(self, file: str, rule: str = "") -> "LawError":
        """Give the same fault with the place it stands in."""
        return LawError(self.said, file, rule or self.rule, self.column)


def texts(value: object, what: str) -> tuple[str, ...]:
    """Read a list of texts of the rule data; LawError says what is none."""
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise LawError(f"{what} must be a list of texts")
    return tuple(value)


def is_date(value: object) -> bool:
    """Say whether a value is a calendar date written YYYY-MM-DD."""
    if not isinstance(value, str) or not _DATE.match(value):
        return False
    try:
        date.fromisoformat(value)
    except ValueError:
        return False
    return True


def cleaned(value: object, kind: Kind, choices: tuple[str, ...] = ()) -> object:
    """
    Give a fact's value as predicates read it.

    Parameters
    ----------
    value : object
        Whatever was recorded.
    kind : Kind
        Declared type of the fact.
    choices : tuple of str
        The texts it may hold; empty for any.

    Returns
    -------
    object
        A bool, float, str or tuple of str; None for what is not of its type, not
        among its choices or not a finite number of a sensible size. A wrong value is
        unknown, it never decides a rule.
    """
    if kind == "number":
        if isinstance(value, bool) or not isinstance(value, int | float):
            return None
        return float(value) if -BEYOND < value < BEYOND else None
    if kind == "flag":
        return value if isinstance(value, bool) else None
    if kind == "text":
        fits = isinstance(value, str) and (not choices or value in choices)
        return value if fits else None
    if kind == "date":
        return value if is_date(value) else None
    if isinstance(value, list | tuple) and all(isinstance(v, str) for v in value):
        return tuple(value)
    return None


def finite(value: float) -> float | None:
    """Give a sum, or None where it ran past all numbers."""
    return value if math.isfinite(value) else None
