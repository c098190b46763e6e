"""Worksheets about mass: axle loads and payload."""

import math
from typing import Any

from compliance.findings import Step
from compliance.load import (
    AxleLoads,
    PointMass,
    axle_loads,
    axle_share,
    centre_m,
    left_share_kg,
)
from compliance.worksheets.columns import (
    MOMENTS,
    WHEELBASE,
    length_field,
    line,
    mass_field,
)
from compliance.worksheets.fields import Field, Inputs, Worksheet

_ITEM_PLACE = (
    length_field(
        "x_m",
        "place forward of the front axle, negative behind it; the rear axle is "
        "at minus the wheelbase",
    ),
    length_field(
        "y_m", "place left of the middle, negative right of it", required=False
    ),
    length_field("z_m", "height above the ground", required=False),
)


def _axle_load(inputs: Inputs) -> dict[str, Any]:
    length = inputs.number("wheelbase_m")
    base, base_mass = _base(inputs.group("base"), length)
    rows = inputs.rows("items")
    items = [_point(row, number) for number, row in enumerate(rows, start=1)]
    added = axle_loads(items, length)
    loads = base + added
    if not loads.total_kg > 0:
        raise inputs.error("base", "gives no mass together with the items.")
    track = inputs.maybe("track_m")
    left = height = None
    if track is not None and all(item.y_m is not None for item in items):
        left = left_share_kg([base_mass, *items], track)
    weighted = [m.mass_kg * m.z_m for m in (base_mass, *items) if m.z_m is not None]
    if len(weighted) == len(items) + 1:
        height = math.fsum(weighted) / loads.total_kg
    shares = [axle_share(item.mass_kg, item.x_m, length) for item in items]
    return {
        "total_kg": loads.total_kg,
        "front_kg": loads.front_kg,
        "rear_kg": loads.rear_kg,
        "cg_x_m": centre_m(loads.front_kg, loads.rear_kg, length),
        "items": [
            {"label": i.label, "front_kg": s.front_kg, "rear_kg": s.rear_kg}
            for i, s in zip(items, shares, strict=True)
        ],
        "left_kg": left,
        "right_kg": None if left is None else loads.total_kg - left,
        "cg_z_m": height,
        "working": _axle_load_working(base, items, shares, loads, length),
    }


def _base(group: Inputs, length: float) -> tuple[AxleLoads, PointMass]:
    split = group.has("front_kg") or group.has("rear_kg")
    if split and (group.has("mass_kg") or group.has("x_m")):
        raise group.error("", "takes front_kg and rear_kg, or mass_kg and x_m.")
    if split:
        loads = AxleLoads(group.number("front_kg"), group.number("rear_kg"))
    else:
        loads = axle_share(group.number("mass_kg"), group.number("x_m"), length)
    mass = PointMass(
        "base", loads.total_kg, 0.0, group.maybe("y_m"), group.maybe("z_m")
    )
    return loads, mass


def _point(row: Inputs, number: int) -> PointMass:
    return PointMass(
        row.text("label", f"item {number}"),
        row.number("mass_kg"),
        row.number("x_m"),
        row.maybe("y_m"),
        row.maybe("z_m"),
    )


def _axle_load_working(
    base: AxleLoads,
    items: list[PointMass],
    shares: list[AxleLoads],
    loads: AxleLoads,
    length: float,
) -> list[Step]:
    steps = [
        line("base, front axle", "as given", base.front_kg, mark="given"),
        line("base, rear axle", "as given", base.rear_kg, mark="given"),
    ]
    for item, share in zip(items, shares, strict=True):
        lever = f"{item.mass_kg:g} kg × {-item.x_m:g} m / {length:g} m"
        steps.append(line(f"{item.label}, rear", lever, share.rear_kg, source=MOMENTS))
        rest = f"{item.mass_kg:g} kg - rear"
        steps.append(line(f"{item.label}, front", rest, share.front_kg))
    steps.append(line("front axle", "sum of the front lines", loads.front_kg))
    steps.append(line("rear axle", "sum of the rear lines", loads.rear_kg))
    steps.append(line("total", "front + rear", loads.total_kg))
    return steps


