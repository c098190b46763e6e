"""Worksheets about batteries, chargers and the sun."""

from typing import Any

from compliance.ampacity import next_fuse_a
from compliance.batteries import peukert_exponent, peukert_hours
from compliance.energy import autonomy_days, charger_input_a
from compliance.sun import (
    cell_c,
    clear_sky_kwh_m2,
    extraterrestrial,
    panel_wh,
    temperature_ratio,
)
from compliance.worksheets.columns import from_table, line, number_field
from compliance.worksheets.fields import Field, Inputs, Worksheet
from compliance.worksheets.planned import planned
from compliance.worksheets.protection import FACTOR

PEUKERT = "Peukert's law"
FAO = "FAO-56, equations 21 to 37"
CHARGE = "charge balance"

MOST_SUN_H = 11.5
"""More reaches no flat surface in a day: FAO-56 clear sky, (0.75 + 2e-5 × 5,000 m) of the
most that there is above the air of any place and day, at a pole in midsummer. [h]"""


def _peukert(inputs: Inputs) -> dict[str, Any]:
    capacity, rate = inputs.number("capacity_ah"), inputs.number("rate_h")
    current, depth = inputs.number("current_a"), inputs.maybe("depth_ratio")
    exponent = _exponent(inputs, capacity, rate)
    hours = peukert_hours(capacity, rate, current, exponent)
    hours *= 1.0 if depth is None else depth
    rated = capacity / rate
    formula = "H (C / (I H))^k" if current > rated else "C / I, below the rated current"
    if depth is not None:
        formula += f", × {depth:g}"
    return {
        "exponent": exponent,
        "hours": hours,
        "ah": current * hours,
        "working": [
            line("rated current", "C / H", rated, "A", PEUKERT),
            line(
                "exponent", "as given, or ln(t₂/t₁) / ln(I₁/I₂)", exponent, "", PEUKERT
            ),
            line("time", formula, hours, "h", PEUKERT, "published"),
            line("charge given", "I t", current * hours, "Ah", PEUKERT),
        ],
    }


_EXPONENTS = (
    ("exponent",),
    ("reserve_min", "reserve_a"),
    ("second_capacity_ah", "second_rate_h"),
)


def _exponent(inputs: Inputs, capacity: float, rate: float) -> float:
    given = [names for names in _EXPONENTS if any(inputs.has(n) for n in names)]
    if len(given) != 1:
        raise inputs.error(
            "exponent", "or the reserve or a second capacity is needed, one of these."
        )
    names = given[0]
    if names == ("exponent",):
        return inputs.number("exponent")
    first, second = (inputs.number(name) for name in names)
    if names[0] == "reserve_min":
        hours, current = first / 60, second
    else:
        hours, current = second, first / second
    try:
        found = peukert_exponent((rate, hours), (capacity / rate, current))
    except ValueError as error:
        raise inputs.error(names[0], f"cannot be used: {error}.") from error
    if not 1 <= found <= 2:
        raise inputs.error(
            names[0],
            f"gives an exponent of {found:.2f}; from 1 to 2 is possible. Check both.",
        )
    return found


def _charger_input(inputs: Inputs) -> dict[str, Any]:
    factor = inputs.number("load_factor")
    taken = charger_input_a(
        inputs.number("out_a"),
        inputs.number("out_v"),
        inputs.number("efficiency"),
        inputs.number("in_v"),
    )
    least, of = taken / factor, planned("fuse_load_factor", factor)
    fuse = next_fuse_a(least)
    if fuse is None:
        raise inputs.error("out_a", f"wants a fuse of {least:.0f} A, above the series.")
    return {
        "input_a": taken,
        "minimum_fuse_a": least,
        "fuse_a": fuse,
        "working": [
            planned("charger_efficiency", inputs.number("efficiency")),
            line("input", "I V / (η V_in)", taken, "A", "power balance"),
            of,
            line("smallest rating", f"I / {factor:g}", least, "A", of.source, of.mark),
            from_table("fuses", "fuse of the series", "next", fuse, "A", "series"),
        ],
    }


def _sun(inputs: Inputs) -> dict[str, Any]:
    day = inputs.number("day_of_year")
    if day != int(day):
        raise inputs.error("day_of_year", "must be a whole number.")
    sun = extraterrestrial(inputs.number("latitude_deg"), int(day))
    altitude = inputs.maybe("altitude_m") or 0.0
    clear = clear_sky_kwh_m2(sun.ra_mj_m2, altitude)
    rows = (
        ("distance", "1 + 0.033 cos(2πJ/365)", sun.distance, ""),
        ("declination", "0.409 sin(2πJ/365 - 1.39)", sun.declination_rad, "rad"),
        ("sunset angle", "arccos(-tan φ tan δ)", sun.sunset_rad, "rad"),
        ("above the air", "equation 21", sun.ra_mj_m2, "MJ/m²"),
        ("daylight", "24 ω / π", sun.daylight_h, "h"),
        ("clear sky", f"(0.75 + 2e-5 × {altitude:g} m) Ra / 3.6", clear, "kWh/m²"),
    )
    return {
        "ra_mj_m2": sun.ra_mj_m2,
        "daylight_h": sun.daylight_h,
        "clear_sky_kwh_m2": clear,
        "working": [line(*row, FAO, "published") for row in rows],
    }


