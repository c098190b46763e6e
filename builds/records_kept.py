"""What a record states and a build cannot hold: told, never dropped or rounded away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from compliance.inputs import BuildRecord, Circuit, ItemTank, Luggage, Tank, Vehicle
from compliance.settings import Settings
from compliance.tables import table

MILLIMETRE = 0.00051
"""A build keeps lengths in whole millimetres; half of one is no difference."""

OWN_WORDS = {
    BuildRecord: {"scenarios"},  # a build has its own
    Vehicle: {"label", "vin"},  # the same vehicle, in the words of its own page
}
NAMES = {".source": ".from", ".raises.ratings.": ".raises."}


def not_kept(given: BuildRecord, kept: BuildRecord) -> list[str]:
    """Compare a record with that of the build made from it; ``path: sentence`` each."""
    passive = {item.key for item in given.items if item.load is None}
    passive -= {charger.key for charger in given.supply.chargers}
    found = []
    for path, sentence in _differences("", given, kept, passive):
        for inner, outer in NAMES.items():
            path = path.replace(inner, outer)
        found.append(f"{path.lstrip('.')}: {sentence}")
    return found


def _differences(
    path: str, given: Any, kept: Any, passive: set[str]
) -> Iterator[tuple[str, str]]:
    if isinstance(given, Settings):
        yield from _figures(path, given, kept)
        return
    if isinstance(given, Circuit):
        yield from _feeds(f"{path}.feeds", given, kept, passive)
    if is_dataclass(given) and type(given) is type(kept):
        for name in _compared(given):
            where = f"{path}.{name}"
            yield from _differences(
                where, getattr(given, name), getattr(kept, name), passive
            )
    elif isinstance(given, tuple) and isinstance(kept, tuple):
        yield from _rows(path, given, kept, passive)
    elif not _same(path, given, kept):
        yield path, _sentence(given, kept)


def _compared(given: Any) -> Iterator[str]:
    for field in fields(given):
        name = field.name
        if name in OWN_WORDS.get(type(given), ()):
            continue
        if isinstance(given, Circuit) and (
            name == "feeds" or (name == "label" and not given.label)
        ):
            continue
        if name == "density_kg_per_l" and _is_usual(given):
            continue
        yield name


def _is_usual(tank: Tank | ItemTank) -> bool:
    usual: float = table("masses")[tank.fluid]["value"]
    return tank.density_kg_per_l == usual


def _feeds(
    path: str, given: Circuit, kept: Circuit, passive: set[str]
) -> Iterator[tuple[str, str]]:
    # What draws no current hangs on its circuit in the build, but is no load.
    lost = set(given.feeds) - set(kept.feeds) - passive
    for key in sorted(lost):
        yield path, f"a build would not feed {key} from here."


def _figures(path: str, given: Settings, kept: Settings) -> Iterator[tuple[str, str]]:
    # A figure that is not stated is left to whoever computes.
    for name, value in given.own.items():
        if value != kept.value(name):
            said = f"this workshop computes every build with {kept.value(name):g}."
            yield f"{path}.{name}", said


def _names(rows: tuple[Any, ...]) -> list[tuple[Any, int]]:
    """Name rows by their keys, loads by where they lie, others by where they stand."""
    found: list[tuple[Any, int]] = []
    for row in rows:
        name = getattr(row, "key", "")
        if isinstance(row, Luggage):
            name = row.zone == "roof"
        found.append((name, sum(other == name for other, _ in found)))
    return found


def _rows(
    path: str, given: tuple[Any, ...], kept: tuple[Any, ...], passive: set[str]
) -> Iterator[tuple[str, str]]:
    named = dict(zip(_names(kept), kept, strict=True))
    for index, (name, row) in enumerate(zip(_names(given), given, strict=True)):
        where = f"{path}[{index}]"
        other = named.get(name)
        if other is None:
            yield where, _sentence(row, None)
        else:
            yield from _differences(where, row, other, passive)


def _same(path: str, given: Any, kept: Any) -> bool:
    if given in (None, "", {}) and kept in (None, "", {}):
        return True
    if isinstance(given, float | int) and isinstance(kept, float | int):
        least = MILLIMETRE if path.endswith("_m") else 1e-9 * abs(given)
        return abs(given - kept) <= least
    return bool(given == kept)


def _sentence(given: Any, kept: Any) -> str:
    if kept is None or isinstance(kept, Mapping) or is_dataclass(given):
        return "a build has no place for this. Leave it out to import the rest."
    shown = f"{kept:g}" if isinstance(kept, float | int) else str(kept)
    if given is None:
        return f"is not stated, and a build would take it as {shown}. State it."
    return f"a build would keep this as {shown}."
