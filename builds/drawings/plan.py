"""The vehicle from above: the map that leads round a build."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builds.drawings.balloons import assign, ring
from builds.drawings.bodies import draw_body
from builds.drawings.shape import Pen, VehicleShape, wheel_boxes, zone_boxes
from builds.drawings.svg import (
    ACCENT,
    INK,
    SOFT,
    WHITE,
    Point,
    balloon,
    circle,
    clip,
    document,
    element,
    label,
    line,
    link,
    text_of,
)

__all__ = ["Mark", "VehicleShape", "plan_view"]

# Walk-around order, as everywhere.
ZONE_NAMES = {
    "front": "Front",
    "under-bonnet": "Under the bonnet",
    "left-side": "Left side",
    "roof": "Roof",
    "right-side": "Right side",
    "rear": "Rear",
    "cargo": "Cargo",
    "cabin": "Cabin",
    "underneath": "Underneath",
    "wheels": "Wheels",
    "trailer": "Trailer",
}
_SIDES = {"left-side": 0.9, "right-side": -0.9}

WIDTH = 900.0
RADIUS = 14.0
PITCH = 31.0
_MARGIN = 20.0
_AIR = 44.0  # between the innermost ring and the vehicle
_TOWED = 96.0  # room behind the vehicle for the trailer's place
_MIN_BODY = 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One numbered thing on the vehicle. ``None`` means the place is not recorded."""

    number: int
    label: str
    x_mm: float | None
    y_mm: float | None
    zone: str
    href: str | None = None
    done: bool | None = None


@dataclass(frozen=True, slots=True)
class _Layout:
    pen: Pen
    places: list[Point]
    bottom: float


def plan_view(
    vehicle: VehicleShape,
    marks: Sequence[Mark],
    *,
    zones: Mapping[str, str] | None = None,
) -> str:
    """
    Draw a vehicle from above with its numbered marks, front to the left.

    ``zones`` gives the address that each zone leads to; with it, or with addresses on
    marks, the drawing is a set of links. Marks whose place is not on this drawing are
    listed below it by zone.
    """
    on, off = _sorted_out(vehicle, marks)
    towing = not vehicle.is_trailer and (
        "trailer" in (zones or {}) or any(m.zone == "trailer" for m in marks)
    )
    layout = _lay_out(vehicle, len(on), towing)
    pen = layout.pen
    draw_body(pen, vehicle)
    if towing:
        _trailer_stub(layout, vehicle)
    parts = [
        element("g", "".join(pen.ink)),
        _zone_layer(layout, vehicle, zones or {}, towing),
        _mark_layer(layout, vehicle, on),
    ]
    listed, height = _list_layer(off, layout.bottom)
    parts += [_direction(layout), listed]
    interactive = bool(zones) or any(m.href for m in marks)
    return document(
        parts,
        size=(WIDTH, height),
        title="Vehicle from above",
        desc=_description(vehicle, on, off),
        interactive=interactive,
    )


def _description(vehicle: VehicleShape, on: Sequence[Mark], off: Sequence[Mark]) -> str:
    kind = vehicle.body_type.replace("-", " ")
    said = [f"A {kind} from above, front to the left, {len(on)} numbered places."]
    for zone, name in ZONE_NAMES.items():
        numbers = [str(m.number) for m in (*on, *off) if m.zone == zone]
        if numbers:
            said.append(f"{name}: {', '.join(numbers)}.")
    return " ".join(said)


def _sorted_out(
    vehicle: VehicleShape, marks: Sequence[Mark]
) -> tuple[list[Mark], list[Mark]]:
    """Part the marks into those that stand on this drawing and those that cannot."""
    nose = vehicle.coupling_mm if vehicle.is_trailer else vehicle.nose_mm + 400
    on: list[Mark] = []
    off: list[Mark] = []
    for mark in marks:
        elsewhere = mark.zone == "trailer" and not vehicle.is_trailer
        x = mark.x_mm
        seen = x is not None and vehicle.tail_mm - 700 <= x <= nose + 100
        (on if seen and not elsewhere else off).append(mark)
    return on, off


