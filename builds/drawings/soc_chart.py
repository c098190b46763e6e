"""State of charge over the days of a trip, one line a battery."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from builds.drawings.chart_axes import (
    figure,
    fit,
    fit_lines,
    spread,
    swatch,
    text_width,
)
from builds.drawings.svg import (
    FAINT,
    INK,
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

WIDTH = 780.0
_LEFT, _RIGHT, _TOP = 62.0, 556.0, 22.0
_LEAST_HEIGHT = 250.0
_MARGIN = _RIGHT + 34  # where the names of the lines begin
_NAME = WIDTH - 6 - _MARGIN
_LINE = 15.0
# Told apart in black and white: by their breaks, and by the name at their end.
_DASHES = (None, "8 4", "2 3", "12 3 2 3", "5 2", "2 6")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLine:
    """One battery; ``ratios`` are its charge after each hour, full at the start."""

    label: str
    ratios: Sequence[float]
    reserve_ratio: float | None = None

    @property
    def lowest_hour(self) -> int:
        """The hour of the trip after which it holds least, counted from 1."""
        return min(range(len(self.ratios)), key=self.ratios.__getitem__) + 1

    @property
    def days(self) -> int:
        return ceil(len(self.ratios) / 24)


@dataclass(frozen=True, slots=True)
class _Plot:
    days: int
    bottom: float

    def at(self, hour: float, ratio: float) -> Point:
        across = hour / (24 * self.days)
        return (
            _LEFT + across * (_RIGHT - _LEFT),
            self.bottom - ratio * (self.bottom - _TOP),
        )


def soc_chart(lines: Sequence[ChargeLine], daylight_h: float | None = None) -> str:
    """Draw the charge of each battery; nights are toned where daylight is known."""
    if not lines or not all(one.ratios for one in lines):
        raise ValueError("a chart of charge needs at least one hour of one battery")
    reserves = _reserves(lines)
    tallest = max(len(_end_words(one)) for one in lines) * _LINE + 4
    needed = (len(lines) + len(reserves)) * tallest
    plot = _Plot(max(one.days for one in lines), _TOP + max(_LEAST_HEIGHT, needed))
    parts = [
        _nights(plot, daylight_h),
        _axes(plot),
        *[_reserve_line(plot, ratio) for ratio, _ in reserves],
        *[_curve(plot, i, one) for i, one in enumerate(lines)],
        _names(plot, lines, reserves, tallest),
        _key(plot, daylight_h),
    ]
    return document(
        parts,
        size=(WIDTH, plot.bottom + 76),
        title="State of charge over the days away",
        desc=_description(lines, plot.days),
    )


def _description(lines: Sequence[ChargeLine], days: int) -> str:
    said = [f"{days} days." if days > 1 else "1 day."]
    for one in lines:
        lowest = f"lowest {_percent(min(one.ratios))} on day {_day(one)}"
        reserve = one.reserve_ratio
        kept = "" if reserve is None else f", reserve {_percent(reserve)}"
        said.append(f"{one.label}: {lowest}, last {_percent(one.ratios[-1])}{kept}.")
    return " ".join(said)


def _percent(ratio: float) -> str:
    return f"{figure(100 * ratio)} %"


def _day(one: ChargeLine) -> int:
    return ceil(one.lowest_hour / 24)


def _reserves(lines: Sequence[ChargeLine]) -> list[tuple[float, str]]:
    """Give each height of a reserve once, named where batteries differ in it."""
    found: dict[int, list[ChargeLine]] = {}
    for one in lines:
        if one.reserve_ratio is not None:
            found.setdefault(round(1000 * one.reserve_ratio), []).append(one)
    named = len(found) > 1
    return [
        (
            owners[0].reserve_ratio or 0.0,
            ", ".join(one.label for one in owners) if named else "",
        )
        for owners in found.values()
    ]


def _nights(plot: _Plot, daylight_h: float | None) -> str:
    """Tone the hours without sun, which lies evenly round noon as in the sums."""
    if daylight_h is None or daylight_h >= 24:
        return ""
    rise, total = 12 - daylight_h / 2, 24 * plot.days
    shapes = []
    for day in range(plot.days + 1):
        start, end = max(0.0, 24 * day - rise), min(float(total), 24 * day + rise)
        (left, top), (right, _) = plot.at(start, 1), plot.at(end, 1)
        if right > left:
            edges = f"H{number(right)}V{number(plot.bottom)}H{number(left)}Z"
            shapes.append(f"M{number(left)} {number(top)}{edges}")
    return element("path", d="".join(shapes), fill=WASH)


def _axes(plot: _Plot) -> str:
    parts = []
    for percent in range(0, 101, 20):
        x, y = plot.at(0, percent / 100)
        parts.append(line((x - 4, y), (_RIGHT, y), stroke=FAINT, stroke_width=0.5))
        parts.append(label(percent, x - 8, y + 4, 12, text_anchor="end"))
    wide = (_RIGHT - _LEFT) / plot.days
    step = next(s for s in (1, 2, 5, 10, 20, 50) if s * wide >= 24 or s == 50)
    for day in range(plot.days + 1):
        x, y = plot.at(24 * day, 0)
        parts.append(line((x, y), (x, y + 4), stroke=INK, stroke_width=0.8))
        if day % step == 0 and day < plot.days:
            parts.append(label(day + 1, x + wide / 2, y + 18, 12, text_anchor="middle"))
    corner = f"M{_LEFT} {_TOP}V{number(plot.bottom)}H{_RIGHT}"
    parts.append(element("path", d=corner, stroke=INK, stroke_width=1.4))
    middle = (_TOP + plot.bottom) / 2
    turned = f"rotate(-90 16 {middle:.1f})"
    across, below = (_LEFT + _RIGHT) / 2, plot.bottom + 38
    parts.append(
        label("Charge, %", 16, middle, 13, text_anchor="middle", transform=turned)
    )
    parts.append(label("Day", across, below, 13, text_anchor="middle"))
    return "".join(parts)


def _reserve_line(plot: _Plot, ratio: float) -> str:
    """A line with strokes on the side that is to be kept, as at the edge of a map."""
    (left, y), (right, _) = plot.at(0, ratio), plot.at(24 * plot.days, ratio)
    strokes = f"M{number(left)} {number(y)}H{number(right)}"
    for i in range(1, int((right - left) / 9) + 1):
        strokes += f"M{number(left + 9 * i)} {number(y)}l-5 5"
    return element("path", d=strokes, stroke=INK, stroke_width=1.0)


def _curve(plot: _Plot, index: int, one: ChargeLine) -> str:
    spots = [plot.at(hour, ratio) for hour, ratio in enumerate((1.0, *one.ratios))]
    way = "L".join(f"{number(x)} {number(y)}" for x, y in spots)
    drawn = element(
        "path",
        d=f"M{way}",
        stroke=INK,
        stroke_width=1.4 if plot.days > 20 else 2.0,
        stroke_dasharray=_DASHES[index % len(_DASHES)],
        stroke_linecap="butt",
    )
    ring = circle(spots[one.lowest_hour], 3.6, fill=WHITE, stroke=INK, stroke_width=1.4)
    return drawn + ring


def _end_words(one: ChargeLine) -> list[str]:
    lowest = f"lowest {_percent(min(one.ratios))}, day {_day(one)}"
    return [*fit_lines(one.label, _NAME, 12, 2), lowest]


def _names(
    plot: _Plot,
    lines: Sequence[ChargeLine],
    reserves: Sequence[tuple[float, str]],
    tallest: float,
) -> str:
    """Name every line at its end, in the margin, where no line runs."""
    rows: list[tuple[float, list[str], str | None]] = []
    for i, one in enumerate(lines):
        _, y = plot.at(0, one.ratios[-1])
        rows.append((y, _end_words(one), _DASHES[i % len(_DASHES)]))
    for ratio, owners in reserves:
        words = [f"reserve {_percent(ratio)}"]
        if owners:
            words.append(fit(owners, _NAME, 12))
        rows.append((plot.at(0, ratio)[1], words, None))
    half = tallest / 2
    places = spread([y for y, _, _ in rows], tallest, _TOP + half, plot.bottom - half)
    parts = []
    for n, ((y, words, dash), middle) in enumerate(zip(rows, places, strict=True)):
        wide = 2.0 if n < len(lines) else 1.0
        look = {"stroke_width": wide, "stroke_dasharray": dash, "stroke": INK}
        way = f"M{_RIGHT + 2} {number(y)}L{_RIGHT + 10} {number(middle)}h18"
        parts.append(element("path", d=way, **look, stroke_linecap="butt"))
        top = middle - len(words) * _LINE / 2 + 11.5
        for i, said in enumerate(words):
            bold = 600 if n < len(lines) and i < len(words) - 1 else None
            spot = (_MARGIN, top + i * _LINE)
            parts.append(label(said, *spot, 12, font_weight=bold))
    return "".join(parts)


def _key(plot: _Plot, daylight_h: float | None) -> str:
    y = plot.bottom + 64
    parts = [circle((_LEFT + 7, y - 4), 3.6, fill=WHITE, stroke=INK, stroke_width=1.4)]
    parts.append(label("lowest charge", _LEFT + 20, y, 12))
    x = _LEFT + 20 + text_width("lowest charge", 12) + 28
    if daylight_h is None:
        parts.append(label("nights not drawn: latitude or month unknown", x, y, 12))
    elif daylight_h < 24:
        parts.append(swatch(x, y, f"night, {figure(24 - daylight_h, 1)} h", WASH))
    return "".join(parts)
