"""Vehicle identification numbers.

The check digit is required where 49 CFR 565.15 applies (North America); ISO 3779
reserves nothing in position 9, so elsewhere a mismatch means only "look again".
"""

TRANSLITERATION = {
    **{str(n): n for n in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
"""49 CFR 565.15(c)(4), Table III (from memory); I, O and Q are not used."""

WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
"""49 CFR 565.15(c)(4), Table IV (from memory)."""

NORTH_AMERICA = frozenset("12345")
"""First characters that ISO 3780 gives to North America (from memory)."""


def check_digit(vin: str) -> str:
    """Compute position 9 of a 17-character VIN; raise ValueError if it has others."""
    if len(vin) != 17 or any(c not in TRANSLITERATION for c in vin):
        raise ValueError("a VIN has 17 letters and figures without I, O and Q")
    total = sum(
        TRANSLITERATION[c] * weight for c, weight in zip(vin, WEIGHTS, strict=True)
    )
    remainder = total % 11
    return "X" if remainder == 10 else str(remainder)


def vin_warning(vin: str) -> str | None:
    """Say what looks odd about a VIN, or None. Never a reason to refuse it."""
    text = vin.replace(" ", "").replace("-", "").upper()
    if not text:
        return None
    if len(text) != 17:
        return (
            f"This has {len(text)} characters; a VIN under ISO 3779 has 17. "
            "Older vehicles and trailers may carry a shorter chassis number."
        )
    if bad := sorted(set(text) & set("IOQ")):
        return f"A VIN never uses {', '.join(bad)}: compare with the plate (1 or 0?)."
    if any(c not in TRANSLITERATION for c in text):
        return "A VIN has only letters A to Z and figures: compare with the plate."
    if text[0] in NORTH_AMERICA and text[8] != check_digit(text):
        return (
            f"The check digit (9th character) is {text[8]} but works out as "
            f"{check_digit(text)}: compare each character with the plate."
        )
    return None
