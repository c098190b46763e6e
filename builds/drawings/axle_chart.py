"""Front axle load against rear axle load, with the limits drawn as edges."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor

from builds.drawings.chart_axes import (
    Room,
    around,
    figure,
    fit,
    leader,
    step_of,
    swatch,
    text_width,
    ticks,
)
from builds.drawings.svg import (
    FAINT,
    INK,
    SOFT,
    WASH,
    WHITE,
    Point,
    circle,
    document,
    element,
    label,
    line,
    number,
)

WIDTH, HEIGHT = 780.0, 430.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 70.0, 494.0, 34.0, 372.0
_KEY = 520.0
_ROW = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartPoint:
    """One way of loading the vehicle, with expanded uncertainties."""

    label: str
    front_kg: float
    rear_kg: float
    front_u_kg: float = 0.0
    rear_u_kg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLimits:
    """What governs; ``None`` means that it is not recorded."""

    front_axle_kg: float | None
    rear_axle_kg: float | None
    gvm_kg: float | None


@dataclass(frozen=True, slots=True)
class _Scale:
    x0: float
    x1: float
    y0: float
    y1: float

    def at(self, front: float, rear: float) -> Point:
        across = (front - self.x0) / (self.x1 - self.x0)
        up = (rear - self.y0) / (self.y1 - self.y0)
        return _LEFT + across * (_RIGHT - _LEFT), _BOTTOM - up * (_BOTTOM - _TOP)


def axle_chart(
    points: Sequence[ChartPoint],
    limits: ChartLimits,
    path: Sequence[ChartPoint] = (),
) -> str:
    """Draw loading cases as lettered points; below and left of all edges is within.

    ``path`` are the numbered steps from the bare vehicle to the loaded one.
    """
    if not points and not path:
        raise ValueError("an axle chart needs at least one point")
    scale = _scale([*points, *path], limits)
    room = Room((_LEFT + 1, _TOP + 1, _RIGHT - 1, _BOTTOM - 1))
    spots = [scale.at(p.front_kg, p.rear_kg) for p in points]
    steps = [scale.at(p.front_kg, p.rear_kg) for p in path]
    for spot in [*spots, *steps]:
        room.mark(spot, 4.0)
    drawn_limits = _limit_lines(scale, limits, room)
    for a, b in pairwise(steps):
        room.mark_line(a, b)
    lettered = [_mark(room, s, _letter(i), 13, 700) for i, s in enumerate(spots)]
    numbered = [_mark(room, s, str(n), 11, 400) for n, s in enumerate(steps, start=1)]
    key, bottom = _key(points, path)
    parts = [
        _allowed(scale, limits),
        _axes(scale),
        drawn_limits,
        *[_band(scale, p) for p in points],
        _path(steps),
        *[lead for lead, _ in (*lettered, *numbered)],
        *[circle(s, 3.4, fill=INK, stroke=WHITE, stroke_width=1.0) for s in spots],
        *[words for _, words in (*lettered, *numbered)],
        key,
    ]
    return document(
        parts,
        size=(WIDTH, max(HEIGHT, bottom)),
        title="Axle loads against their limits",
        desc=_description(points, limits, path),
    )


def _description(
    points: Sequence[ChartPoint], limits: ChartLimits, path: Sequence[ChartPoint]
) -> str:
    named = (
        ("front axle limit", limits.front_axle_kg),
        ("rear axle limit", limits.rear_axle_kg),
        ("GVM", limits.gvm_kg),
    )
    said = [f"{name} {figure(kg)} kg." for name, kg in named if kg is not None]
    said += [_said(p) for p in points]
    if path:
        said += ["From bare to loaded:", *[_said(p) for p in path]]
    return " ".join(said)


def _said(point: ChartPoint) -> str:
    loads = f"front {figure(point.front_kg)} kg, rear {figure(point.rear_kg)} kg"
    return f"{point.label}: {loads}."


def _scale(points: Sequence[ChartPoint], limits: ChartLimits) -> _Scale:
    fronts = [p.front_kg + s * p.front_u_kg for p in points for s in (-1, 1)]
    rears = [p.rear_kg + s * p.rear_u_kg for p in points for s in (-1, 1)]
    if limits.front_axle_kg is not None:
        fronts.append(limits.front_axle_kg)
    if limits.rear_axle_kg is not None:
        rears.append(limits.rear_axle_kg)
    x0, x1 = _span(fronts)
    y0, y1 = _span(rears)
    return _Scale(x0, x1, y0, y1)


def _span(values: Sequence[float]) -> tuple[float, float]:
    """Round outwards to whole steps, with air on both sides."""
    low, high = min(values), max(values)
    air = max(0.12 * (high - low), 0.02 * abs(high), 10.0)
    step = step_of(high - low + 2 * air)
    return floor((low - air) / step) * step, ceil((high + air) / step) * step


def _axes(scale: _Scale) -> str:
    parts = []
    for value in ticks(scale.x0, scale.x1):
        x, y = scale.at(value, scale.y0)
        parts.append(line((x, _TOP), (x, y + 4), stroke=FAINT, stroke_width=0.5))
        parts.append(label(figure(value), x, y + 18, 12, text_anchor="middle"))
    for value in ticks(scale.y0, scale.y1):
        x, y = scale.at(scale.x0, value)
        parts.append(line((x - 4, y), (_RIGHT, y), stroke=FAINT, stroke_width=0.5))
        parts.append(label(figure(value), x - 8, y + 4, 12, text_anchor="end"))
    corner = f"M{_LEFT} {_TOP}V{_BOTTOM}H{_RIGHT}"
    parts.append(element("path", d=corner, stroke=INK, stroke_width=1.4))
    middle = (_TOP + _BOTTOM) / 2
    parts.append(
        label("Front axle, kg", (_LEFT + _RIGHT) / 2, 412, 13, text_anchor="middle")
    )
    parts.append(
        label(
            "Rear axle, kg",
            16,
            middle,
            13,
            text_anchor="middle",
            transform=f"rotate(-90 16 {middle:.1f})",
        )
    )
    return "".join(parts)


def _clip_region(scale: _Scale, limits: ChartLimits) -> list[Point]:
    """Corners of what no limit forbids, inside the chart, in kilograms."""
    x1 = min(scale.x1, limits.front_axle_kg or scale.x1)
    y1 = min(scale.y1, limits.rear_axle_kg or scale.y1)
    corners = [(scale.x0, scale.y0), (x1, scale.y0), (x1, y1), (scale.x0, y1)]
    gvm = limits.gvm_kg
    if gvm is None:
        return corners
    kept: list[Point] = []
    for i, (a, b) in enumerate(corners):
        c, d = corners[(i + 1) % 4]
        here, there = gvm - a - b, gvm - c - d
        if here >= 0:
            kept.append((a, b))
        if here * there < 0:
            share = here / (here - there)
            kept.append((a + (c - a) * share, b + (d - b) * share))
    return kept


def _allowed(scale: _Scale, limits: ChartLimits) -> str:
    region = _clip_region(scale, limits)
    if len(region) < 3:
        return ""
    corners = " ".join("{:.1f},{:.1f}".format(*scale.at(*p)) for p in region)
    return element("polygon", points=corners, fill=WASH)


def _limit_lines(scale: _Scale, limits: ChartLimits, room: Room) -> str:
    """Draw the limits, each with its name beside it where nothing else stands."""
    parts = []
    strong = {"stroke": INK, "stroke_width": 2.0}
    front, rear, gvm = limits.front_axle_kg, limits.rear_axle_kg, limits.gvm_kg
    ends = [] if gvm is None else _gvm_ends(scale, gvm)
    if ends:
        room.mark_line(*ends)
    if front is not None:
        x, _ = scale.at(front, scale.y0)
        room.mark_line((x, _TOP), (x, _BOTTOM))
        parts.append(line((x, _TOP), (x, _BOTTOM), **strong))
        name = f"front limit {figure(front)} kg"
        middle = min(x, _RIGHT + 8 - text_width(name, 12) / 2)
        parts.append(label(name, middle, _TOP - 8, 12, text_anchor="middle"))
    if rear is not None:
        _, y = scale.at(scale.x0, rear)
        room.mark_line((_LEFT, y), (_RIGHT, y))
        parts.append(line((_LEFT, y), (_RIGHT, y), **strong))
        along = [(float(x), y) for x in range(int(_LEFT) + 4, int(_RIGHT), 12)]
        parts.append(_named(room, f"rear limit {figure(rear)} kg", along))
    if ends:
        parts.append(line(ends[0], ends[1], stroke_dasharray="9 5", **strong))
        (ax, ay), (bx, by) = ends
        along = [(ax + (bx - ax) * i / 40, ay + (by - ay) * i / 40) for i in range(41)]
        parts.append(_named(room, f"GVM {figure(gvm or 0)} kg", along))
    return "".join(parts)


def _gvm_ends(scale: _Scale, gvm: float) -> list[Point]:
    """Where the line of equal mass enters and leaves the chart, if it does."""
    first = max(scale.x0, gvm - scale.y1)
    last = min(scale.x1, gvm - scale.y0)
    if first >= last:
        return []
    return [scale.at(first, gvm - first), scale.at(last, gvm - last)]


def _named(room: Room, words: str, along: Sequence[Point]) -> str:
    """Name a limit above it, on the side that is over, on a slip of white."""
    width = text_width(words, 12) + 6
    above = [(x + 4, y - 20, x + 4 + width, y - 5) for x, y in along]
    below = [(x - 4 - width, y + 5, x - 4, y + 20) for x, y in along]
    box = room.take([*above, *below, *around(along[len(along) // 2], width, 15.0)])
    slip = element("rect", x=box[0], y=box[1], width=width, height=15.0, fill=WHITE)
    return slip + label(words, box[0] + 3, box[1] + 11.5, 12)


def _letter(index: int) -> str:
    return chr(ord("a") + index) if index < 26 else f"z{index - 25}"


def _band(scale: _Scale, point: ChartPoint) -> str:
    """Draw the tolerance of a point as a broken frame round it."""
    if not (point.front_u_kg or point.rear_u_kg):
        return ""
    left, low = scale.at(
        point.front_kg - point.front_u_kg, point.rear_kg - point.rear_u_kg
    )
    right, high = scale.at(
        point.front_kg + point.front_u_kg, point.rear_kg + point.rear_u_kg
    )
    box = {"x": left, "y": high, "width": right - left, "height": low - high}
    return element("rect", **box, stroke=SOFT, stroke_width=1.0, stroke_dasharray="3 2")


def _path(steps: Sequence[Point]) -> str:
    """Join the steps by a line and mark each with a small square."""
    if not steps:
        return ""
    way = "L".join(f"{number(x)} {number(y)}" for x, y in steps)
    squares = [
        element(
            "rect",
            x=x - 2.5,
            y=y - 2.5,
            width=5.0,
            height=5.0,
            fill=WHITE,
            stroke=INK,
            stroke_width=1.2,
        )
        for x, y in steps
    ]
    drawn = element("path", d=f"M{way}", stroke=INK, stroke_width=1.2)
    return drawn + "".join(squares)


def _mark(
    room: Room, spot: Point, words: str, size: float, weight: int
) -> tuple[str, str]:
    """Write a point's letter or a step's number where nothing else stands.

    The line that leads to it comes apart from it: words are drawn upon all lines.
    """
    width = text_width(words, size) + 4
    box = room.take(around(spot, width, size + 2))
    slip = element(
        "rect", x=box[0], y=box[1], width=width, height=size + 2, rx=2, fill=WHITE
    )
    written = label(words, box[0] + 2, box[1] + 0.9 * size, size, font_weight=weight)
    return leader(spot, box), slip + written


def _key(points: Sequence[ChartPoint], path: Sequence[ChartPoint]) -> tuple[str, float]:
    """List what the letters and numbers are; the second is where the list ends."""
    y = _TOP + 6
    parts = [label("front / rear, kg", WIDTH - 6, y, 11, text_anchor="end", fill=SOFT)]
    lettered = [(_letter(i), p) for i, p in enumerate(points)]
    numbered = [(str(n), p) for n, p in enumerate(path, start=1)]
    for head, rows in (("Ways of loading", lettered), ("Bare to loaded", numbered)):
        if not rows:
            continue
        parts.append(label(head, _KEY, y, 12, font_weight=600))
        for sign, point in rows:
            y += _ROW
            parts.append(_key_row(sign, point, y))
        y += 1.5 * _ROW
    if any(p.front_u_kg or p.rear_u_kg for p in points):
        frame = {"stroke": SOFT, "stroke_dasharray": "3 2"}
        size = {"width": 14, "height": 14}
        parts.append(element("rect", x=_KEY, y=y - 11, **size, **frame))
        parts.append(label("tolerance of masses and scales", _KEY + 20, y, 12))
        y += _ROW
    parts.append(swatch(_KEY, y, "within every limit", WASH))
    return "".join(parts), y + 16


def _key_row(sign: str, point: ChartPoint, y: float) -> str:
    loads = f"{figure(point.front_kg)} / {figure(point.rear_kg)}"
    room = WIDTH - 6 - text_width(loads, 12) - _KEY - 30
    name = fit(point.label[:1].upper() + point.label[1:], room, 12)
    return (
        label(sign, _KEY, y, 12, font_weight=700)
        + label(name, _KEY + 20, y, 12)
        + label(loads, WIDTH - 6, y, 12, text_anchor="end")
    )
