"""The rule book: all rules and what they name, read once from the files beside."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from compliance.law.registry import Registry, read_registry
from compliance.law.rules import Rule, read_rule
from compliance.law.values import LawError

FOLDER = Path(__file__).parent
REGISTRY_FILES = ("facts.json", "kinds.json", "papers.json", "set.json")


@dataclass(frozen=True, slots=True)
class RuleBook:
    """
    Rules with their registry.

    ``stages`` are the rules in the order they are judged: those that ask what the
    others found come after them. ``version`` names the set and the very bytes of it.
    """

    version: str
    registry: Registry
    rules: Mapping[str, Rule]
    stages: tuple[tuple[Rule, ...], ...]


@cache
def rule_book() -> RuleBook:
    """
    Give the shipped rules, read once.

    Returns
    -------
    RuleBook
        Every predicate parsed.

    Raises
    ------
    LawError
        The first fault of the data, with file, rule and column.
    """
    book, faults = read_book(FOLDER)
    if faults:
        raise faults[0]
    return book


def read_book(folder: Path) -> tuple[RuleBook, list[LawError]]:
    """
    Read a folder of rules and collect every fault in them.

    Parameters
    ----------
    folder : Path
        Holds the registry files and ``rules/*.json``.

    Returns
    -------
    tuple of (RuleBook, list of LawError)
        The rules that could be read, and the faults of those that could not.

    Raises
    ------
    LawError
        If the registry itself cannot be read: no rule can be without it.
    """
    digest = hashlib.sha256()
    registry = read_registry(
        {name: _read(folder / name, name, digest) for name in REGISTRY_FILES}
    )
    rules: dict[str, Rule] = {}
    faults: list[LawError] = []
    for path in sorted((folder / "rules").glob("*.json")):
        file = f"rules/{path.name}"
        try:
            held = _read(path, file, digest)
            rows, place = held.get("rules"), held.get("jurisdiction")
            if not isinstance(rows, list) or place not in registry.jurisdictions:
                raise LawError("needs a known jurisdiction and a list of rules", file)
        except LawError as error:
            faults.append(error)
            continue
        for row in rows:
            try:
                rule = read_rule(row, place, registry)
                if rule.id in rules:
                    raise LawError("this id is already used", rule=rule.id)
            except LawError as error:
                faults.append(error.within(file))
            else:
                rules[rule.id] = rule
    version = f"{registry.version}+{digest.hexdigest()[:8]}"
    return RuleBook(version, registry, rules, _stages(rules)), faults


def _read(path: Path, name: str, digest: Any) -> Any:
    try:
        raw = path.read_bytes()
        held = json.loads(raw)
    except json.JSONDecodeError as error:
        said = f"is not JSON: line {error.lineno}: {error.msg}"
        raise LawError(said, name, column=error.colno) from error
    except (OSError, ValueError) as error:
        raise LawError(f"cannot be read: {error}", name) from error
    if not isinstance(held, dict):
        raise LawError("must be an object with named members", name)
    digest.update(raw)
    return held


def _stages(rules: Mapping[str, Rule]) -> tuple[tuple[Rule, ...], ...]:
    """Put the rules that ask what others found behind those others."""
    stages: list[list[Rule]] = [[], [], []]
    for rule in rules.values():
        if {"b.open_stop_findings", "b.open_certify_findings"} & set(rule.facts):
            stages[2].append(rule)
        elif "b.needs_certificate" in rule.facts:
            stages[1].append(rule)
        else:
            stages[0].append(rule)
    return tuple(tuple(stage) for stage in stages)
