"""Published load examples, each with the tolerance that its source prints."""

import json
from pathlib import Path

import pytest

from compliance.worksheets import run

CASES = {
    case["id"]: case
    for case in json.loads(
        (Path(__file__).parents[1] / "reference" / "load_cases.json").read_text("utf-8")
    )["cases"]
}
G = 9.81


def crates(given):
    length, truck, items = given["wheelbase_m"], given["truck"], given["items"]
    laden = run("axle-load", {"wheelbase_m": length, "base": truck, "items": items})
    empty = run("axle-load", {"wheelbase_m": length, "base": truck})
    return {
        "rear_axle_kg": laden["rear_kg"],
        "front_axle_kg": laden["front_kg"],
        "each_rear_wheel_kN": laden["rear_kg"] * G / 2000,
        "each_front_wheel_kN": laden["front_kg"] * G / 2000,
        "empty_rear_axle_kg": empty["rear_kg"],
        "empty_front_axle_kg": empty["front_kg"],
        "front_change_from_rear_crate_kg": laden["items"][1]["front_kg"],
        "rear_change_from_rear_crate_kg": laden["items"][1]["rear_kg"],
    }


def added(wheelbase, mass, x):
    base = {"front_kg": 2000, "rear_kg": 2000}
    items = [{"mass_kg": mass, "x_m": x}]
    answer = run("axle-load", {"wheelbase_m": wheelbase, "base": base, "items": items})
    return answer["items"][0]


def crane(given):
    share = added(
        given["wheelbase_mm"] / 1000,
        given["item"]["mass_kg"],
        given["item"]["x_mm"] / 1000,
    )
    return {"rear_delta_kg": share["rear_kg"], "front_delta_kg": share["front_kg"]}


def plough(given):
    share = added(
        given["wheelbase_ft"], given["item"]["mass_lb"], given["item"]["x_ft"]
    )
    metric = added(3.05, 318, 1.22)
    return {
        "front_delta_lb": share["front_kg"],
        "rear_delta_lb": share["rear_kg"],
        "front_delta_kg_from_metric": metric["front_kg"],
    }


def spread_load(given):
    centre = given["body_front_x_in"] - given["body_length_in"] / 2
    # The shares do not care for the unit of length; metres stay within bounds.
    share = added(given["wheelbase_in"] / 39.37, given["load_lb"], centre / 39.37)
    return {
        "load_cg_x_in": centre,
        "rear_delta_lb": share["rear_kg"],
        "front_delta_lb": share["front_kg"],
    }


def remaining(limit, base, people, person, items):
    return run(
        "payload",
        {
            "gvm_kg": limit,
            "base_kg": base,
            "people": people,
            "person_kg": person,
            "items_kg": items,
        },
    )["remaining_kg"]


def placard(given):
    second = given["second_example"]
    return {
        "remaining_cargo_lb": remaining(
            given["placard_combined_occupants_and_cargo_lb"],
            0,
            given["occupants"],
            given["occupant_lb"],
            0,
        ),
        "second_remaining_cargo_lb": remaining(
            second["placard_lb"], 0, second["occupants"], second["occupant_lb"], 0
        ),
    }


def motor_caravan(given):
    limit = given["max_laden_mass_kg"]
    base = given["mass_in_running_order_actual_kg"]
    person = given["passenger_kg"]
    return {
        "permissible_payload_kg": remaining(limit, base, 0, person, 0),
        "left_for_personal_effects_kg": remaining(
            limit,
            base,
            given["passengers_excluding_driver"],
            person,
            given["additional_equipment_kg"],
        ),
    }


def centre_from_wheels(given):
    answer = run(
        "axle-load",
        {
            "wheelbase_m": given["wheelbase_m"],
            "base": {
                "front_kg": 2 * given["front_wheel_N"] / G,
                "rear_kg": 2 * given["rear_wheel_N"] / G,
            },
        },
    )
    return {
        "cg_behind_front_axle_m": -answer["cg_x_m"],
        "cg_ahead_of_rear_axle_m": given["wheelbase_m"] + answer["cg_x_m"],
    }


def combination(given):
    front, rear = given["front_axle_lb"], given["rear_axle_lb"]
    lever = given["rear_axle_lever_factor"]
    limit = run(
        "towing-limit",
        {
            "front_kg": front,
            "rear_kg": rear,
            "ratings": {
                "gvm_kg": given["GVWR_lb"],
                "rear_axle_kg": given["RGAWR_lb"],
                "gcm_kg": given["GCWR_lb"],
            },
            "ball_ratio": given["tongue_fraction"],
            "lever_ratio": lever,
        },
    )
    tongue = given["tongue_fraction"] * limit["trailer_kg"]
    on = run(
        "hitched",
        {
            "wheelbase_m": 10,
            "ball_overhang_m": 10 * (lever - 1),
            "front_kg": front,
            "rear_kg": rear,
            "ball_kg": tongue,
            "trailer_kg": limit["trailer_kg"],
        },
    )
    return {
        "trailer_by_GCWR_lb": limit["by"]["gcm"],
        "tongue_lb": tongue,
        "vehicle_hitched_lb": on["total_kg"],
        "rear_axle_added_lb": on["rear_kg"] - rear,
        "rear_axle_hitched_lb": on["rear_kg"],
        "front_axle_hitched_lb": on["front_kg"],
        "all_ok": limit["governing"] == "gcm"
        and on["rear_kg"] <= given["RGAWR_lb"]
        and on["total_kg"] <= given["GVWR_lb"]
        and on["combination_kg"] <= given["GCWR_lb"],
    }


COMPUTE = {
    "P1": crates,
    "P2": crane,
    "P3": plough,
    "P4": spread_load,
    "P5": placard,
    "P6": motor_caravan,
    "P7": centre_from_wheels,
    "P8": combination,
}


def test_every_published_case_is_computed():
    assert COMPUTE.keys() == CASES.keys()


@pytest.mark.parametrize("name", sorted(COMPUTE))
def test_published_case(name):
    case = CASES[name]
    computed = COMPUTE[name](case["inputs"])
    assert computed.keys() == case["expected"].keys()
    for quantity, expected in case["expected"].items():
        # The source's own tolerance; where that is zero, binary noise alone.
        near = pytest.approx(expected["value"], abs=max(expected["tol"], 1e-9))
        assert computed[quantity] == near, quantity


def test_running_order_holds_the_driver_already():
    """The trap of P6: subtracting all four people is wrong in that convention."""
    given = CASES["P6"]["inputs"]
    people = given["passengers_excluding_driver"] + 1
    assert remaining(3300, 2720, people, 75, 40) == 240
    assert motor_caravan(given)["left_for_personal_effects_kg"] == 315
