"""Two answers of the core side by side: every number, what moved, who is better off.

Nothing here reads the database: two results go in, rows come out. The same rows show
what a change would do and how two variants differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from builds.figures import Number
from workshop.templatetags.units import number

Results = dict[str, Any]

FINEST = 2
"""Decimals, its own among them, that may show that a figure moved; less is noise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One number before and after, or in one variant and in the other."""

    number: Number
    before: float | None
    after: float | None
    places: int
    before_u: float | None = None
    after_u: float | None = None
    before_verdict: str = ""
    verdict: str = ""

    @property
    def label(self) -> str:
        return self.number.label

    @property
    def difference(self) -> float | None:
        if self.before is None or self.after is None:
            return None
        return self.after - self.before

    @property
    def band_moved(self) -> bool:
        """The tolerance moves: only then is it a number of this change."""
        return _rounded(self.before_u, self.places) != _rounded(
            self.after_u, self.places
        )

    @property
    def moved(self) -> bool:
        return (
            _rounded(self.before, self.places) != _rounded(self.after, self.places)
            or self.band_moved
            or self.before_verdict != self.verdict
        )

    @property
    def words(self) -> str:
        """Say which of two variants, A before and B after, is better off, and by what."""
        if self.difference is None:
            if self.before is None and self.after is None:
                return "not known"
            return "known in A only" if self.after is None else "known in B only"
        amount = number(abs(self.difference), self.places)
        if _rounded(self.before, self.places) == _rounded(self.after, self.places):
            return "the same"
        more = self.difference > 0
        said = self.number.more if more else self.number.less
        text = " ".join(filter(None, [amount, self.number.unit, said]))
        if not self.number.sense:
            return f"B: {text}"
        if more == (self.number.sense > 0):
            return f"B better: {text}"
        said = self.number.less if more else self.number.more
        text = " ".join(filter(None, [amount, self.number.unit, said]))
        return f"A better: {text}"


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading; ``moved`` are those that a person sees differ."""

    title: str
    rows: list[Row]

    @property
    def moved(self) -> list[Row]:
        return [row for row in self.rows if row.moved]

    @property
    def still(self) -> list[Row]:
        return [row for row in self.rows if not row.moved]


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)


def _places(before: float | None, after: float | None, fewest: int) -> int:
    """Print as many decimals as it takes to see that a number moved, and by what."""
    if before is None or after is None:
        return fewest
    finer = (
        n
        for n in range(fewest, fewest + FINEST)
        if round(before, n) != round(after, n) and round(after - before, n)
    )
    return next(finer, fewest)


def rows_of(before: Mapping[str, Number], after: Mapping[str, Number]) -> Iterator[Row]:
    """Pair the numbers of two answers; what only one has is unknown in the other."""
    # In the order of the second; what only the first has closes its group.
    both = {**before, **after}
    keys = [*after, *(key for key in before if key not in after)]
    keys.sort(key=lambda key: both[key].rank)
    for key in keys:
        old, new = before.get(key), after.get(key)
        shown = new or old
        assert shown is not None
        value, then = old.value if old else None, new.value if new else None
        yield Row(
            number=shown,
            before=value,
            after=then,
            places=_places(value, then, shown.places),
            before_u=old.expanded if old else None,
            after_u=new.expanded if new else None,
            before_verdict=old.verdict if old else "",
            verdict=new.verdict if new else "",
        )


def groups_of(before: Mapping[str, Number], after: Mapping[str, Number]) -> list[Group]:
    """Give the rows under their headings, the main figures first."""
    rows = rows_of(before, after)
    return [
        Group(title, list(found))
        for title, found in groupby(rows, key=lambda row: row.number.group)
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingMove:
    """A finding that comes, goes, or is judged otherwise; ``before`` as it was."""

    before: str
    after: str
    sentence: str
    would_clear: str


@dataclass(frozen=True, slots=True)
class FindingMoves:
    """What a change does to the findings; the clear ones are only counted."""

    brings: list[FindingMove] = field(default_factory=list)
    settles: list[FindingMove] = field(default_factory=list)
    changes: list[FindingMove] = field(default_factory=list)
    clear_new: int = 0
    clear_gone: int = 0

    def __bool__(self) -> bool:
        return bool(
            self.brings
            or self.settles
            or self.changes
            or self.clear_new
            or self.clear_gone
        )


def _is_open(finding: Results) -> bool:
    severity: str = finding.get("severity", "clear")
    return severity != "clear"


def _move(shown: Results, before: Results, after: Results) -> FindingMove:
    clear = shown.get("would_clear") or ""
    return FindingMove(
        before=before.get("verdict", ""),
        after=after.get("verdict", ""),
        sentence=shown["sentence"],
        would_clear="" if clear in shown["sentence"] else clear,
    )


def finding_moves(before: Results, after: Results) -> FindingMoves:
    """Tell the findings that come, go or change their verdict from the rest."""
    old = {f["key"]: f for f in before["findings"]}
    new = {f["key"]: f for f in after["findings"]}
    found = FindingMoves(
        clear_new=sum(f["severity"] == "clear" for k, f in new.items() if k not in old),
        clear_gone=sum(
            f["severity"] == "clear" for k, f in old.items() if k not in new
        ),
    )
    for key, then in new.items():
        was = old.get(key, {})
        if _is_open(then) and not _is_open(was):
            found.brings.append(_move(then, was, then))
        elif _is_open(then) and was["verdict"] != then["verdict"]:
            found.changes.append(_move(then, was, then))
    for key, was in old.items():
        if _is_open(was) and not _is_open(new.get(key, {})):
            found.settles.append(_move(was, was, new.get(key, {})))
    return found


@dataclass(frozen=True, slots=True)
class Thing:
    """A line item, a circuit or the use of a build, said in words."""

    label: str
    facts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Differing:
    """A thing both have, with what is said differently of it: name, in A, in B."""

    label: str
    facts: list[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class Differences:
    only_a: list[Thing]
    only_b: list[Thing]
    both: list[Differing]

    def __bool__(self) -> bool:
        return bool(self.only_a or self.only_b or self.both)


def differences(a: Mapping[str, Thing], b: Mapping[str, Thing]) -> Differences:
    """Hold what two builds are made of against each other, by key."""
    both = []
    for key, thing in a.items():
        other = b.get(key)
        if other is None:
            continue
        facts = [
            (name, thing.facts.get(name, ""), other.facts.get(name, ""))
            for name in {**thing.facts, **other.facts}
            if thing.facts.get(name, "") != other.facts.get(name, "")
        ]
        if facts:
            both.append(Differing(thing.label, facts))
    return Differences(
        [thing for key, thing in a.items() if key not in b],
        [thing for key, thing in b.items() if key not in a],
        both,
    )
