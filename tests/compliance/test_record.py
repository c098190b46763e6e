"""Reading the open build record: what is taken, what is refused, and where."""

import itertools
import json
import math

import pytest
from jsonschema import Draft202012Validator

from compliance.record import RecordError, parse_record
from compliance.schema import FILE, record_schema, schema_text
from tests.compliance.records import a_large_record, a_record, drop, put

SCHEMA = Draft202012Validator(record_schema())


def faults(data):
    with pytest.raises(RecordError) as caught:
        parse_record(data)
    return dict(caught.value.faults)


def test_a_sound_record_is_read():
    record = parse_record(a_record())
    assert record.supply.circuits[0].source == "aux"
    assert record.supply.chargers[0].source == "start"
    assert record.items[2].switch.kind == "position"
    assert record.items[0].removes[0].mass_kg == 14
    assert record.scenarios[0].fuel_ratio == 0.25
    assert record.items[0].mass_kg == 62.0
    assert isinstance(record.items[0].mass_kg, float)


def test_the_smallest_record_is_read():
    data = {"format": "build-record", "version": 1, "vehicle": {"label": ""}}
    record = parse_record(data)
    assert record.trailer is None
    assert record.vehicle.wheelbase_m is None
    assert record.supply.system_v == 12


def test_null_means_not_recorded():
    data = put(a_record(), "vehicle.wheelbase_m", None)
    data["items"][0]["raises"] = {"gvm_kg": 3500, "evidence": None}
    data["trailer"] = None
    record = parse_record(data)
    assert record.vehicle.wheelbase_m is None
    assert record.items[0].raises.evidence is None
    assert record.items[0].raises.ratings.gvm_kg == 3500
    assert record.trailer is None


def test_facts_and_tank_ratios_have_free_names():
    data = a_record()
    data["items"][0]["facts"] = {
        "marked": True,
        "standard": "x",
        "count": 3,
        "no": None,
    }
    data["scenarios"][0]["tank_ratios"] = {"water": 0.5, "fuel": None}
    record = parse_record(data)
    assert record.items[0].facts == {"marked": True, "standard": "x", "count": 3.0}
    assert record.scenarios[0].tank_ratios == {"water": 0.5}


def test_names_in_any_script_are_kept():
    label = "Дуга 前保险杠 قضيب"
    record = parse_record(put(a_record(), "items.0.label", label))
    assert record.items[0].label == label


BAD_VALUES = [
    ("format", "something"),
    ("version", 2),
    ("version", True),
    ("vehicle", None),
    ("vehicle", []),
    ("vehicle.wheelbase_m", 0),
    ("vehicle.wheelbase_m", -3.2),
    ("vehicle.wheelbase_m", "3.2"),
    ("vehicle.wheelbase_m", True),
    ("vehicle.ratings.gvm_kg", 0),
    ("vehicle.ratings.gvm_kg", 1e9),
    ("vehicle.base.definition", "dry"),
    ("vehicle.base.people", 1.5),
    ("vehicle.base.scale_interval_kg", 0),
    ("vehicle.tanks.0.fluid", "soup"),
    ("vehicle.tanks.0.colour", "red"),
    ("vehicle.label", 7),
    ("vehicle.label", "a\u0000b"),
    ("vehicle.label", "\ud800"),
    ("vehicle.label", "x" * 301),
    ("items", {}),
    ("items.0", "front bar"),
    ("items.0.key", "front bar"),
    ("items.0.key", ""),
    ("items.0.zone", "boot"),
    ("items.0.mass_kg", -1),
    ("items.0.mass_kg", 1e9),
    ("items.0.mass_kg", 10**400),
    ("items.0.x_m", 720),
    ("items.0.facts", [1]),
    ("items.0.facts", {"a": [1]}),
    ("items.0.facts", {"a": 1e10}),
    ("items.0.facts", {"a": "\u0001"}),
    ("items.0.facts", {"\u0001": 1}),
    ("items.0.unheard_of", 1),
    ("items.2.load.kind", "heat"),
    ("items.2.load.duty", "sauna"),
    ("items.2.load.duty", 1.5),
    ("items.2.switch.kind", "somewhere"),
    ("scenarios.0.tank_ratios", {"fuel": 2}),
    ("scenarios.0.tank_ratios", 1),
    ("supply.circuits.0.from", None),
    ("supply.circuits.0.engine_space", "no"),
    ("use.month", 13),
    ("use.hitched", 1),
    ("use.latitude_deg", -91),
    ("use.luggage", [{"mass_kg": 5}]),
    ("use.luggage", [{"mass_kg": 5, "x_m": -3}] * 1001),
]


