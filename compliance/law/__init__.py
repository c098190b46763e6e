"""The law as data: rules, the facts they ask for, and what they say of a build."""

from compliance.law.book import RuleBook, rule_book
from compliance.law.currency import stale
from compliance.law.findings import LawFinding
from compliance.law.gather import BuildFacts, ItemFacts, facts_of
from compliance.law.judge import judge
from compliance.law.questions import Question, questions
from compliance.law.values import LawError

__all__ = [
    "BuildFacts",
    "ItemFacts",
    "LawError",
    "LawFinding",
    "Question",
    "RuleBook",
    "facts_of",
    "judge",
    "questions",
    "rule_book",
    "stale",
]
