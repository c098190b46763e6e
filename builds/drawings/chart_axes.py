"""What the charts share: ticks, the width of words, room for labels, hatching."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10
from unicodedata import combining, east_asian_width

from builds.drawings.svg import INK, WASH, Point, element, label, line, number

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

SIGNS = {"within": "✓", "not proven": "≈", "over": "✕", "unknown": "?"}

# Advances of the bold face in ems, rounded up, so that words never need more room.
_ADVANCES = (
    ("ijlI.,:;'|!", 0.38),
    (" frt()[]/-1", 0.48),
    ("mwMW@%…—Œœ", 1.05),
    ("abcdeghknopqsuvxyz023456789", 0.68),
)
_ADVANCE = {char: ems for chars, ems in _ADVANCES for char in chars}


def text_width(value: str, size: float) -> float:
    """Give the room that words take in the typeface, on the wide side."""
    ems = 0.0
    for char in value:
        wide = 1.05 if east_asian_width(char) in "WF" else 0.82
        ems += 0.0 if combining(char) else _ADVANCE.get(char, wide)
    return ems * size


def fit(value: str, width: float, size: float) -> str:
    """Shorten to a width as it is measured, with an ellipsis, before escaping."""
    plain = " ".join(value.split())
    if text_width(plain, size) <= width:
        return plain
    while plain and text_width(plain + "…", size) > width:
        plain = plain[:-1]
    return plain.rstrip() + "…"


def fit_lines(value: str, width: float, size: float, lines: int) -> list[str]:
    """Break between words into at most so many lines that fit a width."""
    words, rows = value.split(), [""]
    while words:
        row = f"{rows[-1]} {words[0]}".lstrip()
        if rows[-1] and text_width(row, size) > width and len(rows) < lines:
            rows.append("")
            continue
        rows[-1] = row
        words.pop(0)
    return [fit(row, width, size) for row in rows]


def figure(value: float, places: int = 0) -> str:
    """Write a number as the pages do: thousands marked, a true minus."""
    rounded = round(value, places)
    text = f"{abs(rounded) if rounded == 0 else rounded:,.{places}f}"
    return text.replace("-", "−")  # noqa: RUF001 - lines up with figures


def step_of(span: float, most: int = 8) -> float:
    """Give a round step that parts a span into about so many pieces, or fewer."""
    rough = span / most
    power = 10.0 ** floor(log10(rough))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= rough * 0.999)


def ticks(low: float, high: float, most: int = 8) -> list[float]:
    step = step_of(high - low, most)
    first = ceil(low / step - 1e-6)
    return [step * i for i in range(first, floor(high / step + 1e-6) + 1)]


def hatch(box: Box, pitch: float = 5.0, **attributes: object) -> str:
    """Fill a box with slanted lines: what prints where a tone would not."""
    left, top, right, bottom = box
    width, height = right - left, bottom - top
    strokes = []
    for i in range(1, ceil((width + height) / pitch)):
        along = i * pitch  # where this line meets the top edge, drawn out if need be
        start = (left + min(along, width), top + max(0.0, along - width))
        end = (left + max(0.0, along - height), top + min(along, height))
        strokes.append(
            f"M{number(start[0])} {number(start[1])}L{number(end[0])} {number(end[1])}"
        )
    if not strokes:
        return ""
    given = {"stroke": INK, "stroke_width": 0.8} | attributes
    return element("path", d="".join(strokes), **given)


def bar(box: Box, *, how: str = "plain") -> str:
    """Draw a bar; ``plain``, ``hatched`` and ``solid`` differ without any colour."""
    left, top, right, bottom = box
    fill = INK if how == "solid" else WASH if how == "plain" else None
    size = {"width": max(0.5, right - left), "height": bottom - top}
    frame = element(
        "rect", x=left, y=top, **size, fill=fill, stroke=INK, stroke_width=1.0
    )
    return (hatch(box) if how == "hatched" else "") + frame


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move labels apart along a margin, in their order, as little as need be."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = list(wanted)
    floor_y = low
    for i in order:
        placed[i] = max(wanted[i], floor_y)
        floor_y = placed[i] + gap
    ceiling = high
    for i in reversed(order):
        placed[i] = min(placed[i], ceiling)
        ceiling = placed[i] - gap
    return placed


def _apart(a: Box, b: Box) -> bool:
    return a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


@dataclass(slots=True)
class Room:
    """Where words and marks already stand in a plot, so that no words cover them."""

    frame: Box
    words: list[Box] = field(default_factory=list)
    marks: list[Box] = field(default_factory=list)

    def mark(self, spot: Point, reach: float) -> None:
        x, y = spot
        self.marks.append((x - reach, y - reach, x + reach, y + reach))

    def mark_line(self, a: Point, b: Point) -> None:
        """Keep words off a line, by small boxes along it."""
        pieces = ceil(max(abs(b[0] - a[0]), abs(b[1] - a[1])) / 5) or 1
        for i in range(pieces + 1):
            x = a[0] + (b[0] - a[0]) * i / pieces
            y = a[1] + (b[1] - a[1]) * i / pieces
            self.mark((x, y), 1.5)

    def take(self, boxes: Iterable[Box]) -> Box:
        """Take the first box that is free; rather cover marks than other words."""
        inside = [box for box in boxes if self._holds(box)]
        unworded = [box for box in inside if _is_free(box, self.words)]
        free = (box for box in unworded if _is_free(box, self.marks))
        found = next(free, (unworded or inside or [self.frame])[0])
        self.words.append(found)
        return found

    def _holds(self, box: Box) -> bool:
        left, top, right, bottom = self.frame
        across = left <= box[0] and box[2] <= right
        return across and top <= box[1] and box[3] <= bottom


def _is_free(box: Box, others: Iterable[Box]) -> bool:
    return all(_apart(box, other) for other in others)


def around(spot: Point, width: float, height: float) -> Iterator[Box]:
    """Give boxes round a spot, the nearest first."""
    for reach in range(3, 400, 4):
        for dx, dy in _AROUND:
            x = spot[0] + dx * (reach + width / 2)
            y = spot[1] + dy * (reach + height / 2)
            yield x - width / 2, y - height / 2, x + width / 2, y + height / 2


_AROUND = (
    (0.8, -0.8),
    (-0.8, -0.8),
    (0.8, 0.8),
    (-0.8, 0.8),
    (1.0, 0.0),
    (-1.0, 0.0),
    (0.0, -1.0),
    (0.0, 1.0),
)


def leader(spot: Point, box: Box) -> str:
    """Lead from a spot to its label where the two do not touch each other."""
    left, top, right, bottom = box
    end = (min(max(spot[0], left), right), min(max(spot[1], top), bottom))
    if abs(end[0] - spot[0]) + abs(end[1] - spot[1]) < 10:
        return ""
    return line(spot, end, stroke=INK, stroke_width=0.6)


def swatch(x: float, y: float, words: str, fill: str) -> str:
    """Draw one entry of a key: a small square of a tone and what it means."""
    square = element("rect", x=x, y=y - 11, width=14, height=14, fill=fill, stroke=INK)
    return square + label(words, x + 20, y, 12)
