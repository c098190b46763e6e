"""Panels, connections between batteries, places, pulls, and whole builds at 24 V."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.assess import assess
from compliance.record import parse_record
from tests.compliance.test_power_checks import (
    DCDC,
    HOT,
    a_battery,
    a_build,
    a_charged_build,
    a_circuit,
    an_item,
    checked,
)

# Panels


def a_sunny_build(panel: dict[str, Any], **cable: Any) -> dict[str, Any]:
    """One panel on its own circuit to a solar charger."""
    charger = {"key": "mppt", "kind": "solar", "to": "aux", "out_a": 20}
    feed = {"fuse_a": None, "area_mm2": 6, "run_m": 4, "feeds": ["mppt"], **cable}
    return a_build(
        [an_item("lamp", current_a=1)],
        [
            a_circuit("l", feeds=["lamp"]),
            a_circuit("out", fuse_a=30, feeds=["mppt"]),
            a_circuit("sun", "roof", **feed),
        ],
        supply={
            "chargers": [charger],
            "panels": [{"key": "roof", "power_w": 200, "to": "mppt", **panel}],
        },
    )


def test_a_panels_circuit_carries_what_its_plate_says():
    panel = {"short_circuit_a": 11, "open_circuit_v": 24.5}
    answer, found = checked(a_sunny_build(panel))
    sun = answer["circuits"]["sun"]
    drop = 11 * 2 * 4 * 3.30e-3 * HOT
    assert (sun["current_a"], sun["fault_a"]) == (11, 11)
    assert sun["drop_v"] == pytest.approx(drop)
    # Of the voltage the panel works at, 0.82 of its open voltage.
    assert sun["drop_percent"] == pytest.approx(100 * drop / (0.82 * 24.5))
    assert sun["limit_percent"] == 3
    assert sun["fuse_minimum_a"] == pytest.approx(1.25 * 11)
    fuse = found["circuit-fuse.sun"]
    assert (fuse.verdict, fuse.value, fuse.limit) == ("within", 13.75, 60)
    assert "a fuse is not needed" in fuse.sentence
    assert "690.8" in fuse.source
    assert [s.mark for s in fuse.working[:2]] == ["given", "from memory"]
    assert "circuit-reach.sun" not in found
    assert "circuit-interrupt.roof" not in found
    assert "panel-circuit.roof" not in found
    assert "charger-output.mppt" not in found


def test_a_panel_without_a_plate_counts_at_a_planned_voltage_with_its_mark():
    answer, found = checked(a_sunny_build({}))
    assert answer["circuits"]["sun"]["current_a"] == pytest.approx(200 / 18)
    marks = {s.label: s.mark for s in found["circuit-drop.sun"].working}
    assert marks["Panel at its highest power"] == "common practice"
    assert marks["The panel gives at most"] == "common practice"
    assert "Share of the panel's voltage" in marks


@pytest.mark.parametrize(
    ("cable", "verdict", "says"),
    [
        ({"fuse_a": 15}, "within", "15.0 A against 60.0 A"),
        ({"fuse_a": 10}, "over", "13.8 A against 10.0 A"),
        ({"fuse_a": 80}, "over", "80.0 A against 60.0 A"),
        ({"area_mm2": 0.5}, "unknown", "that the table of ampacities allows"),
        ({"area_mm2": None}, "unknown", "enter its cable area"),
    ],
)
def test_a_fuse_and_a_cable_on_a_panels_circuit(cable, verdict, says):
    _, found = checked(a_sunny_build({"short_circuit_a": 11}, **cable))
    assert found["circuit-fuse.sun"].verdict == verdict
    assert says in found["circuit-fuse.sun"].sentence


@pytest.mark.parametrize(
    ("amps", "clear"),
    [(40, "Fit 6 mm²."), (900, "Split the panels: no standard cable carries them.")],
)
def test_a_cable_too_thin_for_its_panel(amps, clear):
    _, found = checked(a_sunny_build({"short_circuit_a": amps}, area_mm2=2.5))
    assert found["circuit-fuse.sun"].verdict == "over"
    assert found["circuit-fuse.sun"].would_clear == clear


def test_a_panel_and_a_charger_without_circuits_are_asked_for():
    record = a_sunny_build({})
    record["supply"]["circuits"] = record["supply"]["circuits"][:1]
    _, found = checked(record)
    for key, says in (
        ("panel-circuit.roof", "so that its cable is checked"),
        ("charger-output.mppt", "enter the circuit from it to aux, with its fuse"),
    ):
        assert found[key].severity == "check"
        assert says in found[key].sentence


@pytest.mark.parametrize(
    ("change", "path", "says"),
    [
        ({"feeds": ["lamp"]}, "feeds[0]", "is no charger, and hangs on a panel"),
        ({"feeds": ["mppt", "mppt"]}, "feeds[1]", "already fed by the circuit 'sun'"),
    ],
)
def test_what_may_hang_on_a_panel(change, path, says):
    record = a_sunny_build({})
    record["supply"]["circuits"][0]["feeds"] = []
    record["supply"]["circuits"][2] |= change
    with pytest.raises(ValueError, match=r"hangs on|fed by") as refused:
        parse_record(record)
    assert refused.value.faults[0][0] == f"supply.circuits[2].{path}"
    assert says in str(refused.value)


def test_two_panels_reach_one_charger_by_two_circuits_and_no_other_charger():
    record = a_sunny_build({})
    record["supply"]["panels"].append({"key": "awning", "power_w": 80, "to": "mppt"})
    record["supply"]["circuits"].append(
        a_circuit("sun-2", "awning", fuse_a=None, feeds=["mppt"])
    )
    assert checked(record)[1]["circuit-drop.sun-2"].verdict == "within"
    record["supply"]["chargers"].append(dict(DCDC))
    record["supply"]["panels"][1]["to"] = "dcdc"
    with pytest.raises(ValueError, match="not the charger of the panel 'awning'"):
        parse_record(record)
    record["supply"]["panels"][1] = {"key": "aux", "power_w": 80}
    record["supply"]["circuits"].pop()
    with pytest.raises(ValueError, match="also the key of a battery"):
        parse_record(record)


# Both ends


@pytest.mark.parametrize(
    ("place", "change", "verdict", "says"),
    [
        (1, {}, "within", "fuse from Start battery at 150 mm"),
        (2, {}, "within", "fuse from aux at 150 mm"),
        (1, {"fuse_a": None}, "unknown", "enter the fuse of in at Start battery"),
        (2, {"fuse_to_source_m": None}, "unknown", "how far the fuse of out"),
        (2, {"fuse_to_source_m": 0.5}, "not proven", "fuse 500 mm from aux"),
        (2, {"fuse_to_source_m": 1.1}, "over", "1,100 mm against 200 mm"),
    ],
)
def test_a_charger_between_two_batteries_is_fused_at_both(place, change, verdict, says):
    record = a_charged_build()
    circuit = record["supply"]["circuits"][place]
    circuit |= change
    for name in [n for n, v in circuit.items() if v is None]:
        del circuit[name]
    judged = checked(record)[1][f"circuit-both-ends.{circuit['key']}"]
    assert judged.verdict == verdict
    assert says in judged.sentence
    assert bool(judged.would_clear) == (verdict in ("not proven", "over"))


def test_a_cable_that_joins_two_batteries_wants_a_fuse_at_the_far_one():
    far = {**an_item("aux"), "label": "House battery"}
    del far["load"]
    record = a_build(
        [far], [a_circuit("link", "start", fuse_a=60, area_mm2=16, feeds=["aux"])]
    )
    judged = checked(record)[1]["circuit-both-ends.link"]
    assert judged.severity == "stop"
    assert judged.sentence == (
        "link joins Start battery and House battery: it needs a fuse at both, and one "
        "is recorded at most."
    )
    assert "second fuse at House battery" in judged.would_clear


@pytest.mark.parametrize(
    ("far_end", "verdict"),
    [
        ({"fuse_to_source_m": 1.9}, "within"),
        ({"fuse_to_source_m": 0.2}, "over"),
        ({"fuse_to_source_m": None}, "unknown"),
        ({"run_m": None}, "unknown"),
        ({"fuse_a": None}, "over"),
    ],
)
def test_two_circuits_in_a_row_record_a_fuse_at_both_batteries(far_end, verdict):
    far = {**an_item("aux"), "label": "House battery"}
    del far["load"]
    near = a_circuit("link", "start", fuse_a=60, area_mm2=16)
    end = {"fuse_a": 60, "area_mm2": 16, "run_m": 2, **far_end}
    rows = [near, a_circuit("end", "link", feeds=["aux"], **end)]
    _, found = checked(a_build([far], rows))
    assert found["circuit-both-ends.end"].verdict == verdict
    assert "circuit-reach.end" not in found


# Places and temperatures


@pytest.mark.parametrize(
    ("battery", "zone", "air", "verdict", "says"),
    [
        ({}, "cargo", 30, "within", "30 °C against -20 to 60 °C"),
        ({}, "cargo", -25, "not proven", "-25 °C against -20 to 60 °C"),
        ({"discharge_max_c": 40}, "cargo", 45, "not proven", "-20 to 40 °C"),
        ({}, "cargo", None, "unknown", "enter the air temperature"),
        ({}, "under-bonnet", 30, "not proven", "80 °C against 45 °C"),
        ({"place": "Under-bonnet"}, "cargo", 30, "not proven", "own sheet"),
        (
            {"place": "engine bay", "charge_max_c": 60},
            "cargo",
            30,
            "over",
            "20 °C over",
        ),
        (
            {"charge_max_c": 90, "discharge_max_c": 90},
            "under-bonnet",
            None,
            "within",
            "",
        ),
    ],
)
def test_where_a_battery_stands(battery, zone, air, verdict, says):
    item = {**an_item("aux"), "zone": zone}
    del item["load"]
    record = a_build([item], [], supply={"batteries": [a_battery(**battery)]})
    record["use"].pop("ambient_c")
    if air is not None:
        record["use"]["ambient_c"] = air
    judged = checked(record)[1]["battery-place.aux"]
    assert judged.verdict == verdict
    assert says in judged.sentence
    assert judged.working


def test_moving_a_battery_out_is_offered_where_the_trips_air_suits_it():
    record = a_build([], [], supply={"batteries": [a_battery(place="engine space")]})
    judged = checked(record)[1]["battery-place.aux"]
    assert judged.would_clear == "Move it out of the engine space."
    del record["use"]["ambient_c"]
    judged = checked(record)[1]["battery-place.aux"]
    assert judged.ways == ()
    assert "enter the air temperature" in judged.would_clear


def test_a_sheet_that_forbids_charging_stops_it_in_the_days_too():
    def lowest(**sheet: float) -> float:
        record = a_charged_build(
            supply={"batteries": [a_battery(**sheet)]}, use={"ambient_c": 30}
        )
        record["items"][0]["load"]["current_a"] = 2
        return checked(record)[0]["soc"]["minimum_ratio"]

    assert lowest() > 0
    assert lowest(charge_max_c=25) == 0
    assert lowest(charge_min_c=31) == 0
    warm = a_charged_build(
        supply={"batteries": [a_battery(chemistry="agm", charge_max_c=25)]}
    )
    assert checked(warm)[1]["battery-temperature.aux"].limit == 0
    record = a_charged_build()
    del record["use"]["ambient_c"]
    assert "battery-temperature.aux" not in checked(record)[1]


# Pulls and inverters


def a_winch(current_a: float | None, source: str, **more: Any) -> dict[str, Any]:
    winch = an_item("winch", current_a=current_a, short_time=True)
    feed = a_circuit("w", source, area_mm2=70, run_m=1, fuse_a=None, feeds=["winch"])
    return a_build([winch], [feed], **more)


def test_a_winch_by_peukert_and_not_in_proportion():
    start = {"vehicle": {"start_battery": {"capacity_ah": 60}}}
    judged = checked(a_winch(400, "start", **start))[1]["pull-time.winch"]
    lasts = 60 * 20 * (60 / (400 * 20)) ** 1.25 * 0.4
    assert judged.limit == pytest.approx(lasts)
    # In proportion it would be said to last 60 x 60 / 400 x 0.4 = 3.6 minutes.
    assert judged.limit < 1.2
    assert (judged.verdict, judged.value) == ("within", pytest.approx(1 / 3))
    assert judged.sentence.endswith("3 pulls in all.")
    assert [s.mark for s in judged.working] == ["published", "common practice"]
    house = checked(a_winch(50, "aux"))[1]["pull-time.winch"]
    assert house.limit == pytest.approx(60 * 20 * (100 / 1000) ** 1.05 * 0.8)


@pytest.mark.parametrize(
    ("amps", "start", "verdict", "says"),
    [
        (None, {"capacity_ah": 60}, "unknown", "enter what winch draws."),
        (400, {}, "unknown", "enter the capacity of Start battery."),
        (None, {}, "unknown", "what winch draws and the capacity of Start battery."),
        (400, {"capacity_ah": 10}, "over", "0 pulls in all"),
    ],
)
def test_what_a_winch_needs_to_be_known(amps, start, verdict, says):
    record = a_winch(amps, "start", vehicle={"start_battery": start})
    judged = checked(record)[1]["pull-time.winch"]
    assert judged.verdict == verdict
    assert says in judged.sentence
    assert bool(judged.would_clear) == (verdict == "over")


@pytest.mark.parametrize(
    ("battery", "cable", "verdict", "says"),
    [
        ({"discharge_limit_a": 300}, {}, "within", "the fuse of f carries"),
        ({"discharge_limit_a": 150}, {}, "over", "aux gives: 211.6 A"),
        ({"discharge_limit_a": None}, {}, "unknown", "enter what aux gives"),
        ({"discharge_limit_a": None}, {"fuse_a": 200}, "over", "the fuse of f carries"),
        (
            {"discharge_limit_a": 300},
            {"area_mm2": 25},
            "over",
            "the cable of f carries",
        ),
        (
            {"discharge_limit_a": None},
            {"fuse_a": None, "area_mm2": None},
            "unknown",
            "enter what aux gives and the cable of f carries and the fuse of f carries",
        ),
    ],
)
def test_an_inverter_at_the_voltage_where_it_cuts_off(battery, cable, verdict, says):
    inverter = an_item("inv", kind="power", power_w=2000, efficiency=0.9)
    feed = a_circuit("f", **{"area_mm2": 95, "run_m": 0, "fuse_a": 250, **cable})
    feed["feeds"] = ["inv"]
    record = a_build([inverter], [feed], supply={"batteries": [a_battery(**battery)]})
    judged = checked(record)[1]["inverter.inv"]
    assert judged.verdict == verdict
    assert says in judged.sentence
    inverter["load"].pop("power_w")
    assert "inverter.inv" not in checked(record)[1]


def test_an_inverter_on_the_start_battery_is_held_to_fuse_and_cable():
    inverter = an_item("inv", kind="power", power_w=300, efficiency=0.9)
    record = a_build([inverter], [a_circuit("f", "start", fuse_a=40, feeds=["inv"])])
    assert checked(record)[1]["inverter.inv"].limit == 40


# Several batteries, 24 V, order


def test_each_battery_answers_by_its_key():
    record = a_build(
        [
            an_item("lamp", current_a=0.1),
            an_item("fan", current_a=1, hours_per_day=None),
        ],
        [a_circuit("l", feeds=["lamp"]), a_circuit("f", "two", feeds=["fan"])],
        supply={"batteries": [a_battery(), a_battery("two")]},
    )
    answer, _ = checked(record)
    assert answer["batteries"]["aux"] == {k: answer[k] for k in ("day", "soc")}
    assert answer["batteries"]["two"] == {"day": {}, "soc": {}}


def a_whole_build() -> dict[str, Any]:
    """Loads of every kind, a winch, an inverter, chargers and panels, at 12 V."""
    record = a_charged_build(
        supply={
            "panels": [
                {"key": "roof", "power_w": 160, "to": "dcdc", "open_circuit_v": 22}
            ],
            "batteries": [a_battery(internal_mohm=None, capacity_ah=120)],
        },
        vehicle={"start_battery": {"capacity_ah": 80, "standby_a": 0.03}},
    )
    record["items"] += [
        an_item("heater", kind="resistive", resistance_ohm=2.4, hours_per_day=1),
        an_item("pump", kind="resistive", current_a=4, hours_per_day=0.2),
        an_item("inv", kind="power", power_w=300, efficiency=0.9, hours_per_day=0.5),
        an_item("radio", current_a=2, hours_per_day=1, standby_a=0.02),
        an_item("winch", current_a=300, short_time=True),
    ]
    record["supply"]["circuits"] += [
        a_circuit("board", fuse_a=60, area_mm2=16, run_m=4),
        a_circuit("heat", "board", fuse_a=10, feeds=["heater", "pump"]),
        a_circuit("power", "board", area_mm2=10, fuse_a=40, feeds=["inv"]),
        a_circuit("radio-feed", "start", area_mm2=1.5, fuse_a=5, feeds=["radio"]),
        a_circuit("w", "start", area_mm2=50, fuse_a=None, feeds=["winch"]),
        a_circuit("sun", "roof", fuse_a=None, run_m=5, feeds=["dcdc"]),
    ]
    return record


def test_twice_the_voltage_over_twice_the_cable_is_the_same_build():
    small, large = a_whole_build(), a_whole_build()
    large["supply"]["system_v"] = 24
    large["supply"]["panels"][0] |= {"power_w": 320, "open_circuit_v": 44}
    for circuit in large["supply"]["circuits"]:
        circuit["run_m"] *= 2
    for item in large["items"]:
        load = item["load"]
        for name in {"power_w", "resistance_ohm"} & load.keys():
            load[name] *= 2
    (at_12, low), (at_24, high) = checked(small), checked(large)
    for key, circuit in at_12["circuits"].items():
        twin = at_24["circuits"][key]
        assert twin["current_a"] == pytest.approx(circuit["current_a"])
        assert twin["drop_percent"] == pytest.approx(circuit["drop_percent"])
        assert twin["drop_v"] == pytest.approx(2 * circuit["drop_v"])
        assert twin["fault_a"] == pytest.approx(circuit["fault_a"])
    assert at_24["day"] == pytest.approx(at_12["day"])
    assert at_24["soc"]["minimum_ratio"] == pytest.approx(at_12["soc"]["minimum_ratio"])
    assert {k: f.verdict for k, f in low.items()} == {
        k: f.verdict for k, f in high.items()
    }
    for key in ("charger-input.dcdc", "alternator", "inverter.inv", "pull-time.winch"):
        assert high[key].value == pytest.approx(low[key].value)
        assert high[key].limit == pytest.approx(low[key].limit)


@given(st.randoms(use_true_random=False))
@settings(max_examples=15, deadline=None)
def test_the_order_they_are_listed_in_never_moves_a_byte(shuffle):
    record = a_whole_build()
    other = copy.deepcopy(record)
    shuffle.shuffle(other["items"])
    for part in ("circuits", "chargers", "panels"):
        shuffle.shuffle(other["supply"][part])
    for circuit in other["supply"]["circuits"]:
        shuffle.shuffle(circuit.get("feeds", []))
    before, after = (assess(parse_record(r)) for r in (record, other))
    for part in ("power", "findings"):
        rows = [json.dumps(answer[part], sort_keys=True) for answer in (before, after)]
        assert rows[0] == rows[1]


@given(
    st.sampled_from(["current", "power", "resistive"]),
    st.floats(0.5, 15),
    st.integers(0, 7),
    st.sampled_from([12, 24]),
)
@settings(max_examples=40, deadline=None)
def test_more_cable_anywhere_never_raises_the_drop_of_a_build(kind, amps, step, volts):
    areas = [2.5, 4, 6, 10, 16, 25, 35, 50, 70]
    drawn = {"power_w": amps * 12} if kind == "power" else {"current_a": amps}

    def drop(area: float) -> float:
        record = a_build(
            [an_item("x", kind=kind, **drawn), an_item("y", current_a=3)],
            [
                a_circuit("board", area_mm2=area, run_m=4, fuse_a=60),
                a_circuit("c", "board", feeds=["x"]),
                a_circuit("d", "board", feeds=["y"]),
            ],
            supply={"system_v": volts},
        )
        return checked(record)[0]["circuits"]["d"]["drop_v"]

    assert drop(areas[step + 1]) <= drop(areas[step]) + 1e-12
