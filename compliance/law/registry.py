"""What rules may speak of: facts, papers, places, and the kinds of items."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

from compliance.law.values import KINDS, Kind, LawError, texts

AnsweredBy = Literal[
    "advisor", "vehicle", "item", "fitter", "measured", "core", "papers", "findings"
]
ANSWERED_BY: tuple[str, ...] = get_args(AnsweredBy)

Place = Literal["booking", "job card", "none"]
"""Where a question is asked; ``none`` where the tool itself has to know."""

_PLACES: dict[str, Place] = {
    "advisor": "booking",
    "vehicle": "booking",
    "item": "booking",
    "core": "booking",
    "papers": "booking",
    "fitter": "job card",
    "measured": "job card",
    "findings": "none",
}


@dataclass(frozen=True, slots=True)
class FactInfo:
    """
    A fact that rules may ask for.

    ``answered_by`` is ``advisor`` (asked at booking), ``vehicle`` (plate or papers),
    ``item`` (data sheet or label of the part), ``fitter`` (looked at on the job card),
    ``measured`` (measured there), ``core`` (computed from the record), ``papers`` or
    ``findings`` (follows from the other findings). ``words`` are the question.
    """

    name: str
    kind: Kind
    unit: str
    answered_by: AnsweredBy
    words: str
    choices: tuple[str, ...] = ()

    @property
    def place(self) -> Place:
        """Where somebody is asked for it."""
        return _PLACES[self.answered_by]


@dataclass(frozen=True, slots=True)
class Also:
    """A further item type where a fact of the item has, or may have, a value."""

    type: str
    fact: str
    value: str


@dataclass(frozen=True, slots=True)
class KindInfo:
    """What a kind of line item is to the rules; ``why`` says why it is nothing."""

    types: tuple[str, ...]
    also: Also | None
    why: str


@dataclass(frozen=True, slots=True)
class PaperInfo:
    """A paper that proves something; ``settles`` if it is the certificate asked for."""

    words: str
    settles: bool


@dataclass(frozen=True, slots=True)
class Registry:
    """
    Everything a rule may name.

    ``raises`` gives the item type of an item that raises a rating, ``unmapped`` the
    item types no kind stands for, each with its reason. ``cautions`` are printed as
    they stand, chosen by outcome.
    """

    version: str
    facts: Mapping[str, FactInfo]
    papers: Mapping[str, PaperInfo]
    jurisdictions: Mapping[str, str]
    cautions: Mapping[str, str]
    kinds: Mapping[str, KindInfo]
    raises: Mapping[str, str]
    unmapped: Mapping[str, str]


def read_registry(files: Mapping[str, Any]) -> Registry:
    """
    Read the registry files.

    Parameters
    ----------
    files : Mapping of str to dict
        ``facts.json``, ``papers.json``, ``kinds.json`` and ``set.json`` as JSON gives
        them.

    Returns
    -------
    Registry
        What the rules may name.

    Raises
    ------
    LawError
        With the file and the entry at fault.
    """
    facts = {n: _fact(n, row) for n, row in _rows(files, "facts.json", "facts")}
    kinds = {n: _kind(n, row, facts) for n, row in _rows(files, "kinds.json", "kinds")}
    version = files["set.json"].get("version")
    if not isinstance(version, str):
        raise LawError("version is missing", "set.json")
    return Registry(
        version=version,
        facts=facts,
        papers={n: _paper(n, row) for n, row in _rows(files, "papers.json", "papers")},
        jurisdictions=_texts(files, "set.json", "jurisdictions"),
        cautions=_texts(files, "set.json", "cautions"),
        kinds=kinds,
        raises=_texts(files, "kinds.json", "raises"),
        unmapped=_texts(files, "kinds.json", "unmapped"),
    )


def _rows(files: Mapping[str, Any], file: str, member: str) -> list[tuple[str, Any]]:
    held = files[file].get(member)
    if not isinstance(held, Mapping):
        raise LawError(f"{member} is missing or no object", file)
    return list(held.items())


def _texts(files: Mapping[str, Any], file: str, member: str) -> dict[str, str]:
    rows = _rows(files, file, member)
    for name, text in rows:
        if not isinstance(text, str) or not text:
            raise LawError("needs a text", file, name)
    return dict(rows)


def _paper(name: str, row: Any) -> PaperInfo:
    if not isinstance(row, Mapping) or set(row) != {"words", "settles"}:
        raise LawError("a paper holds words and settles", "papers.json", name)
    return PaperInfo(str(row["words"]), row["settles"] is True)


def _fact(name: str, row: Any) -> FactInfo:
    file = "facts.json"
    if not isinstance(row, Mapping) or set(row) - {
        "type",
        "unit",
        "from",
        "words",
        "choices",
    }:
        raise LawError("a fact holds type, unit, from, words and choices", file, name)
    kind, source, words = row.get("type"), row.get("from"), row.get("words")
    if not isinstance(kind, str) or kind not in KINDS:
        raise LawError(f"type must be one of {', '.join(KINDS)}", file, name)
    if not isinstance(source, str) or source not in ANSWERED_BY:
        raise LawError(f"from must be one of {', '.join(ANSWERED_BY)}", file, name)
    if not isinstance(words, str) or not words:
        raise LawError("words are missing", file, name)
    if (kind == "number") != ("unit" in row):
        raise LawError("a number has a unit, nothing else has", file, name)
    try:
        choices = texts(row.get("choices", []), "choices")
    except LawError as error:
        raise error.within(file, name) from error
    return FactInfo(
        name,
        cast(Kind, kind),
        str(row.get("unit", "")),
        cast(AnsweredBy, source),
        words,
        choices,
    )


def _kind(name: str, row: Any, facts: Mapping[str, FactInfo]) -> KindInfo:
    file = "kinds.json"
    if not isinstance(row, Mapping):
        raise LawError("a kind must be an object with named members", file, name)
    try:
        types = texts(row.get("types"), "types")
    except LawError as error:
        raise error.within(file, name) from error
    why, also = str(row.get("why", "")), None
    if bool(types) == bool(why):
        raise LawError("a kind has types, or why it has none", file, name)
    if "also" in row:
        if not isinstance(row["also"], Mapping) or set(row["also"]) != {
            "type",
            "fact",
            "value",
        }:
            raise LawError("also holds type, fact and value", file, name)
        also = Also(*(str(row["also"][n]) for n in ("type", "fact", "value")))
        if also.fact not in facts or also.value not in facts[also.fact].choices:
            raise LawError("also names a fact or a value nobody knows", file, name)
    return KindInfo(types, also, why)
