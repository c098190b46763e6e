"""Verdicts and the sentences that must not contradict them."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.findings import held_against, verdict

kilograms = st.floats(min_value=0, max_value=20_000)


@pytest.mark.parametrize(
    ("value", "limit", "expanded", "expected"),
    [
        (1850, 1850, 0, "within"),
        (0.1 + 0.2, 0.3, 0, "within"),
        (1850.001, 1850, 0, "over"),
        (1830, 1850, 20, "within"),
        (1831, 1850, 20, "not proven"),
        (1870, 1850, 20, "not proven"),
        (1871, 1850, 20, "over"),
        (None, 1850, 0, "unknown"),
        (1850, None, 0, "unknown"),
    ],
)
def test_verdict_on_both_sides_of_each_line(value, limit, expanded, expected):
    assert verdict(value, limit, expanded) == expected


@pytest.mark.parametrize(
    ("value", "limit", "expanded", "expected"),
    [
        (1812, 1850, 0, "1,812 kg against 1,850 kg: 38 kg in hand."),
        (1862.4, 1850, 0, "1,862 kg against 1,850 kg: 12 kg over."),
        (1850, 1850, 0, "1,850 kg against 1,850 kg: at the limit."),
        (
            1840,
            1850,
            20,
            "1,840 kg ± 20 kg against 1,850 kg: 10 kg in hand, not proven within its "
            "tolerance; measure it.",
        ),
    ],
)
def test_a_sentence_says_what_is_in_hand(value, limit, expanded, expected):
    assert held_against(value, limit, "kg", expanded) == expected


@given(kilograms, st.floats(0.001, 1), st.floats(0, 60), st.booleans())
def test_the_printed_numbers_lead_to_the_same_verdict(limit, apart, expanded, over):
    value = limit + apart if over else max(0.0, limit - apart)
    said = held_against(value, limit, "kg", expanded)
    numbers = [
        float(n.replace(",", "")) for n in re.findall(r"\d[\d,]*(?:\.\d+)?", said)
    ]
    band = numbers[1] if "±" in said else 0.0
    shown_limit = numbers[2] if "±" in said else numbers[1]
    assert verdict(numbers[0], shown_limit, band) == verdict(value, limit, expanded)
    assert (" over" in said) == (value > limit + 1e-9 * max(value, limit, 1))
