"""A workshop's own figure moves the answer it belongs to, and is shown with its mark."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from compliance.findings import Finding
from compliance.settings import OWN, SETTINGS
from tests.compliance.test_power_checks import (
    a_battery,
    a_build,
    a_charged_build,
    a_circuit,
    an_item,
    checked,
)

Answer = dict[str, Any]
Found = dict[str, Finding]


def a_record(chemistry: str = "lfp") -> dict[str, Any]:
    """A build in which every planning figure counts somewhere."""
    record = a_charged_build(
        supply={
            "batteries": [
                a_battery(chemistry=chemistry, place="engine bay", charge_limit_a=None)
            ],
            "panels": [{"key": "roof", "power_w": 100, "to": "dcdc"}],
        },
        vehicle={"start_battery": {"capacity_ah": 60, "standby_a": 0.03}},
    )
    record["use"]["drive_h_per_day"] = 1
    record["items"][0]["load"]["current_a"] = 1.5
    return record


def drop(answer: Answer, found: Found) -> float:
    return answer["circuits"]["feed"]["drop_v"]


PLACES: dict[str, tuple[str, Callable[[Answer, Found], float | None]]] = {
    "engine_space_air_c": (
        "battery-place.aux",
        lambda a, f: f["battery-place.aux"].value,
    ),
    "conductor_c": ("circuit-drop.feed", drop),
    "fuse_load_factor": (
        "circuit-fuse.feed",
        lambda a, f: a["circuits"]["feed"]["fuse_minimum_a"],
    ),
    "fuse_reach_m": ("circuit-reach.feed", lambda a, f: f["circuit-reach.feed"].limit),
    "drop_limit_charging_percent": (
        "circuit-drop.in",
        lambda a, f: a["circuits"]["in"]["limit_percent"],
    ),
    "drop_limit_other_percent": (
        "circuit-drop.feed",
        lambda a, f: a["circuits"]["feed"]["limit_percent"],
    ),
    "charger_efficiency": (
        "charger-input.dcdc",
        lambda a, f: f["charger-input.dcdc"].value,
    ),
    "charger_output_v": (
        "charger-input.dcdc",
        lambda a, f: f["charger-input.dcdc"].value,
    ),
    "charger_lowest_input_v": (
        "charger-input.dcdc",
        lambda a, f: f["charger-input.dcdc"].value,
    ),
    "alternator_hot_ratio": ("alternator", lambda a, f: f["alternator"].limit),
    "alternator_idle_ratio": (
        "alternator-idle",
        lambda a, f: f["alternator-idle"].limit,
    ),
    "panel_derate": ("energy-day", lambda a, f: a["day"]["solar_ah"]),
    "sunshine_ratio": ("energy-day", lambda a, f: a["day"]["solar_ah"]),
    "standby_no_start_ratio": ("standby", lambda a, f: f["standby"].limit),
    "lead_charge_rate_c": ("soc-minimum", lambda a, f: a["soc"]["minimum_ratio"]),
}
for kind in ("lfp", "agm", "flooded"):
    PLACES[f"usable_ratio_{kind}"] = (
        "soc-minimum",
        lambda a, f: f["soc-minimum"].limit,
    )
    PLACES[f"coulombic_ratio_{kind}"] = (
        "energy-day",
        lambda a, f: a["day"]["net_ah"],
    )

OF_LOAD = {
    "front_share_least",
    "front_share_most",
    "side_share_most",
    "cg_rise_most_m",
    "room_behind_seat_m",
}


def test_every_figure_of_power_is_tried():
    assert PLACES.keys() >= SETTINGS.keys() - OF_LOAD


@pytest.mark.parametrize("name", sorted(PLACES))
def test_a_figure_set_by_the_workshop_counts_and_is_shown(name):
    chemistry = name.rpartition("_")[2]
    if name == "lead_charge_rate_c":
        chemistry = "agm"
    record = a_record(chemistry if chemistry in ("agm", "flooded") else "lfp")
    key, read = PLACES[name]
    answer, found = checked(record)
    marks = {s.label: s for s in found[key].working}
    shown = marks[SETTINGS[name].label]
    assert shown.value == pytest.approx(SETTINGS[name].default)
    assert shown.mark != "workshop rule"
    own = (SETTINGS[name].low + SETTINGS[name].default) / 2
    record["settings"] = {name: own}
    again, found_again = checked(record)
    assert read(again, found_again) != read(answer, found)
    shown = {s.label: s for s in found_again[key].working}[SETTINGS[name].label]
    assert (shown.mark, shown.source) == ("workshop rule", OWN)
    assert shown.value == pytest.approx(own)


def test_what_the_record_states_comes_before_the_figure_and_is_marked_given():
    record = a_record()
    record["supply"]["chargers"][0] |= {"out_v": 14.2, "efficiency": 0.9}
    record["supply"]["batteries"][0]["usable_ratio"] = 0.7
    record["supply"]["panels"][0]["derate"] = 0.6
    record["items"][0]["load"]["limit_percent"] = 4
    _, found = checked(record)

    def given(key: str) -> set[str]:
        return {s.label for s in found[key].working if s.mark == "given"}

    assert given("charger-input.dcdc") == {
        "Output of the charger",
        "Efficiency of the charger",
    }
    assert "Share of the battery that is used" in given("soc-minimum")
    assert "Yield of this panel" in given("energy-day")
    assert given("circuit-drop.feed") == {"Drop allowed at this load"}
    assert found["circuit-drop.feed"].source == "line item"
    assert "ISO 10133" in found["circuit-drop.in"].source


def test_volts_of_a_charger_are_stated_for_12_v_and_doubled_at_24():
    record = a_record()
    record["supply"]["system_v"] = 24
    record["settings"] = {"charger_lowest_input_v": 11.0}
    shown = {s.label: s.value for s in checked(record)[1]["charger-input.dcdc"].working}
    assert shown["Lowest input, 12 V system"] == 22


def test_an_own_reach_is_named_as_the_workshops():
    feed = a_circuit("feed", fuse_to_source_m=0.25, feeds=["lamp"])
    record = a_build([an_item("lamp", current_a=2)], [feed])
    assert "3001.2" in checked(record)[1]["circuit-reach.feed"].source
    record["settings"] = {"fuse_reach_m": 0.3}
    judged = checked(record)[1]["circuit-reach.feed"]
    assert (judged.verdict, judged.source) == ("within", OWN)
    record["settings"] = {"drop_limit_other_percent": 4, "alternator_hot_ratio": 0.7}
    assert checked(record)[1]["circuit-drop.feed"].source == OWN
    record = {**a_record(), "settings": record["settings"]}
    assert checked(record)[1]["alternator"].source == OWN
