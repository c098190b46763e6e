"""Numbers with their units, the way they are printed everywhere."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from django import template

register = template.Library()

Number = int | float | Decimal | str | None


def _decimal(value: Number) -> Decimal | None:
    if value is None or value == "":
        return None
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


@register.filter
def number(value: Number, places: int = 0) -> str:
    """Round to so many places with thousands marked; a dash where not known."""
    amount = _decimal(value)
    if amount is None:
        return "–"  # noqa: RUF001 - a dash is what stands in an empty cell
    rounded = amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    # A rounded zero has no sign.
    text = f"{abs(rounded) if rounded == 0 else rounded:,}"
    return text.replace("-", "−")  # noqa: RUF001 - a true minus lines up with figures


@register.filter
def signed(value: Number, places: int = 0) -> str:
    """Show a difference with its sign, always."""
    amount = _decimal(value)
    text = number(value, places)
    return f"+{text}" if amount is not None and amount >= 0 else text


@register.filter
def plain(value: Number) -> str:
    """Show what was entered without trailing zeros; a dash where not known."""
    amount = _decimal(value)
    if amount is None:
        return "–"  # noqa: RUF001
    text = f"{amount.normalize():f}"
    return text.replace("-", "−")  # noqa: RUF001


@register.filter
def sideways(value: Number) -> str:
    """Say a distance to the left, as stored, the way a person points: ``380 mm right``."""
    amount = _decimal(value)
    if not amount:
        return "on the centre line"
    return f"{number(abs(amount))} mm {'left' if amount > 0 else 'right'}"


@register.filter
def kg(value: Number, places: int = 0) -> str:
    return f"{number(value, places)} kg"


@register.filter
def hours(value: Number) -> str:
    return f"{number(value, 1)} h"


@register.filter
def money(value: Number) -> str:
    return number(value, 2)


@register.filter
def words(value: str) -> str:
    """Turn a key into words: ``loaded-hitched`` to ``Loaded hitched``."""
    return str(value).replace("-", " ").replace("_", " ").capitalize()


@register.filter
def anchor(value: str) -> str:
    """Make a finding's key usable as an element id."""
    return str(value).replace(".", "-")


@register.filter
def lookup(mapping: Mapping[str, object], key: str) -> object:
    """Get a value by a key that is itself a variable; empty when not there."""
    return mapping.get(key, "")


@register.filter
def figure(value: Number) -> str:
    """Show a number of working to three decimals, a word as it is."""
    amount = _decimal(value)
    if amount is None:
        return str(value or "–")  # noqa: RUF001
    return number(value, 0 if abs(amount) >= 1000 else 3 if abs(amount) < 10 else 1)


@register.filter
def rule(key: str) -> str:
    """Name a finding's rule in words: ``circuit-drop.fridge`` to ``Circuit drop``."""
    return words(str(key).partition(".")[0])


@register.filter
def against(finding: Mapping[str, Number]) -> str:
    """Write a finding's value and limit with the decimals that tell them apart."""
    value, limit = _decimal(finding.get("value")), _decimal(finding.get("limit"))
    if value is None or limit is None:
        return ""
    fewest = 0 if max(abs(value), abs(limit)) >= 100 else 1
    places = next(
        (n for n in range(fewest, 4) if round(value, n) != round(limit, n)), fewest
    )
    return f"{number(value, places)} / {number(limit, places)} {finding['unit']}"


@register.filter
def is_in(name: str, names: Collection[str]) -> bool:
    return name in names


ENDINGS = {
    "_kg": "kg",
    "_kgm": "kg·m",
    "_m": "m",
    "_mm": "mm",
    "_mm2": "mm²",
    "_a": "A",
    "_ah": "Ah",
    "_v": "V",
    "_wh": "Wh",
    "_ohm": "Ω",
    "_l": "L",
    "_s": "s",
    "_h": "h",
    "_c": "°C",
    "_days": "days",
    "_percent": "%",
    "_mj_m2": "MJ/m²",
    "_kwh_m2": "kWh/m²",
}


@register.filter
def measured(name: str) -> str:
    """Turn a quantity's name into words and its unit: ``drop_v`` to ``Drop, V``."""
    for ending in sorted(ENDINGS, key=len, reverse=True):
        if name.endswith(ending):
            return f"{words(name.removesuffix(ending))}, {ENDINGS[ending]}"
    return words(name)


@register.filter
def asked(text: str) -> str:
    """Turn a field's help into its label; a flag asks without the word true."""
    plain = text.removeprefix("true where ").removeprefix("true when ")
    return plain[:1].upper() + plain[1:]


@register.filter
def lasting(days: Number) -> str:
    """Say a time in days; in hours where that is what somebody plans by."""
    amount = _decimal(days)
    if amount is None or amount >= 2:
        return f"{number(days, 1)} days"
    return f"{number(amount * 24)} hours"
