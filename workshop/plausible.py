"""What a sheet's figures cannot be, and what is odd about them.

Plain geometry and arithmetic, derived; none of it stands for a rule of any code.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workshop.models import Sheet, Vehicle

BEHIND = "Behind the front axle is negative."


def _known(sheet: Sheet, name: str) -> Decimal | None:
    value = getattr(sheet, name)
    return Decimal(value) if isinstance(value, int | Decimal) else None


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"


def impossible(sheet: Sheet) -> dict[str, list[str]]:
    """Say at which fields a sheet contradicts itself."""
    faults: dict[str, list[str]] = {}
    found = [*_mass_faults(sheet), *_outline_faults(sheet)]
    if not sheet.is_trailer:
        found += _place_faults(sheet)
    for name, sentence in found:
        faults.setdefault(name, []).append(sentence)
    return faults


def _mass_faults(sheet: Sheet) -> list[tuple[str, str]]:
    found = []
    total, gvm = _known(sheet, "base_mass_kg"), _known(sheet, "gvm_kg")
    front, rear = _known(sheet, "base_front_kg"), _known(sheet, "base_rear_kg")
    if front is not None and rear is not None and total is not None:
        gap = total - front - rear
        interval = _known(sheet, "scale_interval_kg") or Decimal(1)
        # Each of the three readings may be half an interval off.
        if abs(gap) > interval * 3 / 2:
            sentence = (
                f"Front and rear make {_plain(front + rear)} kg, "
                f"{'+' if gap > 0 else ''}{_plain(gap)} kg from this. "
                "Read the ticket again."
            )
            found.append(("base_mass_kg", sentence))
    if total is None and front is not None and rear is not None:
        total = front + rear
    left = _known(sheet, "base_left_kg")
    if left is not None and total is not None and left >= total:
        sentence = (
            f"The whole vehicle is {_plain(total)} kg. Enter its left wheels only."
        )
        found.append(("base_left_kg", sentence))
    if gvm is not None and total is not None and total > gvm:
        sentence = "This is above the GVM. Check the unit."
        found.append(("base_mass_kg", sentence))
    return found


def _outline_faults(sheet: Sheet) -> list[tuple[str, str]]:
    found = []
    track, width = _known(sheet, "track_mm"), _known(sheet, "width_mm")
    if track is not None and width is not None and track > width:
        sentence = f"The wheels would stand outside the vehicle, {width} mm wide."
        found.append(("track_mm", sentence))
    centre, height = _known(sheet, "cg_height_mm"), _known(sheet, "height_mm")
    if centre is not None and height is not None and centre >= height:
        sentence = f"This is above the roof, {height} mm up. Check the unit."
        found.append(("cg_height_mm", sentence))
    wheelbase = _known(sheet, "wheelbase_mm")
    if wheelbase is None or sheet.is_trailer:
        return found
    for name in ("front_overhang_mm", "rear_overhang_mm", "ball_overhang_mm"):
        overhang = _known(sheet, name)
        if overhang is not None and overhang > wheelbase:
            sentence = f"This is longer than the wheelbase, {wheelbase} mm."
            found.append((name, f"{sentence} Measure from the axle centre."))
    return found


def _place_faults(sheet: Sheet) -> list[tuple[str, str]]:
    """Find what would stand outside the vehicle, mostly for want of a minus."""
    front, width = _known(sheet, "front_overhang_mm"), _known(sheet, "width_mm")
    wheelbase, rear = _known(sheet, "wheelbase_mm"), _known(sheet, "rear_overhang_mm")
    end = None if wheelbase is None or rear is None else -wheelbase - rear

    def outside(x: Decimal, what: str) -> str:
        if front is not None and x > front:
            return f"{what} would be ahead of the front end. {BEHIND}"
        if end is not None and x < end:
            return f"{what} would be behind the rear end, at {end} mm."
        return ""

    found = []
    tank = _known(sheet, "fuel_tank_x_mm")
    if tank is not None and (sentence := outside(tank, "The tank")):
        found.append(("fuel_tank_x_mm", sentence))
    for seat in sheet.seats:
        what, y = f"The seat {seat['key']}", seat.get("y_mm")
        if sentence := outside(Decimal(seat["x_mm"]), what):
            found.append(("seats", sentence))
        if y is not None and width is not None and abs(y) * 2 > width:
            sentence = f"{what} would be outside, {width} mm wide. y is to the left."
            found.append(("seats", sentence))
    return found


PAIRS = (
    ("gvm_kg", "GVM", "gcm_kg", "GCM"),
    ("gtm_kg", "GTM", "atm_kg", "ATM"),
    ("ball_kg", "ball mass limit", "braked_towing_kg", "braked towing capacity"),
    ("base_front_kg", "front axle's own load", "front_axle_kg", "limit of it"),
    ("base_rear_kg", "rear axle's own load", "rear_axle_kg", "limit of it"),
)
"""Ratings of which the first is never above the second."""


def rating_warnings(vehicle: Vehicle) -> list[str]:
    """Say which ratings look misread; a plate may still say so, so none is refused."""
    found = []
    front, rear = _known(vehicle, "front_axle_kg"), _known(vehicle, "rear_axle_kg")
    gvm = _known(vehicle, "gvm_kg")
    axles = None if front is None or rear is None else front + rear
    if axles is not None and gvm is not None and axles < gvm:
        found.append(
            f"The axle limits make {_plain(axles)} kg together, less than the GVM, "
            f"{_plain(gvm)} kg. Compare them with the plate."
        )
    for less, words, more, limit in PAIRS:
        low, high = _known(vehicle, less), _known(vehicle, more)
        if low is not None and high is not None and low > high:
            found.append(
                f"The {words}, {_plain(low)} kg, is above the {limit}, "
                f"{_plain(high)} kg. Compare them with the plate."
            )
    return found
