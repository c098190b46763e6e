"""The answer of the core as charts: what each is drawn from, and its table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import mark_safe

from builds.chart_gaps import (
    Gap,
    Results,
    axle_gaps,
    battery_finding,
    drop_gaps,
    soc_gaps,
    zone_gaps,
)
from builds.drawings.axle_chart import ChartLimits, ChartPoint, axle_chart
from builds.drawings.drop_chart import DropBar, drop_chart, in_order
from builds.drawings.soc_chart import ChargeLine, soc_chart
from builds.drawings.zone_chart import ZoneBar, zone_chart
from builds.figures import finding_of
from builds.models import ZONE_LABELS, BuildJob, Circuit, LineItem
from compliance.inputs import ZONES
from compliance.sun import MID_MONTH_DAY, extraterrestrial
from workshop.templatetags.units import words

SCENARIO_WORDS = {
    "use": "loaded as told",
    "driver-only": "driver only",
    "loaded-unhitched": "loaded, unhitched",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a chart's table; without ``places`` it holds words."""

    label: str
    unit: str = ""
    places: int | None = None
    signed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One chart of a build: its drawing, the same as a table, and what it lacks."""

    key: str
    title: str
    caption: str
    drawing: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Any]]
    gaps: Sequence[Gap]

    @property
    def cells(self) -> list[list[tuple[Column, Any]]]:
        return [list(zip(self.columns, row, strict=True)) for row in self.rows]


# What each drawing is made from.


def axle_points(results: Results) -> list[ChartPoint]:
    """Every scenario whose axle loads are known."""
    return [
        ChartPoint(
            label=SCENARIO_WORDS.get(key) or words(key),
            front_kg=row["front_kg"],
            rear_kg=row["rear_kg"],
            front_u_kg=row.get("front_u_kg", 0.0),
            rear_u_kg=row.get("rear_u_kg", 0.0),
        )
        for key, row in results["load"]["scenarios"].items()
        if row.get("front_kg") is not None and row.get("rear_kg") is not None
    ]


def axle_path(results: Results) -> list[ChartPoint]:
    """The steps from the bare vehicle to the loaded one."""
    return [
        ChartPoint(
            label=step["label"], front_kg=step["front_kg"], rear_kg=step["rear_kg"]
        )
        for step in results["load"].get("path", [])
    ]


def axle_limits(results: Results) -> ChartLimits:
    worst = results["load"]["worst"]
    return ChartLimits(
        front_axle_kg=worst["front_axle"]["limit_kg"],
        rear_axle_kg=worst["rear_axle"]["limit_kg"],
        gvm_kg=worst["gvm"]["limit_kg"],
    )


def charge_lines(results: Results, items: Sequence[LineItem]) -> list[ChargeLine]:
    """Every battery that could be followed through the days, in the items' order."""
    answers = results["power"].get("batteries", {})
    found = []
    for item in items:
        soc = answers.get(item.key, {}).get("soc", {})
        ratios = [row["soc_ratio"] for row in soc.get("hourly", [])]
        if ratios:
            reserve = _reserve_ratio(results, item.key)
            line = ChargeLine(label=item.label, ratios=ratios, reserve_ratio=reserve)
            found.append(line)
    return found


def _reserve_ratio(results: Results, key: str) -> float | None:
    """What is to be kept is what may not be drawn; the finding's limit names that."""
    limit = battery_finding(results, "soc-minimum", key).get("limit")
    return None if limit is None else 1 - limit / 100


def daylight_h(build: BuildJob) -> float | None:
    """Daylight of the trip, as the sums of its sun take it."""
    if build.latitude_deg is None or build.month is None:
        return None
    day = MID_MONTH_DAY[build.month - 1]
    return extraterrestrial(float(build.latitude_deg), day).daylight_h


def drop_bars(results: Results, circuits: Sequence[Circuit]) -> list[DropBar]:
    """Every circuit; its word is that of the drop, not of its fuse or cable."""
    found = []
    for circuit in circuits:
        answer = results["power"]["circuits"].get(circuit.key, {})
        judged = finding_of(results, f"circuit-drop.{circuit.key}")
        found.append(
            DropBar(
                key=circuit.key,
                label=circuit.label,
                drop_percent=answer.get("drop_percent"),
                limit_percent=answer.get("limit_percent"),
                verdict=judged.get("verdict", "unknown"),
            )
        )
    return found


def zone_bars(results: Results) -> list[ZoneBar]:
    """Every zone that something is fitted to or taken from, as one walks round."""
    zones = results["load"].get("zones", {})
    return [
        ZoneBar(
            label=ZONE_LABELS[zone],
            fitted_kg=zones[zone]["mass_kg"],
            removed_kg=zones[zone].get("removed_kg", 0.0),
            unweighed=zones[zone].get("unweighed", 0),
        )
        for zone in ZONES
        if zone in zones
    ]


# The drawings alone, for the pack; empty where nothing can be drawn.


def axle_drawing(results: Results) -> str:
    points, path = axle_points(results), axle_path(results)
    if not points and not path:
        return ""
    return mark_safe(axle_chart(points, axle_limits(results), path))  # noqa: S308


def soc_drawing(build: BuildJob, results: Results, items: Sequence[LineItem]) -> str:
    lines = charge_lines(results, items)
    return mark_safe(soc_chart(lines, daylight_h(build))) if lines else ""  # noqa: S308