@pytest.mark.parametrize(("path", "value"), BAD_VALUES)
def test_reader_and_schema_refuse_the_same(path, value):
    data = put(a_record(), path, value)
    found = faults(data)
    assert not SCHEMA.is_valid(data)
    written = "".join(
        f"[{name}]" if name.isdigit() else f".{name}" for name in path.split(".")
    )[1:]
    assert any(at.startswith(written) for at in found)


GOOD_VALUES = [
    ("version", 1.0),
    ("vehicle.label", ""),
    ("vehicle.wheelbase_m", None),
    ("vehicle.base.people", 1.0),
    ("vehicle.base.front_kg", 0),
    ("vehicle.label", "x" * 300),
    ("items.0.mass_kg", 20_000),
    ("items.0.raises", {"rear_axle_kg": 2050, "evidence": "certificate 12"}),
    ("items.2.load.duty", "fridge"),
    ("items.2.load.duty", 0.5),
    ("items.0.facts", {"a": None, "b": False}),
    ("scenarios.0.tank_ratios", {"fuel": 0.5}),
    ("supply.panels", None),
    ("trailer", None),
    ("use.luggage", []),
]


@pytest.mark.parametrize(("path", "value"), GOOD_VALUES)
def test_reader_and_schema_take_the_same(path, value):
    data = put(a_record(), path, value)
    parse_record(data)
    assert SCHEMA.is_valid(data)


def test_the_published_schema_is_the_one_in_force():
    Draft202012Validator.check_schema(record_schema())
    assert FILE.read_text("utf-8") == schema_text()
    assert json.loads(schema_text()) == record_schema()


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_must_be_finite(value):
    assert (
        "finite"
        in faults(put(a_record(), "items.0.mass_kg", value))["items[0].mass_kg"]
    )


@pytest.mark.parametrize("data", [None, [], "record", 3])
def test_what_is_not_an_object_is_refused(data):
    assert "" in faults(data)


def test_every_fault_is_named_at_once():
    data = put(a_record(), "items.0.mass_kg", -1)
    put(data, "items.1.zone", "boot")
    drop(data, "items.2.label")
    found = faults(data)
    assert found.keys() == {"items[0].mass_kg", "items[1].zone", "items[2].label"}
    assert found["items[2].label"] == "is missing."


def test_a_name_that_is_no_text_is_refused():
    data = put(a_record(), "items.0.facts", {1: "one"})
    assert "items[0].facts" in faults(data)


def test_a_member_name_that_is_no_text_is_refused():
    data = a_record()
    data["vehicle"][3] = "x"
    assert "vehicle.3" in faults(data)


