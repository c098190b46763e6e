"""Worksheets about a battery at rest: how long it stands, when it may be charged."""

from typing import Any

from compliance.batteries import lfp_charge_a, standby_days
from compliance.worksheets.columns import from_table, line, number_field
from compliance.worksheets.fields import Field, Inputs, Worksheet
from compliance.worksheets.planned import planned
from compliance.worksheets.power import CAPACITY, CHARGE


def _standby(inputs: Inputs) -> dict[str, Any]:
    battery, draw = inputs.number("battery_ah"), inputs.number("draw_a")
    ratio = inputs.number("no_start_ratio")
    flat, no_start = standby_days(battery, draw), standby_days(battery, draw, ratio)
    return {
        "days_to_flat": flat,
        "days_to_no_start": no_start,
        "working": [
            planned("standby_no_start_ratio", ratio),
            line("flat", "C / I / 24", flat, "d", CHARGE),
            line("no start", f"{ratio:g} × C / I / 24", no_start, "d", CHARGE),
        ],
    }


def _charge_window(inputs: Inputs) -> dict[str, Any]:
    capacity, temps = inputs.number("capacity_ah"), inputs.numbers("temp_c")
    takes = [lfp_charge_a(capacity, temp) for temp in temps]
    return {
        "charge_a": takes if inputs.is_list("temp_c") else takes[0],
        "working": [
            from_table("batteries", f"at {temp:g} °C", "C × rate", amps, "A")
            for temp, amps in zip(temps, takes, strict=True)
        ],
    }


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="standby",
        title="Standing days",
        description="How long a parked vehicle's battery lasts against what draws on it.",
        compute=_standby,
        fields=(
            number_field("battery_ah", "capacity", "Ah", 60, above=0, maximum=100_000),
            number_field("draw_a", "current while parked", "A", 0.05, above=0),
            number_field(
                "no_start_ratio",
                "share that may go before it no longer starts; about 0.4",
                "",
                0.4,
                above=0,
                maximum=1,
            ),
        ),
    ),
    Worksheet(
        name="charge-window",
        title="Charging lithium by temperature",
        description="The largest charge current of a lithium iron phosphate battery "
        "by the temperature of its cells. Its own sheet comes first.",
        compute=_charge_window,
        fields=(
            CAPACITY,
            Field(
                name="temp_c",
                kind="numbers",
                help="cell temperature, one or several",
                unit="°C",
                example=[-2, 3, 7, 15, 30, 55],
                minimum=-60,
                maximum=100,
            ),
        ),
    ),
)
