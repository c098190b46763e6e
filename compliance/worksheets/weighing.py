"""Worksheets about scales: a ticket, and the height of the centre of gravity."""

import math
from typing import Any

from compliance.findings import Step, verdict
from compliance.load import tilt_height_m
from compliance.weighing import MOST_INTERVALS, Ticket, check_ticket
from compliance.worksheets.columns import WHEELBASE, length_field, line, mass_field
from compliance.worksheets.fields import Field, Inputs, Worksheet


def _weighbridge(inputs: Inputs) -> dict[str, Any]:
    total, interval = inputs.number("total_kg"), inputs.number("scale_interval_kg")
    front, rear = inputs.maybe("front_kg"), inputs.maybe("rear_kg")
    if total / interval > MOST_INTERVALS:
        raise inputs.error(
            "scale_interval_kg",
            f"is too fine: {total:g} kg is more than {MOST_INTERVALS:,d} intervals.",
        )
    if (front is None) != (rear is None):
        missing = "front_kg" if front is None else "rear_kg"
        raise inputs.error(missing, "is missing: give both axles, or the total alone.")
    ticket = check_ticket(
        total_kg=total,
        axles_kg=() if front is None or rear is None else (front, rear),
        interval_kg=interval,
        in_service=inputs.flag("in_service"),
    )
    limit = inputs.maybe("limit_kg")
    if limit is not None and not ticket.consistent:
        raise inputs.error(
            "total_kg",
            f"differs by {abs(ticket.gap_kg):,g} kg from the two axles together, more "
            "than the scale's errors allow. Weigh again: this total is held against no "
            "limit.",
        )
    return {
        "gap_kg": ticket.gap_kg,
        "consistent": ticket.consistent,
        "permitted_error_kg": ticket.permitted_error_kg,
        "standard_uncertainty_kg": ticket.standard_uncertainty_kg,
        "expanded_kg": ticket.expanded_kg,
        "verdict": None if limit is None else verdict(total, limit, ticket.expanded_kg),
        "working": _ticket_working(ticket, total, interval),
    }


def _ticket_working(ticket: Ticket, total: float, interval: float) -> list[Step]:
    return [
        line("gap", "total - (front + rear)", ticket.gap_kg),
        line(
            "permitted error of the total",
            f"{total / interval:g} intervals of {interval:g} kg",
            ticket.permitted_error_kg,
            source="OIML R 76, class III",
            mark="published",
        ),
        line(
            "standard uncertainty",
            "√(permitted² + (interval/2)²) / √3",
            ticket.standard_uncertainty_kg,
            source="JCGM 100:2008 4.3.7",
            mark="from memory",
        ),
        line(
            "expanded",
            "U = 2 u",
            ticket.expanded_kg,
            source="JCGM 100:2008 6.2",
            mark="from memory",
        ),
    ]


def _tilt(inputs: Inputs, length: float) -> tuple[float, str]:
    """Angle of the raised vehicle, and how it was found. [rad]"""
    lift, tilt = inputs.maybe("raised_m"), inputs.maybe("tilt_deg")
    if (lift is None) == (tilt is None):
        raise inputs.error("raised_m", "or tilt_deg is needed, one of the two.")
    if lift is None:
        return math.radians(tilt or 0.0), "as given"
    if lift >= length:
        raise inputs.error("raised_m", "must be less than the wheelbase.")
    return math.asin(lift / length), "asin(H / L)"


def _cg_height(inputs: Inputs) -> dict[str, Any]:
    length, mass = inputs.number("wheelbase_m"), inputs.number("mass_kg")
    gain = inputs.number("front_raised_kg") - inputs.number("front_level_kg")
    angle, formula = _tilt(inputs, length)
    height = tilt_height_m(
        mass_kg=mass,
        wheelbase_m=length,
        front_gain_kg=gain,
        tilt_rad=angle,
        tyre_radius_m=inputs.number("tyre_radius_m"),
    )
    if height <= 0:
        raise inputs.error(
            "front_raised_kg",
            f"gives a centre of gravity at {height:.2f} m, which is not above the "
            "ground. Check both weighings of the front axle.",
        )
    source = "Jazar, Vehicle Dynamics, eq. (2.32)"
    return {
        "height_m": height,
        "working": [
            line("tilt", formula, math.degrees(angle), "°"),
            line("gain of the front axle", "raised - level", gain),
            line(
                "height",
                "r + gain × L / (M tan tilt)",
                height,
                "m",
                source,
                "published",
            ),
        ],
    }


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="weighbridge",
        title="Weighbridge ticket",
        description="Whether a ticket adds up, and how far its total can be trusted.",
        compute=_weighbridge,
        fields=(
            mass_field("front_kg", "front axle", 1320, required=False),
            mass_field("rear_kg", "rear axle", 1600, required=False),
            mass_field("total_kg", "whole vehicle", 2920),
            mass_field(
                "scale_interval_kg",
                "the scale's step, printed on its plate",
                20,
                minimum=None,
                above=0,
            ),
            Field(
                name="in_service",
                kind="flag",
                help="true for a scale in use, false for one just verified",
                example=True,
            ),
            mass_field(
                "limit_kg", "limit to hold the total against", 3200, required=False
            ),
        ),
    ),
    Worksheet(
        name="cg-height",
        title="Height of the centre of gravity",
        description="From two weighings of the front axle, level and with the rear "
        "raised. Support the vehicle on rated stands; nobody under it.",
        compute=_cg_height,
        fields=(
            mass_field("mass_kg", "whole vehicle", 2200, minimum=None, above=0),
            WHEELBASE,
            mass_field("front_level_kg", "front axle, level", 1200),
            mass_field("front_raised_kg", "front axle, rear raised", 1260),
            length_field(
                "raised_m",
                "lift of the rear axle centre",
                0.7,
                required=False,
                minimum=None,
                above=0,
            ),
            Field(
                name="tilt_deg",
                help="tilt, instead of the lift",
                unit="°",
                required=False,
                above=0,
                maximum=60,
            ),
            length_field(
                "tyre_radius_m",
                "axle centre above the ground, loaded",
                0.37,
                minimum=None,
                above=0,
            ),
        ),
    ),
)
