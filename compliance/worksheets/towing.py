"""Worksheets about trailers: ball load, hitching, the heaviest trailer."""

import math
from typing import Any

from compliance.load import AxleLoads
from compliance.towing import hitch, trailer_ball_kg, trailer_limits_kg
from compliance.worksheets.columns import (
    MOMENTS,
    WHEELBASE,
    length_field,
    line,
    mass_field,
)
from compliance.worksheets.fields import Field, Inputs, Worksheet


def _trailer_ball(inputs: Inputs) -> dict[str, Any]:
    arm = inputs.number("ball_to_axle_m")
    masses = [
        (row.number("mass_kg"), row.number("ahead_of_axle_m"))
        for row in inputs.rows("items")
    ]
    total = math.fsum(mass for mass, _ in masses)
    if not total > 0:
        raise inputs.error("items", "weigh nothing together.")
    ball = trailer_ball_kg(masses, arm)
    steps = [
        line(
            f"item {number}",
            f"{mass:g} kg × {ahead:g} m / {arm:g} m",
            mass * ahead / arm,
            source=MOMENTS,
        )
        for number, (mass, ahead) in enumerate(masses, start=1)
    ]
    steps.append(line("ball load", "sum of the lines above", ball, source=MOMENTS))
    steps.append(line("trailer axle", "trailer - ball load", total - ball))
    return {
        "trailer_kg": total,
        "ball_kg": ball,
        "axle_kg": total - ball,
        "ball_percent": 100 * ball / total,
        "working": steps,
    }


def _check_hitched(inputs: Inputs) -> None:
    trailer = inputs.maybe("trailer_kg")
    if inputs.maybe("hitch_moment_kgm") and not inputs.has("ball_to_axle_m"):
        raise inputs.error("ball_to_axle_m", "is needed with a hitch moment.")
    if trailer is not None and inputs.number("ball_kg") > trailer:
        raise inputs.error("ball_kg", "is more than the trailer weighs.")


def _hitched(inputs: Inputs) -> dict[str, Any]:
    length, overhang = inputs.number("wheelbase_m"), inputs.number("ball_overhang_m")
    alone = AxleLoads(inputs.number("front_kg"), inputs.number("rear_kg"))
    ball, moment = inputs.number("ball_kg"), inputs.maybe("hitch_moment_kgm") or 0.0
    arm, trailer = inputs.maybe("ball_to_axle_m"), inputs.maybe("trailer_kg")
    _check_hitched(inputs)
    on = hitch(
        alone=alone,
        wheelbase_m=length,
        ball_overhang_m=overhang,
        ball_kg=ball,
        hitch_moment_kgm=moment,
        ball_to_axle_m=arm,
    )
    steps = [
        line("carried by the vehicle", "B - Mw/c", on.on_vehicle_kg, source=MOMENTS),
        line("front axle", "F + (Mw - V e)/L", on.axles.front_kg, source=MOMENTS),
        line(
            "rear axle", "R + V - change of the front", on.axles.rear_kg, source=MOMENTS
        ),
        line("total", "front + rear", on.axles.total_kg),
    ]
    axle = combination = None
    if trailer is not None:
        axle = trailer - on.on_vehicle_kg
        combination = alone.total_kg + trailer
        steps.append(line("trailer axle", "trailer - carried by the vehicle", axle))
        steps.append(
            line("combination", "vehicle alone + trailer, ball once", combination)
        )
    return {
        "front_kg": on.axles.front_kg,
        "rear_kg": on.axles.rear_kg,
        "total_kg": on.axles.total_kg,
        "lever_ratio": 1 + overhang / length,
        "trailer_axle_kg": axle,
        "combination_kg": combination,
        "working": steps,
    }


_LIMIT_FORMULAS = {
    "gvm": "(GVM - vehicle) / ball ratio",
    "front_axle": "front limit - front: over before a trailer is on",
    "rear_axle": "(rear limit - rear) / (ball ratio × lever ratio)",
    "gcm": "GCM - vehicle",
    "braked_towing": "as rated",
    "ball": "ball limit / ball ratio",
}


