"""A record with some of its members set anew, and the ways that clear a finding."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from compliance.findings import Change, Finding, Way
from compliance.inputs import BuildRecord

MOST_WAYS = 3
"""Ways that are told; more would not be read."""


def changed(record: BuildRecord, changes: Iterable[Change]) -> BuildRecord:
    """
    Set members of a record anew.

    Parameters
    ----------
    record : BuildRecord
        The record, which is left as it is.
    changes : iterable of Change
        What to set; a key that is in no entry changes nothing.

    Returns
    -------
    BuildRecord
        Another record.
    """
    for change in changes:
        member: dict[str, Any] = {change.member: change.value}
        if change.part == "use":
            record = replace(record, use=replace(record.use, **member))
        elif change.part == "alternator":
            alternator = replace(record.vehicle.alternator, **member)
            vehicle = replace(record.vehicle, alternator=alternator)
            record = replace(record, vehicle=vehicle)
        elif change.part == "items":
            record = replace(record, items=_set(record.items, change.key, member))
        else:
            rows = _set(getattr(record.supply, change.part), change.key, member)
            parts: dict[str, Any] = {change.part: rows}
            record = replace(record, supply=replace(record.supply, **parts))
    return record


def _set(rows: Iterable[Any], key: str, member: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(replace(row, **member) if row.key == key else row for row in rows)


def clears(
    record: BuildRecord,
    way: Way,
    key: str,
    judge: Callable[[BuildRecord], Iterable[Finding]],
) -> bool:
    """
    Try a way on a copy of the record.

    Parameters
    ----------
    record : BuildRecord
        The record as it is.
    way : Way
        What to change.
    key : str
        The finding it should clear.
    judge : callable
        Gives the findings of a record, that one among them.

    Returns
    -------
    bool
        Whether the finding is within its limit then, or gone.
    """
    found = [f for f in judge(changed(record, way.changes)) if f.key == key]
    return all(f.verdict == "within" for f in found)


def told(judged: Finding, ways: Iterable[Way], otherwise: str = "") -> Finding:
    """
    Give a finding with the ways that clear it, in one sentence.

    Parameters
    ----------
    judged : Finding
        The finding.
    ways : iterable of Way
        Ways that were tried, best first; no more than ``MOST_WAYS`` are told.
    otherwise : str
        Sentence where there is none.

    Returns
    -------
    Finding
        The same finding, with ``ways`` and ``would_clear``.
    """
    few = tuple(ways)[:MOST_WAYS]
    said = ", or ".join(way.said for way in few)
    sentence = f"{said[0].upper()}{said[1:]}." if said else otherwise
    return replace(judged, would_clear=sentence or None, ways=few)
