"""Trailers from above: caravan, camper trailer, plant trailer."""

from builds.drawings.shape import Pen, VehicleShape
from builds.drawings.svg import FAINT, SOFT, WASH, WHITE


def _drawbar(pen: Pen, shape: VehicleShape, spread: float) -> None:
    nose, ball = shape.nose_mm, shape.coupling_mm
    for side in (1, -1):
        for gap in (0, 70):
            pen.stroke(
                (ball - 160, side * (50 - gap * 0.3)), (nose, side * (spread - gap))
            )
    pen.box(ball + 70, ball - 230, -75, 75, 70, fill=WHITE, stroke_width=1.5)
    wheel = nose + 0.55 * (ball - nose)
    pen.box(wheel + 110, wheel - 110, -300, -210, 40, fill=WASH)


def caravan(pen: Pen, shape: VehicleShape) -> None:
    half, nose, tail = shape.width_mm / 2, shape.nose_mm, shape.tail_mm
    _drawbar(pen, shape, 0.45 * half)
    pen.box(nose + 330, nose + 40, -0.34 * half, 0.34 * half, 120, fill=WHITE)
    pen.box(nose, tail, -half, half, 190, stroke_width=2.0)
    pen.box(nose - 110, tail + 110, -half + 110, half - 110, 130, stroke=SOFT)
    length = nose - tail
    for share, size in ((0.22, 230), (0.55, 330), (0.82, 180)):
        x = nose - share * length
        pen.box(x + size, x - size, -size, size, 50)
        pen.box(x + size - 50, x - size + 50, 50 - size, size - 50, 40, stroke=FAINT)
    door = nose - 0.36 * length
    pen.stroke((door, half - 70), (door - 620, half - 70), stroke_width=2.2)
    pen.box(door, door - 620, half, half + 180, 30, stroke=SOFT)
    pen.stroke((door + 300, half + 45), (tail + 300, half + 45), stroke=SOFT)
    pen.box(tail, tail - 120, -0.8 * half, 0.8 * half, 40)


def camper(pen: Pen, shape: VehicleShape) -> None:
    half, nose, tail = shape.width_mm / 2, shape.nose_mm, shape.tail_mm
    inner = max(half * 0.55, shape.track_mm / 2 - 170)
    _drawbar(pen, shape, 0.62 * inner)
    pen.box(nose + 520, nose + 40, -0.62 * inner, 0.62 * inner, 50, fill=WHITE)
    pen.both([(470, inner), (430, half), (-430, half), (-470, inner)], 60)
    pen.box(nose, tail, -inner, inner, 70, stroke_width=2.0)
    pen.box(nose - 90, tail + 90, -inner + 90, inner - 90, 60, stroke=SOFT)
    third = (nose - tail) / 3
    for x in (nose - third, nose - 2 * third):
        pen.stroke((x, -inner + 90), (x, inner - 90), stroke=FAINT, stroke_width=1.6)
    pen.box(tail, tail - 240, -260, 260, 110, fill=WASH)


def plant(pen: Pen, shape: VehicleShape) -> None:
    half, nose, tail = shape.width_mm / 2, shape.nose_mm, shape.tail_mm
    inner = max(half * 0.55, shape.track_mm / 2 - 160)
    _drawbar(pen, shape, 0.7 * inner)
    pen.both([(470, inner), (430, half), (-430, half), (-470, inner)], 60)
    pen.box(nose, tail, -inner, inner, 30, stroke_width=2.0)
    pen.box(nose - 60, tail + 60, -inner + 60, inner - 60, 20, stroke=SOFT)
    for i in range(-5, 6):
        y = i * (inner - 60) / 6
        pen.stroke((nose - 80, y), (tail + 80, y), stroke=FAINT)
    ramp = [(tail - 40, 0.30 * inner), (tail - 40, 0.86 * inner)]
    foot = [(tail - 620, 0.86 * inner), (tail - 620, 0.30 * inner)]
    pen.both(ramp + foot, 30, fill=WHITE)
    for i in range(1, 6):
        x = tail - 40 - i * 97
        for side in (1, -1):
            pen.stroke((x, side * 0.32 * inner), (x, side * 0.84 * inner), stroke=SOFT)
