"""One rule of the law as data, and reading it with every fault in its place."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

from compliance.findings import Mark
from compliance.law.predicate import Declared, Predicate, parse
from compliance.law.registry import Registry
from compliance.law.values import Kind, LawError, is_date, texts

Outcome = Literal["stop", "certify", "evidence", "warn", "info"]
OUTCOMES: tuple[str, ...] = get_args(Outcome)
"""What a broken rule asks for, gravest first."""

EVERYTHING = "*"

_MARKS: dict[str, Mark] = {
    "READ": "published",
    "MEMORY": "from memory",
    "COMMON PRACTICE": "common practice",
}
_MEMBERS = {
    "id": str,
    "title": str,
    "edition": str,
    "in_force": dict,
    "trigger": list,
    "scope": str,
    "fails_when": str,
    "outcome": str,
    "papers": list,
    "message": str,
    "source": dict,
    "basis": str,
    "confidence": str,
    "read_in": list,
    "examples": list,
}
_FREE = ("read_via", "checked_on", "not_in", "parameters", "notes")


@dataclass(frozen=True, slots=True)
class Value:
    """A parameter's value in one jurisdiction, from a day on if one is known."""

    where: str
    held: float | str
    start: str | None


@dataclass(frozen=True, slots=True)
class Parameter:
    """A figure of a rule that differs by jurisdiction or by date."""

    unit: str
    values: tuple[Value, ...]

    def at(self, jurisdiction: str, on: str) -> Value | None:
        """Give the most specific value in force on a day, the latest of several."""
        fitting = [
            v
            for v in self.values
            if covers(v.where, jurisdiction) and (v.start or "") <= on
        ]
        return max(fitting, key=lambda v: (len(v.where), v.start or ""), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """Facts with the answer they must get; ``on`` is None for the newest figures."""

    jurisdiction: str
    facts: Mapping[str, object]
    expect: bool
    on: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule: ``fails_when`` answers true when it is broken.

    ``trigger`` holds item types, or ``*`` for every build. ``scope`` is ``item`` (once
    for each item of such a type) or ``build``. ``start`` and ``end`` are days it is in
    force, both included; ``start`` may be a year or month. ``read_in`` names where the
    text was read, ``checked_on`` the day somebody last held it against its source.
    """

    id: str
    title: str
    jurisdiction: str
    not_in: tuple[str, ...]
    edition: str
    start: str | None
    end: str | None
    trigger: frozenset[str]
    scope: str
    fails_when: Predicate
    parameters: Mapping[str, Parameter]
    outcome: Outcome
    papers: tuple[str, ...]
    message: str
    document: str
    clause: str
    seen_at: str
    mark: Mark
    read_via: str
    confidence: str
    read_in: tuple[str, ...]
    checked_on: str | None
    notes: str
    examples: tuple[Example, ...]

    @property
    def facts(self) -> tuple[str, ...]:
        """Names of the facts it asks for, its own figures left out."""
        return tuple(n for n in self.fails_when.names if not n.startswith("p."))

    @property
    def source(self) -> str:
        """Document and clause as they are printed."""
        return self.document + ("" if self.clause == "-" else f", {self.clause}")

    def applies(self, jurisdiction: str) -> bool:
        """Say whether it is a rule of that jurisdiction."""
        return covers(self.jurisdiction, jurisdiction) and not any(
            covers(place, jurisdiction) for place in self.not_in
        )

    def in_force(self, on: str) -> bool:
        """Say whether it is in force on a day, written YYYY-MM-DD."""
        return (self.start or "") <= on <= (self.end or "9999-12-31")

    def figures(self, jurisdiction: str, on: str) -> dict[str, Value]:
        """Give its parameters as they stand there on that day, by ``p.`` name."""
        found = {n: p.at(jurisdiction, on) for n, p in self.parameters.items()}
        return {f"p.{n}": v for n, v in found.items() if v is not None}


def covers(general: str, jurisdiction: str) -> bool:
    """Say whether a jurisdiction is the general one or a part of it."""
    return jurisdiction == general or jurisdiction.startswith(f"{general}-")


def read_rule(row: Any, jurisdiction: str, registry: Registry) -> Rule:
    """
    Read one rule of a rule file.

    Parameters
    ----------
    row : Mapping
        The rule as JSON gives it.
    jurisdiction : str
        Where it is law, as its file says.
    registry : Registry
        Facts, papers and places it may name.

    Returns
    -------
    Rule
        With its predicate parsed.

    Raises
    ------
    LawError
        With the rule and, in a predicate, the column.
    """
    if not isinstance(row, Mapping):
        raise LawError("a rule must be an object with named members")
    name = str(row.get("id", "a rule without id"))
    try:
        return _rule(row, jurisdiction, registry)
    except LawError as error:
        raise error.within(error.file, name) from error


def _rule(row: Mapping[str, Any], jurisdiction: str, registry: Registry) -> Rule:
    for member, kind in _MEMBERS.items():
        if not isinstance(row.get(member), kind):
            raise LawError(f"{member} is missing or not a {kind.__name__}")
    for member in row:
        if member not in _MEMBERS and member not in _FREE:
            raise LawError(f"{member} is no member of a rule")
    for member, allowed in (
        ("outcome", OUTCOMES),
        ("scope", ("item", "build")),
        ("basis", tuple(_MARKS)),
        ("confidence", ("high", "medium", "low")),
    ):
        if row[member] not in allowed:
            raise LawError(f"{member} must be one of {', '.join(allowed)}")
    places = registry.jurisdictions
    papers = _known("papers", row["papers"], registry.papers)
    read_in = _known("read_in", row["read_in"], places)
    not_in = _known("not_in", row.get("not_in", []), places)
    parameters = _parameters(row.get("parameters", {}), places)
    start, end = _period(row["in_force"])
    for member in ("read_via", "notes"):
        if not isinstance(row.get(member) or "", str):
            raise LawError(f"{member} must be a text")
    checked = row.get("checked_on")
    if checked is not None and not is_date(checked):
        raise LawError("checked_on must be a day, YYYY-MM-DD, or null")
    source = row["source"]
    words = [w for w in source.values() if isinstance(w, str)]
    if set(source) != {"document", "clause", "seen_at"} or len(words) < 3:
        raise LawError("source must hold document, clause and seen_at, each a text")
    return Rule(
        id=row["id"],
        title=row["title"],
        jurisdiction=jurisdiction,
        not_in=not_in,
        edition=row["edition"],
        start=start,
        end=end,
        trigger=frozenset(texts(row["trigger"], "trigger")),
        scope=row["scope"],
        fails_when=_predicate(row, registry, parameters),
        parameters=parameters,
        outcome=cast(Outcome, row["outcome"]),
        papers=papers,
        message=row["message"],
        document=source["document"],
        clause=source["clause"],
        seen_at=source["seen_at"],
        mark=_mark(row["basis"], source["document"]),
        read_via=row.get("read_via") or "",
        confidence=row["confidence"],
        read_in=read_in,
        checked_on=checked,
        notes=row.get("notes") or "",
        examples=tuple(_example(e, places) for e in row["examples"]),
    )


def _predicate(
    row: Mapping[str, Any], registry: Registry, parameters: Mapping[str, Parameter]
) -> Predicate:
    def declared(name: str) -> Declared | None:
        if name.startswith("p."):
            figure = parameters.get(name[2:])
            return None if figure is None else Declared(_kind(figure))
        fact = registry.facts.get(name)
        return None if fact is None else Declared(fact.kind, fact.choices)

    predicate = parse(row["fails_when"], declared)
    if row["scope"] == "build":
        for name in predicate.names:
            if name.startswith("i."):
                raise LawError(f"{name} is a fact of one item; the scope is build")
    return predicate


def _kind(figure: Parameter) -> Kind:
    return "date" if figure.unit == "date" else "number"


def _mark(basis: str, document: str) -> Mark:
    return "workshop rule" if document == "house rule" else _MARKS[basis]


def _known(member: str, names: Any, known: Mapping[str, Any]) -> tuple[str, ...]:
    for name in texts(names, member):
        if name not in known:
            raise LawError(f"{member} names {name}, which nobody knows")
    return tuple(names)


def _period(row: Mapping[str, Any]) -> tuple[str | None, str | None]:
    if set(row) != {"from", "to"}:
        raise LawError("in_force must hold from and to, null where not known")
    start, end = row["from"], row["to"]
    _check_start(start)
    if end is not None and not is_date(end):
        raise LawError("in_force.to must be a day, YYYY-MM-DD, or null")
    if end is not None and end < (start or ""):
        raise LawError("in_force ends before it starts")
    return start, end


def _check_start(start: object) -> None:
    """Refuse what is not a year, a month or a day: sources often know no more."""
    if start is not None and not (
        isinstance(start, str) and is_date(start + "2000-01-01"[len(start) :])
    ):
        raise LawError("from must be a day, a month or a year, or null")


def _parameters(row: Any, places: Mapping[str, Any]) -> dict[str, Parameter]:
    found = {}
    for name, figure in _object(row, "parameters").items():
        figure = _object(figure, f"parameter {name}")
        unit = str(figure.get("unit"))
        rows = figure.get("values")
        if not isinstance(rows, list) or not rows:
            raise LawError(f"parameter {name} has no values")
        values = tuple(
            _value(name, unit, _object(value, f"a value of parameter {name}"), places)
            for value in rows
        )
        found[name] = Parameter(unit, values)
    return found


def _value(
    name: str, unit: str, row: Mapping[str, Any], places: Mapping[str, Any]
) -> Value:
    _known(f"parameter {name}", [row.get("in")], places)
    _check_start(row.get("from"))
    held = row.get("value")
    if unit == "date" and isinstance(held, str) and is_date(held):
        return Value(row["in"], held, row.get("from"))
    if unit != "date" and isinstance(held, int | float) and not isinstance(held, bool):
        return Value(row["in"], float(held), row.get("from"))
    raise LawError(f"parameter {name} holds {held!r}, which is no {unit}")


def _example(row: Any, places: Mapping[str, Any]) -> Example:
    row = _object(row, "an example")
    if not isinstance(row.get("expect"), bool) or not isinstance(
        row.get("facts"), Mapping
    ):
        raise LawError("an example needs facts and the answer to expect")
    _known("an example", [row.get("jurisdiction")], places)
    on = row.get("on")
    if on is not None and not is_date(on):
        raise LawError("an example's day must be YYYY-MM-DD")
    return Example(
        jurisdiction=row["jurisdiction"],
        facts=row["facts"],
        expect=row["expect"],
        on=on,
    )


def _object(row: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(row, Mapping):
        raise LawError(f"{what} must be an object with named members")
    return row
