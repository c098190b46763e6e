"""The vehicle to be drawn, and the pen that draws it.

Everything is in the vehicle's millimetres: x forward of the front axle (of the axle,
for a trailer), y to the left. A ``Pen`` turns that into ink on the page, front to the
left of the picture, so the vehicle's left side is below.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from builds.drawings.svg import INK, Point, element, line, rounded

TRAILERS = frozenset({"caravan", "camper-trailer", "plant-trailer"})
# Where the parts of a body stand, as shares of the wheelbase behind the front axle:
# windscreen foot, windscreen top, back of the roof. Proportions for a picture, not
# measurements; the outline and the axles are to scale.
CABS = {
    "dual-cab-ute": (0.14, 0.36, 0.79),
    "extra-cab-ute": (0.14, 0.36, 0.69),
    "cab-chassis": (0.14, 0.36, 0.54),
    "wagon": (0.14, 0.40, None),
    "van": (-0.06, 0.14, None),
}
TYRE_MM = (740.0, 250.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleShape:
    """Geometry of one vehicle. A trailer's overhangs are those of its body."""

    body_type: str
    wheelbase_mm: float
    front_overhang_mm: float
    rear_overhang_mm: float
    width_mm: float
    track_mm: float
    ball_to_axle_mm: float | None = None

    def __post_init__(self) -> None:
        if self.body_type not in CABS and self.body_type not in TRAILERS:
            raise ValueError(f"no drawing for a body of type {self.body_type!r}")
        sizes = (self.wheelbase_mm, self.width_mm, self.track_mm)
        overhangs = (self.front_overhang_mm, self.rear_overhang_mm)
        if min(sizes) <= 0 or min(overhangs) < 0 or self.nose_mm <= self.tail_mm:
            raise ValueError("a vehicle's lengths must be positive")

    @property
    def is_trailer(self) -> bool:
        return self.body_type in TRAILERS

    @property
    def nose_mm(self) -> float:
        return self.front_overhang_mm

    @property
    def tail_mm(self) -> float:
        wheelbase = 0.0 if self.is_trailer else self.wheelbase_mm
        return -wheelbase - self.rear_overhang_mm

    @property
    def coupling_mm(self) -> float:
        """How far forward a trailer reaches; without a record, a typical drawbar."""
        reach = self.ball_to_axle_mm or 0.0
        return max(reach, self.nose_mm + 1100.0)

    @property
    def end_mm(self) -> float:
        """How far back the drawing reaches: ramps and spare wheel stand out."""
        out = {"plant-trailer": 680.0, "camper-trailer": 260.0, "caravan": 140.0}
        return self.tail_mm - out.get(self.body_type, 0.0)

    @property
    def axles_mm(self) -> tuple[float, ...]:
        return (0.0,) if self.is_trailer else (0.0, -self.wheelbase_mm)


@dataclass(slots=True)
class Pen:
    """Draws the vehicle's millimetres onto the page."""

    scale: float
    origin: Point
    ink: list[str] = field(default_factory=list)

    def at(self, x: float, y: float) -> Point:
        return self.origin[0] - x * self.scale, self.origin[1] + y * self.scale

    def shape(
        self, points: Sequence[Point], radius: float = 60, **attributes: object
    ) -> None:
        path = rounded([self.at(*p) for p in points], radius * self.scale)
        given = {"stroke": INK, "stroke_width": 1.1} | attributes
        self.ink.append(element("path", d=path, **given))

    def box(
        self,
        front: float,
        back: float,
        right: float,
        left: float,
        radius: float = 60,
        **attributes: object,
    ) -> None:
        corners = [(front, right), (front, left), (back, left), (back, right)]
        self.shape(corners, radius, **attributes)

    def stroke(self, a: Point, b: Point, **attributes: object) -> None:
        given = {"stroke": INK, "stroke_width": 0.9} | attributes
        self.ink.append(line(self.at(*a), self.at(*b), **given))

    def both(self, points: Sequence[Point], radius: float = 60, **how: object) -> None:
        """Draw a shape and its mirror image on the other side."""
        self.shape(points, radius, **how)
        self.shape([(x, -y) for x, y in points], radius, **how)


def wheel_boxes(shape: VehicleShape) -> list[tuple[float, float, float, float]]:
    """Front, back, right and left of each tyre."""
    length, width = TYRE_MM
    half = min(length, abs(shape.nose_mm - shape.tail_mm) / 3) / 2
    middle = shape.track_mm / 2
    boxes = []
    for x in shape.axles_mm:
        for side in (-1, 1):
            near, far = side * middle - width / 2, side * middle + width / 2
            boxes.append((x + half, x - half, near, far))
    return boxes


def zone_boxes(shape: VehicleShape) -> dict[str, tuple[float, float, float, float]]:
    """Front, back, right and left of the part of the drawing that stands for a zone."""
    half, nose, tail = shape.width_mm / 2, shape.nose_mm, shape.tail_mm
    side = 0.74 * half
    if shape.is_trailer:
        length = nose - tail
        ahead, behind = nose - 0.12 * length, tail + 0.14 * length
        under = behind + 0.12 * length
        boxes = {
            "front": (shape.coupling_mm, nose, -side, side),
            "underneath": (under, behind, -side, side),
            "left-side": (nose, under, side, half),
            "right-side": (nose, under, -half, -side),
            "rear": (behind, tail, -side, side),
        }
        if shape.body_type == "plant-trailer":
            return boxes | {"cargo": (nose, under, -side, side)}
        middle = (ahead + under) / 2
        return boxes | {
            "cargo": (nose, ahead, -side, side),
            "cabin": (ahead, middle, -side, side),
            "roof": (middle, under, -side, side),
        }
    foot_share, top_share, back_share = CABS[shape.body_type]
    foot = -foot_share * shape.wheelbase_mm
    top = -top_share * shape.wheelbase_mm
    back = -(back_share or 0.72) * shape.wheelbase_mm
    room = back - tail
    seats = top - 0.45 * (top - back)
    return {
        "front": (nose, nose - 0.45 * shape.front_overhang_mm, -half, half),
        "under-bonnet": (nose - 0.45 * shape.front_overhang_mm, foot, -side, side),
        "cabin": (foot, seats, -side, side),
        "roof": (seats, back, -side, side),
        "cargo": (back, tail + 0.42 * room, -side, side),
        "underneath": (tail + 0.42 * room, tail + 0.18 * room, -side, side),
        "rear": (tail + 0.18 * room, tail, -half, half),
        "left-side": (foot, tail + 0.18 * room, side, half),
        "right-side": (foot, tail + 0.18 * room, -half, -side),
    }
