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


def a_large_record(
    items: int = 80, circuits: int = 40, scenarios: int = 12, fitted_kg: float = 330
) -> dict[str, Any]:
    """
    Give a build of any size in which every kind of thing occurs.

    Half of the items draw current and hang on circuits: a few boards on the auxiliary
    battery with the rest of the circuits behind them. The vehicle is within its limits
    with the usual ``fitted_kg`` and over several of them with 600.
    """
    record = a_record()
    boards = max(circuits // 8, 1)
    record["items"] = [_large_item(n, items, fitted_kg) for n in range(items)]
    record["vehicle"]["switch_positions"] = [
        {"key": f"place-{n // 4}", "panel": "dash"} for n in range(0, items, 4)
    ]
    fed = [item["key"] for item in record["items"] if "load" in item]
    ends = range(boards, circuits) or range(circuits)
    feeds: dict[int, list[str]] = {n: [] for n in range(circuits)}
    for n, key in enumerate(fed):
        feeds[ends[n % len(ends)]].append(key)
    feeds[0].append("dcdc")
    record["supply"]["circuits"] = [
        {
            "key": f"circuit-{n}",
            "from": "aux" if n < boards else f"circuit-{n % boards}",
            "fuse_a": 60 if n < boards else 15,
            "fuse_kind": "midi" if n < boards else "blade",
            "fuse_to_source_m": 0.15,
            "area_mm2": 25 if n < boards else 4,
            "run_m": 1.0 + n % 5,
            "insulation_c": 105,
            "engine_space": n % 7 == 0,
            "feeds": feeds[n],
        }
        for n in range(circuits)
    ] + [
        {
            "key": "charge",
            "from": "start",
            "fuse_a": 40,
            "area_mm2": 16,
            "run_m": 3,
            "feeds": ["dcdc"],
        }
    ]
    record["supply"]["batteries"][0] |= {"capacity_ah": 200, "discharge_limit_a": 150}
    record["scenarios"] = [
        {
            "key": f"state-{n}",
            "people": n % 3,
            "fuel_ratio": n % 5 / 4,
            "water_ratio": n % 2,
            "hitched": n % 4 == 0,
        }
        for n in range(scenarios)
    ]
    return record


def _large_item(n: int, items: int, fitted_kg: float) -> dict[str, Any]:
    """The n-th of so many items, each a little different from the others."""
    item: dict[str, Any] = {
        "key": f"item-{n}",
        "label": f"Part {n}",
        "kind": "shelf",
        "zone": ("front", "cargo", "roof", "rear", "cabin")[n % 5],
        "mass_kg": round(fitted_kg / items * (1 + n % 3) / 2, 3),
        "mass_half_width_kg": 0.1,
        "x_m": round(0.7 - 4.4 * (n % 23) / 22, 3),
        "x_half_width_m": 0.02,
        "y_m": round(0.6 - 1.2 * (n % 7) / 6, 3),
        "z_m": round(0.4 + 1.4 * (n % 6) / 5, 3),
        "switch": {"kind": "none"},
    }
    if n % 10 == 3:
        item["removes"] = [{"label": "original part", "mass_kg": 1, "x_m": -1.0}]
    if n % 20 == 5:
        item["tank"] = {"fluid": "water", "capacity_l": round(800 / items, 3)}
    if n % 2 == 0:
        item["load"] = {
            "kind": ("current", "power", "resistive")[n // 2 % 3],
            "current_a": round(80 / items, 3),
            "power_w": round(900 / items, 3),
            "hours_per_day": n % 9,
            "duty": "fridge" if n % 16 == 0 else 0.5,
        }
    if n % 4 == 0:
        item["switch"] = {"kind": "position", "position": f"place-{n // 4}"}
    return item
