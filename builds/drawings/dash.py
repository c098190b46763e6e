"""The switch places as they lie in front of the driver."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from builds.drawings.svg import (
    FAINT,
    INK,
    SOFT,
    WASH,
    WHITE,
    balloon,
    circle,
    clip,
    document,
    element,
    label,
    line,
    wrap,
)

WIDTH = 820.0
_CELL = (96.0, 96.0)
_GAP = 10.0
_HEAD = 26.0
_MOST_ACROSS = 6
_WHEEL = 130.0  # room for the steering wheel at the right of the dash
_GRID = re.compile(r"\brow\s*(\d{1,2})\D+col(?:umn)?\s*(\d{1,2})\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One switch place. Without a legend it is a blank."""

    key: str
    panel: str
    label: str
    legend: str | None
    number: int | None


@dataclass(frozen=True, slots=True)
class _Panel:
    name: str
    cells: list[tuple[int, int, Place]]
    columns: int
    rows: int

    @property
    def width(self) -> float:
        drawn = self.columns * (_CELL[0] + _GAP) + _GAP
        return max(drawn, 9.0 * min(len(self.name), 24) + 2 * _GAP)

    @property
    def height(self) -> float:
        return _HEAD + self.rows * (_CELL[1] + _GAP)


def dash_view(places: Sequence[Place]) -> str:
    """
    Draw every switch place by panel, blanks dashed, each with its item's number.

    Overhead panels stand above the dash, the others below it; in the dash the panel
    called right stands beside the steering wheel of a right-hand-drive vehicle.
    """
    panels = _panels(places)
    above = [p for p in panels if _level(p.name) == 0]
    dash = [p for p in panels if _level(p.name) == 1]
    below = [p for p in panels if _level(p.name) == 2]
    parts: list[str] = []
    y = 16.0
    if above:
        y = _flow(parts, above, y, WIDTH - 16)
    if dash:
        y = _dash_band(parts, sorted(dash, key=_across), y + 8) + 8
    if below:
        y = _flow(parts, below, y, WIDTH - 16)
    if not panels:
        parts.append(label("No switch places are recorded.", 20, 36, 13))
        y = 52.0
    return document(
        parts,
        size=(WIDTH, y + 6),
        title="Switch places",
        desc=_description(places),
    )


def _description(places: Sequence[Place]) -> str:
    if not places:
        return "No switch places are recorded."
    return " ".join(
        f"{p.panel}, {p.label or p.key}: "
        + (f"{p.legend}, item {p.number}." if p.number else f"{p.legend or 'blank'}.")
        for p in places
    )


def _level(name: str) -> int:
    words = name.lower()
    if "roof" in words or "overhead" in words:
        return 0
    return 1 if "dash" in words or "console" in words else 2


def _across(panel: _Panel) -> int:
    """Left, then what says no side, then centre, then right."""
    words = panel.name.lower()
    order = ("left", "", "cent", "right")
    return next((i for i in (0, 2, 3) if order[i] in words), 1)


def _panels(places: Sequence[Place]) -> list[_Panel]:
    named: dict[str, list[Place]] = {}
    for place in places:
        named.setdefault(place.panel, []).append(place)
    return [_panel(name, members) for name, members in named.items()]


