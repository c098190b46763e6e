"""What a build adds and takes off in each zone, in the order of a walk round."""

from collections.abc import Sequence
from dataclasses import dataclass

from builds.drawings.chart_axes import bar, figure, fit, text_width
from builds.drawings.svg import INK, SOFT, document, label, line

WIDTH = 780.0
_NAME, _FROM, _TO, _TOP = 150.0, 166.0, 770.0, 36.0
_ROW, _BAR = 26.0, 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneBar:
    """One zone; ``unweighed`` items have no mass on record and are not in the sum."""

    label: str
    fitted_kg: float
    removed_kg: float = 0.0
    unweighed: int = 0


@dataclass(frozen=True, slots=True)
class _Scale:
    zero: float
    per_kg: float


def zone_chart(zones: Sequence[ZoneBar]) -> str:
    """Draw fitted mass to the right and removed mass, hatched, to the left."""
    if not zones:
        raise ValueError("a chart of zones needs at least one zone")
    scale = _scale(zones)
    bottom = _TOP + _ROW * len(zones) + 4
    axis = line(
        (scale.zero, _TOP - 2), (scale.zero, bottom), stroke=INK, stroke_width=1.4
    )
    parts = [_heads(zones, scale)]
    parts += [_row(one, _TOP + _ROW * i, scale) for i, one in enumerate(zones)]
    parts += [axis, _sum(zones, bottom + 22)]
    return document(
        parts,
        size=(WIDTH, bottom + 36),
        title="Mass fitted and taken off by zone",
        desc=" ".join(f"{one.label}: {', '.join(_facts(one))}." for one in zones),
    )


def _facts(one: ZoneBar) -> list[str]:
    facts = [f"{figure(one.fitted_kg, 1)} kg fitted"]
    if one.removed_kg:
        facts.append(f"{figure(one.removed_kg, 1)} kg taken off")
    if one.unweighed:
        facts.append(f"{one.unweighed} without a mass")
    return facts


def _scale(zones: Sequence[ZoneBar]) -> _Scale:
    """Give both sides the same scale, with room for the words at their ends."""
    removed = max(one.removed_kg for one in zones)
    fitted = max(one.fitted_kg for one in zones)
    left = max((text_width(_left(one), 12) for one in zones), default=0.0) + 12
    right = max(text_width(_right(one), 12) for one in zones) + 14
    per_kg = (_TO - _FROM - left - right) / max(removed + fitted, 1.0)
    return _Scale(_FROM + left + removed * per_kg, per_kg)


def _left(one: ZoneBar) -> str:
    return f"−{figure(one.removed_kg, 1)}" if one.removed_kg else ""  # noqa: RUF001


def _right(one: ZoneBar) -> str:
    if one.unweighed and not one.fitted_kg:
        return f"{one.unweighed} without a mass"
    said = figure(one.fitted_kg, 1)
    return f"{said}; {one.unweighed} without a mass" if one.unweighed else said


def _heads(zones: Sequence[ZoneBar], scale: _Scale) -> str:
    fitted = label("fitted, kg", scale.zero + 6, 22, 12, fill=SOFT)
    if not any(one.removed_kg for one in zones):
        return fitted
    # Over the left bars where they leave the room, else over the names.
    at = {"text_anchor": "end", "fill": SOFT}
    return fitted + label("taken off, kg", scale.zero - 6, 22, 12, **at)


def _row(one: ZoneBar, top: float, scale: _Scale) -> str:
    y = top + _ROW / 2
    up, down = y - _BAR / 2, y + _BAR / 2
    name = fit(one.label, _NAME, 12.5)
    parts = [label(name, 6, y + 4.5, 12.5)]
    right = scale.zero + one.fitted_kg * scale.per_kg
    if one.fitted_kg:
        parts.append(bar((scale.zero, up, right, down)))
    parts.append(label(_right(one), right + 8, y + 4.5, 12))
    if one.removed_kg:
        left = scale.zero - one.removed_kg * scale.per_kg
        parts.append(bar((left, up, scale.zero, down), how="hatched"))
        parts.append(label(_left(one), left - 6, y + 4.5, 12, text_anchor="end"))
    return "".join(parts)


def _sum(zones: Sequence[ZoneBar], y: float) -> str:
    fitted = sum(one.fitted_kg for one in zones)
    removed = sum(one.removed_kg for one in zones)
    said = f"Together {figure(fitted, 1)} kg fitted"
    if removed:
        sign = "+" if fitted >= removed else ""
        net = f"{sign}{figure(fitted - removed, 1)}"
        said += f", {figure(removed, 1)} kg taken off: {net} kg"
    return label(said, 6, y, 12.5, font_weight=600)
