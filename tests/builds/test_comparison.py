"""Two answers side by side, worked by hand: what moves, what is said of it."""

from __future__ import annotations

from typing import Any

import pytest

from builds.comparison import Row, Thing, differences, finding_moves, groups_of
from builds.figures import MAIN, Number


def number(value: float | None, **more: Any) -> Number:
    fields = {"rank": (0, MAIN), "group": MAIN, "label": "Mass", "unit": "kg"}
    return Number(**{**fields, "places": 0, "value": value, **more})


def row(before: Number | None, after: Number | None) -> Row:
    sides = [{} if n is None else {"x": n} for n in (before, after)]
    [group] = groups_of(*sides)
    [only] = group.rows
    return only


LIGHTER = {"more": "heavier", "less": "lighter", "sense": -1}
IN_HAND = {"more": "more in hand", "less": "less in hand", "sense": 1}


@pytest.mark.parametrize(
    ("a", "b", "names", "said"),
    [
        (100, 138, IN_HAND, "B better: 38 kg more in hand"),
        (138, 100, IN_HAND, "A better: 38 kg more in hand"),
        (100, 138, LIGHTER, "A better: 38 kg lighter"),
        (138, 100, LIGHTER, "B better: 38 kg lighter"),
        (-20, 18, IN_HAND, "B better: 38 kg more in hand"),
        (100, 138, {}, "B: 38 kg more"),
        (138, 100, {}, "B: 38 kg less"),
        (100, 100.3, LIGHTER, "A better: 0.3 kg lighter"),
        (100, 100.004, LIGHTER, "the same"),
        (None, 5, LIGHTER, "known in B only"),
        (5, None, LIGHTER, "known in A only"),
        (None, None, LIGHTER, "not known"),
    ],
)
def test_who_is_better_off_is_said_in_words(
    a: float | None, b: float | None, names: dict[str, Any], said: str
):
    assert row(number(a, **names), number(b, **names)).words == said


def test_a_number_moves_when_a_person_can_see_it():
    assert row(number(100), number(101)).moved
    assert not row(number(100), number(100.004)).moved
    assert row(number(100, verdict="within"), number(100, verdict="over")).moved
    assert row(number(100, expanded=5), number(100, expanded=8)).moved
    assert row(number(100, expanded=5), number(100, expanded=8)).band_moved
    assert not row(number(100, expanded=5), number(105, expanded=5)).band_moved
    assert row(None, number(7)).moved
    assert row(number(7), None).moved
    assert row(None, number(7)).difference is None


def test_a_difference_is_shown_with_the_decimals_that_tell_it():
    seen = row(number(1324.4), number(1324.6))  # 1324 and 1325, 0 apart

    assert seen.places == 1
    assert seen.difference == pytest.approx(0.2)


def test_groups_stand_in_their_order_and_what_is_gone_closes_its_own():
    def of(rank: int, label: str) -> Number:
        return number(1, rank=(rank, str(rank)), group=str(rank), label=label)

    before = {"a": of(0, "a"), "gone": of(1, "gone"), "b": of(1, "b")}
    after = {"a": of(0, "a"), "b": of(1, "b"), "c": of(1, "c"), "d": of(2, "d")}

    found = [
        (group.title, [row.label for row in group.rows])
        for group in groups_of(before, after)
    ]

    assert found == [("0", ["a"]), ("1", ["b", "c", "gone"]), ("2", ["d"])]


def finding(key: str, verdict: str, clear: str | None = None) -> dict[str, Any]:
    severity = {"within": "clear", "over": "stop"}.get(verdict, "check")
    sentence = f"{key} is {verdict}."
    return {
        "key": key,
        "verdict": verdict,
        "severity": severity,
        "sentence": sentence,
        "would_clear": clear,
    }


def answer(*findings: dict[str, Any]) -> dict[str, Any]:
    return {"findings": list(findings)}


def test_findings_come_go_and_are_judged_otherwise():
    before = answer(
        finding("stays", "over"),
        finding("mended", "over"),
        finding("gone", "unknown"),
        finding("worse", "not proven"),
        finding("broken", "within"),
        finding("clear-gone", "within"),
        finding("clear", "within"),
    )
    after = answer(
        finding("stays", "over", "Move it."),
        finding("new", "unknown", "Weigh it."),
        finding("broken", "over", "broken is over."),
        finding("worse", "over", "Take it off."),
        finding("mended", "within"),
        finding("clear", "within"),
        finding("clear-new", "within"),
    )

    moves = finding_moves(before, after)

    brings = {(m.sentence, m.before, m.after, m.would_clear) for m in moves.brings}
    assert brings == {
        ("new is unknown.", "", "unknown", "Weigh it."),
        ("broken is over.", "within", "over", ""),  # said in the sentence already
    }
    settles = {(m.sentence, m.before, m.after) for m in moves.settles}
    assert settles == {
        ("mended is over.", "over", "within"),
        ("gone is unknown.", "unknown", ""),
    }
    [change] = moves.changes
    assert (change.before, change.after) == ("not proven", "over")
    assert change.would_clear == "Take it off."
    assert (moves.clear_new, moves.clear_gone) == (1, 1)
    assert moves
    assert not finding_moves(before, before)


def test_what_two_builds_are_made_of_is_told_apart():
    a = {
        "bar": Thing("Front bar", {"Mass, kg": "62", "Place": "front"}),
        "lamp": Thing("Lamp", {"Mass, kg": "2"}),
        "rack": Thing("Rack", {"Mass, kg": "30"}),
    }
    b = {
        "bar": Thing("Front bar", {"Mass, kg": "40", "Place": "front"}),
        "lamp": Thing("Lamp", {"Mass, kg": "2"}),
        "step": Thing("Step", {}),
    }

    found = differences(a, b)

    assert [t.label for t in found.only_a] == ["Rack"]
    assert [t.label for t in found.only_b] == ["Step"]
    [bar] = found.both
    assert (bar.label, bar.facts) == ("Front bar", [("Mass, kg", "62", "40")])
    assert found
    assert not differences(a, a)
