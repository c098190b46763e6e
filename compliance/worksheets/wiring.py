"""Worksheets about cable: drop, size, constant power behind a cable."""

from typing import Any

from compliance.ampacity import DEFAULT, TABLES, Option, Run, size_label, size_options
from compliance.findings import Step
from compliance.wiring import (
    auto_area_mm2,
    awg_area_mm2,
    constant_power_a,
    run_ohm,
)
from compliance.worksheets.columns import from_table, line, number_field
from compliance.worksheets.fields import Field, Inputs, Worksheet
from compliance.worksheets.planned import planned

OHM = "Ohm's law"

SYSTEM = number_field("system_v", "nominal voltage", "V", 12, above=0, maximum=120)
CONDUCTOR = number_field(
    "conductor_temp_c", "conductor temperature", "°C", 60, minimum=-40, maximum=250
)
RUN = number_field("run_m", "length one way", "m", 6, minimum=0, maximum=200)
AMPS = number_field("current_a", "current", "A", 10, above=0, maximum=10_000)
EXTRA = number_field(
    "extra_ohm", "joints, chassis return", "Ω", required=False, minimum=0, maximum=10
)
INSULATION = number_field(
    "insulation_c", "temperature rating of the insulation", "°C", 105, minimum=40
)
ENGINE = Field(
    name="engine_space",
    kind="flag",
    help="true where the cable runs through the engine space",
    required=False,
    example=True,
)
TABLE = Field(
    name="table",
    kind="choice",
    help="table of ampacities; ISO 10133 from memory when left out",
    required=False,
    choices=tuple(TABLES),
)


def _area(row: Inputs) -> float:
    """Read a copper area by one of its three names. [mm2]"""
    given = [name for name in ("area_mm2", "awg", "auto_mm") if row.has(name)]
    if len(given) != 1:
        raise row.error("area_mm2", "or awg or auto_mm is needed, one of the three.")
    try:
        if row.has("awg"):
            return awg_area_mm2(row.text("awg"))
        if row.has("auto_mm"):
            return auto_area_mm2(row.number("auto_mm"))
    except ValueError as error:
        raise row.error(given[0], f"cannot be used: {error}.") from error
    return row.number("area_mm2")


def _cable_drop(inputs: Inputs) -> dict[str, Any]:
    system, temp = inputs.number("system_v"), inputs.number("conductor_temp_c")
    rows: list[dict[str, float]] = []
    steps: list[Step] = [planned("conductor_c", temp)]
    for count, row in enumerate(inputs.rows("segments"), start=1):
        area, run, amps = _area(row), row.number("run_m"), row.number("current_a")
        ohm = run_ohm(area, run, temp, row.maybe("extra_ohm") or 0.0)
        rows.append({"area_mm2": area, "resistance_ohm": ohm, "drop_v": amps * ohm})
        steps += [
            from_table(
                "conductors",
                f"segment {count}, out and back",
                f"2 × {run:g} m × R′({area:g} mm², {temp:g} °C) + extra",
                ohm,
                "Ω",
            ),
            line(f"segment {count}, drop", f"{amps:g} A × R", amps * ohm, "V", OHM),
        ]
    drop = sum(row["drop_v"] for row in rows)
    steps.append(line("drop", "sum of the segments", drop, "V", OHM))
    percent = 100 * drop / system
    steps.append(line("share", f"100 × drop / {system:g} V", percent, "%", OHM))
    return {
        "drop_v": drop,
        "drop_percent": percent,
        "segments": rows,
        "working": steps,
    }


def _cable_size(inputs: Inputs) -> dict[str, Any]:
    run = Run(
        system_v=inputs.number("system_v"),
        current_a=inputs.number("current_a"),
        run_m=inputs.number("run_m"),
        limit_percent=inputs.number("limit_percent"),
        insulation_c=inputs.number("insulation_c"),
        engine_space=inputs.flag("engine_space"),
        conductor_c=inputs.number("conductor_temp_c"),
        fuse_a=inputs.maybe("fuse_a"),
        by=inputs.text("table", DEFAULT),
    )
    if run.fuse_a is not None and run.fuse_a < run.current_a:
        raise inputs.error("fuse_a", "is less than the current, so it would blow.")
    options = size_options(run)
    place = next((n for n, o in enumerate(options) if not o.fails), None)
    # What governs is what the next smaller size does not satisfy.
    smaller = options[-1] if place is None else options[place - 1] if place else None
    chosen = None if place is None else options[place]
    return {
        "area_mm2": chosen and chosen.area_mm2,
        "size": chosen and size_label(chosen.area_mm2, run.by),
        "governed_by": smaller.fails[0] if smaller else "smallest size",
        "drop_percent": chosen and chosen.drop_percent,
        "ampacity_a": chosen and chosen.ampacity_a,
        "options": [_option_row(option) for option in options],
        "working": _size_working(run, chosen, options[-1]),
    }


def _option_row(option: Option) -> dict[str, object]:
    return {
        "area_mm2": option.area_mm2,
        "drop_percent": option.drop_percent,
        "ampacity_a": option.ampacity_a or 0.0,
        "ok": not option.fails,
    }


