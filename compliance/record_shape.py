"""The shape of the open build record: every name, its type and its bounds.

One description serves the reader (``record.py``) and the published JSON Schema
(``schema.py``), so the two cannot drift apart. Bounds are not limits of the trade:
they are set where a number can only be a slip of the keyboard or of a unit.
"""

from compliance import inputs
from compliance.settings import SETTINGS, Settings
from compliance.shape import (
    Either,
    Facts,
    Flag,
    Many,
    Named,
    Number,
    Object,
    Shape,
    Text,
)

KEY = Text(longest=100, key=True)
WORDS = Text()
FLAG = Flag()
MASS = Number(high=100_000)
PLACE = Number(low=-30, high=30)
LENGTH = Number(high=30)
RATIO = Number(high=1)
CURRENT = Number(high=10_000)
POWER = Number(high=100_000)
VOLUME = Number(high=5_000)
DENSITY = Number(low=0.3, high=2)
HOURS = Number(high=24)
CELSIUS = Number(low=-60, high=150)
PEOPLE = Number(high=60, whole=True)
MOST_PARTS = 5_000
"""Items, circuits and what one circuit feeds; far beyond any one vehicle."""


def _changed_ratings(evidence: str | None = None, **ratings: float) -> object:
    return inputs.RatingChange(ratings=inputs.Ratings(**ratings), evidence=evidence)


def _switch(
    kind: inputs.SwitchKind | None = None,
    position: str | None = None,
    interlock: str | None = None,
) -> inputs.Switch:
    # A place can be named without saying that it needs one.
    return inputs.Switch(
        kind=kind or "position", position=position, interlock=interlock
    )


_RATINGS: dict[str, Shape] = dict.fromkeys(
    inputs.RATING_NAMES, Number(high=100_000, above=True)
)

_FLUID = Text(choices=inputs.FLUIDS)

_VEHICLE = Object(
    inputs.Vehicle,
    {
        "label": WORDS,
        "vin": WORDS,
        "category": WORDS,
        "wheelbase_m": Number(low=0.5, high=12),
        "track_m": Number(low=0.3, high=3),
        "ball_overhang_m": LENGTH,
        "ratings": Object(inputs.Ratings, _RATINGS),
        "base": Object(
            inputs.Base,
            {
                "definition": Text(
                    choices=("weighed", "tare", "kerb", "running-order")
                ),
                "mass_kg": Number(high=100_000, above=True),
                "front_kg": MASS,
                "rear_kg": MASS,
                "fuel_l": VOLUME,
                "people": PEOPLE,
                "scale_interval_kg": Number(low=0.1, high=1_000),
                "half_width_kg": MASS,
                "left_kg": MASS,
                "cg_z_m": Number(high=5, above=True),
            },
        ),
        "seats": Many(
            Object(
                inputs.Seat, {"key": KEY, "x_m": PLACE, "y_m": PLACE}, ("key", "x_m")
            ),
            "key",
            60,
        ),
        "tanks": Many(
            Object(
                inputs.Tank,
                {
                    "key": KEY,
                    "fluid": _FLUID,
                    "capacity_l": VOLUME,
                    "density_kg_per_l": DENSITY,
                    "x_m": PLACE,
                    "y_m": PLACE,
                    "z_m": PLACE,
                },
                ("key", "fluid", "capacity_l", "x_m"),
            ),
            "key",
            20,
        ),
        "alternator": Object(
            inputs.Alternator,
            {"rated_a": CURRENT, "variable_voltage": FLAG, "own_load_a": CURRENT},
        ),
        "start_battery": Object(
            inputs.StartBattery,
            {
                "capacity_ah": Number(high=10_000, above=True),
                "standby_a": CURRENT,
            },
        ),
        "switch_positions": Many(
            Object(
                inputs.SwitchPosition,
                {"key": KEY, "panel": WORDS, "label": WORDS},
                ("key", "panel"),
            ),
            "key",
        ),
    },
    ("label",),
)

_TRAILER = Object(
    inputs.Trailer,
    {
        "mass_kg": MASS,
        "ball_kg": MASS,
        "atm_kg": Number(high=100_000, above=True),
        "gtm_kg": Number(high=100_000, above=True),
        "ball_to_axle_m": Number(high=30, above=True),
        "hitch_moment_kgm": Number(high=5_000),
    },
)

