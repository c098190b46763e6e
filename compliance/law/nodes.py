"""The parts of a parsed predicate. Each gives its value, or None for unknown.

A part adds to ``missing`` exactly when its own value is unknown.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from compliance.law.values import Kind, cleaned, finite

NOISE = 1e-9
"""Relative noise of binary sums: exactly at a limit is at the limit."""

Values = Mapping[str, object]


class Node(Protocol):
    """A part of a predicate."""

    def value(self, values: Values, missing: set[str]) -> object:
        """Give the value; None for unknown, with the names at fault in ``missing``."""


def truth(value: object) -> bool | None:
    """Read a value as true or false: a text is true when there is one."""
    return None if value is None else bool(value)


@dataclass(frozen=True, slots=True)
class Written:
    """A number, text, truth value or list of the rule itself."""

    held: float | str | bool | tuple[float | str, ...]

    def value(self, values: Values, missing: set[str]) -> object:
        """Give what is written."""
        return self.held


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact or parameter by name."""

    name: str
    kind: Kind
    choices: tuple[str, ...]

    def value(self, values: Values, missing: set[str]) -> object:
        """Give what is recorded, unknown if absent or not of its type."""
        held = cleaned(values.get(self.name), self.kind, self.choices)
        if held is None:
            missing.add(self.name)
        return held


@dataclass(frozen=True, slots=True)
class Not:
    """Negation; of unknown it is unknown."""

    inner: Node

    def value(self, values: Values, missing: set[str]) -> bool | None:
        """Turn true and false round."""
        held = truth(self.inner.value(values, missing))
        return None if held is None else not held


@dataclass(frozen=True, slots=True)
class Chain:
    """``and`` or ``or`` of two parts or more."""

    any: bool
    parts: tuple[Node, ...]

    def value(self, values: Values, missing: set[str]) -> bool | None:
        """Give the deciding value if one part has it, unknown before the rest."""
        lacking: set[str] = set()
        unknown = False
        for part in self.parts:
            held = truth(part.value(values, lacking))
            if held is None:
                unknown = True
            elif held is self.any:
                return held
        if unknown:
            missing |= lacking
            return None
        return not self.any


@dataclass(frozen=True, slots=True)
class Compare:
    """Two values of one type held against each other."""

    sign: str
    left: Node
    right: Node

    def value(self, values: Values, missing: set[str]) -> bool | None:
        """Compare; numbers within binary noise of each other count as equal."""
        left = self.left.value(values, missing)
        right = self.right.value(values, missing)
        if left is None or right is None:
            return None
        order = _order(left, right)
        return {
            "<": order < 0,
            "<=": order <= 0,
            ">": order > 0,
            ">=": order >= 0,
            "==": order == 0,
            "!=": order != 0,
        }[self.sign]


def _order(left: object, right: object) -> int:
    if isinstance(left, float) and isinstance(right, float):
        noise = NOISE * max(abs(left), abs(right), 1.0)
        if abs(left - right) <= noise:
            return 0
        return 1 if left > right else -1
    # Types were matched when the rule was read: two flags, texts or ISO dates.
    return (str(left) > str(right)) - (str(left) < str(right))


@dataclass(frozen=True, slots=True)
class In:
    """Membership in a written list or in a fact that is a list."""

    negated: bool
    wanted: Node
    held: Node

    def value(self, values: Values, missing: set[str]) -> bool | None:
        """Look for the wanted value."""
        wanted = self.wanted.value(values, missing)
        held = self.held.value(values, missing)
        if wanted is None or held is None:
            return None
        assert isinstance(held, tuple)
        return any(_order(wanted, one) == 0 for one in held) is not self.negated


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """A sum, difference, product or quotient."""

    sign: str
    left: Node
    right: Node

    def value(self, values: Values, missing: set[str]) -> float | None:
        """Reckon; a division by zero or a sum past all numbers is unknown."""
        left = self.left.value(values, missing)
        right = self.right.value(values, missing)
        if left is None or right is None:
            return None
        assert isinstance(left, float)
        assert isinstance(right, float)
        made: float | None = None
        if self.sign == "+":
            made = finite(left + right)
        elif self.sign == "-":
            made = finite(left - right)
        elif self.sign == "*":
            made = finite(left * right)
        elif right:
            made = finite(left / right)
        if made is None:
            missing |= names_of(self)
        return made


@dataclass(frozen=True, slots=True)
class Call:
    """``abs`` of one value or ``min`` of several."""

    function: str
    parts: tuple[Node, ...]

    def value(self, values: Values, missing: set[str]) -> float | None:
        """Reckon; unknown if any of its values is."""
        held = [part.value(values, missing) for part in self.parts]
        known = [h for h in held if isinstance(h, float)]
        if len(known) < len(held):
            return None
        return abs(known[0]) if self.function == "abs" else min(known)


def names_of(node: Node) -> set[str]:
    """Give the names of facts in an arithmetic part."""
    if isinstance(node, Fact):
        return {node.name}
    if isinstance(node, Arithmetic):
        return names_of(node.left) | names_of(node.right)
    if isinstance(node, Call):
        return set().union(*map(names_of, node.parts))
    return set()