def drop_drawing(results: Results, circuits: Sequence[Circuit]) -> str:
    bars = drop_bars(results, circuits)
    return mark_safe(drop_chart(bars)) if bars else ""  # noqa: S308


def zone_drawing(results: Results) -> str:
    zones = zone_bars(results)
    return mark_safe(zone_chart(zones)) if zones else ""  # noqa: S308


# Each chart with its table.


def charts_of(
    build: BuildJob,
    results: Results,
    items: Sequence[LineItem],
    circuits: Sequence[Circuit],
) -> list[Chart]:
    """Give every chart of a build, also those that still lack something."""
    return [
        _axle(build, results),
        _soc(build, results, items),
        _drop(build, results, circuits),
        _zone(build, results),
    ]


def _kg(label: str) -> Column:
    return Column(label, "kg", 0)


def _axle(build: BuildJob, results: Results) -> Chart:
    limits = axle_limits(results)
    rows: list[list[Any]] = [
        [p.label, p.front_kg, None, p.rear_kg, None, p.front_kg + p.rear_kg]
        for p in axle_path(results)
    ]
    rows += [
        [
            p.label[:1].upper() + p.label[1:],
            p.front_kg,
            p.front_u_kg or None,
            p.rear_kg,
            p.rear_u_kg or None,
            p.front_kg + p.rear_kg,
        ]
        for p in axle_points(results)
    ]
    edges = [limits.front_axle_kg, None, limits.rear_axle_kg, None, limits.gvm_kg]
    rows.append(["Limit that counts", *edges])
    return Chart(
        key="axles",
        title="Axle loads",
        caption="Below and left of every limit line is within. Broken frames are what "
        "masses and scales leave open.",
        drawing=axle_drawing(results),
        columns=[
            Column("State"),
            _kg("Front axle"),
            _kg("± front"),
            _kg("Rear axle"),
            _kg("± rear"),
            _kg("Vehicle"),
        ],
        rows=rows,
        gaps=list(axle_gaps(build, results)),
    )


def _soc(build: BuildJob, results: Results, items: Sequence[LineItem]) -> Chart:
    rows = [row for line in charge_lines(results, items) for row in _charge_rows(line)]
    return Chart(
        key="charge",
        title="State of charge",
        caption="From full at midnight, hour by hour, the same day repeated. The line "
        "with strokes is the reserve: what should stay in the battery.",
        drawing=soc_drawing(build, results, items),
        columns=[
            Column("Battery"),
            Column("Day", "", 0),
            Column("Lowest", "%", 0),
            Column("At hour", "", 0),
            Column("At midnight", "%", 0),
            Column("Reserve", "%", 0),
        ],
        rows=rows,
        gaps=list(soc_gaps(build, results, items)),
    )


def _charge_rows(line: ChargeLine) -> Iterator[list[Any]]:
    """One row a day: an hour's row each would be read by nobody."""
    reserve = None if line.reserve_ratio is None else 100 * line.reserve_ratio
    for day in range(line.days):
        hours = line.ratios[24 * day : 24 * day + 24]
        lowest = min(hours)
        at = hours.index(lowest) + 1
        yield [line.label, day + 1, 100 * lowest, at, 100 * hours[-1], reserve]


def _drop(build: BuildJob, results: Results, circuits: Sequence[Circuit]) -> Chart:
    rows = []
    for bar in in_order(drop_bars(results, circuits)):
        answer, share = results["power"]["circuits"].get(bar.key, {}), bar.share
        rows.append(
            [
                bar.label,
                answer.get("current_a"),
                answer.get("drop_v"),
                bar.drop_percent,
                bar.limit_percent,
                None if share is None else 100 * share,
                bar.verdict if bar.limit_percent else "no limit of its own",
            ]
        )
    return Chart(
        key="drop",
        title="Voltage drop by circuit",
        caption="From the source to the end of each circuit, nearest to its limit "
        "first; the thick stroke is the limit.",
        drawing=drop_drawing(results, circuits),
        columns=[
            Column("Circuit"),
            Column("Current", "A", 1),
            Column("Drop", "V", 2),
            Column("Drop", "%", 2),
            Column("Limit", "%", 1),
            Column("Of its limit", "%", 1),
            Column("Drop is"),
        ],
        rows=rows,
        gaps=list(drop_gaps(build, results, circuits)),
    )


def _zone(build: BuildJob, results: Results) -> Chart:
    zones, counts = zone_bars(results), results["load"].get("zones", {})
    items: Mapping[str, int] = {
        ZONE_LABELS[zone]: row.get("items", 0) for zone, row in counts.items()
    }
    rows = [
        [
            z.label,
            items[z.label],
            z.fitted_kg,
            z.removed_kg,
            z.fitted_kg - z.removed_kg,
            z.unweighed,
        ]
        for z in zones
    ]
    return Chart(
        key="zones",
        title="Mass by zone",
        caption="In the order of a walk round the vehicle: fitted to the right, taken "
        "off hatched to the left.",
        drawing=zone_drawing(results),
        columns=[
            Column("Zone"),
            Column("Items", "", 0),
            Column("Fitted", "kg", 1),
            Column("Taken off", "kg", 1),
            Column("Difference", "kg", 1, signed=True),
            Column("Without a mass", "", 0),
        ],
        rows=rows,
        gaps=list(zone_gaps(build, results)),
    )
