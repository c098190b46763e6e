"""Task steps as a person types them, one a line, and as they are stored.

``Tighten the mounts | torque 110 Nm``, ``Second person checks the mounts | hold``,
``Voltage at the fridge, running | reading V 11.9..14.8``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

TORQUE = re.compile(r"^torque\s+(\d{1,6}(?:\.\d)?)\s*Nm$", re.IGNORECASE)
NUMBER = r"(-?\d{1,6}(?:\.\d{1,3})?)"
READING = re.compile(
    rf"^reading\s+(\S{{1,12}})\s+{NUMBER}?\s*\.\.\s*{NUMBER}?$", re.IGNORECASE
)


def _read_option(option: str, line: str) -> dict[str, Any]:
    if option.lower() == "hold":
        return {"kind": "hold"}
    if match := TORQUE.match(option):
        if not 0.1 <= float(match[1]) <= 2000:
            raise ValueError(f"“{line}”: a torque lies between 0.1 and 2000 Nm.")
        return {"torque_nm": float(match[1])}
    if match := READING.match(option):
        unit, low, high = match.groups()
        found: dict[str, Any] = {"kind": "reading", "unit": unit}
        if low is not None:
            found["low"] = float(low)
        if high is not None:
            found["high"] = float(high)
        if low is not None and high is not None and float(high) < float(low):
            raise ValueError(f"“{line}”: the reading's limits are the wrong way round.")
        return found
    raise ValueError(
        f"“{line}”: after | write torque 110 Nm, hold, or reading V 11.9..14.8."
    )


def read_steps(text: str) -> list[dict[str, Any]]:
    """Read steps, one a line; ValueError says which line cannot be read."""
    steps: list[dict[str, Any]] = []
    for line in filter(None, map(str.strip, text.splitlines())):
        words, *options = (part.strip() for part in line.split("|"))
        if not words or len(words) > 300:
            raise ValueError(f"“{line[:60]}”: a step has 1 to 300 characters.")
        step: dict[str, Any] = {"text": words}
        for option in options:
            step.update(_read_option(option, line))
        steps.append(step)
    return steps


def write_steps(steps: Iterable[Mapping[str, Any]]) -> str:
    lines = []
    for step in steps:
        line = str(step["text"])
        if step.get("torque_nm") is not None:
            line += f" | torque {step['torque_nm']:g} Nm"
        if step.get("kind") == "hold":
            line += " | hold"
        if step.get("kind") == "reading":
            low, high = step.get("low"), step.get("high")
            line += f" | reading {step['unit']} "
            line += f"{'' if low is None else f'{low:g}'}..{'' if high is None else f'{high:g}'}"
        lines.append(line)
    return "\n".join(lines)
