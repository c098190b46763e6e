"""Motor vehicles from above, and the choice of body."""

from collections.abc import Callable

from builds.drawings.shape import CABS, Pen, VehicleShape, wheel_boxes
from builds.drawings.svg import FAINT, SOFT, WASH, WHITE
from builds.drawings.trailers import camper, caravan, plant


def draw_body(pen: Pen, shape: VehicleShape) -> None:
    """Draw wheels, hull and what makes this body recognisable."""
    _wheels(pen, shape)
    _DETAILS[shape.body_type](pen, shape)


def _wheels(pen: Pen, shape: VehicleShape) -> None:
    for x in shape.axles_mm:
        half = shape.track_mm / 2
        pen.stroke((x, -half), (x, half), stroke=FAINT, stroke_dasharray="8 3 2 3")
    for box in wheel_boxes(shape):
        pen.box(*box, radius=70, fill=WASH, stroke=SOFT)


def _hull(pen: Pen, shape: VehicleShape) -> None:
    half, nose, tail = shape.width_mm / 2, shape.nose_mm, shape.tail_mm
    reach = min(shape.front_overhang_mm, 900.0)
    profile = [
        (nose, 0.44 * half),
        (nose - 0.08 * reach, 0.78 * half),
        (nose - 0.44 * reach, 0.96 * half),
        (-0.35 * shape.wheelbase_mm, half),
        (tail + 260, half),
        (tail, 0.95 * half),
    ]
    mirrored = [(x, -y) for x, y in reversed(profile)]
    pen.shape(profile + mirrored, 130, stroke_width=2.0)


def _bonnet(pen: Pen, shape: VehicleShape, foot: float) -> None:
    half, nose = shape.width_mm / 2, shape.nose_mm
    lip = nose - 0.22 * min(shape.front_overhang_mm, 900.0)
    edge = [
        (lip, 0.60 * half),
        (lip - 90, 0.74 * half),
        (foot + 60, 0.84 * half),
        (foot, 0.70 * half),
    ]
    pen.shape(edge + [(x, -y) for x, y in reversed(edge)], 110)
    for y in (0.40 * half, -0.40 * half):
        pen.stroke((lip - 120, y * 0.85), (foot + 90, y), stroke=SOFT)
    lamp = [
        (nose - 70, 0.60 * half),
        (lip - 20, 0.66 * half),
        (lip - 170, 0.80 * half),
        (lip - 190, 0.92 * half),
        (nose - 110, 0.80 * half),
    ]
    pen.both(lamp, 40)
    pen.stroke((nose - 60, -0.5 * half), (nose - 60, 0.5 * half), stroke=SOFT)


def _glasshouse(
    pen: Pen, shape: VehicleShape, foot: float, top: float, back: float
) -> None:
    half = shape.width_mm / 2
    screen = [(foot, 0.74 * half), (top, 0.66 * half)]
    pen.shape(screen + [(x, -y) for x, y in reversed(screen)], 90, fill=WASH)
    roof = [(top - 20, 0.68 * half), (back + 40, 0.68 * half)]
    pen.shape(roof + [(x, -y) for x, y in reversed(roof)], 90)
    glass = [
        (foot - 120, 0.80 * half),
        (top - 60, 0.72 * half),
        (back + 60, 0.72 * half),
        (back + 20, 0.84 * half),
        (foot - 60, 0.88 * half),
    ]
    pen.both(glass, 50, fill=WASH, stroke=SOFT)
    mirror = [
        (foot - 170, 0.97 * half),
        (foot - 130, half + 190),
        (foot - 290, half + 200),
        (foot - 300, 0.98 * half),
    ]
    pen.both(mirror, 50, fill=WHITE)


def _doors(pen: Pen, shape: VehicleShape, *seams: float) -> None:
    half = shape.width_mm / 2
    for x in seams:
        for side in (1, -1):
            pen.stroke((x, side * 0.73 * half), (x, side * 0.99 * half))
            handle = side * 0.93 * half
            pen.stroke((x + 90, handle), (x + 220, handle), stroke_width=1.6)


def _cab(shape: VehicleShape) -> tuple[float, float, float]:
    foot, top, back = CABS[shape.body_type]
    behind = -shape.wheelbase_mm
    end = shape.tail_mm + 330 if back is None else back * behind
    return foot * behind, top * behind, max(end, shape.tail_mm + 200)


def _ute(pen: Pen, shape: VehicleShape) -> None:
    foot, top, back = _cab(shape)
    half, tail = shape.width_mm / 2, shape.tail_mm
    _hull(pen, shape)
    _bonnet(pen, shape, foot)
    _glasshouse(pen, shape, foot, top, back)
    middle = (top + back) / 2 - 60
    _doors(pen, shape, middle, back + 30)
    pen.box(back - 20, back - 90, -0.62 * half, 0.62 * half, 30, fill=WASH, stroke=SOFT)
    _tub(pen, shape, back - 150, tail + 130)
    pen.stroke((tail + 95, -0.84 * half), (tail + 95, 0.84 * half))
    pen.both(
        [
            (tail + 330, 0.93 * half),
            (tail + 330, 0.985 * half),
            (tail + 60, 0.95 * half),
            (tail + 60, 0.88 * half),
        ],
        30,
        stroke=SOFT,
    )


