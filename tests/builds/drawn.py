"""Where the words of a drawing stand, measured in the typeface they are set in."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

from PIL import ImageFont

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(__file__).parent.parent.parent / "static" / "fonts"


@cache
def font(weight: str) -> ImageFont.FreeTypeFont:
    name = {"700": "bold", "600": "semibold"}.get(weight, "regular")
    return ImageFont.truetype(FONTS / f"inter-{name}.ttf", 1000)


def text_boxes(drawing: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Every text with the left, top, right and bottom of its letters."""
    found = []
    for text in ElementTree.fromstring(drawing).iter(f"{SVG}text"):
        size, words = float(text.get("font-size")), text.text or ""
        width = font(text.get("font-weight", "400")).getlength(words) * size / 1000
        x, y = float(text.get("x")), float(text.get("y"))
        shift = {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor"), 0.0)
        left = x - shift * width
        box = (left, y - 0.74 * size, left + width, y + 0.22 * size)
        if text.get("transform", "").startswith("rotate(-90"):
            box = (x - 0.74 * size, y - width / 2, x + 0.22 * size, y + width / 2)
        found.append((words, box))
    return found


def crossing(drawing: str) -> list[tuple[str, str]]:
    """Pairs of texts that stand upon each other."""
    return [
        (one, other)
        for (one, a), (other, b) in combinations(text_boxes(drawing), 2)
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


def outside(drawing: str) -> list[str]:
    """Texts that run off the drawing."""
    root = ElementTree.fromstring(drawing)
    _, _, across, down = (float(n) for n in root.get("viewBox").split())
    return [
        words
        for words, (left, top, right, bottom) in text_boxes(drawing)
        if left < 0 or top < 0 or right > across or bottom > down
    ]
