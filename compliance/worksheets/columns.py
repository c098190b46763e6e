"""What several worksheets ask for and write in the same words."""

from typing import Any

from compliance import tables
from compliance.findings import Mark, Step
from compliance.worksheets.fields import Field

MOMENTS = "sum of moments"
SUM = "sum of masses"


def line(
    label: str,
    formula: str,
    value: float,
    unit: str = "kg",
    source: str = SUM,
    mark: Mark = "derived",
) -> Step:
    """Write one line of working."""
    return Step(
        label=label, formula=formula, value=value, unit=unit, source=source, mark=mark
    )


def from_table(
    name: str, label: str, formula: str, value: float, unit: str, entry: str = ""
) -> Step:
    """Write one line of working whose number stands in a table."""
    source = tables.citation(name, entry)
    return line(label, formula, value, unit, source, tables.mark(name, entry))


def number_field(
    name: str,
    help: str,
    unit: str = "",
    example: float | None = None,
    required: bool = True,
    **bounds: Any,
) -> Field:
    """Ask for a number, within the bounds that are given."""
    return Field(
        name=name, help=help, unit=unit, example=example, required=required, **bounds
    )


def mass_field(
    name: str, help: str, example: float | None = None, **more: Any
) -> Field:
    """Ask for a mass, not negative unless its bounds say so. [kg]"""
    return Field(
        name=name,
        help=help,
        unit="kg",
        example=example,
        **{"minimum": 0, "maximum": 1e6, **more},
    )


def length_field(
    name: str, help: str, example: float | None = None, **more: Any
) -> Field:
    """Ask for a place or a distance. [m]"""
    return Field(
        name=name,
        help=help,
        unit="m",
        example=example,
        **{"minimum": -50, "maximum": 50, **more},
    )


WHEELBASE = length_field(
    "wheelbase_m", "distance between the axle centres", 3.2, minimum=0.5
)
