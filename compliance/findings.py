"""Results a person can act on: a number against its limit, with its working."""

from dataclasses import dataclass
from typing import Literal, Required, TypedDict, Unpack

Verdict = Literal["within", "not proven", "over", "unknown"]
Severity = Literal["stop", "check", "clear"]
Mark = Literal[
    "published",
    "common practice",
    "from memory",
    "workshop rule",
    "derived",
    "given",
]

VERDICT_ORDER: tuple[Verdict, ...] = ("over", "unknown", "not proven", "within")

SEVERITY: dict[Verdict, Severity] = {
    "over": "stop",
    "unknown": "check",
    "not proven": "check",
    "within": "clear",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of working, as a person would write it beside a sum."""

    label: str
    formula: str
    value: float | str | None
    unit: str
    source: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Change:
    """One member of a record set anew, such as a circuit's ``area_mm2``.

    ``part`` is a list of the record or of its supply, ``use``, or ``alternator``;
    ``key`` names the entry of a list and is empty otherwise.
    """

    part: str
    key: str
    member: str
    value: object


@dataclass(frozen=True, slots=True)
class Way:
    """What would clear a finding: in words after "to", and as changes of the record."""

    said: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A quantity held against a limit.

    ``key`` is stable kebab-case, subject last: ``axle-mass.rear``,
    ``circuit-drop.fridge``. ``subject`` is the key of the item, circuit or battery
    it speaks about, or ``"vehicle"``. ``severity`` is ``stop`` (must not leave so),
    ``check`` (somebody must look or measure) or ``clear``. Each of ``ways`` clears it by
    itself; ``would_clear`` says them.
    """

    key: str
    severity: Severity
    subject: str
    verdict: Verdict
    value: float | None
    limit: float | None
    unit: str
    sentence: str
    source: str
    would_clear: str | None = None
    working: tuple[Step, ...] = ()
    ways: tuple[Way, ...] = ()


class More(TypedDict, total=False):
    """The members of a ``Finding`` that do not follow from its rule and verdict."""

    source: Required[str]
    value: float | None
    limit: float | None
    unit: str
    would_clear: str | None
    working: tuple[Step, ...]
    ways: tuple[Way, ...]


def verdict(value: float | None, limit: float | None, expanded: float = 0.0) -> Verdict:
    """
    Hold a value with its expanded uncertainty against an upper limit.

    Parameters
    ----------
    value : float or None
        Computed or measured quantity, in the unit of ``limit``.
    limit : float or None
        Upper limit; reaching it exactly is still within.
    expanded : float
        Expanded uncertainty U = 2u, >= 0, in the same unit.

    Returns
    -------
    Verdict
        ``within`` if value + U <= limit, ``over`` if value - U > limit,
        ``not proven`` between, ``unknown`` if either is missing.

    Notes
    -----
    A relative 1e-9 is allowed for binary noise, so that a sum which is exactly at
    its limit on paper is not reported as over.

    References
    ----------
    Guard band decision of JCGM 106:2012 and ISO 14253-1 (from memory).
    """
    if value is None or limit is None:
        return "unknown"
    noise = 1e-9 * max(abs(value), abs(limit), 1.0)
    if value + expanded <= limit + noise:
        return "within"
    if value - expanded > limit + noise:
        return "over"
    return "not proven"


def held_against(
    value: float,
    limit: float,
    unit: str,
    expanded: float = 0.0,
    least_places: int = 0,
) -> str:
    """
    Say a value, its limit and what is in hand, so that the words fit the verdict.

    Parameters
    ----------
    value : float
        Computed or measured quantity, in ``unit``.
    limit : float
        Upper limit, in ``unit``.
    unit : str
        Unit to print.
    expanded : float
        Expanded uncertainty U, >= 0, in ``unit``; printed only if not zero.
    least_places : int
        Decimals to print at least.

    Returns
    -------
    str
        Such as ``1,812 kg against 1,850 kg: 38 kg in hand.``

    Notes
    -----
    Whole numbers, or as many decimals as asked for, unless rounding would hide which
    side of the limit the value or its band lies on; then as many as it takes.

    References
    ----------
    Derived: a printed sentence may not contradict its verdict.

    Examples
    --------
    >>> held_against(1850.3, 1850, "kg")
    '1,850.3 kg against 1,850.0 kg: 0.3 kg over.'
    """
    judged, exact = verdict(value, limit, expanded), verdict(value, limit)

    def rounded(places: int) -> tuple[float, float, float]:
        return round(value, places), round(limit, places), round(expanded, places)

    def agrees(places: int) -> bool:
        shown, most, band = rounded(places)
        return verdict(shown, most, band) == judged and verdict(shown, most) == exact

    places = next(filter(agrees, range(least_places, 10)), 10)
    shown, most, band = rounded(places)
    between = f" ± {band:,.{places}f} {unit}" if band else ""
    apart = f"{abs(most - shown):,.{places}f} {unit}"
    end = f"{apart} over" if exact == "over" else f"{apart} in hand"
    if judged == "not proven":
        end += ", not proven within its tolerance; measure it"
    elif most == shown:
        end = "at the limit"
    start = f"{shown:,.{places}f} {unit}{between}"
    return f"{start} against {most:,.{places}f} {unit}: {end}."


def finding(
    rule: str, subject: str, outcome: Verdict, sentence: str, **more: Unpack[More]
) -> Finding:
    """
    Build a finding whose key and severity follow from its rule and its verdict.

    Parameters
    ----------
    rule : str
        Kebab-case name of what is checked.
    subject : str
        Key of the item, circuit or battery it speaks about, or ``"vehicle"``.
    outcome : Verdict
        What the sum said.
    sentence : str
        What a person reads.
    **more
        The other members of ``Finding``; ``source`` is required.

    Returns
    -------
    Finding
        Keyed by rule and subject, by the rule alone for the vehicle.
    """
    return Finding(
        key=rule if subject == "vehicle" else f"{rule}.{subject}",
        severity=SEVERITY[outcome],
        subject=subject,
        verdict=outcome,
        value=more.get("value"),
        limit=more.get("limit"),
        unit=more.get("unit", ""),
        sentence=sentence,
        source=more["source"],
        would_clear=more.get("would_clear"),
        working=more.get("working", ()),
        ways=more.get("ways", ()),
    )
