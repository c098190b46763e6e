"""Worksheets about protection: the fuse for a load, and a short circuit."""

from typing import Any

from compliance.ampacity import (
    DEFAULT,
    TABLES,
    ampacity_a,
    largest_fuse_a,
    next_fuse_a,
    smallest_area_mm2,
)
from compliance.findings import Step
from compliance.tables import citation, mark, table
from compliance.wiring import fault_current_a, withstand_s
from compliance.worksheets.columns import from_table, line, number_field
from compliance.worksheets.fields import Inputs, Worksheet
from compliance.worksheets.planned import planned
from compliance.worksheets.wiring import AMPS, ENGINE, INSULATION, OHM, TABLE

FACTOR = number_field(
    "load_factor",
    "share of a fuse that may be used all the time, 0 to 1",
    "",
    0.8,
    above=0,
    maximum=1,
)


def _fuse(inputs: Inputs) -> dict[str, Any]:
    factor, by = inputs.number("load_factor"), inputs.text("table", DEFAULT)
    insulation, engine = inputs.number("insulation_c"), inputs.flag("engine_space")
    minimum = inputs.number("current_a") / factor
    fuse, area, smallest = next_fuse_a(minimum), inputs.maybe("area_mm2"), None
    if fuse is not None:
        smallest = smallest_area_mm2(fuse, insulation, engine_space=engine, by=by)
    cable = smallest if area is None else area
    amps = None
    if cable is not None:
        amps = ampacity_a(cable, insulation, engine_space=engine, by=by)
    feasible = fuse is not None and amps is not None and fuse <= amps + 1e-9
    of = planned("fuse_load_factor", factor)
    steps = [
        of,
        line("smallest rating", f"I / {factor:g}", minimum, "A", of.source, of.mark),
    ]
    if fuse is not None:
        steps.append(
            from_table("fuses", "fuse of the series", "next", fuse, "A", "series")
        )
    if amps is not None:
        name = f"ampacity of {cable:g} mm²"
        place = f"{insulation:g} °C insulation" + (", engine space" if engine else "")
        steps.append(from_table(TABLES[by], name, place, amps, "A"))
        largest = largest_fuse_a(amps) or 0.0
        name = "largest fuse this cable allows"
        steps.append(
            from_table("fuses", name, "fuse ≤ ampacity", largest, "A", "series")
        )
    return {
        "minimum_a": minimum,
        "fuse_a": fuse if feasible else None,
        "ampacity_a": amps,
        "feasible": feasible,
        "smallest_area_mm2": smallest,
        "working": steps,
    }


def _fault_current(inputs: Inputs) -> dict[str, Any]:
    volts, ohm = inputs.number("source_v"), inputs.number("resistance_mohm") / 1000
    fault = fault_current_a(volts, ohm)
    stands, stood = _withstand(inputs, fault)
    devices = [
        {"kind": kind, "interrupt_a": float(breaks), "ok": fault <= breaks}
        for kind, breaks in table("fuses")["interrupt"]["value"].items()
    ]
    broken = [
        line(
            f"{device['kind']} fuse breaks",
            "interrupt rating",
            float(device["interrupt_a"]),
            "A",
            citation("fuses"),
            "from memory" if device["kind"] in ("maxi", "anl") else mark("fuses"),
        )
        for device in devices
    ]
    return {
        "current_a": fault,
        "devices": devices,
        "withstand_s": stands,
        "working": [line("into a short", "V / R", fault, "A", OHM), *stood, *broken],
    }


def _withstand(inputs: Inputs, fault: float) -> tuple[float | None, list[Step]]:
    """Time that the cable stands the current, where a cable is given."""
    area, given = inputs.maybe("area_mm2"), inputs.maybe("withstand_k")
    if area is None:
        if given is not None:
            raise inputs.error("area_mm2", "is needed with withstand_k.")
        return None, []
    k = float(table("fuses")["withstand_k"]["value"]["pvc"] if given is None else given)
    stands, formula = withstand_s(area, fault, k), f"({k:g} × {area:g} / I)²"
    source = "IEC 60364-4-43"
    row = line("cable stands it for", formula, stands, "s", source, "from memory")
    return stands, [row]


SHEETS: tuple[Worksheet, ...] = (
    Worksheet(
        name="fuse",
        title="Fuse",
        description="The smallest fuse for a load, and the smallest cable that this "
        "fuse protects. A fuse stated by a maker comes first.",
        compute=_fuse,
        fields=(
            AMPS,
            FACTOR,
            number_field(
                "area_mm2", "copper area", "mm²", required=False, above=0, maximum=1000
            ),
            INSULATION,
            ENGINE,
            TABLE,
        ),
    ),
    Worksheet(
        name="fault-current",
        title="Short circuit",
        description="Current into a dead short, which fuses break it, and how long "
        "the cable stands it. Never short a battery to find out.",
        compute=_fault_current,
        fields=(
            number_field("source_v", "open-circuit voltage", "V", 14, above=0),
            number_field(
                "resistance_mohm",
                "cells, links and cable together",
                "mΩ",
                3.75,
                above=0,
            ),
            number_field("area_mm2", "copper area", "mm²", 35, required=False, above=0),
            number_field(
                "withstand_k",
                "factor of the insulation, 115 PVC, 143 XLPE",
                "",
                required=False,
                above=0,
                maximum=1000,
            ),
        ),
    ),
)
