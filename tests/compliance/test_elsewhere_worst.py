"""Random builds against sums done the plain way, and what may never change them."""

from __future__ import annotations

import itertools
import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.assess import calculate
from compliance.record import parse_record
from tests.compliance.records import a_large_record, a_record

SEEDS = range(30)


def a_build(seed: int) -> dict[str, Any]:
    """A random vehicle with items, tanks and seats from bumper to tray's end."""
    dice = random.Random(seed)

    def place(low: float = -5.0, high: float = 1.2) -> float:
        return round(dice.uniform(low, high), 3)

    data = a_record()
    vehicle = data["vehicle"]
    vehicle["wheelbase_m"] = round(dice.uniform(2.4, 3.9), 3)
    vehicle["ball_overhang_m"] = round(dice.uniform(0.8, 1.6), 3)
    vehicle["base"] = {
        "definition": "weighed",
        "front_kg": dice.randint(900, 1400),
        "rear_kg": dice.randint(800, 1300),
        "fuel_l": dice.choice([0, 10, 35]),
        "people": dice.choice([0, 1]),
    }
    vehicle["seats"] = [
        {"key": f"seat-{n}", "x_m": place(-3, 0.5), "y_m": place(-0.5, 0.5)}
        for n in range(dice.randint(1, 4))
    ]
    vehicle["tanks"] = [
        {
            "key": f"fuel-{n}",
            "fluid": "diesel",
            "capacity_l": dice.randint(40, 90),
            "density_kg_per_l": 0.84,
            "x_m": place(-4),
        }
        for n in range(dice.randint(1, 2))
    ]
    data["items"] = [
        {
            "key": f"item-{n}",
            "label": f"Item {n}",
            "kind": "thing",
            "zone": dice.choice(["front", "cargo", "rear", "roof", "trailer"]),
            "mass_kg": dice.randint(1, 90),
            "x_m": place(),
            "removes": [
                {"label": "old", "mass_kg": dice.randint(1, 20), "x_m": place()}
            ]
            if dice.random() < 0.3
            else [],
            "switch": {"kind": "none"},
        }
        | (
            {
                "tank": {
                    "fluid": dice.choice(["water", "waste-water"]),
                    "capacity_l": dice.randint(5, 120),
                    "density_kg_per_l": 1.0,
                }
            }
            if dice.random() < 0.4
            else {}
        )
        for n in range(dice.randint(1, 7))
    ]
    data["supply"] = {"system_v": 12}
    data["use"] |= {
        "people": dice.randint(0, len(vehicle["seats"])),
        "luggage": [
            {"mass_kg": dice.randint(1, 200), "x_m": place(-4)}
            for _ in range(dice.randint(0, 3))
        ],
    }
    data["trailer"] = {
        "mass_kg": dice.randint(1000, 3000),
        "ball_kg": dice.randint(60, 300),
        "ball_to_axle_m": round(dice.uniform(3, 6), 2),
        "hitch_moment_kgm": dice.choice([0, 0, dice.randint(10, 200)]),
    }
    if dice.random() < 0.2:
        del data["trailer"]
        data["use"]["hitched"] = False
    data["scenarios"] = [
        {
            "key": f"state-{n}",
            "people": dice.randint(0, len(vehicle["seats"])),
            "fuel_ratio": round(dice.random(), 2),
            "water_ratio": round(dice.random(), 2),
            "hitched": "trailer" in data and dice.random() < 0.5,
        }
        for n in range(3)
    ]
    return data


Row = tuple[float, float]
"""Mass and place behind the front axle, negative ahead of it. [kg, m]"""


