"""One place for each item that is switched, and enough places."""

import pytest

from compliance.record import parse_record
from compliance.switching import allot_switches, check_switching
from tests.compliance.records import a_record, drop, put


def judged(data):
    record = parse_record(data)
    found = allot_switches(record)
    return found, {f.key: f for f in check_switching(record, found)}


def test_places_are_counted():
    found, findings = judged(a_record())
    assert (found.used, found.spare) == (1, 1)
    assert found.positions == {"dash-1": ("lamps",), "dash-2": ()}
    assert findings["switch-place.lamps"].verdict == "within"
    assert "dash right, upper" in findings["switch-place.lamps"].sentence
    blanks = findings["switch-blanks"]
    assert blanks.verdict == "within"
    assert blanks.sentence == "2 switch places: 1 used, 1 left."


def test_an_item_without_an_answer_is_unknown():
    found, findings = judged(drop(a_record(), "items.0.switch"))
    assert found.unanswered == ("front-bar",)
    finding = findings["switch-place.front-bar"]
    assert finding.verdict == "unknown"
    assert finding.sentence == "Front bar: choose where it is switched, or say none."


@pytest.mark.parametrize("kind", ["none", "own"])
def test_none_and_own_need_no_place(kind):
    found, findings = judged(put(a_record(), "items.2.switch", {"kind": kind}))
    assert found.unplaced == found.unanswered == ()
    assert "switch-place.lamps" not in findings


def test_an_item_that_waits_names_the_blanks_left():
    found, findings = judged(put(a_record(), "items.0.switch", {"kind": "position"}))
    assert found.unplaced == ("front-bar",)
    finding = findings["switch-place.front-bar"]
    assert finding.verdict == "unknown"
    assert "1 blank left" in finding.sentence
    assert findings["switch-blanks"].sentence == (
        "2 switch places: 1 used, 1 left, 1 item waiting."
    )


def test_more_items_than_blanks_is_over():
    data = put(a_record(), "items.0.switch", {"kind": "position"})
    put(data, "items.1.switch", {"kind": "position"})
    _, findings = judged(data)
    for key in ("switch-place.front-bar", "switch-place.water", "switch-blanks"):
        assert findings[key].verdict == "over"
        assert findings[key].severity == "stop"
        assert findings[key].would_clear
    assert "2 items waiting, 1 blank left" in findings["switch-place.water"].sentence


def test_as_many_items_as_blanks_is_not_over():
    data = put(a_record(), "items.0.switch", {"kind": "position"})
    put(data, "items.2.switch", {"kind": "position"})
    _, findings = judged(data)
    assert findings["switch-place.lamps"].verdict == "unknown"
    assert findings["switch-blanks"].verdict == "within"


def test_two_items_on_one_place_are_over():
    data = put(a_record(), "items.0.switch", {"position": "dash-1"})
    found, findings = judged(data)
    assert found.used == 1
    for key in ("front-bar", "lamps"):
        finding = findings[f"switch-place.{key}"]
        assert finding.verdict == "over"
        assert (finding.value, finding.limit) == (2, 1)
    assert "with Driving lamps" in findings["switch-place.front-bar"].sentence


def test_the_order_of_items_never_moves_a_key():
    data = drop(drop(a_record(), "items.0.switch"), "items.1.switch")
    turned = {**data, "items": data["items"][::-1]}

    found, back = judged(data)[0], judged(turned)[0]
    assert len(found.unanswered) == 2
    assert found == back