@pytest.mark.parametrize(
    ("path", "value", "at"),
    [
        ("items.1.key", "front-bar", "items[1].key"),
        ("vehicle.seats.1.key", "driver", "vehicle.seats[1].key"),
        ("supply.circuits.1.key", "board", "supply.circuits[1].key"),
        ("vehicle.tanks.0.key", "water", "vehicle.tanks"),
        ("scenarios.0.key", "use", "scenarios[0].key"),
        ("scenarios.0.tank_ratios", {"gas": 1}, "scenarios[0].tank_ratios.gas"),
        ("items.1.tank.replaces", "spare", "items[1].tank.replaces"),
        ("items.2.switch.position", "roof-1", "items[2].switch.position"),
        ("items.2.switch.kind", "none", "items[2].switch.position"),
        ("supply.batteries.0.key", "start", "supply.batteries"),
        ("supply.chargers.0.from", None, "supply.chargers[0].from"),
        ("supply.chargers.0.from", "other", "supply.chargers[0].from"),
        ("supply.chargers.0.from", "aux", "supply.chargers[0].to"),
        ("supply.chargers.0.to", "other", "supply.chargers[0].to"),
        ("supply.panels.0.to", "other", "supply.panels[0].to"),
        ("supply.circuits.0.key", "aux", "supply.circuits"),
        ("supply.circuits.0.from", "other", "supply.circuits[0].from"),
        ("supply.circuits.0.from", "lamps-feed", "supply.circuits[0].from"),
        ("supply.circuits.1.feeds", ["ghost"], "supply.circuits[1].feeds[0]"),
        ("supply.circuits.2.feeds", ["dcdc", "lamps"], "supply.circuits[2].feeds[1]"),
        ("supply.circuits.1.feeds", ["lamps", "lamps"], "supply.circuits[1].feeds[1]"),
        ("supply.circuits.1.feeds", ["lamps", "dcdc"], "supply.circuits[1].feeds[1]"),
    ],
)
def test_a_link_must_lead_where_it_should(path, value, at):
    assert at in faults(put(a_record(), path, value))


def test_a_charger_hangs_once_on_each_side():
    record = parse_record(a_record())
    assert [c.key for c in record.supply.circuits if "dcdc" in c.feeds] == [
        "board",
        "charge",
    ]


def test_a_replaced_tank_is_a_tank_of_the_vehicle():
    data = put(a_record(), "items.1.tank", {"fluid": "diesel", "capacity_l": 140})
    put(data, "items.1.tank.replaces", "fuel")
    assert parse_record(data).items[1].tank.replaces == "fuel"


def test_a_solar_charger_needs_no_source():
    data = put(a_record(), "supply.chargers.0.kind", "solar")
    drop(data, "supply.chargers.0.from")
    put(data, "supply.circuits.2.feeds", [])
    assert parse_record(data).supply.chargers[0].source is None


def test_a_large_record_is_read_and_its_links_are_followed():
    data = a_large_record(items=2000, circuits=1000)
    assert len(parse_record(data).items) == 2000
    for n, circuit in enumerate(data["supply"]["circuits"][1:1000]):
        circuit["from"] = f"circuit-{n}" if n % 10 else "circuit-0"
    pairs = list(itertools.pairwise(data["items"]))
    for n, (upper, lower) in enumerate(pairs, start=1):
        lower["carried_by"] = upper["key"] if n % 10 else None
    parse_record(data)
    for upper, lower in pairs:
        lower["carried_by"] = upper["key"]
    for n, circuit in enumerate(data["supply"]["circuits"][1:1000]):
        circuit["from"] = f"circuit-{n}"
    # The first carried by the last closes the circle; every one of them is in it.
    data["items"][0]["carried_by"] = "item-1999"
    data["supply"]["circuits"][0]["from"] = "circuit-999"
    found = faults(data)
    assert found["items[7].carried_by"] == "leads round in a circle."
    assert found["supply.circuits[7].from"].startswith("leads round in a circle")
    assert sum(path.startswith("items[") for path in found) == 2000


def test_what_is_carried_by_a_circle_leads_round_too():
    data = a_record()
    for n, on in ((0, "water"), (1, "front-bar"), (2, "front-bar")):
        data["items"][n]["carried_by"] = on
    assert faults(data).keys() == {f"items[{n}].carried_by" for n in range(3)}
    data["items"][0]["carried_by"] = "ghost"
    assert faults(data) == {"items[0].carried_by": "'ghost' is not an item."}
    del data["items"][0]["carried_by"]
    parse_record(data)