def _panel(name: str, members: Sequence[Place]) -> _Panel:
    """Lay places out by "row 1 col 2" where all say so once, else in reading order."""
    spots: list[tuple[int, int]] = []
    for place in members:
        found = _GRID.search(place.label)
        if found:
            spots.append((int(found[1]) - 1, int(found[2]) - 1))
    told = len(set(spots)) == len(members)
    rows = sorted({row for row, _ in spots})
    columns = sorted({column for _, column in spots})
    if told and len(columns) <= _MOST_ACROSS:
        cells = [
            (rows.index(row), columns.index(column), place)
            for (row, column), place in zip(spots, members, strict=True)
        ]
        return _Panel(name, cells, len(columns), len(rows))
    across = min(len(members), _MOST_ACROSS)
    cells = [(i // across, i % across, place) for i, place in enumerate(members)]
    return _Panel(name, cells, across, cells[-1][0] + 1)


def _flow(parts: list[str], panels: Sequence[_Panel], y: float, right: float) -> float:
    """Set panels side by side, starting a new row when the width is used up."""
    x, tallest = 16.0, 0.0
    for panel in panels:
        if x > 16 and x + panel.width > right:
            x, y, tallest = 16.0, y + tallest + _GAP, 0.0
        parts.append(_draw_panel(panel, x, y))
        x += panel.width + _GAP
        tallest = max(tallest, panel.height)
    return y + tallest + _GAP


def _dash_band(parts: list[str], panels: Sequence[_Panel], y: float) -> float:
    inner: list[str] = []
    end = _flow(inner, panels, y + 30, WIDTH - _WHEEL)
    end = max(end, y + _WHEEL + 20)
    top = (
        f"M8 {end + 4:.1f}V{y + 40:.1f}Q10 {y + 12:.1f} 60 {y + 10:.1f}"
        f"C240 {y + 2:.1f} {WIDTH - 300:.1f} {y + 6:.1f} {WIDTH - 150:.1f} {y - 2:.1f}"
        f"Q{WIDTH - 12:.1f} {y - 6:.1f} {WIDTH - 8:.1f} {y + 40:.1f}V{end + 4:.1f}Z"
    )
    parts.append(element("path", d=top, stroke=INK, stroke_width=1.6))
    parts.extend(inner)
    parts.append(_steering_wheel(WIDTH - _WHEEL / 2 - 8, (y + end) / 2 + 8))
    return end + 4


def _steering_wheel(x: float, y: float) -> str:
    size = 46.0
    spokes = [(x - size, y), (x + size, y), (x, y + size)]
    return "".join(
        [
            circle((x, y), size, stroke=SOFT, stroke_width=1.2),
            circle((x, y), size - 7, stroke=SOFT, stroke_width=1.2),
            *(line((x, y), end, stroke=SOFT, stroke_width=5) for end in spokes),
            circle((x, y), 13, fill=WHITE, stroke=SOFT, stroke_width=1.2),
            label("driver", x, y + size + 17, 12, text_anchor="middle", fill=SOFT),
        ]
    )


def _draw_panel(panel: _Panel, x: float, y: float) -> str:
    frame = element(
        "rect",
        x=x,
        y=y,
        width=panel.width,
        height=panel.height,
        rx=9,
        fill=WHITE,
        stroke=INK,
        stroke_width=1.2,
    )
    name = clip(panel.name[:1].upper() + panel.name[1:], panel.width - 2 * _GAP, 13)
    head = label(name, x + _GAP, y + 18, 13, font_weight=600)
    cells = [
        _draw_place(
            place,
            x + _GAP + column * (_CELL[0] + _GAP),
            y + _HEAD + row * (_CELL[1] + _GAP),
        )
        for row, column, place in panel.cells
    ]
    return frame + head + "".join(cells)


def _draw_place(place: Place, x: float, y: float) -> str:
    """Draw a rocker: its halves, the legend between, where it is written below."""
    width, height = _CELL
    blank = place.legend is None
    face = element(
        "rect",
        x=x,
        y=y,
        width=width,
        height=height - 18,
        rx=7,
        fill=WHITE,
        stroke=SOFT if blank else INK,
        stroke_width=1.1 if blank else 1.8,
        stroke_dasharray="5 4" if blank else None,
    )
    where = label(
        clip(place.label or place.key, width, 10.5),
        x + width / 2,
        y + height - 5,
        10.5,
        text_anchor="middle",
        fill=SOFT,
    )
    middle = x + width / 2
    if blank:
        words = label("blank", middle, y + 43, 12, text_anchor="middle", fill=SOFT)
        return face + words + where
    rocker = element(
        "rect", x=x + 4, y=y + 4, width=width - 8, height=21, rx=4, fill=WASH
    )
    dash = line((x + width - 17, y + 11), (x + width - 17, y + 18), stroke=INK)
    edge = line((x + 4, y + 26), (x + width - 4, y + 26), stroke=FAINT)
    rows = wrap(place.legend or "", width - 8, 12, 3)
    first = y + 56.5 - 6.5 * (len(rows) - 1)
    words = "".join(
        label(row, middle, first + 13 * i, 12, text_anchor="middle", font_weight=600)
        for i, row in enumerate(rows)
    )
    item = balloon((x + 15, y + 14.5), place.number, 11) if place.number else ""
    return face + rocker + dash + edge + words + item + where