def _payload(inputs: Inputs) -> dict[str, Any]:
    count = inputs.number("people")
    if count != int(count):
        raise inputs.error("people", "must be a whole number.")
    people = count * inputs.number("person_kg")
    vehicle = inputs.number("base_kg") + people + inputs.number("items_kg")
    ball = inputs.maybe("ball_kg") or 0.0
    gcm, trailer = inputs.maybe("gcm_kg"), inputs.maybe("trailer_kg")
    if gcm is not None and trailer is None:
        raise inputs.error("trailer_kg", "is needed with a GCM.")
    by_gvm = inputs.number("gvm_kg") - vehicle - ball
    steps = [
        line("people", "people × person", people),
        line("vehicle", "base + people + items", vehicle),
        line("left by GVM", "GVM - vehicle - ball load", by_gvm),
    ]
    by_gcm = None
    if gcm is not None and trailer is not None:
        by_gcm = gcm - vehicle - trailer
        steps.append(line("left by GCM", "GCM - vehicle - trailer", by_gcm))
    governs_gcm = by_gcm is not None and by_gcm < by_gvm
    return {
        "remaining_kg": by_gcm if governs_gcm else by_gvm,
        "by_gvm_kg": by_gvm,
        "by_gcm_kg": by_gcm,
        "governing": "gcm" if governs_gcm else "gvm",
        "working": steps,
    }


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="axle-load",
        title="Axle loads",
        description="What each axle carries once items stand where they stand.",
        compute=_axle_load,
        fields=(
            WHEELBASE,
            Field(
                name="base",
                kind="group",
                help="the vehicle before the items: both axles, or mass and place",
                example={"front_kg": 1180, "rear_kg": 940},
                columns=(
                    mass_field("front_kg", "front axle", required=False),
                    mass_field("rear_kg", "rear axle", required=False),
                    mass_field("mass_kg", "whole vehicle", required=False),
                    length_field(
                        "x_m",
                        "its centre of gravity, negative behind the front axle",
                        required=False,
                    ),
                    length_field(
                        "y_m", "its centre left of the middle", required=False
                    ),
                    length_field("z_m", "its centre above the ground", required=False),
                ),
            ),
            Field(
                name="items",
                kind="table",
                help="what is fitted; a removed part has a negative mass",
                required=False,
                example=[
                    {"label": "front bar", "mass_kg": 62, "x_m": 0.72},
                    {"label": "original bumper", "mass_kg": -14, "x_m": 0.68},
                ],
                columns=(
                    Field(name="label", kind="text", help="what it is", required=False),
                    mass_field("mass_kg", "mass, negative if removed", minimum=-1e6),
                    *_ITEM_PLACE,
                ),
            ),
            length_field(
                "track_m",
                "distance between the wheel centres",
                required=False,
                minimum=0.3,
                example=1.56,
            ),
        ),
    ),
    Worksheet(
        name="payload",
        title="Payload left",
        description="What may still be carried, by GVM and by GCM, the lower counts.",
        compute=_payload,
        fields=(
            mass_field("gvm_kg", "GVM", 3200),
            mass_field("base_kg", "vehicle ready to drive, nobody aboard", 2120),
            Field(
                name="people",
                help="people aboard who are not in the base mass",
                minimum=0,
                maximum=100,
                example=2,
            ),
            mass_field("person_kg", "one person", 80),
            mass_field("items_kg", "everything else aboard", 400),
            mass_field("ball_kg", "ball load", 250, required=False),
            mass_field("gcm_kg", "GCM", 6000, required=False),
            mass_field("trailer_kg", "whole trailer", 2500, required=False),
        ),
    ),
)
