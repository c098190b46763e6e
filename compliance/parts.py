"""The single masses of a build, each with its place and what is missing of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from compliance.findings import Mark
from compliance.inputs import Item, Tank
from compliance.tables import mark, table

Group = Literal["item", "removed", "tank", "person", "luggage", "ball"]


@dataclass(frozen=True, slots=True)
class Part:
    """One mass of the build, with the sentences that say what is missing of it.

    Without a side and without a sentence for it, it is taken in the middle.
    """

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
    z_m: float | None = None
    sideless: str = ""
    heightless: str = ""


def mass_of(part: Part) -> float:
    """Give the mass of a part, nothing while it is not known. [kg]"""
    return part.mass_kg or 0.0


def _sideless(item: Item) -> str:
    if item.y_m is not None:
        return ""
    return f"measure how far left or right {item.label} sits"


def _heightless(item: Item) -> str:
    return "" if item.z_m is not None else f"measure how high {item.label} sits"


def item_parts(item: Item, *, roof: bool) -> Iterator[Part]:
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
        roof=roof,
        missing="" if item.mass_kg is not None else f"weigh {item.label}",
        misplaced="" if item.x_m is not None else f"measure where {item.label} sits",
        z_m=item.z_m,
        sideless=_sideless(item),
        heightless=_heightless(item),
    )
    for part in item.removes:
        yield Part(
            "removed",
            item.key,
            f"{part.label}, taken off",
            -part.mass_kg,
            part.x_m,
            # What is taken off stood on the same side as what replaces it, as high.
            item.y_m if part.y_m is None else part.y_m,
            source="line item",
            z_m=item.z_m if part.z_m is None else part.z_m,
            sideless="" if part.y_m is not None else _sideless(item),
            heightless="" if part.z_m is not None else _heightless(item),
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
    stands: Item | Tank,
    *,
    roof: bool = False,
) -> Part:
    """Give what a tank holds when full; its place is that of what it stands in."""
    source: str = "record"
    known: Mark = "given"
    if density is None and fluid in table("masses"):
        density = float(table("masses")[fluid]["value"])
        source, known = f"{capacity_l:g} l × {density:g} kg/l", mark("masses")
    return Part(
        "tank",
        key,
        label,
        None if density is None else capacity_l * density,
        stands.x_m,
        stands.y_m,
        source=source,
        mark=known,
        fluid=fluid,
        roof=roof,
        missing=""
        if density is not None
        else f"give the density of what {label} holds",
        misplaced="" if stands.x_m is not None else f"measure where {label} sits",
        z_m=stands.z_m,
        sideless=_sideless(stands) if isinstance(stands, Item) else "",
        heightless=_heightless(stands) if isinstance(stands, Item) else "",
    )