def _lay_out(vehicle: VehicleShape, count: int, towing: bool) -> _Layout:
    rings = 1
    while True:
        inset = _MARGIN + RADIUS + (rings - 1) * PITCH
        edge = inset + RADIUS + _AIR
        nose = vehicle.coupling_mm if vehicle.is_trailer else vehicle.nose_mm
        across = WIDTH - 2 * edge - (_TOWED if towing else 0.0)
        length = nose - vehicle.end_mm
        scale = min(across / length, 0.42 * across / vehicle.width_mm)
        body = max(vehicle.width_mm * scale, _MIN_BODY)
        right, bottom = WIDTH - inset, 2 * edge + body - inset
        places: list[Point] = []
        for i in range(rings):
            out = i * PITCH
            places += ring(inset - out, inset - out, right + out, bottom + out, PITCH)
        if len(places) >= 1.25 * count or rings > 9:
            break
        rings += 1
    start = edge + (across - length * scale) / 2
    middle = edge + body / 2
    pen = Pen(scale, (start + nose * scale, middle))
    return _Layout(pen, places, 2 * edge + body)


def _trailer_stub(layout: _Layout, vehicle: VehicleShape) -> None:
    pen, half = layout.pen, vehicle.width_mm / 2
    tail = vehicle.tail_mm
    behind = tail - _TOWED / pen.scale
    pen.box(tail, tail - 130, -60, 60, 40, stroke=SOFT)
    for side in (1, -1):
        pen.stroke((tail - 190, side * 30), (behind + 260, side * 0.5 * half))
    pen.stroke((behind + 250, -0.8 * half), (behind + 250, 0.8 * half))
    for side in (1, -1):
        end = (behind + 30, side * 0.8 * half)
        pen.stroke((behind + 250, side * 0.8 * half), end, stroke_dasharray="4 4")


def _zone_layer(
    layout: _Layout, vehicle: VehicleShape, zones: Mapping[str, str], towing: bool
) -> str:
    pen = layout.pen
    boxes = {zone: [box] for zone, box in zone_boxes(vehicle).items()}
    boxes["wheels"] = wheel_boxes(vehicle)
    if towing:
        half = 0.8 * vehicle.width_mm / 2
        tail = vehicle.tail_mm
        behind = tail - _TOWED / pen.scale
        boxes["trailer"] = [(behind + 240, behind, -half, half)]
    parts = []
    for zone, name in ZONE_NAMES.items():
        if zone not in boxes:
            continue
        areas = "".join(_area(pen, box) for box in boxes[zone])
        areas += _zone_name(pen, zone, boxes[zone])
        parts.append(link(areas, zones[zone], name) if zone in zones else areas)
    return element("g", "".join(parts))


def _area(pen: Pen, box: tuple[float, float, float, float]) -> str:
    (x1, y1), (x2, y2) = pen.at(box[0], box[2]), pen.at(box[1], box[3])
    return element(
        "rect",
        x=min(x1, x2),
        y=min(y1, y2),
        width=abs(x2 - x1),
        height=abs(y2 - y1),
        fill=WHITE,
        fill_opacity=0.01,
    )


def _zone_name(
    pen: Pen, zone: str, boxes: Sequence[tuple[float, float, float, float]]
) -> str:
    front, back, right, left = boxes[0]
    # Most things stand on the centre line; the name keeps clear of it.
    beside = 0.0 if zone in (*_SIDES, "wheels") else 0.19 * abs(left - right)
    along = 0.25 if zone in _SIDES else 0.5
    x, y = pen.at(front + along * (back - front), (right + left) / 2 + beside)
    across, down = abs(front - back) * pen.scale, abs(left - right) * pen.scale
    name = clip(ZONE_NAMES[zone], max(across, down), 11)
    turned = 6.2 * len(name) > across and down > across
    return label(
        name,
        x,
        y + 4,
        11,
        text_anchor="middle",
        font_style="italic",
        fill=SOFT,
        transform=f"rotate(-90 {x:.1f} {y:.1f})" if turned else None,
    )


