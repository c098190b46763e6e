"""Voltage drop of each circuit against its limit, nearest to the limit first."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from builds.drawings.chart_axes import (
    SIGNS,
    bar,
    figure,
    fit,
    step_of,
    ticks,
)
from builds.drawings.svg import (
    INK,
    SOFT,
    WHITE,
    document,
    element,
    label,
    line,
)

WIDTH = 780.0
_NAME, _LEFT, _RIGHT, _TOP = 276.0, 290.0, 590.0, 34.0
_ROW, _BAR = 22.0, 13.0
_LOOKS = {"over": "solid", "not proven": "hatched"}


@dataclass(frozen=True, slots=True, kw_only=True)
class DropBar:
    """One circuit; ``None`` is a drop that is not known, or no limit of its own."""

    key: str
    label: str
    drop_percent: float | None
    limit_percent: float | None
    verdict: str = "unknown"

    @property
    def share(self) -> float | None:
        """How much of its limit a circuit uses up, 1 at the limit."""
        if self.drop_percent is None or not self.limit_percent:
            return None
        return self.drop_percent / self.limit_percent


def in_order(bars: Sequence[DropBar]) -> list[DropBar]:
    """Those nearest to their limit first, then without limit, then not known."""

    def rank(one: DropBar) -> tuple[int, float]:
        if one.share is not None:
            return 0, -one.share
        return (1, -one.drop_percent) if one.drop_percent is not None else (2, 0.0)

    return sorted(bars, key=rank)


def drop_chart(bars: Sequence[DropBar]) -> str:
    """Draw each circuit's drop as a bar, its limit as a tick, its verdict in words."""
    if not bars:
        raise ValueError("a chart of drops needs at least one circuit")
    rows = in_order(bars)
    most = _most(rows)
    known = [one for one in rows if one.drop_percent is not None]
    bottom = _TOP + _ROW * len(rows) + 4
    parts = [_axis(most, _TOP + _ROW * len(known) + 4) if known else ""]
    parts += [_row(one, _TOP + _ROW * i, most) for i, one in enumerate(rows)]
    parts.append(_key(known, bottom + 26))
    return document(
        parts,
        size=(WIDTH, bottom + 40),
        title="Voltage drop of each circuit against its limit",
        desc=" ".join(f"{one.label}: {_said(one)}." for one in rows),
    )


def _most(rows: Sequence[DropBar]) -> float:
    """End the scale where limits still part; a bar that runs past it is broken off."""
    limits = [one.limit_percent for one in rows if one.limit_percent]
    drops = [one.drop_percent for one in rows if one.drop_percent is not None]
    end = max([*drops, *limits, 1.0])
    if limits:
        end = min(end, 2.5 * max(limits))
    step = step_of(end, 6)
    return ceil(end / step - 1e-9) * step


def _x(percent: float, most: float) -> float:
    return _LEFT + max(0.0, min(percent, most)) / most * (_RIGHT - _LEFT)


def _axis(most: float, bottom: float) -> str:
    places = 0 if step_of(most, 6) >= 1 else 1
    parts = [label("Drop, %", _LEFT - 14, 22, 12, text_anchor="end", fill=SOFT)]
    for value in ticks(0, most, 6):
        x = _x(value, most)
        parts.append(line((x, 28), (x, 32), stroke=INK, stroke_width=0.8))
        parts.append(label(figure(value, places), x, 22, 12, text_anchor="middle"))
    corner = f"M{_x(most, most)} 28H{_LEFT}V{bottom}"
    parts.append(element("path", d=corner, stroke=INK, stroke_width=1.2))
    return "".join(parts)


def _row(one: DropBar, top: float, most: float) -> str:
    y = top + _ROW / 2
    name = fit(one.label, _NAME, 12)
    parts = [label(name, _LEFT - 14, y + 4, 12, text_anchor="end")]
    end = _LEFT
    if one.drop_percent is not None:
        end = _x(one.drop_percent, most)
        box = (_LEFT, y - _BAR / 2, end, y + _BAR / 2)
        parts.append(bar(box, how=_LOOKS.get(one.verdict, "plain")))
        if one.drop_percent > most:
            parts.append(_broken(end, y))
    if one.drop_percent is not None and one.limit_percent:
        x = _x(one.limit_percent, most)
        # White beside the tick keeps it in sight where it crosses a solid bar.
        edge = {"x": x - 2.4, "y": y - 10, "width": 4.8, "height": 20.0}
        parts.append(element("rect", **edge, fill=WHITE))
        parts.append(line((x, y - 9), (x, y + 9), stroke=INK, stroke_width=2.4))
        end = max(end, x)
    bold = 700 if one.verdict == "over" else None
    said = _said(one)
    parts.append(label(said, end + 9, y + 4, 12, font_weight=bold))
    return "".join(parts)


def _broken(x: float, y: float) -> str:
    """Two slashes: the bar goes on past the scale."""
    cuts = f"M{x - 14} {y + 9}l6 -18M{x - 8} {y + 9}l6 -18"
    return element("path", d=cuts, stroke=WHITE, stroke_width=3.0)


def _said(one: DropBar) -> str:
    if one.drop_percent is None:
        if one.verdict == "over":
            return f"{SIGNS['over']} over, cannot be supplied"
        return "not known"
    if not one.limit_percent:
        return f"{figure(one.drop_percent, 1)} %, no limit of its own"
    drop, limit = _told_apart(one.drop_percent, one.limit_percent)
    return f"{drop} % of {limit} %  {SIGNS[one.verdict]} {one.verdict}"


def _told_apart(drop: float, limit: float) -> tuple[str, str]:
    """Write both with the decimals at which they differ: 3.02 of 3.00, not 3.0."""
    both = [(figure(drop, n), figure(limit, n)) for n in (1, 2, 3)]
    return next((pair for pair in both if pair[0] != pair[1]), both[0])


def _key(known: Sequence[DropBar], y: float) -> str:
    if not any(one.limit_percent for one in known):
        return ""
    x = _LEFT + 4
    tick = line((x, y - 12), (x, y + 4), stroke=INK, stroke_width=2.4)
    return tick + label("limit of that circuit", x + 12, y, 12)