def fixed_rows(data: dict[str, Any]) -> list[Row]:
    """What is aboard in every state: the emptied base and what is fitted."""
    vehicle, person = data["vehicle"], data["use"]["person_kg"]
    base, length = vehicle["base"], vehicle["wheelbase_m"]
    rows = [(base["front_kg"], 0.0), (base["rear_kg"], length)]
    left_l = base["fuel_l"]
    for tank in vehicle["tanks"]:
        litres = min(left_l, tank["capacity_l"])
        left_l -= litres
        rows.append((-litres * tank["density_kg_per_l"], -tank["x_m"]))
    rows += [(-person, -s["x_m"]) for s in vehicle["seats"][: base["people"]]]
    for item in data["items"]:
        # What goes into the trailer, and what it replaces there, is the trailer's mass.
        if item["zone"] != "trailer":
            rows.append((item["mass_kg"], -item["x_m"]))
            rows += [(-old["mass_kg"], -old["x_m"]) for old in item["removes"]]
    return rows


def luggage_rows(data: dict[str, Any]) -> list[Row]:
    return [(bag["mass_kg"], -bag["x_m"]) for bag in data["use"]["luggage"]]


def fuel_rows(data: dict[str, Any]) -> list[Row]:
    return [
        (t["capacity_l"] * t["density_kg_per_l"], -t["x_m"])
        for t in data["vehicle"]["tanks"]
    ]


def water_rows(data: dict[str, Any]) -> list[Row]:
    return [
        (i["tank"]["capacity_l"] * i["tank"]["density_kg_per_l"], -i["x_m"])
        for i in data["items"]
        if "tank" in i and i["zone"] != "trailer"
    ]


def seat_rows(data: dict[str, Any]) -> list[Row]:
    return [(data["use"]["person_kg"], -s["x_m"]) for s in data["vehicle"]["seats"]]


def on_the_ground(
    data: dict[str, Any], rows: list[Row], hitched: bool, *, bars_on: bool = True
) -> dict:
    """Moments about the front axle; the trailer by its own two supports."""
    length = data["vehicle"]["wheelbase_m"]
    total = sum(mass for mass, _ in rows)
    rear = sum(mass * behind for mass, behind in rows) / length
    trailer = data.get("trailer") if hitched else None
    combined = total
    if trailer:
        bars = trailer["hitch_moment_kgm"] if bars_on else 0
        ball = trailer["ball_kg"] - bars / trailer["ball_to_axle_m"]
        behind = length + data["vehicle"]["ball_overhang_m"]
        combined += trailer["mass_kg"]
        rear += (ball * behind - bars) / length
        total += ball
    return {
        "total_kg": total,
        "front_kg": total - rear,
        "rear_kg": rear,
        "combination_kg": combined,
    }


