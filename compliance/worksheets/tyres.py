"""Worksheets about tyres: a change of size, what they carry, how long they fill."""

from typing import Any

from compliance.air import fill_time_s, free_air_l, tyre_volume_l
from compliance.findings import Step, verdict
from compliance.tables import citation, table
from compliance.tyres import (
    TyreSize,
    capacity_kg,
    change_percent,
    read_size,
    true_speed,
)
from compliance.worksheets.columns import from_table, line, number_field
from compliance.worksheets.fields import Field, Inputs, Worksheet

SIZE = "nominal size, ISO 4000-1 designation"


def _size(inputs: Inputs, name: str) -> TyreSize:
    try:
        return read_size(inputs.text(name))
    except ValueError as error:
        raise inputs.error(name, f"cannot be read: {error}.") from error


def _tyre(inputs: Inputs) -> dict[str, Any]:
    original = _size(inputs, "original_size").diameter_mm
    new = _size(inputs, "new_size").diameter_mm
    percent = change_percent(original, new)
    speed = true_speed(100, original, new)
    results: dict[str, Any] = {
        "original_mm": original,
        "new_mm": new,
        "change_mm": new - original,
        "change_percent": percent,
        "speedometer_at_100": speed,
    }
    steps = [
        line("original diameter", "rim + 2 × section", original, "mm", SIZE),
        line("new diameter", "rim + 2 × section", new, "mm", SIZE),
        line("change", "100 (new − original) / original", percent, "%", SIZE),
        line("true speed at 100 shown", "100 new / original", speed, "km/h", SIZE),
    ]
    if inputs.has("load_index"):
        carried, step = _carried(inputs)
        results |= carried
        steps.append(step)
    return {**results, "working": steps}


def _carried(inputs: Inputs) -> tuple[dict[str, Any], Step]:
    """What the two tyres of an axle carry, held against its limit if that is given."""
    index = inputs.number("load_index")
    if index != int(index):
        raise inputs.error("load_index", "must be a whole number.")
    try:
        carries = 2 * capacity_kg(int(index))
    except ValueError as error:
        raise inputs.error("load_index", f"cannot be used: {error}.") from error
    results: dict[str, Any] = {"axle_capacity_kg": carries}
    if inputs.has("axle_limit_kg"):
        # The tyres are the limit here: the axle's rating must not exceed them.
        results["verdict"] = verdict(inputs.number("axle_limit_kg"), carries)
    published = index <= table("load_index")["capacity"]["from_memory_above"]
    step = line(
        "an axle's two tyres",
        f"2 × load index {index:g}",
        carries,
        "kg",
        citation("load_index"),
        "published" if published else "from memory",
    )
    return results, step


def _tyre_fill(inputs: Inputs) -> dict[str, Any]:
    low, high = inputs.number("from_psi"), inputs.number("to_psi")
    if high <= low:
        raise inputs.error("to_psi", "must be above the pressure it starts from.")
    if inputs.has("size") == inputs.has("volume_l"):
        raise inputs.error("size", "or volume_l is needed: give one of the two.")
    if inputs.has("size"):
        size = _size(inputs, "size")
        volume = tyre_volume_l(size.width_mm, size.aspect_percent, size.rim_in)
    else:
        volume = inputs.number("volume_l")
    atmosphere = inputs.maybe("atmosphere_psi")
    if atmosphere is None:
        atmosphere = float(table("air")["atmosphere"]["value"])
    free = free_air_l(volume, high - low, atmosphere)
    time = fill_time_s(free, inputs.number("free_air_l_min"))
    return {
        "volume_l": volume,
        "free_air_l": free,
        "time_s": time,
        "working": [
            line("volume", "of the cavity, an upper bound", volume, "l", SIZE),
            from_table("air", "free air", "V Δp / p", free, "l"),
            line(
                "time", "free air / delivery at mid pressure", time, "s", "isothermal"
            ),
        ],
    }


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="tyre",
        title="Change of tyre size",
        description="Diameter, speedometer and what the tyres of an axle carry.",
        compute=_tyre,
        fields=(
            Field(
                name="original_size",
                kind="text",
                help="size on the placard",
                example="265/65R17",
            ),
            Field(
                name="new_size",
                kind="text",
                help="size that is fitted",
                example="285/70R17",
            ),
            number_field(
                "load_index",
                "load index of the new tyre",
                "",
                121,
                False,
                minimum=0,
                maximum=200,
            ),
            number_field(
                "axle_limit_kg",
                "limit of the axle",
                "kg",
                1850,
                False,
                above=0,
                maximum=50_000,
            ),
        ),
    ),
    Worksheet(
        name="tyre-fill",
        title="Filling a tyre",
        description="How long a compressor takes, by what it delivers at mid pressure.",
        compute=_tyre_fill,
        fields=(
            Field(
                name="size",
                kind="text",
                help="tyre size, or give the volume",
                required=False,
                example="265/65R17",
            ),
            number_field("volume_l", "or its volume", "l", required=False, above=0),
            number_field("from_psi", "pressure at the start", "psi", 18, minimum=0),
            number_field("to_psi", "pressure wanted", "psi", 40, above=0, maximum=150),
            number_field("free_air_l_min", "free air delivered", "l/min", 130, above=0),
            number_field(
                "atmosphere_psi",
                "air pressure; standard when left out",
                "psi",
                required=False,
                above=0,
                maximum=20,
            ),
        ),
    ),
)
