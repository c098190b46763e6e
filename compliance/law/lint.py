"""Faults of the rule data that reading it does not refuse."""

import re
from collections.abc import Iterable, Iterator

from compliance.law.book import RuleBook
from compliance.law.judge import PAPERS, TRAILER
from compliance.law.rules import EVERYTHING, Example, Rule

NEWEST = "9999-12-31"
"""The day of an example that names none: the newest figures count."""

ASKED_FOR_OTHERS = {PAPERS, TRAILER}
"""Facts that judging itself asks for."""

OWN_VERDICT = re.compile(
    r"\b(?:il)?legal(?:ly)?\b|\b(?:un)?lawful(?:ly)?\b|\bcompliant\b|\bcomplies\b"
    r"|\bcertified\b(?!\s+by\b)",
    re.IGNORECASE,
)
"""Words with which the tool would pronounce itself. "Certified by" names who did."""


def lint(book: RuleBook, kinds: Iterable[str] = ()) -> list[str]:
    """
    Find what is wrong or idle in the rule data.

    Parameters
    ----------
    book : RuleBook
        Rules that could be read.
    kinds : Iterable of str, optional
        Kinds of line items in use, each of which the table of kinds has to hold.

    Returns
    -------
    list of str
        One line each, empty when all is well.

    References
    ----------
    Workshop rule.
    """
    faults: list[str] = []
    for rule in book.rules.values():
        faults += [f"{rule.id}: {said}" for said in _rule_faults(rule, book)]
    faults += _idle_facts(book)
    faults += _kind_faults(book, kinds)
    return faults


def example_answer(rule: Rule, example: Example) -> bool | None:
    """Answer a rule with the facts of an example, as they stand."""
    figures = rule.figures(example.jurisdiction, example.on or NEWEST)
    held = {name: value.held for name, value in figures.items()}
    return rule.fails_when.answer({**example.facts, **held})


def _rule_faults(rule: Rule, book: RuleBook) -> Iterator[str]:
    for number, example in enumerate(rule.examples, 1):
        if not rule.applies(example.jurisdiction):
            yield f"example {number} is of {example.jurisdiction}, where it is no rule"
        answer = example_answer(rule, example)
        if answer is not example.expect:
            yield f"example {number} gives {answer}, not {example.expect}"
        for name in example.facts:
            if name not in rule.facts:
                yield f"example {number} states {name}, which it does not ask for"
    for expected in (True, False):
        if not any(example.expect is expected for example in rule.examples):
            yield f"no example expects {expected}"
    for name in rule.parameters:
        if f"p.{name}" not in rule.fails_when.names:
            yield f"parameter {name} is not used"
    papers = book.registry.papers
    if rule.outcome == "certify" and not any(papers[p].settles for p in rule.papers):
        yield "needs a certificate and names no paper that settles it"
    for words in (rule.title, rule.message):
        if said := OWN_VERDICT.search(words):
            yield f"says {said.group()!r} as if the tool decided that"


def _idle_facts(book: RuleBook) -> Iterator[str]:
    used = {name for rule in book.rules.values() for name in rule.facts}
    used |= ASKED_FOR_OTHERS
    for name, info in book.registry.facts.items():
        if name not in used:
            yield f"{name}: no rule asks for this fact"
        if said := OWN_VERDICT.search(info.words):
            yield f"{name}: says {said.group()!r} as if the tool decided that"


def _kind_faults(book: RuleBook, kinds: Iterable[str]) -> Iterator[str]:
    registry = book.registry
    mapped = set(registry.raises.values())
    for info in registry.kinds.values():
        mapped |= {*info.types, *([info.also.type] if info.also else [])}
    triggers = {t for rule in book.rules.values() for t in rule.trigger} - {EVERYTHING}
    for name in sorted(triggers - mapped - set(registry.unmapped)):
        yield f"{name}: rules name this item type, no kind stands for it"
    for name in sorted((mapped | set(registry.unmapped)) - triggers):
        yield f"{name}: no rule names this item type"
    for name in sorted(mapped & set(registry.unmapped)):
        yield f"{name}: is mapped and said to be unmapped"
    for name in sorted(set(kinds) - set(registry.kinds)):
        yield f"{name}: this kind of line item is not in the table of kinds"