def corners(data: dict[str, Any]) -> list[dict[str, float]]:
    """Every tank full or empty, seat taken or free, bag aboard or left, bars on or off."""
    ranges = [*fuel_rows(data), *water_rows(data), *seat_rows(data)]
    ranges += luggage_rows(data)
    trailer = ((False, True), (True, True), (True, False))
    fixed = fixed_rows(data)
    return [
        on_the_ground(
            data, fixed + list(itertools.compress(ranges, chosen)), on, bars_on=bars
        )
        for chosen in itertools.product((0, 1), repeat=len(ranges))
        for on, bars in (trailer if "trailer" in data else trailer[:1])
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_worst_case_of_a_random_build_is_its_worst_corner(seed):
    data = a_build(seed)
    worst = calculate(data)["load"]["worst"]
    states = corners(data)
    for ours, theirs in (
        ("gvm", "total_kg"),
        ("front_axle", "front_kg"),
        ("rear_axle", "rear_kg"),
        ("gcm", "combination_kg"),
    ):
        most = max(state[theirs] for state in states)
        assert worst[ours]["value_kg"] == pytest.approx(most, abs=1e-6), ours


@pytest.mark.parametrize("seed", SEEDS)
def test_the_scenarios_of_a_random_build_by_moments(seed):
    data = a_build(seed)
    rows = calculate(data)["load"]["scenarios"]
    full = {"people": data["use"]["people"], "fuel_ratio": 1, "water_ratio": 1}
    in_use = {"key": "use", "hitched": data["use"]["hitched"], **full}
    for scenario in (in_use, *data["scenarios"]):
        aboard = [
            *fixed_rows(data),
            *luggage_rows(data),
            *[(m * scenario["fuel_ratio"], d) for m, d in fuel_rows(data)],
            *[(m * scenario["water_ratio"], d) for m, d in water_rows(data)],
            *seat_rows(data)[: scenario["people"]],
        ]
        expected = on_the_ground(data, aboard, scenario["hitched"])
        row = rows[scenario["key"]]
        for name in ("total_kg", "front_kg", "rear_kg"):
            assert row[name] == pytest.approx(expected[name], abs=1e-6), name
        assert row["front_kg"] + row["rear_kg"] == pytest.approx(row["total_kg"])
        if scenario["hitched"]:
            assert row["combination_kg"] == pytest.approx(expected["combination_kg"])
            assert row["total_kg"] + row["trailer_axle_kg"] == pytest.approx(
                row["combination_kg"]
            )


@pytest.mark.parametrize("seed", SEEDS)
def test_no_scenario_is_worse_than_the_worst(seed):
    """Seats fill in order in a scenario and in any order in the worst case."""
    answer = calculate(a_build(seed))["load"]
    for row in answer["scenarios"].values():
        for limit, name in (
            ("gvm", "total_kg"),
            ("front_axle", "front_kg"),
            ("rear_axle", "rear_kg"),
            ("roof", "roof_kg"),
        ):
            assert row[name] <= answer["worst"][limit]["value_kg"] + 1e-9


@pytest.mark.parametrize("seed", SEEDS)
def test_moving_an_item_forward_never_raises_the_rear_axle(seed):
    data = a_build(seed)
    before = calculate(data)["load"]
    item = random.Random(seed).choice(data["items"])
    item["x_m"] += 0.25
    after = calculate(data)["load"]
    for key, row in after["scenarios"].items():
        was = before["scenarios"][key]
        assert row["rear_kg"] <= was["rear_kg"] + 1e-9
        assert row["front_kg"] >= was["front_kg"] - 1e-9
        assert row["total_kg"] == pytest.approx(was["total_kg"])
    assert (
        after["worst"]["rear_axle"]["value_kg"]
        <= before["worst"]["rear_axle"]["value_kg"] + 1e-9
    )


def as_bytes(answer: dict[str, Any]) -> str:
    return json.dumps(answer, sort_keys=True, allow_nan=False)


@given(st.randoms(use_true_random=False), st.sampled_from(SEEDS))
def test_the_order_of_a_random_build_never_matters(dice, seed):
    data = a_build(seed)
    before = as_bytes(calculate(data))
    for rows in (data["items"], data["use"]["luggage"], data["scenarios"]):
        dice.shuffle(rows)

    assert as_bytes(calculate(data)) == before


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_items_and_circuits_of_a_large_build_never_matters(seed):
    data = a_large_record(items=30, circuits=14, scenarios=4)
    before = as_bytes(calculate(data))
    dice = random.Random(seed)
    for rows in (data["items"], data["supply"]["circuits"], data["scenarios"]):
        dice.shuffle(rows)
    for circuit in data["supply"]["circuits"]:
        dice.shuffle(circuit["feeds"])

    assert as_bytes(calculate(data)) == before


@pytest.mark.parametrize("place", range(14))
def test_more_cable_in_a_circuit_never_raises_its_drop(place):
    """Beside it a drop may rise: what follows the voltage then draws more."""
    data = a_large_record(items=30, circuits=14)
    circuit = data["supply"]["circuits"][place]
    drops = []
    for area in (2.5, 4, 10, 25, 95):
        circuit["area_mm2"] = area
        drops.append(calculate(data)["power"]["circuits"][circuit["key"]]["drop_v"])

    assert drops == sorted(drops, reverse=True)
    assert drops[0] > drops[-1]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_names_of_a_record_survive_json(seed):
    data = a_build(seed)
    assert parse_record(json.loads(json.dumps(data))) == parse_record(data)
