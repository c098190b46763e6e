"""The kinds of value an open record is made of, each with its bounds."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number within bounds; ``above`` is excluded, the others included."""

    low: float = 0
    high: float = 1e6
    above: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """Text without control characters; a ``key`` has no spaces either."""

    longest: int = 300
    key: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Flag:
    """True or false."""


@dataclass(frozen=True, slots=True)
class Either:
    """A number or one of a few words."""

    number: Number
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Many:
    """A list; ``unique`` names the member that may not occur twice."""

    of: "Shape"
    unique: str = ""
    most: int = 1000


@dataclass(frozen=True, slots=True)
class Named:
    """An object with free names, each holding a number."""

    of: Number


@dataclass(frozen=True, slots=True)
class Facts:
    """An object with free names, each holding a text, a number or a flag."""


@dataclass(frozen=True, slots=True)
class Object:
    """An object with fixed names; ``build`` takes its values by keyword."""

    build: Callable[..., Any]
    members: Mapping[str, "Shape"]
    required: tuple[str, ...] = ()
    renamed: Mapping[str, str] = field(default_factory=dict)


Shape = Number | Text | Flag | Either | Many | Named | Facts | Object