_ITEM = Object(
    inputs.Item,
    {
        "key": KEY,
        "label": WORDS,
        "kind": KEY,
        "zone": Text(choices=inputs.ZONES),
        "supplied_by": Text(choices=("workshop", "customer")),
        "mass_kg": Number(high=20_000),
        "mass_half_width_kg": Number(high=20_000),
        "x_m": PLACE,
        "x_half_width_m": LENGTH,
        "y_m": PLACE,
        "z_m": PLACE,
        "removes": Many(
            Object(
                inputs.RemovedPart,
                {
                    "label": WORDS,
                    "mass_kg": Number(high=20_000),
                    "x_m": PLACE,
                    "y_m": PLACE,
                    "z_m": PLACE,
                },
                ("label", "mass_kg"),
            ),
            most=50,
        ),
        "tank": Object(
            inputs.ItemTank,
            {
                "fluid": _FLUID,
                "capacity_l": VOLUME,
                "density_kg_per_l": DENSITY,
                "replaces": KEY,
            },
            ("fluid", "capacity_l"),
        ),
        "carrier_limit_kg": MASS,
        "carried_by": KEY,
        "raises": Object(_changed_ratings, {**_RATINGS, "evidence": WORDS}),
        "load": Object(
            inputs.Load,
            {
                "kind": Text(choices=("current", "power", "resistive")),
                "current_a": CURRENT,
                "power_w": POWER,
                "resistance_ohm": Number(high=1e6, above=True),
                "efficiency": Number(high=1, above=True),
                "hours_per_day": HOURS,
                "duty": Either(RATIO, ("fridge",)),
                "standby_a": CURRENT,
                "limit_percent": Number(high=100, above=True),
                "short_time": FLAG,
            },
            ("kind",),
        ),
        "switch": Object(
            _switch,
            {
                "kind": Text(choices=("none", "own", "position")),
                "position": KEY,
                "interlock": WORDS,
            },
        ),
        "facts": Facts(),
    },
    ("key", "label", "kind", "zone"),
)

_SUPPLY = Object(
    inputs.Supply,
    {
        "system_v": Number(low=6, high=1_000),
        "batteries": Many(
            Object(
                inputs.Battery,
                {
                    "key": KEY,
                    "chemistry": Text(choices=("lfp", "agm", "flooded")),
                    "capacity_ah": Number(high=10_000, above=True),
                    "usable_ratio": Number(high=1, above=True),
                    "charge_limit_a": CURRENT,
                    "discharge_limit_a": CURRENT,
                    "internal_mohm": Number(high=1_000),
                    "place": WORDS,
                    "charge_min_c": CELSIUS,
                    "charge_max_c": CELSIUS,
                    "discharge_min_c": CELSIUS,
                    "discharge_max_c": CELSIUS,
                },
                ("key", "chemistry", "capacity_ah"),
            ),
            "key",
        ),
        "chargers": Many(
            Object(
                inputs.Charger,
                {
                    "key": KEY,
                    "kind": Text(choices=("dc-dc", "solar", "shore")),
                    "from": KEY,
                    "to": KEY,
                    "out_a": CURRENT,
                    "out_v": Number(low=1, high=1_000),
                    "efficiency": Number(high=1, above=True),
                    "solar_input_w": POWER,
                },
                ("key", "kind", "to", "out_a"),
                {"from": "source"},
            ),
            "key",
        ),
        "panels": Many(
            Object(
                inputs.Panel,
                {
                    "key": KEY,
                    "power_w": POWER,
                    "to": KEY,
                    "derate": RATIO,
                    "short_circuit_a": CURRENT,
                    "open_circuit_v": Number(high=1_000, above=True),
                },
                ("key", "power_w"),
            ),
            "key",
        ),
        "circuits": Many(
            Object(
                inputs.Circuit,
                {
                    "key": KEY,
                    "from": KEY,
                    "label": WORDS,
                    "fuse_a": Number(high=10_000, above=True),
                    "fuse_kind": WORDS,
                    "fuse_to_source_m": LENGTH,
                    "fuse_place": WORDS,
                    "area_mm2": Number(low=0.05, high=1_000),
                    "run_m": Number(high=100),
                    "extra_ohm": Number(high=1_000),
                    "insulation_c": Number(low=40, high=400),
                    "engine_space": FLAG,
                    "feeds": Many(KEY, most=MOST_PARTS),
                },
                ("key", "from"),
                {"from": "source"},
            ),
            "key",
            MOST_PARTS,
        ),
    },
)

_SETTINGS = Object(
    Settings.of,
    {name: Number(low=s.low, high=s.high) for name, s in SETTINGS.items()},
)

_USE = Object(
    inputs.Use,
    {
        "people": PEOPLE,
        "person_kg": Number(high=500, above=True),
        "luggage": Many(
            Object(
                inputs.Luggage,
                {
                    "mass_kg": MASS,
                    "x_m": PLACE,
                    "y_m": PLACE,
                    "z_m": PLACE,
                    "zone": Text(choices=inputs.ZONES),
                    "carried_by": KEY,
                },
                ("mass_kg", "x_m"),
            )
        ),
        "hitched": FLAG,
        "ambient_c": Number(low=-60, high=80),
        "latitude_deg": Number(low=-90, high=90),
        "month": Number(low=1, high=12, whole=True),
        "drive_h_per_day": HOURS,
        "days": Number(low=1, high=366, whole=True),
    },
)

_SCENARIO = Object(
    inputs.Scenario,
    {
        "key": KEY,
        "people": PEOPLE,
        "fuel_ratio": RATIO,
        "water_ratio": RATIO,
        "tank_ratios": Named(RATIO),
        "hitched": FLAG,
    },
    ("key",),
)

RECORD = Object(
    inputs.BuildRecord,
    {
        "jurisdiction": WORDS,
        "vehicle": _VEHICLE,
        "trailer": _TRAILER,
        "items": Many(_ITEM, "key", MOST_PARTS),
        "supply": _SUPPLY,
        "use": _USE,
        "scenarios": Many(_SCENARIO, "key", 100),
        "settings": _SETTINGS,
    },
    ("vehicle",),
)
"""The record without its ``format`` and ``version``, which are read first."""
