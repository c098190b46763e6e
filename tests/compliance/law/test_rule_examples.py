"""Every example in the rule data, by the id of its rule."""

import pytest

from compliance.law import rule_book
from compliance.law.lint import example_answer

RULES = rule_book().rules
EXAMPLES = [
    pytest.param(rule, example, id=f"{rule.id}-{number}")
    for rule in RULES.values()
    for number, example in enumerate(rule.examples, 1)
]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES)
def test_an_example_gets_the_answer_it_expects(rule, example):
    assert example_answer(rule, example) is example.expect


@pytest.mark.parametrize("rule", RULES.values(), ids=RULES)
def test_without_a_fact_no_rule_passes(rule):
    missing = set()

    assert rule.fails_when.answer({}, missing) is None
    assert missing
    assert missing <= set(rule.fails_when.names)


def test_the_shipped_rules_are_all_there():
    by_place = {}
    for rule in RULES.values():
        by_place.setdefault(rule.jurisdiction.partition("-")[0], []).append(rule)

    assert {place: len(rules) for place, rules in by_place.items()} == {
        "AU": 111,
        "UK": 5,
        "EU": 5,
        "NZ": 5,
        "US": 4,
    }
    assert len(EXAMPLES) >= 2 * len(RULES)
