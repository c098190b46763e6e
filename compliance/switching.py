"""Where each item is switched: places used, places left, items that wait for one."""

from collections.abc import Iterator
from dataclasses import dataclass

from compliance.findings import Finding, Step
from compliance.inputs import BuildRecord, Item

SOURCE = "Derived: the vehicle's switch places counted against the items' entries"


@dataclass(frozen=True, slots=True, kw_only=True)
class Switching:
    """Places for switches and who has them, by key."""

    positions: dict[str, tuple[str, ...]]
    unplaced: tuple[str, ...]
    unanswered: tuple[str, ...]

    @property
    def used(self) -> int:
        """How many places hold at least one item."""
        return sum(1 for items in self.positions.values() if items)

    @property
    def spare(self) -> int:
        """How many places are still blank."""
        return len(self.positions) - self.used


def allot_switches(record: BuildRecord) -> Switching:
    """
    Sort the items by what is known of their switching.

    Parameters
    ----------
    record : BuildRecord
        Items and the vehicle's switch positions.

    Returns
    -------
    Switching
        Who sits where, who waits for a place, and who was never asked.
    """
    held: dict[str, list[str]] = {p.key: [] for p in record.vehicle.switch_positions}
    unplaced, unanswered = [], []
    for item in record.items:
        switch = item.switch
        if switch is None:
            unanswered.append(item.key)
        elif switch.kind == "position":
            if switch.position in held:
                held[switch.position].append(item.key)
            else:
                unplaced.append(item.key)
    return Switching(
        positions={key: tuple(sorted(items)) for key, items in held.items()},
        unplaced=tuple(sorted(unplaced)),
        unanswered=tuple(sorted(unanswered)),
    )


def check_switching(record: BuildRecord, found: Switching) -> list[Finding]:
    """
    Judge the places: one answer per item, one item per place, enough blanks.

    Parameters
    ----------
    record : BuildRecord
        Items and the vehicle's switch positions.
    found : Switching
        From ``allot_switches``.

    Returns
    -------
    list of Finding
        ``switch-place.<item>`` for every item that has a place, waits for one or was
        never asked about, and ``switch-blanks``.
    """
    named = {item.key: item for item in record.items}
    findings = [_unanswered(named[key]) for key in found.unanswered]
    findings += [_waiting(named[key], found) for key in found.unplaced]
    findings += _placed(record, found, named)
    findings.append(_blanks(found))
    return findings


def _unanswered(item: Item) -> Finding:
    return Finding(
        key=f"switch-place.{item.key}",
        severity="check",
        subject=item.key,
        verdict="unknown",
        value=None,
        limit=None,
        unit="",
        sentence=f"{item.label}: choose where it is switched, or say none.",
        source=SOURCE,
    )


def _waiting(item: Item, found: Switching) -> Finding:
    short = len(found.unplaced) > found.spare
    if short:
        said = (
            f"{item.label} needs a switch place: {_count(len(found.unplaced), 'item')} "
            f"waiting, {_count(found.spare, 'blank')} left."
        )
    else:
        said = (
            f"{item.label} needs a switch place: choose one of "
            f"{_count(found.spare, 'blank')} left."
        )
    return Finding(
        key=f"switch-place.{item.key}",
        severity="stop" if short else "check",
        subject=item.key,
        verdict="over" if short else "unknown",
        value=float(len(found.unplaced)),
        limit=float(found.spare),
        unit="places",
        sentence=said,
        source=SOURCE,
        would_clear="Add a switch panel, or choose an item with its own switch."
        if short
        else None,
        working=_working(found),
    )


def _placed(
    record: BuildRecord, found: Switching, named: dict[str, Item]
) -> Iterator[Finding]:
    for place in record.vehicle.switch_positions:
        holders = found.positions[place.key]
        where = f"{place.panel}, {place.label}" if place.label else place.panel
        for key in holders:
            label, shared = named[key].label, len(holders) > 1
            said = f"{label} is switched at {where}."
            if shared:
                rest = " and ".join(named[k].label for k in holders if k != key)
                said = f"{label} shares its switch place ({where}) with {rest}."
            yield Finding(
                key=f"switch-place.{key}",
                severity="stop" if shared else "clear",
                subject=key,
                verdict="over" if shared else "within",
                value=float(len(holders)),
                limit=1.0,
                unit="items",
                sentence=said,
                source=SOURCE,
                would_clear="Move all but one to another place." if shared else None,
            )


def _blanks(found: Switching) -> Finding:
    waiting, spare = len(found.unplaced), found.spare
    short = waiting > spare
    said = f"{_count(len(found.positions), 'switch place')}: {found.used} used, {spare} left."
    if waiting:
        said = f"{said[:-1]}, {_count(waiting, 'item')} waiting."
    return Finding(
        key="switch-blanks",
        severity="stop" if short else "clear",
        subject="vehicle",
        verdict="over" if short else "within",
        value=float(found.used + waiting),
        limit=float(len(found.positions)),
        unit="places",
        sentence=said,
        source=SOURCE,
        would_clear="Add a switch panel, or choose items with their own switch."
        if short
        else None,
        working=_working(found),
    )


def _working(found: Switching) -> tuple[Step, ...]:
    rows = (
        ("places of the vehicle", "counted", len(found.positions)),
        ("used", "places with an item", found.used),
        ("left", "places - used", found.spare),
        ("waiting", "items that need a place and have none", len(found.unplaced)),
    )
    return tuple(
        Step(
            label=label,
            formula=formula,
            value=float(count),
            unit="places",
            source="vehicle and line items",
            mark="derived",
        )
        for label, formula, count in rows
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
