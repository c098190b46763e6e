"""Every way that is offered is taken, and must clear what it was offered for."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.changes import changed, told
from compliance.findings import Change, Finding, Way, finding
from compliance.inputs import BuildRecord
from compliance.power_checks import check_power
from compliance.record import parse_record
from tests.compliance.test_power_checks import (
    DCDC,
    a_battery,
    a_build,
    a_charged_build,
    a_circuit,
    an_item,
    checked,
)


def found_in(record: BuildRecord) -> dict[str, Finding]:
    return {f.key: f for f in check_power(record)[1]}


def take_all(data: dict[str, Any]) -> dict[str, Finding]:
    """Take each way of each finding by itself; give the findings before."""
    record = parse_record(data)
    before = found_in(record)
    for key, judged in before.items():
        for way in judged.ways:
            now = found_in(changed(record, way.changes)).get(key)
            assert now is None or now.verdict == "within", (key, way)
            assert way.said.lower() in (judged.would_clear or "").lower()
    return before


def test_a_smaller_load_is_offered_only_where_one_is_enough():
    record = a_build(
        [an_item("a", current_a=4), an_item("b", current_a=0.3), an_item("c")],
        [a_circuit(f"c{k}", feeds=[k]) for k in "abc"],
        supply={"panels": [{"key": "roof", "power_w": 100}]},
    )
    record["items"][2]["load"]["current_a"] = 0.1
    found = take_all(record)
    ways = [way.said for way in found["energy-day"].ways]
    assert ways == [
        "add 400 W of panel",
        "fit 800 Ah instead of 100 Ah for aux",
        "leave out a",
    ]
    assert [w.said for w in found["soc-minimum"].ways][-1] == "leave out a"
    record["items"][0]["load"]["current_a"] = 300
    found = take_all(record)
    assert [w.said for w in found["energy-day"].ways] == ["leave out a"]


def test_no_way_is_offered_where_the_charger_gives_no_more():
    charger = {"key": "s", "kind": "solar", "to": "aux", "out_a": 5}
    record = a_build(
        [an_item(k, current_a=40) for k in "ab"],
        [a_circuit("c", fuse_a=125, area_mm2=50, feeds=["a", "b"])],
        supply={
            "chargers": [charger],
            "panels": [{"key": "roof", "power_w": 500, "to": "s"}],
        },
    )
    found = take_all(record)
    assert found["energy-day"].ways == ()
    assert "Ah a day more, draw that much less" in found["energy-day"].would_clear
    assert "Charge earlier or longer" in found["soc-minimum"].would_clear


def test_a_battery_asked_for_too_much_names_the_smallest_load_that_frees_it():
    record = a_build(
        [an_item("a", current_a=60), an_item("b", current_a=50), an_item("c")],
        [a_circuit(k, area_mm2=50, fuse_a=100, feeds=[k]) for k in "abc"],
    )
    record["items"][2]["load"]["current_a"] = 5
    found = take_all(record)
    assert found["battery-discharge.aux"].would_clear == "Leave out b."
    record["items"][0]["load"]["current_a"] = 200
    record["items"][1]["load"]["current_a"] = 200
    found = take_all(record)
    assert found["battery-discharge.aux"].would_clear == (
        "Fit a battery that gives 405 A, or take loads off it."
    )


@pytest.mark.parametrize(
    ("limit", "clear"),
    [
        (20, "Set dcdc down to 20 A, or fit a smaller one."),
        (0, "Fit smaller chargers, or a battery that takes 40 A."),
    ],
)
def test_a_charger_is_set_down_to_what_its_battery_takes(limit, clear):
    record = a_charged_build(supply={"batteries": [a_battery(charge_limit_a=limit)]})
    assert take_all(record)["battery-charge.aux"].would_clear == clear


@pytest.mark.parametrize(
    ("air", "way"),
    [(-5, "near 5 °C"), (2, "near 5 °C"), (55, "near 45 °C")],
)
def test_cells_are_charged_at_the_nearest_temperature_that_does(air, way):
    record = a_charged_build(
        supply={"batteries": [a_battery(capacity_ah=200)]}, use={"ambient_c": air}
    )
    judged = take_all(record)["battery-temperature.aux"]
    assert judged.verdict == "not proven"
    assert way in (judged.would_clear or "")


def test_cells_that_never_take_it_are_kept_within_their_limits():
    record = a_charged_build(
        supply={"batteries": [a_battery(capacity_ah=20)]}, use={"ambient_c": -5}
    )
    judged = take_all(record)["battery-temperature.aux"]
    assert judged.ways == ()
    assert "charging stops outside" in (judged.would_clear or "")


@pytest.mark.parametrize("rated", [60, 110, 150])
def test_the_largest_charger_that_the_alternator_carries(rated):
    alternator = {"rated_a": rated, "own_load_a": 35}
    found = take_all(a_charged_build(vehicle={"alternator": alternator}))
    hot, idle = found["alternator"], found["alternator-idle"]
    assert (hot.verdict == "over") == (rated < 150)
    assert idle.verdict == "not proven"
    # An alternator of 224 A is no advice for a vehicle that has one of 60 A.
    assert bool(idle.ways) == (rated > 60)
    assert idle.ways or idle.would_clear == "See that not all of it runs at once."
    # 95 A of 150 A gives 60 A at idle, of which 25 A are for the charger.
    said = {150: "let dcdc give no more than 18 A while it idles"}.get(rated)
    if said:
        assert [w.said for w in idle.ways] == [said, "fit an alternator of 224 A"]


@pytest.mark.parametrize(
    ("standby", "days", "says"),
    [
        (
            0.02,
            30,
            "Switch radio off while it stands, or let it stand no more than 20 d",
        ),
        (0.02, 366, "Let it stand no more than 20 d."),
        (30.0, 5, "Switch radio off while it stands. Fitted loads may draw 170 mA"),
        (30.0, 366, "Switch fitted loads off with the ignition"),
    ],
)
def test_what_a_standing_vehicle_may_draw(standby, days, says):
    radio = an_item("radio", current_a=2, hours_per_day=1, standby_a=standby)
    record = a_build(
        [radio],
        [a_circuit("r", "start", feeds=["radio"])],
        vehicle={"start_battery": {"capacity_ah": 60, "standby_a": 0.03}},
        use={"days": days, "drive_h_per_day": 1},
    )
    assert says in (take_all(record)["standby"].would_clear or "")


def test_the_kind_of_fuse_that_breaks_it_is_named_where_it_is_made():
    def weak(**more: Any) -> Finding:
        feed = a_circuit("feed", fuse_kind="blade", feeds=["lamp"], **more)
        return take_all(a_build([an_item("lamp", current_a=2)], [feed]))[
            "circuit-interrupt.aux"
        ]

    # 3,500 A of a lithium battery: anl and more break it, from 35 A on.
    assert weak(fuse_a=40).would_clear == "Fit anl instead for feed."
    small = weak(fuse_a=5)
    assert small.ways == ()
    assert "behind a fuse that breaks it: anl, where its maker" in small.would_clear


def test_nothing_made_breaks_a_battery_that_gives_too_much():
    feed = a_circuit("feed", fuse_a=40, fuse_kind="class-t", feeds=["lamp"])
    record = a_build(
        [an_item("lamp", current_a=2)],
        [feed],
        supply={"batteries": [a_battery(internal_mohm=0.5)]},
    )
    judged = take_all(record)["circuit-interrupt.aux"]
    assert judged.would_clear.endswith("behind a fuse that breaks it.")


def test_a_kind_is_not_told_while_another_fuse_is_unknown():
    feeds = [
        a_circuit("a", fuse_a=40, fuse_kind="blade", feeds=["x"]),
        a_circuit("b", fuse_a=40, fuse_kind="glass", feeds=["y"]),
    ]
    record = a_build([an_item("x", current_a=2), an_item("y", current_a=2)], feeds)
    judged = take_all(record)["circuit-interrupt.aux"]
    assert (judged.verdict, judged.ways) == ("over", ())


@pytest.mark.parametrize(
    ("area", "kind", "clear"),
    [(10, "current", "Fit 16 mm²."), (4, "power", "Fit ")],
)
def test_a_cable_that_stands_the_pull(area, kind, clear):
    load = {"current": {"current_a": 400}, "power": {"power_w": 2500}}[kind]
    winch = an_item("winch", kind=kind, short_time=True, **load)
    feed = a_circuit("w", "start", area_mm2=area, run_m=0.5, insulation_c=105)
    feed |= {"feeds": ["winch"], "fuse_a": 40}
    judged = take_all(a_build([winch], [feed]))["circuit-pull.w"]
    assert judged.verdict == "over"
    assert judged.would_clear.startswith(clear)


def test_a_pull_over_a_run_that_nobody_measured_still_sizes_its_cable():
    winch = an_item("winch", current_a=400, short_time=True)
    feed = a_circuit("w", "start", area_mm2=10, run_m=None, fuse_a=40, feeds=["winch"])
    assert take_all(a_build([winch], [feed]))["circuit-pull.w"].would_clear == (
        "Fit 16 mm²."
    )


def test_no_cable_stands_a_pull_of_many_thousand_amperes():
    winch = an_item("winch", current_a=9000, short_time=True)
    feed = a_circuit("w", "start", area_mm2=35, run_m=0, fuse_a=40, feeds=["winch"])
    judged = take_all(a_build([winch], [feed]))["circuit-pull.w"]
    assert judged.would_clear == "Fit a larger cable."


def test_a_charger_gets_a_fuse_and_the_cable_for_it():
    record = a_charged_build()
    record["supply"]["circuits"][1] |= {"fuse_a": 40, "area_mm2": 6}
    judged = take_all(record)["charger-input.dcdc"]
    assert judged.would_clear == "Fit a 70 A fuse and 10 mm², or set dcdc down to 23 A."
    del record["supply"]["circuits"][1]["area_mm2"]
    judged = take_all(record)["charger-input.dcdc"]
    assert judged.would_clear.startswith("Fit a 70 A fuse, and a cable that carries it")
    record["supply"]["circuits"][1] |= {"fuse_a": 1, "area_mm2": 6}
    record["supply"]["chargers"][0]["out_a"] = 400
    judged = take_all(record)["charger-input.dcdc"]
    assert judged.would_clear.startswith("Fit a smaller charger: no fuse")
    record["supply"]["chargers"][0]["out_a"] = 250
    record["supply"]["circuits"][1] |= {"fuse_a": 100, "insulation_c": 60}
    assert (
        take_all(record)["charger-input.dcdc"].would_clear == "Set dcdc down to 58 A."
    )
    record["supply"]["chargers"][0]["out_a"] = 350
    record["supply"]["circuits"][1] |= {"fuse_a": 100, "insulation_c": 60}
    assert "Set dcdc down" in take_all(record)["charger-input.dcdc"].would_clear


@pytest.mark.parametrize(("watts", "ways"), [(2000, 1), (40000, 1), (2000, 0)])
def test_an_inverter_is_loaded_with_what_the_battery_gives(watts, ways):
    inverter = an_item("inv", kind="power", power_w=watts, efficiency=0.9)
    feed = a_circuit("f", area_mm2=95, run_m=0, fuse_a=225, feeds=["inv"])
    limit = 100 if ways else 1
    record = a_build(
        [inverter], [feed], supply={"batteries": [a_battery(discharge_limit_a=limit)]}
    )
    judged = take_all(record)["inverter.inv"]
    # Inverters are sized at 10.5 V: 2000 W take 211.6 A.
    assert judged.value == pytest.approx(watts / 0.9 / 10.5)
    assert (judged.verdict, len(judged.ways)) == ("over", ways)
    if ways:
        # 100 A x 10.5 V x 0.9 = 945 W.
        assert judged.would_clear == "Take no more than 900 W from inv."


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["current", "power", "resistive"]),
            st.floats(0.2, 30),
            st.sampled_from([1.5, 2.5, 6, 16]),
            st.floats(0, 8),
            st.sampled_from([None, 5, 15, 40, 100]),
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([12, 24]),
    st.sampled_from(["lfp", "agm", "flooded"]),
    st.integers(-10, 50),
)
@settings(max_examples=40, deadline=None)
def test_every_way_clears(loads, system_v, chemistry, air):
    items, circuits = [], [a_circuit("board", area_mm2=16, run_m=2, fuse_a=60)]
    for n, (kind, amps, area, run, fuse) in enumerate(loads):
        drawn = {"current_a": amps} if kind != "power" else {"power_w": amps * 12}
        items.append(an_item(f"i{n}", kind=kind, **drawn))
        circuits.append(
            a_circuit(
                f"c{n}", "board" if n % 2 else "aux", area_mm2=area, run_m=run,
                fuse_a=fuse, feeds=[f"i{n}"],
            )
        )  # fmt: skip
    circuits.append(a_circuit("in", "start", feeds=["dcdc"]))
    circuits.append(a_circuit("out", feeds=["dcdc"]))
    take_all(
        a_build(
            items,
            circuits,
            supply={
                "system_v": system_v,
                "batteries": [a_battery(chemistry=chemistry)],
                "chargers": [dict(DCDC)],
                "panels": [{"key": "roof", "power_w": 200, "to": "dcdc"}],
            },
            vehicle={
                "alternator": {"rated_a": 120, "own_load_a": 35},
                "start_battery": {"capacity_ah": 60, "standby_a": 0.1},
            },
            use={"ambient_c": air, "drive_h_per_day": 1},
        )
    )


def test_a_change_leaves_the_record_and_its_other_entries_alone():
    record = parse_record(a_charged_build())
    other = changed(
        record,
        [
            Change("use", "", "days", 3),
            Change("alternator", "", "rated_a", 200.0),
            Change("items", "fridge", "zone", "cabin"),
            Change("circuits", "nowhere", "run_m", 1.0),
        ],
    )
    assert (other.use.days, record.use.days) == (3, 7)
    assert other.vehicle.alternator.rated_a == 200
    assert other.items[0].zone == "cabin"
    assert other.supply.circuits == record.supply.circuits


def test_no_more_ways_are_told_than_are_read():
    judged = finding("rule", "x", "over", "Too much.", source="none")
    ways = [Way(f"do {n}", ()) for n in range(5)]
    assert told(judged, ways).would_clear == "Do 0, or do 1, or do 2."
    assert told(judged, ()).would_clear is None
    assert told(judged, (), "Ask.").would_clear == "Ask."


def test_a_run_is_shortened_where_the_cable_is_as_thick_as_they_come():
    far = a_circuit("feed", area_mm2=150, run_m=60, fuse_a=80, feeds=["heater"])
    found = take_all(a_build([an_item("heater", current_a=60)], [far]))
    judged = found["circuit-drop.feed"]
    assert [w.said for w in judged.ways] == ["bring the run of feed down to 33.4 m"]
    joints = {**far, "extra_ohm": 0.2, "run_m": 1}
    found = take_all(a_build([an_item("heater", current_a=60)], [joints]))
    assert found["circuit-drop.feed"].would_clear.startswith("Shorten the run or split")
    joints["run_m"] = 0
    found = take_all(a_build([an_item("heater", current_a=10)], [joints]))
    assert found["circuit-drop.feed"].ways == ()


def test_checked_still_reads_severity():
    assert checked(a_charged_build())[1]["circuit-both-ends.in"].verdict == "within"
