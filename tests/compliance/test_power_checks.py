"""Small builds whose power was worked by hand, one finding at a time."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.power_checks import check_power
from compliance.record import RecordError, parse_record

CABLE: dict[str, Any] = {
    "fuse_kind": "midi",
    "fuse_to_source_m": 0.15,
    "insulation_c": 105,
}
USE = {"ambient_c": 30, "latitude_deg": -23, "month": 7, "days": 7}
HOT = 1 + 0.00393 * 40
"""A conductor at 60 degrees against one at 20."""


def an_item(key: str, **load: Any) -> dict[str, Any]:
    load = {"kind": "current", "hours_per_day": 24, **load}
    if load["kind"] == "none":
        del load["kind"]
    given_ = {name: value for name, value in load.items() if value is not None}
    return {"key": key, "label": key, "kind": "x", "zone": "cargo", "load": given_}


def a_circuit(key: str, source: str = "aux", **more: Any) -> dict[str, Any]:
    row = {"key": key, "from": source, "fuse_a": 15, "area_mm2": 6, "run_m": 3}
    row |= {**CABLE, **more}
    return {name: value for name, value in row.items() if value is not None}


def a_battery(key: str = "aux", **more: Any) -> dict[str, Any]:
    row = {"key": key, "chemistry": "lfp", "capacity_ah": 100, "internal_mohm": 4}
    row |= {"discharge_limit_a": 100, "charge_limit_a": 50, **more}
    return {name: value for name, value in row.items() if value is not None}


def a_build(
    items: list[dict[str, Any]], circuits: list[dict[str, Any]], **more: Any
) -> dict[str, Any]:
    supply = {"system_v": 12, "batteries": [a_battery()], "circuits": circuits}
    supply |= more.pop("supply", {})
    vehicle = {"label": "ute", **more.pop("vehicle", {})}
    return {
        "format": "build-record",
        "version": 1,
        "vehicle": vehicle,
        "items": items,
        "supply": supply,
        "use": {**USE, **more.pop("use", {})},
    }


def checked(record: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    answer, findings = check_power(parse_record(record))
    by_key = {finding.key: finding for finding in findings}
    assert len(by_key) == len(findings)
    for finding in findings:
        assert finding.sentence.endswith(".")
        assert finding.severity == {
            "over": "stop",
            "within": "clear",
            "unknown": "check",
            "not proven": "check",
        }.get(finding.verdict)
    return answer, by_key


# Drop


def test_the_drop_of_a_feeder_and_its_circuit_by_hand():
    record = a_build(
        [an_item("fridge", current_a=4, limit_percent=3), an_item("lamp", current_a=2)],
        [
            a_circuit("board", fuse_a=60, area_mm2=16, run_m=4.5),
            a_circuit("fridge-feed", "board", area_mm2=2.5, feeds=["fridge"]),
            a_circuit("lamp-feed", "board", area_mm2=1.5, run_m=2, feeds=["lamp"]),
        ],
    )
    answer, found = checked(record)
    board = 6 * 2 * 4.5 * 1.21e-3 * HOT
    fridge = board + 4 * 2 * 3 * 7.98e-3 * HOT
    circuit = answer["circuits"]["fridge-feed"]
    assert circuit["drop_v"] == pytest.approx(fridge)
    assert circuit["drop_percent"] == pytest.approx(100 * fridge / 12)
    assert circuit["current_a"] == 4
    assert answer["circuits"]["board"]["current_a"] == 6
    steps = found["circuit-drop.fridge-feed"].working
    assert sum(s.value for s in steps if s.unit == "V") == pytest.approx(fridge)
    assert "limit_percent" not in answer["circuits"]["board"]


def test_the_longest_row_of_feeders_is_shown_whole():
    row = [a_circuit("c0", area_mm2=50, run_m=4)]
    row += [a_circuit(f"c{n}", f"c{n - 1}", area_mm2=50, run_m=4) for n in range(1, 12)]
    row[-1]["feeds"] = ["lamp"]
    answer, found = checked(a_build([an_item("lamp", current_a=20)], row))
    steps = found["circuit-drop.c11"].working
    drop_v = answer["circuits"]["c11"]["drop_v"]
    assert sum(s.value for s in steps if s.unit == "V") == pytest.approx(drop_v)
    assert len([s for s in steps if s.unit == "V"]) == 12
    assert drop_v == pytest.approx(20 * 12 * 2 * 4 * 0.386e-3 * HOT)


@pytest.mark.parametrize("many", [13, 3000])
def test_a_longer_row_is_refused_with_one_sentence(many):
    row = [a_circuit("c0")]
    row += [a_circuit(f"c{n}", f"c{n - 1}") for n in range(1, many)]
    with pytest.raises(RecordError) as refused:
        parse_record(a_build([], row))
    assert refused.value.faults == [
        (
            "supply.circuits[12].from",
            "is behind 12 circuits in a row. Feed it from nearer.",
        )
    ]


def test_the_cable_that_is_offered_clears_the_drop_and_the_next_smaller_does_not():
    lamps = a_circuit("feed", area_mm2=1.5, run_m=5.5, feeds=["fridge"])
    record = a_build([an_item("fridge", current_a=4, limit_percent=3)], [lamps])
    _, found = checked(record)
    assert found["circuit-drop.feed"].verdict == "over"
    assert found["circuit-drop.feed"].would_clear == (
        "Fit 4 mm² instead of 1.5 mm² for feed, or bring the run of feed down to 2.9 m."
    )
    for area, verdict in ((2.5, "over"), (4, "within")):
        lamps["area_mm2"] = area
        assert checked(record)[1]["circuit-drop.feed"].verdict == verdict


def test_a_feeder_that_takes_it_all_is_the_one_to_change():
    record = a_build(
        [an_item("fridge", current_a=4), an_item("heater", current_a=40)],
        [
            a_circuit("board", fuse_a=60, area_mm2=10, run_m=4),
            a_circuit("feed", "board", run_m=1, feeds=["fridge"]),
            a_circuit("heat", "board", area_mm2=25, fuse_a=60, feeds=["heater"]),
        ],
    )
    _, found = checked(record)
    offer = found["circuit-drop.feed"].would_clear
    assert offer == (
        "Fit 16 mm² instead of 10 mm² for board, or bring the run of board down to "
        "2.9 m."
    )
    record["supply"]["circuits"][0]["area_mm2"] = 16
    assert checked(record)[1]["circuit-drop.feed"].verdict == "within"


def test_no_cable_is_offered_where_none_would_do():
    far = a_circuit("feed", run_m=90, area_mm2=16, fuse_a=80, feeds=["heater"])
    _, found = checked(a_build([an_item("heater", current_a=60)], [far]))
    assert found["circuit-drop.feed"].would_clear == (
        "Shorten the run or split the loads: no single larger cable is enough."
    )


def test_chargers_and_loads_never_add_up_in_one_feeder():
    record = a_build(
        [an_item("lamp", current_a=12)],
        [
            a_circuit("board", fuse_a=60, area_mm2=16, run_m=2, feeds=["dcdc"]),
            a_circuit("lamps", "board", fuse_a=20, feeds=["lamp"]),
            a_circuit("in", "start", fuse_a=50, area_mm2=16, feeds=["dcdc"]),
        ],
        supply={
            "chargers": [
                {
                    "key": "dcdc",
                    "kind": "dc-dc",
                    "from": "start",
                    "to": "aux",
                    "out_a": 25,
                }
            ]
        },
        use={"drive_h_per_day": 2},
    )
    answer, found = checked(record)
    assert answer["circuits"]["board"]["current_a"] == 25
    # What loads draw at once leaves what the charger brings out of it.
    assert found["battery-discharge.aux"].value == 12
    assert answer["circuits"]["in"]["current_a"] == pytest.approx(
        25 * 14.4 / (0.92 * 11.5)
    )
    record["items"][0]["load"]["current_a"] = 30
    assert checked(record)[0]["circuits"]["board"]["current_a"] == 30


def test_an_output_of_its_own_is_judged_by_what_the_charger_gives():
    record = a_build(
        [],
        [a_circuit("out", fuse_a=40, area_mm2=10, feeds=["solar"])],
        supply={
            "chargers": [{"key": "solar", "kind": "solar", "to": "aux", "out_a": 20}]
        },
    )
    answer, found = checked(record)
    assert answer["circuits"]["out"]["current_a"] == 20
    assert answer["circuits"]["out"]["limit_percent"] == 3
    assert found["circuit-drop.out"].verdict == "within"
    assert "charger-input.solar" not in found
    assert found["battery-charge.aux"].value == 20
    assert answer["sources"]["aux-charge"] == {
        "demand_a": 20,
        "limit_a": 50,
        "verdict": "within",
    }


def test_percent_is_of_24_v_on_24_v():
    feed = a_circuit("feed", feeds=["lamp"])
    at_12 = checked(a_build([an_item("lamp", current_a=5)], [feed]))[0]
    at_24 = checked(
        a_build([an_item("lamp", current_a=5)], [feed], supply={"system_v": 24})
    )[0]
    low, high = (a["circuits"]["feed"]["drop_percent"] for a in (at_12, at_24))
    assert low == pytest.approx(2 * high)


def test_what_follows_the_voltage_draws_less_over_a_thin_cable():
    thin = a_circuit("feed", area_mm2=0.75, run_m=6, feeds=["lamp"])
    by_ohm = an_item("lamp", kind="resistive", resistance_ohm=2.4)
    by_amps = an_item("lamp", kind="resistive", current_a=5)
    ohm = 2 * 6 * 26e-3 * HOT
    for item in (by_ohm, by_amps):
        answer, _ = checked(a_build([item], [thin]))
        assert answer["circuits"]["feed"]["current_a"] == pytest.approx(
            12 / (2.4 + ohm)
        )


@pytest.mark.parametrize("kind", ["current", "power"])
def test_what_no_cable_of_this_size_can_bring_is_a_stop(kind: str):
    load = {"current": {"current_a": 400}, "power": {"power_w": 4000}}[kind]
    thin = a_circuit("feed", area_mm2=1.5, run_m=5, fuse_a=10, feeds=["heater"])
    answer, found = checked(
        a_build(
            [an_item("heater", kind=kind, **load), an_item("lamp", current_a=1)],
            [thin, a_circuit("beside", feeds=["lamp"])],
        )
    )
    collapsed = found["circuit-drop.feed"]
    assert (collapsed.verdict, collapsed.value) == ("over", None)
    assert "cannot be supplied" in collapsed.sentence
    assert collapsed.would_clear
    assert answer["circuits"]["feed"]["verdict"] == "over"
    assert "drop_v" not in answer["circuits"]["feed"]
    # What hangs on the battery by itself is not touched by it.
    assert found["circuit-drop.beside"].verdict == "within"
    assert ("current_a" in answer["circuits"]["feed"]) == (kind == "current")


def test_beside_a_power_that_collapses_the_voltage_is_not_known():
    record = a_build(
        [an_item("inverter", kind="power", power_w=4000), an_item("lamp", current_a=1)],
        [
            a_circuit("board", area_mm2=2.5, run_m=6),
            a_circuit("inv", "board", feeds=["inverter"]),
            a_circuit("lamps", "board", feeds=["lamp"]),
        ],
    )
    _, found = checked(record)
    assert found["circuit-drop.inv"].verdict == "over"
    assert found["circuit-drop.lamps"].verdict == "unknown"
    assert "beside it" in found["circuit-drop.lamps"].sentence


# Missing facts


def test_a_missing_cable_is_unknown_below_it_and_never_zero_above():
    record = a_build(
        [an_item("lamp", current_a=4), an_item("fan", current_a=2)],
        [
            a_circuit("board", fuse_a=60, area_mm2=16, run_m=4),
            a_circuit("lamps", "board", area_mm2=None, feeds=["lamp"]),
            a_circuit("fans", "board", feeds=["fan"]),
            a_circuit("more", "lamps", feeds=[]),
        ],
    )
    answer, found = checked(record)
    assert answer["circuits"]["board"]["current_a"] == 6
    assert found["circuit-drop.lamps"].sentence == "lamps: enter the cable area."
    assert "the cable area of lamps" in found["circuit-drop.more"].sentence
    assert "fault_a" not in answer["circuits"]["more"]
    assert "enter its cable area" in found["circuit-fuse.lamps"].sentence
    assert found["circuit-drop.fans"].verdict == "within"


def test_a_draw_that_is_not_known_keeps_its_feeder_and_its_neighbours_open():
    record = a_build(
        [an_item("lamp", current_a=None), an_item("fan", current_a=2)],
        [
            a_circuit("board", fuse_a=60, area_mm2=16, run_m=4),
            a_circuit("lamps", "board", feeds=["lamp"]),
            a_circuit("fans", "board", feeds=["fan"]),
        ],
    )
    answer, found = checked(record)
    assert "current_a" not in answer["circuits"]["board"]
    assert answer["circuits"]["fans"]["current_a"] == 2
    for key in ("lamps", "fans"):
        assert found[f"circuit-drop.{key}"].verdict == "unknown"
        assert "what lamp draws" in found[f"circuit-drop.{key}"].sentence
    assert "what lamp draws" in found["circuit-fuse.board"].sentence
    assert found["battery-discharge.aux"].verdict == "unknown"
    assert "what lamp draws" in found["energy-day"].sentence
    assert "what lamp draws" in found["soc-minimum"].sentence
    assert answer["day"] == {}


def test_below_a_cable_that_is_not_known_a_power_leaves_the_feeder_open():
    record = a_build(
        [an_item("inverter", kind="power", power_w=300)],
        [
            a_circuit("board", fuse_a=60, area_mm2=16, run_m=4),
            a_circuit("inv", "board", run_m=None, feeds=["inverter"]),
        ],
    )
    answer, found = checked(record)
    assert "current_a" not in answer["circuits"]["board"]
    assert "the run of inv" in found["circuit-fuse.board"].sentence


def test_a_load_on_no_circuit_is_named():
    _, found = checked(a_build([an_item("lamp", current_a=2)], []))
    assert found["load-unfed.lamp"].severity == "check"
    assert "choose what feeds it" in found["load-unfed.lamp"].sentence


# Fuses


@pytest.mark.parametrize(
    ("fuse_a", "verdict", "says"),
    [
        (15, "within", "15.0 A against 50.0 A"),
        (10, "over", "15.0 A against 10.0 A"),
        (60, "over", "60.0 A against 50.0 A"),
        (None, "unknown", "enter its fuse"),
    ],
)
def test_a_fuse_between_its_load_and_its_cable(fuse_a, verdict, says):
    feed = a_circuit("feed", area_mm2=4, fuse_a=fuse_a, feeds=["lamp"])
    feed["insulation_c"] = 125
    answer, found = checked(a_build([an_item("lamp", current_a=12)], [feed]))
    fuse = found["circuit-fuse.feed"]
    assert fuse.verdict == verdict
    assert says in fuse.sentence
    assert answer["circuits"]["feed"]["fuse_minimum_a"] == pytest.approx(15)
    assert answer["circuits"]["feed"]["ampacity_a"] == 50
    if verdict == "over":
        assert fuse.would_clear == "Fit a 15 A blade fuse."
        feed["fuse_a"] = 15
        again = checked(a_build([an_item("lamp", current_a=12)], [feed]))[1]
        assert again["circuit-fuse.feed"].verdict == "within"


@pytest.mark.parametrize(
    ("current_a", "clear"),
    [
        (30, "Fit 6 mm² and a 40 A fuse."),
        (600, "Split the loads: no fuse of the series is large enough."),
        (390, "Split the loads: no standard cable carries such a fuse."),
    ],
)
def test_no_fuse_satisfies_both_so_the_next_cable_does(current_a, clear):
    # 4 mm² at 105 °C in the engine space carries 45 × 0.86 = 38.7 A, under 30 / 0.8.
    feed = a_circuit("feed", area_mm2=4, run_m=0.1, fuse_a=30, feeds=["heater"])
    feed["engine_space"] = True
    _, found = checked(a_build([an_item("heater", current_a=current_a)], [feed]))
    assert found["circuit-fuse.feed"].verdict == "over"
    assert found["circuit-fuse.feed"].would_clear == clear


def test_insulation_that_nobody_recorded():
    feed = a_circuit("feed", fuse_a=30, feeds=["lamp"], insulation_c=None)
    answer, found = checked(a_build([an_item("lamp", current_a=2)], [feed]))
    assert answer["circuits"]["feed"]["ampacity_a"] == 29
    assert "none recorded" in found["circuit-fuse.feed"].working[-1].formula
    feed["engine_space"] = True
    _, found = checked(a_build([an_item("lamp", current_a=2)], [feed]))
    assert "temperature rating of its insulation" in found["circuit-fuse.feed"].sentence
    feed["insulation_c"] = 60
    _, found = checked(a_build([an_item("lamp", current_a=2)], [feed]))
    assert "that the table of ampacities allows" in found["circuit-fuse.feed"].sentence


def test_a_fuse_too_large_for_its_cable_where_the_load_is_not_known():
    feed = a_circuit("feed", fuse_a=80, feeds=["lamp"])
    _, found = checked(a_build([an_item("lamp", current_a=None)], [feed]))
    fuse = found["circuit-fuse.feed"]
    assert (fuse.verdict, fuse.would_clear) == ("over", "Fit at most a 60 A fuse.")


@pytest.mark.parametrize(
    ("away_m", "verdict"),
    [
        (0.2, "within"),
        (0.201, "not proven"),
        (1.016, "not proven"),
        (1.02, "over"),
        (None, "unknown"),
    ],
)
def test_the_fuse_near_its_source(away_m, verdict):
    feed = a_circuit("feed", fuse_to_source_m=away_m, feeds=["lamp"])
    _, found = checked(a_build([an_item("lamp", current_a=2)], [feed]))
    reach = found["circuit-reach.feed"]
    assert reach.verdict == verdict
    assert bool(reach.would_clear) == (verdict in ("not proven", "over"))
    assert (" over" in reach.sentence) == (verdict == "over")
    assert ("enclose the cable" in (reach.would_clear or "")) == (
        verdict == "not proven"
    )


def test_a_short_is_counted_cold_and_with_a_full_battery():
    record = a_build(
        [an_item("lamp", current_a=2)],
        [
            a_circuit("board", fuse_kind="class-t", area_mm2=16, run_m=2, fuse_a=60),
            a_circuit("feed", "board", fuse_kind="blade", feeds=["lamp"]),
        ],
    )
    answer, found = checked(record)
    assert answer["circuits"]["board"]["fault_a"] == pytest.approx(14 / 0.004)
    behind = 14 / (0.004 + 2 * 2 * 1.21e-3)
    assert answer["circuits"]["feed"]["fault_a"] == pytest.approx(behind)
    short = found["circuit-interrupt.aux"]
    assert (short.verdict, short.limit) == ("not proven", 1000)
    assert short.value == pytest.approx(behind)
    record["supply"]["circuits"][1]["fuse_kind"] = "Mega"
    assert checked(record)[1]["circuit-interrupt.aux"].verdict == "within"
    record["supply"]["circuits"][1]["fuse_kind"] = "glass"
    short = checked(record)[1]["circuit-interrupt.aux"]
    assert (short.verdict, short.value) == ("unknown", None)
    assert "for feed" in short.sentence


@pytest.mark.parametrize(
    ("internal", "verdict", "asks"),
    [(None, "not proven", True), (7.1, "not proven", False), (6.9, "over", False)],
)
def test_only_a_wide_margin_over_a_recorded_figure_is_a_stop(internal, verdict, asks):
    """14 V over 7 mΩ are twice the 1,000 A that a blade fuse breaks."""
    feed = a_circuit("feed", fuse_a=10, fuse_kind="blade", feeds=["lamp"])
    battery = {"batteries": [a_battery(internal_mohm=internal)]}
    record = a_build([an_item("lamp", current_a=2)], [feed], supply=battery)
    short = checked(record)[1]["circuit-interrupt.aux"]
    assert short.verdict == verdict
    assert ("own short-circuit figure" in short.would_clear) == asks


def test_a_fuse_that_is_not_made_is_a_finding():
    feed = a_circuit("feed", fuse_a=100, fuse_kind="Blade", area_mm2=50)
    record = a_build([an_item("heater", current_a=70)], [feed | {"feeds": ["heater"]}])
    judged = checked(record)[1]["fuse-kind.feed"]
    assert (judged.verdict, judged.value, judged.limit) == ("not proven", 100, 40)
    assert "from 1 to 40 A" in judged.sentence
    for way in judged.ways:
        feed["fuse_kind"] = way.changes[0].value
        record["supply"]["circuits"] = [feed | {"feeds": ["heater"]}]
        assert "fuse-kind.feed" not in checked(record)[1]
    assert len(judged.ways) == 3


def test_many_weak_fuses_are_named_shortly():
    feeds = [a_circuit(f"c{n}", fuse_kind="blade", feeds=[f"i{n}"]) for n in range(5)]
    items = [an_item(f"i{n}", current_a=1) for n in range(5)]
    _, found = checked(a_build(items, feeds))
    assert "c0, c1, c2, 2 more" in found["circuit-interrupt.aux"].sentence


# Short pulls


def test_a_winch_is_shown_but_holds_nothing_else_up():
    winch = an_item("winch", current_a=400, short_time=True, hours_per_day=None)
    record = a_build(
        [winch, an_item("lamp", current_a=5)],
        [
            a_circuit("board", "start", area_mm2=35, run_m=2, fuse_a=60),
            a_circuit("w", "board", area_mm2=35, run_m=1, fuse_a=None, feeds=["winch"]),
            a_circuit("lamps", "board", area_mm2=2.5, feeds=["lamp"]),
        ],
    )
    answer, found = checked(record)
    assert answer["circuits"]["w"]["current_a"] == 400
    assert answer["circuits"]["w"]["drop_v"] == pytest.approx(
        (405 * 4 + 400 * 2) * 0.554e-3 * HOT
    )
    assert "circuit-drop.w" not in found
    assert "circuit-fuse.w" not in found
    assert answer["circuits"]["board"]["current_a"] == 5
    assert found["circuit-drop.lamps"].verdict == "within"
    pull = found["circuit-pull.w"]
    assert (pull.verdict, pull.value) == ("within", 20)
    assert pull.limit == pytest.approx((143 * 35 / 400) ** 2)
    assert answer["day"]["load_ah"] == 0


def test_a_winch_on_a_cable_that_would_burn():
    winch = an_item("winch", current_a=400, short_time=True)
    thin = a_circuit("w", "start", area_mm2=10, run_m=1, insulation_c=70, fuse_a=80)
    thin["feeds"] = ["winch"]
    _, found = checked(a_build([winch], [thin]))
    pull = found["circuit-pull.w"]
    assert pull.verdict == "over"
    assert pull.limit == pytest.approx((115 * 10 / 400) ** 2)
    # Its fuse is held against the cable only.
    assert found["circuit-fuse.w"].verdict == "over"
    assert found["circuit-fuse.w"].would_clear == "Fit at most a 60 A fuse."


def test_a_winch_is_never_fed_by_a_battery_that_cannot_give_it():
    winch = an_item("winch", current_a=400, short_time=True)
    feed = a_circuit("w", area_mm2=70, run_m=2, fuse_a=None, feeds=["winch"])
    record = a_build([winch, an_item("lamp", current_a=5)], [feed])
    record["supply"]["circuits"].append(a_circuit("lamps", feeds=["lamp"]))
    _, found = checked(record)
    assert found["battery-discharge.aux"].verdict == "over"
    assert found["battery-discharge.aux"].value == 405
    winch["load"].pop("current_a")
    assert checked(record)[1]["battery-discharge.aux"].verdict == "unknown"


# Batteries, chargers, alternator


def test_an_inverter_is_sized_by_the_system_voltage_and_held_against_the_battery():
    inverter = an_item("inv", kind="power", power_w=2000, efficiency=0.9)
    inverter["load"]["hours_per_day"] = 0.5
    feed = a_circuit("feed", area_mm2=95, run_m=0, fuse_a=225, feeds=["inv"])
    answer, found = checked(a_build([inverter], [feed]))
    # P13: 2000 W take 185.2 A at 12 V, so the fuse is at least 231.5 A.
    assert answer["circuits"]["feed"]["current_a"] == pytest.approx(185.2, rel=0.005)
    assert answer["circuits"]["feed"]["fuse_minimum_a"] == pytest.approx(
        231.5, rel=0.005
    )
    assert found["circuit-fuse.feed"].would_clear == "Fit a 250 A mega fuse."
    assert found["battery-discharge.aux"].verdict == "over"
    assert answer["sources"]["aux"]["verdict"] == "over"
    # The day counts at the battery's own voltage.
    assert answer["day"]["load_ah"] == pytest.approx(2000 / 0.9 / 12.8 / 2)


DCDC = {"key": "dcdc", "kind": "dc-dc", "from": "start", "to": "aux", "out_a": 40}


def a_charged_build(**more: Any) -> dict[str, Any]:
    alternator = {"rated_a": 150, "own_load_a": 35, "variable_voltage": True}
    return a_build(
        [an_item("fridge", current_a=4)],
        [
            a_circuit("feed", feeds=["fridge"]),
            a_circuit("in", "start", area_mm2=25, fuse_a=70, feeds=["dcdc"]),
            a_circuit("out", area_mm2=16, fuse_a=60, feeds=["dcdc"]),
        ],
        supply={"chargers": [dict(DCDC)], **more.pop("supply", {})},
        vehicle={"alternator": alternator, **more.pop("vehicle", {})},
        use={"drive_h_per_day": 2, **more.pop("use", {})},
    )


def test_what_a_charger_takes_at_its_lowest_voltage():
    record = a_charged_build()
    answer, found = checked(record)
    taken = found["charger-input.dcdc"]
    # P11: 54.4 A at 11.5 V; a 70 A fuse carries 56 A for long.
    assert taken.value == pytest.approx(54.4, rel=0.005)
    assert (taken.limit, taken.verdict) == (56, "within")
    assert "ignition" in taken.sentence
    assert answer["sources"]["dcdc"]["verdict"] == "within"
    record["supply"]["circuits"][1]["fuse_a"] = 60
    taken = checked(record)[1]["charger-input.dcdc"]
    assert taken.verdict == "over"
    assert taken.would_clear == "Fit a 70 A fuse, or set dcdc down to 35 A."
    del record["supply"]["circuits"][1]["fuse_a"]
    record["vehicle"]["alternator"]["variable_voltage"] = False
    taken = checked(record)[1]["charger-input.dcdc"]
    assert taken.verdict == "unknown"
    assert "ignition" not in taken.sentence
    record["supply"]["circuits"][1]["fuse_a"] = 500
    record["supply"]["chargers"][0]["out_a"] = 400
    taken = checked(record)[1]["charger-input.dcdc"]
    assert taken.would_clear == "Set dcdc down to 293 A."


def test_a_charger_without_an_input_circuit_is_named():
    record = a_charged_build()
    del record["supply"]["circuits"][1]
    _, found = checked(record)
    assert "charger-input.dcdc" not in found
    assert found["charger-unfed.dcdc"].verdict == "unknown"


@pytest.mark.parametrize(
    ("rated", "own", "verdict"),
    [(150, 35, "within"), (110, 35, "over"), (None, 35, "unknown"), (150, None, None)],
)
def test_the_alternator_hot_with_all_it_feeds(rated, own, verdict):
    known = {"rated_a": rated, "own_load_a": own}
    given_ = {name: value for name, value in known.items() if value is not None}
    record = a_charged_build(vehicle={"alternator": given_})
    answer, found = checked(record)
    alternator = found["alternator"]
    assert alternator.verdict == (verdict or "unknown")
    assert answer["sources"]["alternator"]["verdict"] == alternator.verdict
    if rated and own:
        taken = 40 * 14.4 / (0.92 * 11.5)
        assert alternator.value == pytest.approx(taken + own)
        assert alternator.limit == pytest.approx(0.75 * rated)
        shown = {step.label: step.value for step in alternator.working}
        assert shown["It gives hot"] == pytest.approx(0.75 * rated)
        idle = found["alternator-idle"]
        assert (idle.verdict, idle.severity) == ("not proven", "check")
        assert idle.limit == pytest.approx(0.4 * rated)


def test_charging_is_held_against_the_battery_and_its_cells():
    record = a_charged_build(use={"ambient_c": -5})
    _, found = checked(record)
    assert found["battery-charge.aux"].verdict == "within"
    cold = found["battery-temperature.aux"]
    assert (cold.verdict, cold.limit) == ("not proven", 0)
    assert cold.would_clear
    record = a_charged_build(supply={"batteries": [a_battery(charge_limit_a=None)]})
    assert "largest charge current" in checked(record)[1]["battery-charge.aux"].sentence
    record = a_charged_build(supply={"batteries": [a_battery(charge_limit_a=20)]})
    assert checked(record)[1]["battery-charge.aux"].verdict == "over"
    record = a_charged_build(supply={"batteries": [a_battery(chemistry="agm")]})
    assert "battery-temperature.aux" not in checked(record)[1]


@pytest.mark.parametrize(
    ("start", "days", "verdict"),
    [
        ({"capacity_ah": 60, "standby_a": 0.03}, 14, "within"),
        ({"capacity_ah": 60, "standby_a": 0.03}, 30, "over"),
        ({"capacity_ah": 60}, 14, "unknown"),
        ({"standby_a": 0.03}, 14, "unknown"),
        ({"capacity_ah": 60, "standby_a": 0.03}, None, "unknown"),
    ],
)
def test_days_until_it_no_longer_starts(start, days, verdict):
    radio = an_item("radio", current_a=2, hours_per_day=1, standby_a=0.02)
    record = a_build(
        [radio, an_item("lamp", current_a=1)],
        [a_circuit("r", "start", feeds=["radio"]), a_circuit("l", feeds=["lamp"])],
        vehicle={"start_battery": start},
        use={"drive_h_per_day": 1},
    )
    record["use"].pop("days")
    if days:
        record["use"]["days"] = days
    answer, found = checked(record)
    standby = found["standby"]
    assert standby.verdict == verdict
    if verdict != "unknown":
        # P19: 0.05 A on 60 Ah, 20 days to no start.
        assert standby.limit == pytest.approx(20)
        # What hangs on the start battery is not the aux battery's to carry.
        assert answer["day"]["load_ah"] == 24


# The day and the days


def test_a_day_by_hand():
    fridge = an_item("fridge", current_a=4.5, duty="fridge")
    radio = an_item("radio", current_a=0.5, hours_per_day=6, standby_a=0.1)
    record = a_charged_build(
        supply={
            "panels": [{"key": "roof", "power_w": 200, "to": "dcdc", "derate": 0.7}]
        }
    )
    record["items"] = [fridge, radio]
    record["supply"]["circuits"][0]["feeds"] = ["fridge", "radio"]
    answer, found = checked(record)
    day = answer["day"]
    load = 4.5 * 24 * 0.43 + 0.5 * 6 + 0.1 * 18
    assert day["load_ah"] == pytest.approx(load)
    hours = found["energy-day"].working[3]
    assert (hours.label, hours.unit) == ("Sun on a flat panel", "h")
    # The charger gives 40 A in all, so that the sun of two hours' driving is lost.
    sun = 200 * hours.value * 0.7 / 12.8 * 0.99
    lit = {s.label: s.value for s in found["energy-day"].working}
    lost = lit["Offered but not taken"]
    assert day["solar_ah"] + day["drive_ah"] == pytest.approx(sun + 79.2 - lost)
    assert sun * 2 / 12 < lost < sun * 2 / 9
    assert day["net_ah"] == pytest.approx(day["solar_ah"] + day["drive_ah"] - load)
    assert day["autonomy_days"] == pytest.approx(80 / load)
    assert found["energy-day"].verdict == "within"
    assert "no less comes in" in found["energy-day"].sentence
    assert len(answer["soc"]["hourly"]) == 7 * 24
    assert answer["soc"]["hourly"][0]["hour"] == 1
    assert "hours_to_reserve" not in answer["soc"]


def test_a_battery_that_lasts_three_days_is_not_asked_for_seven():
    record = a_build(
        [an_item("fridge", current_a=1)], [a_circuit("f", feeds=["fridge"])]
    )
    answer, found = checked(record)
    assert answer["day"]["net_ah"] == -24
    short = found["energy-day"]
    assert (short.verdict, short.value, short.limit) == ("over", 168, 80)
    assert short.sentence.startswith("−24.0 Ah a day; short over 7 days")
    assert short.would_clear == (
        "12.6 Ah a day are missing: fit 240 Ah instead of 100 Ah for aux, or leave out "
        "fridge."
    )
    assert answer["soc"]["hours_to_reserve"] == 81
    assert found["soc-minimum"].verdict == "over"
    record["use"]["days"] = 3
    _, found = checked(record)
    assert found["energy-day"].verdict == "within"
    assert found["soc-minimum"].verdict == "within"
    record["use"]["days"] = 1
    assert "over 1 day" in checked(record)[1]["soc-minimum"].sentence


def test_the_nights_can_be_too_long_for_a_day_that_balances():
    record = a_charged_build(supply={"batteries": [a_battery(capacity_ah=50)]})
    record["items"][0]["load"]["current_a"] = 2.8
    _, found = checked(record)
    assert found["energy-day"].verdict == "within"
    assert found["soc-minimum"].verdict == "over"
    assert found["soc-minimum"].would_clear


@pytest.mark.parametrize(
    ("drop", "asks"),
    [
        ("days", "how many days"),
        ("drive_h_per_day", "how many hours a day it is driven"),
        ("ambient_c", "the air temperature"),
        ("month", "latitude and month"),
    ],
)
def test_what_the_days_need_to_be_known(drop, asks):
    record = a_charged_build(
        supply={"panels": [{"key": "roof", "power_w": 200, "to": "dcdc"}]}
    )
    record["items"][0]["load"]["duty"] = "fridge"
    del record["use"][drop]
    answer, found = checked(record)
    assert answer["day"] == answer["soc"] == {}
    for key in ("energy-day", "soc-minimum"):
        assert found[key].verdict == "unknown"
        assert asks in found[key].sentence


def test_many_missing_facts_are_not_all_read_out():
    items = [an_item(f"i{n}", current_a=1, hours_per_day=None) for n in range(5)]
    feeds = [a_circuit("c", feeds=[f"i{n}" for n in range(5)])]
    _, found = checked(a_build(items, feeds))
    assert "and 2 more" in found["energy-day"].sentence


def test_each_battery_has_its_own_days():
    record = a_build(
        [an_item("lamp", current_a=0.1), an_item("heater", current_a=20)],
        [a_circuit("l", feeds=["lamp"]), a_circuit("h", "two", feeds=["heater"])],
        supply={
            "batteries": [a_battery(), a_battery("two")],
            "panels": [{"key": "roof", "power_w": 100}],
        },
    )
    answer, found = checked(record)
    assert answer["day"]["load_ah"] == pytest.approx(2.4)
    assert found["energy-day"].verdict == "within"
    assert found["energy-day.two"].value == pytest.approx(480 * 7)
    assert found["soc-minimum.two"].verdict == "over"
    assert answer["day"]["solar_ah"] > 0


def test_a_charger_between_two_batteries_draws_on_the_first():
    chain = {**DCDC, "from": "aux", "to": "two", "out_a": 10}
    record = a_build(
        [an_item("lamp", current_a=1)],
        [
            a_circuit("l", feeds=["lamp"]),
            a_circuit("in", fuse_a=40, area_mm2=10, feeds=["dcdc"]),
        ],
        supply={"batteries": [a_battery(), a_battery("two")], "chargers": [chain]},
        use={"drive_h_per_day": 2},
    )
    answer, _ = checked(record)
    assert answer["day"]["load_ah"] == pytest.approx(24 + 2 * 10 * 14.4 / (0.92 * 12.8))
    del record["use"]["drive_h_per_day"]
    assert "how many hours a day" in checked(record)[1]["energy-day"].sentence
    record["use"]["drive_h_per_day"] = 2
    assert answer["day"]["drive_ah"] == 0


def test_panels_bring_no_more_than_their_charger_takes_and_gives():
    def solar(power_w: float, **more: Any) -> float:
        charger = {"key": "s", "kind": "solar", "to": "aux", "out_a": 10, **more}
        panels = [{"key": "roof", "power_w": power_w, "to": "s", "derate": 0.5}]
        record = a_build(
            [an_item("lamp", current_a=1)],
            [a_circuit("l", feeds=["lamp"])],
            supply={"chargers": [charger], "panels": panels},
        )
        return checked(record)[0]["day"]["solar_ah"]

    assert solar(200) == pytest.approx(2 * solar(100))
    assert solar(200, solar_input_w=100) == pytest.approx(solar(100))
    assert solar(2000) == pytest.approx(solar(288))


def test_a_lead_battery_fills_slower_than_a_lithium_one():
    def lowest(chemistry: str) -> float:
        record = a_charged_build(
            supply={"batteries": [a_battery(chemistry=chemistry, usable_ratio=0.5)]}
        )
        record["items"][0]["load"]["current_a"] = 2
        return checked(record)[0]["soc"]["minimum_ratio"]

    assert lowest("agm") < lowest("lfp") - 0.1
    assert lowest("flooded") == pytest.approx(lowest("agm"))


def test_a_build_without_a_second_battery_has_no_days():
    answer, found = checked(
        a_build(
            [an_item("lamp", current_a=1)],
            [a_circuit("l", "start", feeds=["lamp"])],
            supply={"batteries": []},
        )
    )
    assert answer["day"] == answer["soc"] == {}
    assert "energy-day" not in found
    assert "Start battery" in found["circuit-interrupt.start"].sentence


@given(
    st.lists(st.floats(0.1, 8), min_size=2, max_size=6),
    st.randoms(use_true_random=False),
)
def test_the_order_of_items_and_circuits_never_matters(currents, shuffle):
    items = [an_item(f"i{n}", current_a=amps) for n, amps in enumerate(currents)]
    circuits = [a_circuit("board", fuse_a=60, area_mm2=16)]
    for n in range(len(items)):
        circuits.append(a_circuit(f"c{n}", "board" if n % 2 else "aux"))
        circuits[-1]["feeds"] = [f"i{n}"]
    first, _ = checked(a_build(items, circuits))
    shuffle.shuffle(items)
    shuffle.shuffle(circuits)
    again, _ = checked(a_build(items, circuits))
    for key, row in first["circuits"].items():
        assert again["circuits"][key]["drop_v"] == pytest.approx(row["drop_v"])
    assert again["day"]["load_ah"] == pytest.approx(first["day"]["load_ah"])


@given(st.sampled_from([1.5, 2.5, 4, 6, 10, 16]), st.floats(0.5, 20), st.floats(0, 9))
def test_an_offer_always_clears(area_mm2, current_a, run_m):
    feed = a_circuit("c", area_mm2=area_mm2, run_m=run_m, feeds=["i"])
    record = a_build([an_item("i", current_a=current_a)], [feed])
    offer = checked(record)[1]["circuit-drop.c"].would_clear
    if offer and offer.startswith("Fit"):
        feed["area_mm2"] = float(offer.split()[1])
        assert checked(record)[1]["circuit-drop.c"].verdict == "within"
    assert math.isfinite(checked(record)[0]["circuits"]["c"]["drop_v"])


def test_batteries_are_named_as_the_build_names_them():
    battery = {**an_item("aux"), "label": "House battery"}
    del battery["load"]
    record = a_build(
        [battery, an_item("lamp", current_a=1)], [a_circuit("l", feeds=["lamp"])]
    )
    sentence = checked(record)[1]["battery-discharge.aux"].sentence
    assert sentence.startswith("House battery, ")