def _towing_limit(inputs: Inputs) -> dict[str, Any]:
    alone = AxleLoads(inputs.number("front_kg"), inputs.number("rear_kg"))
    group = inputs.group("ratings")
    limits = trailer_limits_kg(
        alone=alone,
        ratings={name.removesuffix("_kg"): group.number(name) for name in group},
        ball_ratio=inputs.number("ball_ratio"),
        lever_ratio=inputs.number("lever_ratio"),
    )
    governing = min(limits, key=lambda name: limits[name])
    return {
        # Where the vehicle alone is over, no trailer is light enough.
        "trailer_kg": max(0.0, limits[governing]),
        "governing": governing,
        "by": limits,
        "working": [
            line(name, _LIMIT_FORMULAS[name], limit, source=MOMENTS)
            for name, limit in limits.items()
        ],
    }


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="trailer-ball",
        title="Ball load of a trailer",
        description="What a trailer puts on the ball, from what stands where in it.",
        compute=_trailer_ball,
        fields=(
            Field(
                name="items",
                kind="table",
                help="the empty trailer and what is in it",
                example=[
                    {"mass_kg": 1900, "ahead_of_axle_m": 0.4},
                    {"mass_kg": 120, "ahead_of_axle_m": -1.5},
                ],
                columns=(
                    mass_field("mass_kg", "mass"),
                    length_field(
                        "ahead_of_axle_m", "place ahead of the trailer's axle"
                    ),
                ),
            ),
            length_field(
                "ball_to_axle_m",
                "ball to axle, or to the middle of a group",
                4.6,
                minimum=None,
                above=0,
            ),
        ),
    ),
    Worksheet(
        name="hitched",
        title="Trailer on the ball",
        description="Axle loads of the vehicle once the trailer hangs on it.",
        compute=_hitched,
        fields=(
            WHEELBASE,
            mass_field("front_kg", "front axle without the trailer", 1280),
            mass_field("rear_kg", "rear axle without the trailer", 1400),
            length_field(
                "ball_overhang_m", "rear axle back to the ball", 1.25, minimum=0
            ),
            mass_field("ball_kg", "ball load", 250),
            mass_field("trailer_kg", "whole trailer", 2500, required=False),
            length_field(
                "ball_to_axle_m",
                "ball to the trailer's axle",
                4.6,
                required=False,
                minimum=None,
                above=0,
            ),
            Field(
                name="hitch_moment_kgm",
                help="moment of a weight-distributing hitch",
                unit="kg m",
                required=False,
                minimum=0,
                maximum=1e6,
            ),
        ),
    ),
    Worksheet(
        name="towing-limit",
        title="Heaviest trailer",
        description="How heavy a trailer may be behind this loaded vehicle, and why.",
        compute=_towing_limit,
        fields=(
            mass_field("front_kg", "front axle without the trailer", 1280),
            mass_field("rear_kg", "rear axle without the trailer", 1400),
            Field(
                name="ratings",
                kind="group",
                help="the ratings that hold for this vehicle",
                example={
                    "gvm_kg": 3200,
                    "rear_axle_kg": 1850,
                    "gcm_kg": 6000,
                    "braked_towing_kg": 3500,
                    "ball_kg": 350,
                },
                columns=(
                    mass_field("gvm_kg", "GVM"),
                    mass_field("front_axle_kg", "front axle limit", required=False),
                    mass_field("rear_axle_kg", "rear axle limit", required=False),
                    mass_field("gcm_kg", "GCM", required=False),
                    mass_field("braked_towing_kg", "braked capacity", required=False),
                    mass_field("ball_kg", "ball limit", required=False),
                ),
            ),
            Field(
                name="ball_ratio",
                help="ball load over trailer mass, 0 to 1",
                above=0,
                maximum=1,
                example=0.1,
            ),
            Field(
                name="lever_ratio",
                help="1 + ball overhang / wheelbase",
                minimum=1,
                maximum=5,
                example=1.39,
            ),
        ),
    ),
)
