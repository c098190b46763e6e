"""The single masses of a build, each with its place and what is missing of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from compliance.findings import Mark
from compliance.inputs import Item
from compliance.tables import mark, table

Group = Literal["item", "removed", "tank", "person", "luggage", "ball"]


@dataclass(frozen=True, slots=True)
class Part:
    """One mass of the build; the sentence that says what is missing, if anything."""

    group: Group
    key: str
    label: str
    mass_kg: float | None
    x_m: float | None
    y_m: float | None = None
    half_width_kg: float | None = None
    x_half_width_m: float | None = None
    source: str = ""
    mark: Mark = "given"
    fluid: str = ""
    roof: bool = False
    missing: str = ""
    misplaced: str = ""


def mass_of(part: Part) -> float:
    """Give the mass of a part, nothing while it is not known. [kg]"""
    return part.mass_kg or 0.0


def item_parts(item: Item) -> Iterator[Part]:
    """Give an item as fitted and each original part that it takes off."""
    yield Part(
        "item",
        item.key,
        item.label,
        item.mass_kg,
        item.x_m,
        item.y_m,
        item.mass_half_width_kg,
        item.x_half_width_m,
        source="line item",
        roof=item.zone == "roof",
        missing="" if item.mass_kg is not None else f"weigh {item.label}",
        misplaced="" if item.x_m is not None else f"measure where {item.label} sits",
    )
    for part in item.removes:
        yield Part(
            "removed",
            item.key,
            f"{part.label}, taken off",
            -part.mass_kg,
            part.x_m,
            # What is taken off stood on the same side as what replaces it.
            item.y_m if part.y_m is None else part.y_m,
            source="line item",
            misplaced=""
            if part.x_m is not None
            else f"measure where {part.label} sat before it was taken off",
        )


def tank_part(
    key: str,
    label: str,
    fluid: str,
    capacity_l: float,
    density: float | None,
    stands: object,
) -> Part:
    """Give what a tank holds when full; its place is that of what it stands in."""
    source: str = "record"
    known: Mark = "given"
    if density is None and fluid in table("masses"):
        density = float(table("masses")[fluid]["value"])
        source, known = f"{capacity_l:g} l × {density:g} kg/l", mark("masses")
    x_m = getattr(stands, "x_m", None)
    return Part(
        "tank",
        key,
        label,
        None if density is None else capacity_l * density,
        x_m,
        getattr(stands, "y_m", None),
        source=source,
        mark=known,
        fluid=fluid,
        roof=getattr(stands, "zone", "") == "roof",
        missing=""
        if density is not None
        else f"give the density of what {label} holds",
        misplaced="" if x_m is not None else f"measure where {label} sits",
    )
