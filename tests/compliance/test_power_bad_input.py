"""Supplies that cannot be: one clear line each with its path, nothing computed."""

from __future__ import annotations

import math
from typing import Any

import pytest

from compliance.assess import calculate
from compliance.record import RecordError
from tests.compliance.records import a_record, drop, put

LINKS: list[tuple[str, Any, str, str]] = [
    ("supply.circuits.0.from", "lamps-feed", "supply.circuits[0].from", "in a circle"),
    ("supply.circuits.0.from", "board", "supply.circuits[0].from", "in a circle"),
    ("supply.circuits.2.from", "nowhere", "supply.circuits[2].from", "is no battery"),
    ("supply.circuits.2.from", None, "supply.circuits[2].from", "is missing"),
    (
        "supply.circuits.2.feeds",
        ["dcdc", "lamps"],
        "supply.circuits[2].feeds[1]",
        "'lamps' is already fed by the circuit 'lamps-feed'",
    ),
    (
        "supply.circuits.1.feeds",
        ["lamps", "lamps"],
        "supply.circuits[1].feeds[1]",
        "already fed",
    ),
    (
        "supply.circuits.1.feeds",
        ["lamps", "lamp"],
        "supply.circuits[1].feeds[1]",
        "'lamp' is neither an item nor a charger",
    ),
    ("supply.circuits.1.key", "aux", "supply.circuits", "what feeds circuits"),
    ("supply.batteries.0.key", "start", "supply.batteries", "Choose another key"),
    ("supply.chargers.0.from", "other", "supply.chargers[0].from", "not a battery"),
    ("supply.chargers.0.to", "other", "supply.chargers[0].to", "not a battery"),
    ("supply.panels.0.to", "other", "supply.panels[0].to", "not a charger"),
    ("supply.circuits.0.fuses", 3, "supply.circuits[0].fuses", "not a name"),
    ("settings", {"fuse_factor": 0.8}, "settings.fuse_factor", "not a name"),
    ("settings", {"fuse_load_factor": 8}, "settings.fuse_load_factor", "is beyond 1"),
    ("supply.batteries.0.chemistry", "gel", "supply.batteries[0].chemistry", "one of"),
]


@pytest.mark.parametrize(("path", "value", "at", "says"), LINKS)
def test_a_supply_that_leads_nowhere_says_where(path, value, at, says):
    record = a_record()
    if path == "supply.circuits.2.from" and value is None:
        drop(record, path)
    else:
        put(record, path, value)
    with pytest.raises(RecordError) as refused:
        calculate(record)
    about = [said for where, said in refused.value.faults if where == at]
    assert len(about) == 1
    assert says in about[0]
    assert str(refused.value).count("\n") == len(refused.value.faults) - 1


NUMBERS = [
    "supply.system_v",
    "supply.batteries.0.capacity_ah",
    "supply.batteries.0.charge_min_c",
    "supply.chargers.0.out_a",
    "supply.panels.0.power_w",
    "supply.panels.0.open_circuit_v",
    "supply.circuits.0.fuse_a",
    "supply.circuits.0.area_mm2",
    "supply.circuits.0.run_m",
    "items.2.load.current_a",
    "use.ambient_c",
    "settings.conductor_c",
]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e9, -1e9, 10**400])
@pytest.mark.parametrize("path", NUMBERS)
def test_a_number_that_cannot_be_is_refused_at_its_path(path, value):
    record = a_record()
    record["settings"] = {}
    with pytest.raises(RecordError) as refused:
        calculate(put(record, path, value))
    assert len(refused.value.faults) == 1
    where, said = refused.value.faults[0]
    shown = ".".join(
        part for part in where.replace("[", ".").replace("]", "").split(".")
    )
    assert shown == path
    assert said.endswith(".")


@pytest.mark.parametrize("value", ["12", True, [], {}])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(RecordError, match=r"circuits\[0\]\.run_m: must be a number"):
        calculate(put(a_record(), "supply.circuits.0.run_m", value))


def test_a_long_circle_is_named_at_each_of_its_circuits():
    record = a_record()
    circuits = [
        {"key": f"c{n}", "from": f"c{(n + 1) % 300}", "feeds": []} for n in range(300)
    ]
    record["supply"]["circuits"] += circuits
    with pytest.raises(RecordError) as refused:
        calculate(record)
    assert len(refused.value.faults) == 300


@pytest.mark.parametrize(
    "path",
    [
        "supply.circuits.0.run_m",
        "supply.chargers.0.out_a",
        "supply.panels.0.power_w",
        "items.2.load.current_a",
        "vehicle.alternator.rated_a",
        "use.drive_h_per_day",
    ],
)
def test_nothing_at_all_is_still_a_number(path):
    record = a_record()
    record["vehicle"]["alternator"] = {"rated_a": 100, "own_load_a": 0}
    answer = calculate(put(record, path, 0))
    for finding in answer["findings"]:
        assert finding["value"] is None or math.isfinite(finding["value"])
        assert finding["limit"] is None or math.isfinite(finding["limit"])