def _size_working(run: Run, chosen: Option | None, largest: Option) -> list[Step]:
    shown = chosen or largest
    label = size_label(shown.area_mm2, run.by)
    steps = [
        planned("conductor_c", run.conductor_c),
        planned("drop_limit_charging_percent", run.limit_percent),
        from_table(
            "conductors",
            f"drop of {label}",
            f"100 × 2 × {run.run_m:g} m × {run.current_a:g} A × R′ / {run.system_v:g} V",
            shown.drop_percent,
            "%",
        ),
        from_table(
            TABLES[run.by],
            f"ampacity of {label}",
            f"{run.insulation_c:g} °C insulation"
            + (", engine space" if run.engine_space else ""),
            shown.ampacity_a or 0.0,
            "A",
        ),
    ]
    if chosen is None:
        steps.append(
            line(
                "no size of the table is enough",
                "fails " + ", ".join(largest.fails),
                largest.area_mm2,
                "mm²",
                "comparison",
            )
        )
    return steps


def _constant_power(inputs: Inputs) -> dict[str, Any]:
    source = inputs.number("source_v")
    taken = inputs.number("power_w") / inputs.number("efficiency")
    ohm, steps = _resistance(inputs)
    current = constant_power_a(taken, source, ohm)
    steps = [line("taken at the far end", "P / η", taken, "W", "power"), *steps]
    if current is None:
        most = source**2 / (4 * ohm)
        steps.append(line("most that this run supplies", "V² / 4R", most, "W", OHM))
        return {"feasible": False, "working": steps}
    end = source - current * ohm
    steps += [
        line("current", "(V - √(V² - 4PR)) / 2R", current, "A", OHM),
        line("voltage at the load", "V - I R", end, "V", OHM),
    ]
    return {
        "feasible": True,
        "current_a": current,
        "terminal_v": end,
        "working": steps,
    }


def _resistance(inputs: Inputs) -> tuple[float, list[Step]]:
    """Read a resistance, given as such or by the cable."""
    cable = ("area_mm2", "run_m", "conductor_temp_c", "extra_ohm")
    ohm = inputs.maybe("resistance_ohm")
    if ohm is not None:
        for name in cable:
            if inputs.has(name):
                raise inputs.error(name, "is given besides resistance_ohm; give one.")
        return ohm, []
    area, run, temp = (inputs.number(name) for name in cable[:3])
    ohm = run_ohm(area, run, temp, inputs.maybe("extra_ohm") or 0.0)
    formula = f"2 × {run:g} m × R′({area:g} mm², {temp:g} °C) + extra"
    return ohm, [from_table("conductors", "out and back", formula, ohm, "Ω")]


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="cable-drop",
        title="Voltage drop",
        description="What cables lose between the battery and a load. Each segment "
        "carries its own current, a feeder the sum of what it feeds.",
        compute=_cable_drop,
        fields=(
            SYSTEM,
            CONDUCTOR,
            Field(
                name="segments",
                kind="table",
                help="the cables one after the other, from the battery",
                example=[
                    {"area_mm2": 16, "run_m": 3, "current_a": 25},
                    {"awg": "10", "run_m": 4, "current_a": 8, "extra_ohm": 0.002},
                    {"auto_mm": 4, "run_m": 1, "current_a": 4},
                ],
                columns=(
                    number_field(
                        "area_mm2",
                        "copper area",
                        "mm²",
                        required=False,
                        above=0,
                        maximum=1000,
                    ),
                    Field(
                        name="awg",
                        kind="size",
                        help="or its AWG or B&S number, 1/0 to 4/0 for the large ones",
                        required=False,
                    ),
                    number_field(
                        "auto_mm",
                        "or the number an auto cable is sold by, not its area",
                        "mm",
                        required=False,
                        above=0,
                    ),
                    RUN,
                    number_field("current_a", "current", "A", minimum=0),
                    EXTRA,
                ),
            ),
        ),
    ),
    Worksheet(
        name="cable-size",
        title="Cable size",
        description="The smallest cable that keeps the drop, carries the current and "
        "is protected by its fuse, and which of the three governs.",
        compute=_cable_size,
        fields=(
            SYSTEM,
            AMPS,
            RUN,
            number_field("limit_percent", "drop allowed", "%", 3, above=0, maximum=100),
            CONDUCTOR,
            INSULATION,
            ENGINE,
            number_field("fuse_a", "fuse in front of it", "A", 15, required=False),
            TABLE,
        ),
    ),
    Worksheet(
        name="constant-power",
        title="Constant power over a cable",
        description="Current of an inverter or converter behind a cable: the lower its "
        "voltage, the more it draws, up to where it cannot be supplied.",
        compute=_constant_power,
        fields=(
            number_field("power_w", "power put out", "W", 1000, above=0),
            number_field(
                "efficiency", "output over input, 0 to 1", "", 0.9, above=0, maximum=1
            ),
            number_field("source_v", "voltage at the battery", "V", 12.8, above=0),
            number_field(
                "resistance_ohm",
                "out and back, instead of the cable",
                "Ω",
                required=False,
                minimum=0,
            ),
            number_field(
                "area_mm2",
                "copper area",
                "mm²",
                50,
                required=False,
                above=0,
                maximum=1000,
            ),
            number_field(
                "run_m", "length one way", "m", 1.2, required=False, minimum=0
            ),
            number_field(
                "conductor_temp_c",
                "conductor temperature",
                "°C",
                60,
                required=False,
                minimum=-40,
                maximum=250,
            ),
            EXTRA,
        ),
    ),
)
