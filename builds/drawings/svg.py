"""What all drawings share: ink, escaping, shapes.

A drawing is one string for the screen and for the PDF, so it carries presentation
attributes only: page styles do not reach into an SVG there.
"""

import re
from collections.abc import Sequence
from html import escape

INK = "#1d1a16"
SOFT = "#575044"
FAINT = "#a59b88"
WASH = "#efe8d9"
WHITE = "#ffffff"
ACCENT = "#144a6e"
FONT = "Inter, DejaVu Sans, sans-serif"

Point = tuple[float, float]

# XML 1.0 has no way to write these, escaped or not.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_SAFE_HREF = re.compile(r"(?:[/?#]|https?://)")
_WIDE = 0.58  # mean advance of the typeface, in ems


def text_of(value: object) -> str:
    """Make any text safe between tags and inside quoted attributes."""
    return escape(_NOT_XML.sub("", str(value)), quote=True)


def clip(value: str, width: float, size: float) -> str:
    """Shorten to a width, with an ellipsis, before escaping."""
    room = max(1, int(width / (size * _WIDE)))
    plain = " ".join(value.split())
    return plain if len(plain) <= room else plain[: room - 1].rstrip() + "…"


def wrap(value: str, width: float, size: float, lines: int) -> list[str]:
    """Break into at most so many lines; what does not fit ends in an ellipsis."""
    room = max(1, int(width / (size * _WIDE)))
    words = value.split()
    rows: list[str] = []
    while words and len(rows) < lines:
        row = words.pop(0)
        while words and len(row) + 1 + len(words[0]) <= room:
            row += " " + words.pop(0)
        rows.append(row)
    if words:
        rows[-1] += " " + " ".join(words)
    return [clip(row, width, size) for row in rows]


def number(value: float) -> str:
    """Write a coordinate: one decimal is finer than the printer."""
    written = f"{value:.1f}".removesuffix(".0")
    return "0" if written == "-0" else written


def element(tag: str, content: str = "", /, **attributes: object) -> str:
    """Write one element; attribute names take _ for -, values are escaped."""
    written = "".join(
        f' {name.rstrip("_").replace("_", "-")}="'
        f'{number(value) if isinstance(value, float) else text_of(value)}"'
        for name, value in attributes.items()
        if value is not None
    )
    return f"<{tag}{written}>{content}</{tag}>" if content else f"<{tag}{written}/>"


def label(value: object, x: float, y: float, size: float, **attributes: object) -> str:
    attributes.setdefault("fill", INK)
    return element(
        "text", text_of(value), x=float(x), y=float(y), font_size=size, **attributes
    )


def line(a: Point, b: Point, **attributes: object) -> str:
    return element(
        "line",
        x1=float(a[0]),
        y1=float(a[1]),
        x2=float(b[0]),
        y2=float(b[1]),
        **attributes,
    )


def circle(centre: Point, radius: float, **attributes: object) -> str:
    return element(
        "circle",
        cx=float(centre[0]),
        cy=float(centre[1]),
        r=float(radius),
        **attributes,
    )


def rounded(points: Sequence[Point], radius: float) -> str:
    """Path data of a closed polygon whose corners are rounded off."""
    parts: list[str] = []
    for i, corner in enumerate(points):
        start = _towards(corner, points[i - 1], radius)
        end = _towards(corner, points[(i + 1) % len(points)], radius)
        parts.append(f"{'L' if parts else 'M'}{_pair(start)}")
        parts.append(f"Q{_pair(corner)} {_pair(end)}")
    return "".join(parts) + "Z"


def _towards(corner: Point, other: Point, radius: float) -> Point:
    dx, dy = other[0] - corner[0], other[1] - corner[1]
    length = (dx * dx + dy * dy) ** 0.5
    share = min(0.5, radius / length) if length else 0.0
    return corner[0] + dx * share, corner[1] + dy * share


def _pair(point: Point) -> str:
    return f"{number(point[0])} {number(point[1])}"


def balloon(centre: Point, value: int, radius: float, *, done: bool = False) -> str:
    """Draw an item's number in its circle; a filled circle is a finished item."""
    size = radius if value < 100 else radius * 0.8
    return circle(
        centre, radius, fill=INK if done else WHITE, stroke=INK, stroke_width=1.4
    ) + label(
        value,
        centre[0],
        centre[1] + size * 0.36,
        size,
        text_anchor="middle",
        font_weight=600,
        fill=WHITE if done else INK,
    )


def link(content: str, href: str, title: str) -> str:
    """Wrap into a link that the keyboard reaches and a screen reader names."""
    if not _SAFE_HREF.match(href):
        raise ValueError(f"a drawing may not link to {href!r}")
    named = element("title", text_of(title)) + content
    return element("a", named, href=href, aria_label=title)


def document(
    parts: Sequence[str],
    *,
    size: tuple[float, float],
    title: str,
    desc: str,
    interactive: bool = False,
) -> str:
    """Close the parts into one drawing with its name and its description."""
    content = "".join(
        [element("title", text_of(title)), element("desc", text_of(desc)), *parts]
    )
    return element(
        "svg",
        content,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(size[0])} {number(size[1])}",
        width=float(size[0]),
        height=float(size[1]),
        font_family=FONT,
        fill="none",
        stroke_linecap="round",
        stroke_linejoin="round",
        role="group" if interactive else "img",
        aria_label=title,
    )
