"""The start battery of a standing vehicle: how long until it no longer starts."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from compliance.batteries import standby_days
from compliance.changes import clears, told
from compliance.energy_days import running_a
from compliance.findings import (
    Change,
    Finding,
    Step,
    Way,
    finding,
    held_against,
    verdict,
)
from compliance.inputs import BuildRecord, Item
from compliance.supply import SupplyTree
from compliance.tables import citation

STAND_LONGER = (
    "Switch fitted loads off with the ignition, feed them from the other battery, or "
    "keep the start battery charged."
)


def check_standby(tree: SupplyTree) -> Iterator[Finding]:
    """
    Hold the start battery of the standing vehicle against not starting.

    Parameters
    ----------
    tree : SupplyTree
        The supply.

    Yields
    ------
    Finding
        ``standby``, where anything draws on the start battery while it stands.

    Notes
    -----
    A load runs while the vehicle stands for those of its hours that are not driven; one
    with an interlock is taken to be off then.

    References
    ----------
    See ``standby_days``.
    """
    for judged in _judge(tree):
        yield _stand(tree, judged) if judged.verdict == "over" else judged


def _loads(tree: SupplyTree) -> list[Item]:
    return [item for item in tree.fed_from.get("start", ()) if item.load is not None]


def _runs(tree: SupplyTree, item: Item) -> float | str:
    """Mean current of a load that runs while the vehicle stands, or what is missing."""
    load = item.load
    assert load is not None
    if load.short_time or (item.switch is not None and item.switch.interlock):
        return 0.0
    if load.hours_per_day is None:
        return f"hours a day {item.label} runs"
    hours = load.hours_per_day - (tree.record.use.drive_h_per_day or 0.0)
    if hours <= 0:
        return 0.0
    amps = running_a(tree, "start", item)
    return amps if isinstance(amps, str) else amps * hours / 24


def _judge(tree: SupplyTree) -> Iterator[Finding]:
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    runs = [_runs(tree, item) for item in _loads(tree)]
    fitted = (
        math.fsum(i.load.standby_a or 0.0 for i in _loads(tree) if i.load is not None),
        math.fsum(amps for amps in runs if not isinstance(amps, str)),
    )
    if not any(fitted) and not start.standby_a:
        return
    asks = [ask for ask in dict.fromkeys(runs) if isinstance(ask, str)]
    lasts = None
    if start.capacity_ah is not None and start.standby_a is not None and not asks:
        ratio = tree.figure("standby_no_start_ratio")
        drawn = start.standby_a + math.fsum(fitted)
        lasts = standby_days(start.capacity_ah, drawn, ratio)
    yield finding(
        "standby",
        "vehicle",
        verdict(days, lasts),
        _said(tree, lasts, asks),
        value=days,
        limit=lasts,
        unit="d",
        source=citation("energy"),
        working=(
            tree.figure_step("standby_no_start_ratio"),
            _step("Fitted loads while it stands", "sum of standby currents", fitted[0]),
            _step(
                "Fitted loads that run while it stands",
                "A × duty × (h − h driven) / 24, none with an interlock",
                fitted[1],
            ),
        ),
    )


def _said(tree: SupplyTree, lasts: float | None, asks: list[str]) -> str:
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    if days is not None and lasts is not None:
        said = "Start battery, days standing against days until it no longer starts: "
        return said + held_against(days, lasts, "d", least_places=1)
    missing = [
        ask
        for ask, value in (
            ("the start battery's capacity", start.capacity_ah),
            ("what the standing vehicle draws", start.standby_a),
            ("how many days it stands", days),
        )
        if value is None
    ]
    asked = "; ".join([*missing, *asks])
    return f"Start battery of the standing vehicle: enter {asked}."


def _step(label: str, formula: str, amps: float) -> Step:
    return Step(
        label=label,
        formula=formula,
        value=amps,
        unit="A",
        source="line items",
        mark="given",
    )


def _stand(tree: SupplyTree, judged: Finding) -> Finding:
    """Say how long it may stand and what it may draw for the days asked."""
    start, days = tree.record.vehicle.start_battery, tree.record.use.days
    assert judged.limit is not None
    assert start.capacity_ah is not None
    assert start.standby_a is not None
    assert days is not None

    def again(record: BuildRecord) -> Iterable[Finding]:
        return _judge(SupplyTree(record))

    whole = math.floor(judged.limit + 1e-9)
    stand = Way(
        f"let it stand no more than {whole:d} d", (Change("use", "", "days", whole),)
    )
    off = _switched_off(tree)[-2:]
    tried = [w for w in off if clears(tree.record, w, judged.key, again)][:1]
    if whole >= 1 and clears(tree.record, stand, judged.key, again):
        tried.append(stand)
    found = told(judged, tried, STAND_LONGER)
    share = tree.figure("standby_no_start_ratio")
    spare_a = share * start.capacity_ah / (24 * days) - start.standby_a
    spare_ma = math.floor(1000 * spare_a + 1e-9)
    if spare_ma > 0:
        allowed = f" Fitted loads may draw {spare_ma:,d} mA for {days} d."
        found = replace(found, would_clear=f"{found.would_clear}{allowed}")
    return found


def _switched_off(tree: SupplyTree) -> list[Way]:
    """Each load switched off while it stands, the one that draws most then last."""
    driven, sized = tree.record.use.drive_h_per_day or 0.0, []
    for item in _loads(tree):
        runs, load = _runs(tree, item), item.load
        assert load is not None
        assert not isinstance(runs, str)
        drawn = runs + (load.standby_a or 0.0)
        if drawn:
            hours = load.hours_per_day
            if runs:
                hours = driven
            rest = replace(load, standby_a=0.0, hours_per_day=hours)
            off = Change("items", item.key, "load", rest)
            way = Way(f"switch {item.label} off while it stands", (off,))
            sized.append((drawn, item.key, way))
    return [way for _, _, way in sorted(sized, key=lambda row: row[:2])]
