"""Build records for tests of the core; every one is a fresh copy to be changed."""

import copy
from typing import Any

RECORD: dict[str, Any] = {
    "format": "build-record",
    "version": 1,
    "jurisdiction": "AU-QLD",
    "vehicle": {
        "label": "survey ute",
        "category": "NA",
        "wheelbase_m": 3.2,
        "track_m": 1.56,
        "ball_overhang_m": 1.25,
        "ratings": {
            "gvm_kg": 3200,
            "front_axle_kg": 1480,
            "rear_axle_kg": 1850,
            "gcm_kg": 6000,
            "braked_towing_kg": 3500,
            "ball_kg": 350,
            "roof_kg": 100,
        },
        "base": {
            "definition": "weighed",
            "front_kg": 1180,
            "rear_kg": 940,
            "fuel_l": 80,
            "people": 0,
        },
        "seats": [
            {"key": "driver", "x_m": -1.45, "y_m": -0.38},
            {"key": "passenger", "x_m": -1.45, "y_m": 0.38},
        ],
        "tanks": [
            {
                "key": "fuel",
                "fluid": "diesel",
                "capacity_l": 80,
                "density_kg_per_l": 0.84,
                "x_m": -1.9,
                "y_m": 0.2,
            }
        ],
        "switch_positions": [
            {"key": "dash-1", "panel": "dash right", "label": "upper"},
            {"key": "dash-2", "panel": "dash right"},
        ],
    },
    "trailer": {
        "mass_kg": 2400,
        "ball_kg": 240,
        "atm_kg": 2800,
        "gtm_kg": 2500,
        "ball_to_axle_m": 4.6,
    },
    "items": [
        {
            "key": "front-bar",
            "label": "Front bar",
            "kind": "front-bar",
            "zone": "front",
            "mass_kg": 62,
            "x_m": 0.72,
            "y_m": 0,
            "removes": [{"label": "original bumper", "mass_kg": 14, "x_m": 0.68}],
            "switch": {"kind": "none"},
        },
        {
            "key": "water",
            "label": "Water tank",
            "kind": "water-tank",
            "zone": "cargo",
            "mass_kg": 12,
            "x_m": -3.6,
            "y_m": -0.2,
            "tank": {"fluid": "water", "capacity_l": 40},
            "switch": {"kind": "none"},
        },
        {
            "key": "lamps",
            "label": "Driving lamps",
            "kind": "driving-lamps",
            "zone": "front",
            "mass_kg": 5,
            "x_m": 0.8,
            "y_m": 0,
            "load": {"kind": "current", "current_a": 12, "hours_per_day": 0.5},
            "switch": {"position": "dash-1", "interlock": "main-beam"},
        },
    ],
    "supply": {
        "system_v": 12,
        "batteries": [{"key": "aux", "chemistry": "lfp", "capacity_ah": 100}],
        "chargers": [
            {"key": "dcdc", "kind": "dc-dc", "from": "start", "to": "aux", "out_a": 25}
        ],
        "panels": [{"key": "roof-panel", "power_w": 120, "to": "dcdc"}],
        "circuits": [
            {
                "key": "board",
                "from": "aux",
                "fuse_a": 60,
                "area_mm2": 16,
                "run_m": 2,
                "feeds": ["dcdc"],
            },
            {
                "key": "lamps-feed",
                "from": "board",
                "fuse_a": 20,
                "area_mm2": 6,
                "run_m": 3,
                "feeds": ["lamps"],
            },
            {
                "key": "charge",
                "from": "start",
                "fuse_a": 40,
                "area_mm2": 16,
                "run_m": 3,
                "feeds": ["dcdc"],
            },
        ],
    },
    "use": {
        "people": 2,
        "person_kg": 80,
        "luggage": [{"mass_kg": 60, "x_m": -3.0, "y_m": 0.0}],
        "hitched": True,
        "ambient_c": 30,
        "latitude_deg": -23,
        "month": 7,
        "drive_h_per_day": 2,
        "days": 7,
    },
    "scenarios": [
        {
            "key": "empty",
            "people": 1,
            "fuel_ratio": 0.25,
            "water_ratio": 0,
            "hitched": False,
        }
    ],
}


def a_record() -> dict[str, Any]:
    """Give the record, all of it free to be changed."""
    return copy.deepcopy(RECORD)


def put(record: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """Set one value by its path, such as ``items.0.mass_kg``."""
    *parents, last = path.split(".")
    target: Any = record
    for name in parents:
        target = target[int(name)] if name.isdigit() else target[name]
    if isinstance(target, list):
        target[int(last)] = value
    else:
        target[last] = value
    return record


def drop(record: dict[str, Any], path: str) -> dict[str, Any]:
    """Leave one value out by its path."""
    *parents, last = path.split(".")
    target: Any = record
    for name in parents:
        target = target[int(name)] if name.isdigit() else target[name]
    del target[int(last) if isinstance(target, list) else last]
    return record
