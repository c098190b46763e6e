"""Rules held against the facts of a build, in one jurisdiction or in two."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from compliance.law.book import RuleBook
from compliance.law.findings import SHOWN_ORDER, LawFinding, Shown
from compliance.law.gather import BuildFacts, Facts, ItemFacts
from compliance.law.registry import Registry
from compliance.law.rules import EVERYTHING, Rule, Value, covers
from compliance.law.values import cleaned

_SHOWN: dict[str, Shown] = {
    "stop": "stop",
    "certify": "certificate",
    "evidence": "check",
    "warn": "check",
    "info": "check",
}
TRAILER = "b.trailer_towed"
PAPERS = "b.docs"
NOTHING_FOUND = "Nothing found against it on the facts recorded."


def judge(
    facts: BuildFacts,
    book: RuleBook,
    on_date: date,
    jurisdiction: str,
    second: str | None = None,
    checked: Mapping[str, date] | None = None,
) -> tuple[LawFinding, ...]:
    """
    Hold every rule that applies against the facts of a build.

    Parameters
    ----------
    facts : BuildFacts
        What is known; an absent fact is unknown.
    book : RuleBook
        The rules.
    on_date : date
        The day whose law counts.
    jurisdiction : str
        Where the vehicle is registered, such as ``AU-QLD``.
    second : str, optional
        Where it will be re-registered; judged beside the first.
    checked : Mapping of str to date, optional
        The day each rule was last held against its source, as the workshop confirmed
        it; takes the place of the date in the data.

    Returns
    -------
    tuple of LawFinding
        Gravest first, then by key. Rules that are not of that place, not in force that
        day, for no item of the build, or about a trailer nobody tows, give none. A
        place without rules, a state left open and a kind of item nobody mapped are
        told as findings of their own.

    Notes
    -----
    Unknown is never a pass: it blocks where the rule could stop or need a certificate.
    A rule that is broken and asks for a certificate blocks until each paper that
    settles it is on file. Rules that ask what the others found are judged after them.

    References
    ----------
    Derived: Kleene's three-valued logic.
    """
    held = cleaned(facts.values.get(PAPERS), "list")
    files = frozenset(held if isinstance(held, tuple) else ())
    found: list[LawFinding] = []
    for place in dict.fromkeys([jurisdiction, *([second] if second else [])]):
        run = _Run(book, place, on_date.isoformat(), checked or {}, files)
        found += run.judge(facts)
    return tuple(sorted(found, key=lambda f: (SHOWN_ORDER.index(f.outcome), f.key)))


@dataclass(frozen=True, slots=True)
class _Run:
    """One jurisdiction on one day, with the papers on file."""

    book: RuleBook
    place: str
    on: str
    checked: Mapping[str, date]
    files: frozenset[object]

    def judge(self, facts: BuildFacts) -> list[LawFinding]:
        """Judge stage by stage; each counts what those before it found."""
        found: list[LawFinding] = []
        needs: list[bool | None] = []
        values = dict(facts.values)
        types = frozenset[str]().union(*(item.types for item in facts.items))
        for stage in self.book.stages:
            values |= _counted(found, needs)
            for rule in stage:
                if (
                    rule.applies(self.place)
                    and rule.in_force(self.on)
                    and (EVERYTHING in rule.trigger or rule.trigger & types)
                ):
                    for finding, needed in self._ruled(rule, facts, values):
                        found.append(finding)
                        needs.append(needed)
        return [*found, *self._notices(facts)]

    def _ruled(
        self, rule: Rule, facts: BuildFacts, values: Facts
    ) -> Iterator[tuple[LawFinding, bool | None]]:
        """Answer a rule for all it is about, and whether it needs a certificate."""
        about_trailer = any(name.startswith("t.") for name in rule.facts)
        towed = values.get(TRAILER)
        if about_trailer and towed is False:
            return
        figures = rule.figures(self.place, self.on)
        fixed = {**values, **{name: value.held for name, value in figures.items()}}
        for item in _subjects(rule, facts):
            given = {**fixed, **item.values} if item else fixed
            missing: set[str] = set()
            answer = rule.fails_when.answer(given, missing)
            if answer is None and about_trailer and towed is not True:
                missing = {TRAILER}
            needed: bool | None = False
            if rule.outcome == "certify":
                # A certificate on file does not mean that none was needed.
                needed = answer or rule.fails_when.answer({**given, PAPERS: ()})
            yield self._finding(rule, item, answer, missing, given), needed

    def _finding(
        self,
        rule: Rule,
        item: ItemFacts | None,
        answer: bool | None,
        missing: set[str],
        given: Facts,
    ) -> LawFinding:
        registry = self.book.registry
        figures = rule.figures(self.place, self.on)
        lacking = tuple(paper for paper in rule.papers if paper not in self.files)
        outcome, blocks = self._outcome(rule, answer, lacking)
        asked = tuple(sorted(missing))
        checked = self.checked.get(rule.id)
        return LawFinding(
            key=self._key(rule.id, item),
            rule=rule.id,
            ruleset=self.book.version,
            title=rule.title,
            edition=rule.edition,
            jurisdiction=self.place,
            on=self.on,
            subject=item.key if item else "vehicle",
            label=item.label if item else "",
            outcome=outcome,
            rule_outcome=rule.outcome,
            facts={name: given.get(name) for name in rule.facts},
            figures={name: (v.held, v.where) for name, v in figures.items()},
            missing=asked,
            papers=rule.papers,
            papers_missing=lacking,
            blocks=blocks,
            message=rule.message,
            sentence=_sentence(rule, answer, asked, registry),
            source=rule.source,
            seen_at=rule.seen_at,
            mark=rule.mark,
            read_via=rule.read_via,
            confidence=rule.confidence,
            reach=_reach(rule, self.place, figures, registry),
            checked_on=checked.isoformat() if checked else rule.checked_on,
        )

    def _outcome(
        self, rule: Rule, answer: bool | None, lacking: tuple[str, ...]
    ) -> tuple[Shown, bool]:
        """Give what is shown, and whether the vehicle may not be handed over so."""
        if answer is None:
            return "unknown", rule.outcome in ("stop", "certify")
        if not answer:
            return "clear", False
        papers = self.book.registry.papers
        unsettled = any(papers[paper].settles for paper in lacking)
        blocks = rule.outcome == "stop" or (rule.outcome == "certify" and unsettled)
        return _SHOWN[rule.outcome], blocks

    def _key(self, name: str, item: ItemFacts | None) -> str:
        return ".".join((name, self.place, *([item.key] if item else [])))

    def _notices(self, facts: BuildFacts) -> Iterator[LawFinding]:
        """Say what the rules cannot judge at all, so that nothing passes unseen."""
        names, place = self.book.registry.jurisdictions, self.place
        known = [name for name in names if covers(name, place)]
        parts = [n for n in names if known and n != known[0] and covers(known[0], n)]
        if not any(rule.applies(place) for rule in self.book.rules.values()):
            said = f"No rules are on file for {place or 'a place not recorded'}. "
            said += "Nothing was judged. Ask the registering authority."
            yield self._notice("LAW-PLACE", said, None)
        elif parts and place not in parts:
            said = f"Only the rules common to {names[known[0]]} were judged. "
            said += f"Say where the vehicle is registered: {', '.join(parts)}."
            yield self._notice("LAW-PLACE", said, None)
        for item in facts.items:
            if not item.known:
                said = f"{item.label} was not judged: no rule knows the kind "
                said += f"{item.kind}. Somebody must look at it."
                yield self._notice("LAW-KIND", said, item)

    def _notice(self, name: str, said: str, item: ItemFacts | None) -> LawFinding:
        return LawFinding(
            key=self._key(name, item),
            rule=name,
            ruleset=self.book.version,
            title="Outside the rules on file",
            edition="",
            jurisdiction=self.place,
            on=self.on,
            subject=item.key if item else "vehicle",
            label=item.label if item else "",
            outcome="check",
            rule_outcome="warn",
            facts={},
            figures={},
            missing=(),
            papers=(),
            papers_missing=(),
            blocks=False,
            message=said,
            sentence=said,
            source="the table of kinds and places",
            seen_at="",
            mark="workshop rule",
            read_via="",
            confidence="high",
            reach="",
            checked_on=None,
        )


def _subjects(rule: Rule, facts: BuildFacts) -> list[ItemFacts | None]:
    """List what a rule is about: the build once, or each item it is triggered by."""
    if rule.scope == "build":
        return [None]
    every = EVERYTHING in rule.trigger
    return [item for item in facts.items if every or rule.trigger & item.types]


def _counted(found: list[LawFinding], needs: list[bool | None]) -> dict[str, object]:
    """Count what the rules so far found, for the rules that ask for it."""
    return {
        "b.needs_certificate": _any(needs),
        "b.open_stop_findings": _open(found, "stop"),
        "b.open_certify_findings": _open(found, "certify"),
    }


def _any(answers: list[bool | None]) -> bool | None:
    if True in answers:
        return True
    return None if None in answers else False


def _open(found: list[LawFinding], outcome: str) -> float | None:
    """Count what is open; unknown while there is none but an unknown could be one."""
    blocking = [f for f in found if f.blocks and f.rule_outcome == outcome]
    broken = sum(f.outcome != "unknown" for f in blocking)
    return None if blocking and not broken else float(broken)


def _sentence(
    rule: Rule, answer: bool | None, asked: tuple[str, ...], registry: Registry
) -> str:
    if answer is not None:
        return rule.message if answer else NOTHING_FOUND
    words = [f"“{registry.facts[n].words}”" for n in asked if n in registry.facts]
    return registry.cautions["unknown"].format(fact="; ".join(words) or rule.title)


def _reach(
    rule: Rule, place: str, figures: Mapping[str, Value], registry: Registry
) -> str:
    """Say where a rule or its figure was read, where that is not the place asked for."""
    names, said = registry.jurisdictions, []
    if rule.read_in and not any(covers(read, place) for read in rule.read_in):
        read = ", ".join(names[p] for p in rule.read_in)
        said.append(f"Read for {read}; applied more widely.")
    for name, value in figures.items():
        parameter = rule.parameters[name[2:]]
        differs = len({v.where for v in parameter.values}) > 1
        if differs and value.where != place and place not in rule.read_in:
            held = f"{value.held:g}" if isinstance(value.held, float) else value.held
            unit = "" if parameter.unit == "date" else f" {parameter.unit}"
            said.append(
                f"{held}{unit} is the general figure; none was read for "
                f"{names.get(place, place)}. Ask the registering authority."
            )
    return " ".join(said)