def _tub(pen: Pen, shape: VehicleShape, front: float, back: float) -> None:
    half = shape.width_mm / 2
    pen.box(front, back, -0.86 * half, 0.86 * half, 70)
    pen.box(front - 60, back + 40, -0.76 * half, 0.76 * half, 50, stroke=SOFT)
    for i in range(-3, 4):
        y = i * 0.19 * half
        pen.stroke((front - 130, y), (back + 110, y), stroke=FAINT)
    axle = shape.axles_mm[-1]
    hump = [
        (min(axle + 420, front - 80), 0.76 * half),
        (min(axle + 330, front - 120), 0.60 * half),
        (max(axle - 330, back + 90), 0.60 * half),
        (max(axle - 420, back + 60), 0.76 * half),
    ]
    pen.both(hump, 60, fill=WHITE, stroke=SOFT)


def _cab_chassis(pen: Pen, shape: VehicleShape) -> None:
    foot, top, back = _cab(shape)
    half, tail = shape.width_mm / 2, shape.tail_mm
    _hull_of_cab(pen, shape, back - 90)
    _bonnet(pen, shape, foot)
    _glasshouse(pen, shape, foot, top, back)
    _doors(pen, shape, back + 30)
    deck = back - 190
    for y in (0.40 * half, -0.40 * half):
        pen.stroke((deck + 100, y), (tail + 20, y), stroke=SOFT, stroke_dasharray="5 4")
    pen.box(deck, tail, -half, half, 40, stroke_width=2.0)
    pen.box(deck - 50, tail + 50, -0.95 * half, 0.95 * half, 25, stroke=SOFT)
    step = max((deck - tail) / 7, 1.0)
    for i in range(1, 7):
        x = deck - i * step
        pen.stroke((x, -0.92 * half), (x, 0.92 * half), stroke=FAINT)
    pen.stroke((deck + 60, -0.9 * half), (deck + 60, 0.9 * half), stroke_width=2.4)


def _hull_of_cab(pen: Pen, shape: VehicleShape, back: float) -> None:
    half, nose = shape.width_mm / 2, shape.nose_mm
    reach = min(shape.front_overhang_mm, 900.0)
    profile = [
        (nose, 0.44 * half),
        (nose - 0.08 * reach, 0.78 * half),
        (nose - 0.44 * reach, 0.95 * half),
        (back, 0.97 * half),
    ]
    mirrored = [(x, -y) for x, y in reversed(profile)]
    pen.shape(profile + mirrored, 120, stroke_width=2.0)


def _wagon(pen: Pen, shape: VehicleShape) -> None:
    foot, top, back = _cab(shape)
    half, tail = shape.width_mm / 2, shape.tail_mm
    _hull(pen, shape)
    _bonnet(pen, shape, foot)
    _glasshouse(pen, shape, foot, top, back)
    middle = -0.68 * shape.wheelbase_mm
    _doors(pen, shape, middle, middle - 0.30 * shape.wheelbase_mm)
    rear = [(back, 0.64 * half), (tail + 130, 0.72 * half)]
    pen.shape(rear + [(x, -y) for x, y in reversed(rear)], 70, fill=WASH)
    for y in (0.58 * half, -0.58 * half):
        pen.stroke((top - 130, y), (back + 160, y), stroke_width=1.8)
    pen.stroke((tail + 70, -0.8 * half), (tail + 70, 0.8 * half), stroke=SOFT)


def _van(pen: Pen, shape: VehicleShape) -> None:
    foot, top, _ = _cab(shape)
    half, tail = shape.width_mm / 2, shape.tail_mm
    _hull(pen, shape)
    _bonnet(pen, shape, foot)
    _glasshouse(pen, shape, foot, top, top - 0.30 * shape.wheelbase_mm)
    roof = top - 0.30 * shape.wheelbase_mm
    pen.box(roof, tail + 60, -0.90 * half, 0.90 * half, 90)
    step = (roof - tail - 200) / 6
    for i in range(1, 6):
        x = roof - 60 - i * step
        pen.stroke((x, -0.78 * half), (x, 0.78 * half), stroke=FAINT, stroke_width=1.6)
    _doors(pen, shape, roof + 40)
    pen.stroke((roof - 1250, 0.91 * half), (roof - 1250, half))
    pen.stroke((roof - 120, 0.97 * half), (tail + 500, 0.97 * half), stroke=SOFT)
    pen.stroke((tail, 0), (tail + 60, 0))


_DETAILS: dict[str, Callable[[Pen, VehicleShape], None]] = {
    "dual-cab-ute": _ute,
    "extra-cab-ute": _ute,
    "cab-chassis": _cab_chassis,
    "wagon": _wagon,
    "van": _van,
    "caravan": caravan,
    "camper-trailer": camper,
    "plant-trailer": plant,
}