def _spot(pen: Pen, vehicle: VehicleShape, mark: Mark) -> Point:
    """Where a mark really is; without a side recorded, on its zone's side."""
    y = mark.y_mm
    half = vehicle.width_mm / 2
    if y is None:
        y = _SIDES.get(mark.zone, 0.0) * half
    y = max(-half - 300, min(half + 300, y))
    return pen.at(mark.x_mm or 0.0, y)


def _mark_layer(layout: _Layout, vehicle: VehicleShape, marks: Sequence[Mark]) -> str:
    if not marks:
        return ""
    spots = [_spot(layout.pen, vehicle, mark) for mark in marks]
    chosen = [layout.places[i] for i in assign(spots, layout.places)]
    leaders, dots, balloons = [], [], []
    for mark, spot, place in zip(marks, spots, chosen, strict=True):
        leaders.append(line(place, spot, stroke=ACCENT, stroke_width=0.9))
        known = mark.y_mm is not None
        fill = ACCENT if known else WHITE
        dots.append(circle(spot, 2.8, fill=fill, stroke=ACCENT, stroke_width=1.1))
        balloons.append(_linked(mark, place))
    still = element("g", "".join(leaders + dots), pointer_events="none")
    return still + element("g", "".join(balloons))


def _linked(mark: Mark, place: Point) -> str:
    drawn = balloon(place, mark.number, RADIUS, done=bool(mark.done))
    state = {True: ", done", False: ", not done", None: ""}[mark.done]
    title = f"{mark.number} {clip(mark.label, 600, 10)}{state}"
    if mark.href:
        return link(drawn, mark.href, title)
    return element("g", element("title", text_of(title)) + drawn)


def _direction(layout: _Layout) -> str:
    """An arrow to the front, and what the ends of the lines mean."""
    y = layout.bottom + 8
    arrow = line((20, y), (56, y), stroke=INK, stroke_width=1.4)
    head = element(
        "path",
        d=f"M27 {y - 4:.1f}L20 {y:.1f}L27 {y + 4:.1f}",
        stroke=INK,
        stroke_width=1.4,
    )
    words = label("front", 62, y + 4, 12)
    key = circle((720, y), 2.8, fill=ACCENT, stroke=ACCENT) + label(
        "place", 728, y + 4, 12
    )
    ring_key = circle((778, y), 2.8, fill=WHITE, stroke=ACCENT)
    return (
        arrow
        + head
        + words
        + key
        + ring_key
        + label("side not recorded", 786, y + 4, 12)
    )


def _list_layer(marks: Sequence[Mark], top: float) -> tuple[str, float]:
    """List by zone what has no place on this drawing, in rows that fit the width."""
    if not marks:
        return "", top + 24
    y = top + 44.0
    parts = [label("No place on this drawing", 20, y + 4, 12, font_weight=600)]
    x, y = 20.0, y + 26
    for zone in dict.fromkeys([*ZONE_NAMES, *(m.zone for m in marks)]):
        here = [m for m in marks if m.zone == zone]
        if not here:
            continue
        name = clip(ZONE_NAMES.get(zone, zone), 120, 12)
        if x > 20 and x + 112 + PITCH * min(len(here), 3) > WIDTH:
            x, y = 20.0, y + PITCH + 4
        parts.append(label(name, x, y + 4, 12))
        x += 12 + 7.0 * len(name) + RADIUS
        for mark in here:
            if x + RADIUS > WIDTH - 20:
                x, y = 20.0 + RADIUS, y + PITCH + 4
            parts.append(_linked(mark, (x, y)))
            x += PITCH
        x += 10
    return "".join(parts), y + RADIUS + 12