_WARM = ("air_c", "irradiance_w_m2", "noct_c", "coefficient_per_k", "other_derate")


def _solar_yield(inputs: Inputs) -> dict[str, Any]:
    watts, hours = inputs.number("panel_w"), inputs.number("peak_sun_h")
    derate, cell, steps = inputs.maybe("derate"), None, []
    warm = [name for name in _WARM if inputs.has(name)]
    if derate is not None and warm:
        raise inputs.error(warm[0], "is given besides derate; give one or the other.")
    if derate is None:
        if not warm:
            raise inputs.error("derate", "or the temperatures are needed.")
        air, irradiance, noct, coefficient, other = (inputs.number(n) for n in _WARM)
        cell = cell_c(air, irradiance, noct)
        ratio = temperature_ratio(cell, coefficient)
        derate = other * ratio
        steps = [
            line("cell", "Ta + (NOCT - 20)/800 G", cell, "°C", "NOCT", "published"),
            line("by temperature", "1 + c (T - 25)", ratio, "", "linear", "published"),
            line("derate", "other losses × temperature", derate, "", "product"),
        ]
    else:
        steps = [planned("panel_derate", derate)]
    energy = panel_wh(watts, hours, derate)
    charge = energy / inputs.number("battery_v")
    steps += [
        line("energy", "W × h × derate", energy, "Wh", "energy"),
        line("charge", "energy / V", charge, "Ah", "energy"),
    ]
    return {"wh": energy, "ah": charge, "cell_c": cell, "working": steps}


def _energy_day(inputs: Inputs) -> dict[str, Any]:
    usable = inputs.number("battery_ah") * inputs.number("usable_ratio")
    efficiency = inputs.maybe("charge_efficiency")
    steps, load = [], 0.0
    for count, row in enumerate(inputs.rows("loads"), start=1):
        label = row.text("label", f"load {count}")
        amps, hours, duty = (row.number(n) for n in ("current_a", "hours", "duty"))
        load += amps * hours * duty
        formula = f"{amps:g} A × {hours:g} h × {duty:g}"
        steps.append(line(label, formula, amps * hours * duty, "Ah", CHARGE))
    solar = 0.0
    if inputs.has("solar"):
        group = inputs.group("solar")
        watts, hours = group.number("panel_w"), group.number("peak_sun_h")
        derate, volts = group.number("derate"), inputs.number("battery_v")
        solar = panel_wh(watts, hours, derate) / volts
        steps.append(planned("panel_derate", derate))
        formula = f"{watts:g} W × {hours:g} h × {derate:g} / {volts:g} V"
        steps.append(line("sun", formula, solar, "Ah", CHARGE))
    stored = solar * (1.0 if efficiency is None else efficiency)
    steps += [
        line("loads", "sum", load, "Ah", CHARGE),
        line("net", "sun × charge efficiency - loads", stored - load, "Ah", CHARGE),
        line("usable", "capacity × usable ratio", usable, "Ah", CHARGE),
    ]
    alone, lit = autonomy_days(usable, load), None
    if alone is not None:
        steps.append(line("without any charging", "usable / loads", alone, "d", CHARGE))
    if inputs.has("solar"):
        lit = autonomy_days(usable, load, stored)
    if lit is not None:
        steps.append(line("with sun", "usable / (loads - sun)", lit, "d", CHARGE))
    return {
        "load_ah": load,
        "solar_ah": solar,
        "net_ah": stored - load,
        "autonomy_days": alone,
        "autonomy_days_with_sun": lit,
        "working": steps,
    }


CAPACITY = number_field("capacity_ah", "capacity", "Ah", 100, above=0, maximum=100_000)

SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="peukert",
        title="Run time of a lead-acid battery",
        description="How long a battery carries a current, by Peukert's exponent or by "
        "two capacities it is sold with.",
        compute=_peukert,
        fields=(
            CAPACITY,
            number_field("rate_h", "rate of that capacity", "h", 20, above=0),
            number_field("current_a", "current drawn", "A", 20, above=0),
            number_field(
                "depth_ratio",
                "share that is used, 0 to 1",
                required=False,
                above=0,
                maximum=1,
            ),
            number_field(
                "exponent", "Peukert's exponent", "", 1.2, False, minimum=1, maximum=2
            ),
            number_field(
                "reserve_min", "or its reserve", "min", required=False, above=0
            ),
            number_field(
                "reserve_a", "current of the reserve", "A", required=False, above=0
            ),
            number_field(
                "second_capacity_ah", "or a capacity", "Ah", required=False, above=0
            ),
            number_field(
                "second_rate_h", "at another rate", "h", required=False, above=0
            ),
        ),
    ),
    Worksheet(
        name="charger-input",
        title="Input of a charger",
        description="What a DC-DC charger draws, and its fuse. Use the lowest voltage "
        "it works at; a fuse stated by its maker comes first.",
        compute=_charger_input,
        fields=(
            number_field("out_a", "output", "A", 40, above=0),
            number_field("out_v", "output", "V", 14.4, above=0),
            number_field(
                "efficiency", "output over input, 0 to 1", "", 0.92, above=0, maximum=1
            ),
            number_field("in_v", "input, the lowest it works at", "V", 11.5, above=0),
            FACTOR,
        ),
    ),
    Worksheet(
        name="sun",
        title="Sun",
        description="What reaches a flat surface on one day, above the air and under "
        "a clear sky. South is negative.",
        compute=_sun,
        fields=(
            number_field(
                "latitude_deg",
                "latitude, south negative",
                "°",
                -27.5,
                minimum=-90,
                maximum=90,
            ),
            number_field(
                "day_of_year", "day of the year", "", 172, minimum=1, maximum=366
            ),
            number_field(
                "altitude_m", "above the sea", "m", 0, False, minimum=-500, maximum=9000
            ),
        ),
    ),
    Worksheet(
        name="solar-yield",
        title="Yield of a flat panel",
        description="What a panel lying flat brings in a day. Sun hours of a tilted "
        "plane do not belong here.",
        compute=_solar_yield,
        fields=(
            number_field("panel_w", "rated power", "W", 200, minimum=0),
            number_field(
                "peak_sun_h",
                "peak sun hours on the flat",
                "h",
                5.2,
                minimum=0,
                maximum=MOST_SUN_H,
            ),
            number_field(
                "derate",
                "yield over rated power, all losses",
                "",
                0.7,
                False,
                minimum=0,
                maximum=1,
            ),
            number_field("air_c", "or: air", "°C", required=False),
            number_field(
                "irradiance_w_m2",
                "sun on the panel",
                "W/m²",
                required=False,
                minimum=0,
                maximum=1500,
            ),
            number_field(
                "noct_c", "NOCT of the panel", "°C", required=False, minimum=20
            ),
            number_field(
                "coefficient_per_k",
                "change of power, such as -0.004",
                "1/K",
                required=False,
                minimum=-0.02,
                maximum=0,
            ),
            number_field(
                "other_derate",
                "all other losses as a ratio",
                required=False,
                minimum=0,
                maximum=1,
            ),
            number_field("battery_v", "battery", "V", 12.8, above=0),
        ),
    ),
    Worksheet(
        name="energy-day",
        title="A day's energy",
        description="What loads draw in a day, what the sun brings, and how long the "
        "battery lasts.",
        compute=_energy_day,
        fields=(
            Field(
                name="loads",
                kind="table",
                help="everything that draws current",
                example=[
                    {"label": "fridge", "current_a": 4.5, "hours": 24, "duty": 0.35},
                    {"label": "lights", "current_a": 2, "hours": 4, "duty": 1},
                ],
                columns=(
                    Field(name="label", kind="text", help="what it is", required=False),
                    number_field("current_a", "while it runs", "A", minimum=0),
                    number_field("hours", "a day it is on", "h", minimum=0, maximum=24),
                    number_field("duty", "share of that it runs", minimum=0, maximum=1),
                ),
            ),
            number_field("battery_ah", "capacity", "Ah", 100, above=0),
            number_field(
                "usable_ratio", "share that may be used", "", 0.8, above=0, maximum=1
            ),
            number_field("battery_v", "battery", "V", 12.8, above=0),
            number_field(
                "charge_efficiency",
                "share of a charge that is kept; 1 when left out",
                required=False,
                above=0,
                maximum=1,
            ),
            Field(
                name="solar",
                kind="group",
                help="panels lying flat",
                required=False,
                example={"panel_w": 200, "peak_sun_h": 4.2, "derate": 0.7},
                columns=(
                    number_field("panel_w", "rated power", "W", minimum=0),
                    number_field(
                        "peak_sun_h",
                        "peak sun hours on the flat",
                        "h",
                        minimum=0,
                        maximum=MOST_SUN_H,
                    ),
                    number_field(
                        "derate", "yield over rated power", minimum=0, maximum=1
                    ),
                ),
            ),
        ),
    ),
)
