"""Front axle load against rear axle load, with the limits drawn as edges."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, dist, floor, log10

from builds.drawings.svg import (
    FAINT,
    INK,
    SOFT,
    WASH,
    WHITE,
    Point,
    circle,
    clip,
    document,
    element,
    label,
    line,
)

WIDTH, HEIGHT = 760.0, 430.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 66.0, 490.0, 34.0, 372.0


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


def axle_chart(points: Sequence[ChartPoint], limits: ChartLimits) -> str:
    """Draw loading cases as lettered points; below and left of all edges is within."""
    if not points:
        raise ValueError("an axle chart needs at least one point")
    scale = _scale(points, limits)
    parts = [
        _allowed(scale, limits),
        _axes(scale),
        _limit_lines(scale, limits),
        *_points(scale, points),
        _key(points),
    ]
    height = max(HEIGHT, 96.0 + 46 * len(points))
    return document(
        parts,
        size=(WIDTH, height),
        title="Axle loads against their limits",
        desc=_description(points, limits),
    )


def _description(points: Sequence[ChartPoint], limits: ChartLimits) -> str:
    named = (
        ("front axle limit", limits.front_axle_kg),
        ("rear axle limit", limits.rear_axle_kg),
        ("GVM", limits.gvm_kg),
    )
    said = [f"{name} {kg:.0f} kg." for name, kg in named if kg is not None]
    said += [
        f"{p.label}: front {p.front_kg:.0f} kg, rear {p.rear_kg:.0f} kg."
        for p in points
    ]
    return " ".join(said)


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
    step = _step(high - low + 2 * air)
    return floor((low - air) / step) * step, ceil((high + air) / step) * step


def _step(span: float) -> float:
    rough = span / 8
    power = 10.0 ** floor(log10(rough))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999)


def _ticks(low: float, high: float) -> list[float]:
    step = _step(high - low)
    first = ceil(low / step - 1e-6)
    return [step * i for i in range(first, floor(high / step + 1e-6) + 1)]


def _axes(scale: _Scale) -> str:
    parts = []
    for value in _ticks(scale.x0, scale.x1):
        x, y = scale.at(value, scale.y0)
        parts.append(line((x, _TOP), (x, y + 4), stroke=FAINT, stroke_width=0.5))
        parts.append(label(f"{value:.0f}", x, y + 18, 12, text_anchor="middle"))
    for value in _ticks(scale.y0, scale.y1):
        x, y = scale.at(scale.x0, value)
        parts.append(line((x - 4, y), (_RIGHT, y), stroke=FAINT, stroke_width=0.5))
        parts.append(label(f"{value:.0f}", x - 8, y + 4, 12, text_anchor="end"))
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


def _limit_lines(scale: _Scale, limits: ChartLimits) -> str:
    parts = []
    strong = {"stroke": INK, "stroke_width": 2.0}
    if limits.front_axle_kg is not None:
        x, _ = scale.at(limits.front_axle_kg, scale.y0)
        parts.append(line((x, _TOP), (x, _BOTTOM), **strong))
        name = f"front limit {limits.front_axle_kg:.0f} kg"
        parts.append(label(name, x, _TOP - 8, 12, text_anchor="middle"))
    if limits.rear_axle_kg is not None:
        _, y = scale.at(scale.x0, limits.rear_axle_kg)
        parts.append(line((_LEFT, y), (_RIGHT, y), **strong))
        name = f"rear limit {limits.rear_axle_kg:.0f} kg"
        parts.append(_boxed(name, _RIGHT - 4, y - 7, anchor="end"))
    if limits.gvm_kg is not None:
        parts.append(_gvm_line(scale, limits.gvm_kg))
    return "".join(parts)


def _gvm_line(scale: _Scale, gvm: float) -> str:
    first = max(scale.x0, gvm - scale.y1)
    last = min(scale.x1, gvm - scale.y0)
    if first >= last:
        return ""
    a, b = scale.at(first, gvm - first), scale.at(last, gvm - last)
    drawn = line(a, b, stroke=INK, stroke_width=2.0, stroke_dasharray="9 5")
    # Beside the upper end, on the side that is over.
    return drawn + _boxed(f"GVM {gvm:.0f} kg", a[0] + 12, max(a[1] - 6, _TOP + 14))


def _boxed(words: str, x: float, y: float, anchor: str = "start") -> str:
    """Words on a white slip, so that lines behind them do not strike them out."""
    width = 6.6 * len(words)
    left = x - 3 if anchor == "start" else x - width
    slip = element("rect", x=left, y=y - 11, width=width + 3, height=14.0, fill=WHITE)
    return slip + label(words, x, y, 12, text_anchor=anchor)


def _letter(index: int) -> str:
    return chr(ord("a") + index) if index < 26 else str(index - 25)


def _points(scale: _Scale, points: Sequence[ChartPoint]) -> list[str]:
    """Draw each point; where several coincide their letters take other corners."""
    drawn: list[str] = []
    spots: list[Point] = []
    for i, point in enumerate(points):
        spot = scale.at(point.front_kg, point.rear_kg)
        near = sum(dist(spot, earlier) < 18 for earlier in spots)
        drawn.append(_point(scale, i, point, near % 4))
        spots.append(spot)
    return drawn


def _point(scale: _Scale, index: int, point: ChartPoint, corner: int) -> str:
    """A lettered point with its tolerance as a cross of bars."""
    x, y = scale.at(point.front_kg, point.rear_kg)
    parts = []
    if point.front_u_kg or point.rear_u_kg:
        left, low = scale.at(
            point.front_kg - point.front_u_kg, point.rear_kg - point.rear_u_kg
        )
        right, high = scale.at(
            point.front_kg + point.front_u_kg, point.rear_kg + point.rear_u_kg
        )
        box = {"x": left, "y": high, "width": right - left, "height": low - high}
        parts.append(
            element(
                "rect", **box, stroke=SOFT, stroke_width=1.0, stroke_dasharray="3 2"
            )
        )
    parts.append(circle((x, y), 3.2, fill=INK, stroke=WHITE, stroke_width=1.0))
    x, y = x + (7 if corner in (0, 2) else -16), y + (-5 if corner < 2 else 16)
    slip = element("rect", x=x - 2, y=y - 12, width=12.0, height=14.0, rx=2, fill=WHITE)
    parts.append(slip + label(_letter(index), x, y, 13, font_weight=700))
    return "".join(parts)


def _key(points: Sequence[ChartPoint]) -> str:
    x, y = _RIGHT + 34, _TOP + 6
    parts = []
    for i, point in enumerate(points):
        parts.append(label(_letter(i), x, y, 13, font_weight=700))
        name = point.label[:1].upper() + point.label[1:]
        parts.append(label(clip(name, 205, 13), x + 20, y, 13))
        numbers = f"front {point.front_kg:.0f}, rear {point.rear_kg:.0f} kg"
        parts.append(label(numbers, x + 20, y + 17, 12, fill=SOFT))
        y += 46
    slip = element("rect", x=x, y=y - 10, width=14, height=14, fill=WASH, stroke=INK)
    parts.append(slip + label("within every limit", x + 20, y + 2, 12, fill=SOFT))
    return "".join(parts)
