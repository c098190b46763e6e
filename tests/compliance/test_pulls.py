"""Short pulls: what every circuit in front of them, their fuses and drops are held to."""

from __future__ import annotations

import pytest

from tests.compliance.test_power_checks import (
    HOT,
    a_build,
    a_circuit,
    an_item,
    checked,
)


def a_winch_build(fuse_a=250, limit=None, board=None, **feed):
    """A 380 A winch on its feed, behind a board where one is given, lamps beside."""
    winch = an_item("winch", current_a=380, short_time=True, limit_percent=limit)
    feed = a_circuit("w", "start", fuse_a=fuse_a, feeds=["winch"], **feed)
    rows, items = [feed], [winch]
    if board is not None:
        rows.insert(0, a_circuit("board", "start", **board))
        rows.append(a_circuit("l", "board", feeds=["lamp"]))
        feed["from"] = "board"
        items.append(an_item("lamp", current_a=6))
    return a_build(items, rows)


def test_a_board_in_front_of_a_winch_is_judged_in_the_pull():
    record = a_winch_build(area_mm2=70, board={"fuse_a": 40, "area_mm2": 10})
    answer, found = checked(record)

    fuse, cable = found["pull-fuse.board"], found["circuit-pull.board"]
    assert (fuse.verdict, fuse.value, fuse.limit) == ("over", 386, 80)
    assert "its maker" not in fuse.sentence
    assert (cable.verdict, cable.limit) == (
        "over",
        pytest.approx((10 * 143 / 386) ** 2),
    )
    assert answer["circuits"]["board"]["verdict"] == "over"
    # Its lasting load is still what its fuse must carry for good.
    assert answer["circuits"]["board"]["current_a"] == 6
    assert "pull-fuse.l" not in found
    assert "circuit-pull.l" not in found


@pytest.mark.parametrize(
    ("fuse_a", "verdict"),
    [
        (5, "over"),
        (189, "over"),
        (190, "not proven"),
        (379, "not proven"),
        (380, "within"),
    ],
)
def test_a_fuse_is_held_to_the_pull(fuse_a, verdict):
    judged = checked(a_winch_build(fuse_a, area_mm2=70, run_m=1))[1]["pull-fuse.w"]
    assert judged.verdict == verdict
    assert (judged.would_clear is None) == (verdict == "within")
    assert judged.working[0].mark == "from memory"


@pytest.mark.parametrize("area", [70, 150, 10, None])
def test_a_pull_is_told_a_fuse_only_where_the_cable_allows_it(area):
    judged = checked(a_winch_build(100, area_mm2=area, run_m=1))[1]["pull-fuse.w"]
    if judged.ways:
        rating = judged.ways[0].changes[0].value
        after = checked(a_winch_build(rating, area_mm2=area, run_m=1))[1]
        assert after["pull-fuse.w"].verdict == "within"
        assert after["circuit-fuse.w"].verdict == "within"
    else:
        assert "maker's curve carries 380 A" in judged.would_clear
    assert bool(judged.ways) == (area == 150)


@pytest.mark.parametrize(
    ("run", "limit", "verdict", "most"),
    [
        (1, None, "within", 20),
        (8, None, "not proven", 20),
        (1, 3, "over", 3),
        (1, 8, "within", 8),
    ],
)
def test_the_drop_of_a_pull(run, limit, verdict, most):
    record = a_winch_build(limit=limit, area_mm2=35, run_m=run)
    judged = checked(record)[1]["pull-drop.w"]
    percent = 100 * 380 * 2 * run * 0.554e-3 * HOT / 12

    assert judged.value == pytest.approx(percent)
    assert (judged.verdict, judged.limit) == (verdict, most)
    assert " over" not in judged.sentence or verdict == "over"
    assert judged.working[-1].mark == ("given" if limit else "common practice")
    assert (judged.would_clear is None) == (verdict == "within")


def test_a_winch_on_a_feed_without_a_fuse_is_not_held_to_one():
    _, found = checked(a_winch_build(None, area_mm2=70, run_m=1))
    assert "pull-fuse.w" not in found
