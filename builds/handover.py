"""The handover pack: one record to HTML, HTML to a tagged PDF."""

from __future__ import annotations

import atexit
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone

from builds.card import card_state, readings_of
from builds.charts import (
    SCENARIO_WORDS,
    axle_drawing,
    drop_drawing,
    soc_drawing,
    zone_drawing,
)
from builds.drawings.dash import Place, dash_view
from builds.drawings.plan import Mark, VehicleShape, plan_view
from builds.models import ZONE_LABELS, BuildJob, Circuit, LineItem, Pack
from builds.services.checks import report_of
from builds.services.coverage import coverage_gaps
from builds.snapshots import circuits_of, items_of
from compliance.inputs import ZONES
from workshop.models import Site, Vehicle


@dataclass(frozen=True, slots=True)
class FittedItem:
    """One fitted line as the pack tells its owner about it."""

    number: int
    item: LineItem
    circuit: Circuit | None
    serial: str

    @property
    def switch(self) -> str:
        """Where it is switched, in words; the same words on screen and paper."""
        return switch_words(self.item)

    @property
    def feed(self) -> str:
        return feed_words(self.item)

    @property
    def papers(self) -> str:
        return "; ".join(self.item.papers)


def switch_words(item: LineItem) -> str:
    match item.switch_kind:
        case "none":
            return "nothing to switch"
        case "own":
            where = item.switch_text or item.place_text
            return f"on the item itself: {where}" if where else "on the item itself"
        case "position" if item.switch_position is not None:
            place = item.switch_position
            legend = f", marked “{item.switch_text}”" if item.switch_text else ""
            return f"{place}{legend}"
        case "position":
            return "needs a switch place, none chosen yet"
        case _:
            return "not said yet"


def feed_words(item: LineItem) -> str:
    """What feeds an item and through which fuse, in words."""
    circuit = item.circuit
    if circuit is None:
        return _unfed_words(item)
    fuse = "no fuse entered"
    if item.short_time:
        fuse = "no fuse, drawn only for moments"
    if circuit.fuse_a is not None:
        kind = f" ({circuit.get_fuse_kind_display()})" if circuit.fuse_kind else ""
        fuse = f"{circuit.fuse_a.normalize():f} A fuse{kind}"
    place = f", {circuit.fuse_place}" if circuit.fuse_place else ""
    # A circuit that is named after its item is not named twice.
    name = "" if circuit.label == item.label else f"{circuit.label}: "
    return f"{name}{fuse}{place}"


def _unfed_words(item: LineItem) -> str:
    if item.load_kind:
        return "not fed yet"
    if item.supply_role == "battery":
        return "a source itself; its own fuse stands in the list of circuits"
    if item.supply_role == "panel":
        to = f" for {item.charges.label}" if item.charges else ""
        return f"a source itself{to}"
    if item.part is not None and item.part.fuse_a is not None:
        fuse = f"{item.part.fuse_a.normalize():f} A"
        return f"carries current, {fuse} fuse; not in the list of circuits"
    return "draws no current"


def vehicle_shape(vehicle: Vehicle) -> VehicleShape:
    """Give the drawing what it needs; where geometry is unknown it is schematic."""
    return VehicleShape(
        body_type=vehicle.body_type,
        wheelbase_mm=vehicle.wheelbase_mm or 3000,
        front_overhang_mm=vehicle.front_overhang_mm or 900,
        rear_overhang_mm=vehicle.rear_overhang_mm or 1100,
        width_mm=vehicle.width_mm or 1850,
        track_mm=vehicle.track_mm or 1550,
        ball_to_axle_mm=vehicle.ball_to_axle_mm,
    )


def plan_marks(
    items: list[LineItem],
    *,
    hrefs: Mapping[int | None, str] | None = None,
    done: Mapping[int | None, bool] | None = None,
) -> list[Mark]:
    """Number the items for the drawing; the same numbers as in every list."""
    return [
        Mark(
            number=number,
            label=item.label,
            x_mm=item.x_mm,
            y_mm=item.y_mm,
            zone=item.zone,
            href=hrefs.get(item.pk) if hrefs else None,
            done=done.get(item.pk) if done else None,
        )
        for number, item in enumerate(items, start=1)
    ]


def dash_places(build: BuildJob, items: list[LineItem]) -> list[Place]:
    """Every switch place of the vehicle with what it controls in this build."""
    taken = {
        item.switch_position_id: (number, item)
        for number, item in enumerate(items, start=1)
        if item.switch_position_id
    }
    places = []
    for place in build.vehicle.switch_positions.all():
        number, item = taken.get(place.pk, (None, None))
        places.append(
            Place(
                key=place.key,
                panel=place.panel,
                label=place.label,
                legend=(item.switch_text or item.label) if item else None,
                number=number,
            )
        )
    return places


WORST_WORDS = {
    "gvm": "the vehicle",
    "front_axle": "the front axle",
    "rear_axle": "the rear axle",
    "gcm": "vehicle and trailer",
    "roof": "the roof",
}


def worst_rows(results: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """List each limit at its worst; a stored answer has no order."""
    worst = results["load"]["worst"]
    return [(words, worst[key]) for key, words in WORST_WORDS.items()]


def too_full(results: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """List the limits that the worst state would pass, or might."""
    rows = worst_rows(results)
    return [row for row in rows if row[1]["verdict"] in ("over", "not proven")]


def pack_context(build: BuildJob, *, final: bool) -> dict[str, Any]:
    """Gather all a pack says; the same for the same record, whoever prints it."""
    items = items_of(build)
    results = report_of(build=build).results
    state = card_state(build)
    serials = {t.task.line_item_id: t.serial for t in state.tasks if t.serial}
    fitted = [
        FittedItem(n, item, item.circuit, item.serial or serials.get(item.pk, ""))
        for n, item in enumerate(items, start=1)
    ]
    zones = [
        (ZONE_LABELS[zone], [f for f in fitted if f.item.zone == zone])
        for zone in ZONES
    ]
    findings = results["findings"]
    circuits = circuits_of(build)
    return {
        "build": build,
        "site": Site.current(),
        "final": final,
        "fitted": fitted,
        "zones": [(label, rows) for label, rows in zones if rows],
        "switched": [f for f in fitted if f.item.switch_position],
        "own_items": [f for f in fitted if f.item.supplied_by == "customer"],
        "cautions": [f for f in fitted if f.item.caution_text],
        "papers": [f for f in fitted if f.item.papers or f.item.raise_paper],
        "circuits": [
            (circuit, results["power"]["circuits"].get(circuit.key, {}))
            for circuit in circuits
        ],
        "batteries": [f for f in fitted if f.item.supply_role == "battery"],
        "results": results,
        "load": results["load"],
        "day": results["power"]["day"],
        "open_findings": [f for f in findings if f["verdict"] != "within"],
        "too_full": too_full(results),
        "scenario_words": SCENARIO_WORDS,
        "gaps": coverage_gaps(build=build),
        "readings": readings_of(state),
        "card": state,
        "plan": plan_view(vehicle_shape(build.vehicle), plan_marks(items)),
        "dash": dash_view(dash_places(build, items)),
        "axle_chart": axle_drawing(results),
        "zone_chart": zone_drawing(results),
        "drop_chart": drop_drawing(results, circuits),
        "soc_chart": soc_drawing(build, results, items),
        "zone_labels": ZONE_LABELS,
    }


def pack_html(build: BuildJob, *, final: bool, pack: Pack | None = None) -> str:
    asked = timezone.localtime(pack.asked_at) if pack else None
    context = pack_context(build, final=final) | {"pack": pack, "asked": asked}
    return render_to_string("builds/pack_document.html", context)


def pack_digest(build: BuildJob, *, final: bool) -> str:
    """Name what a pack would say, without its number and date."""
    return hashlib.sha256(pack_html(build, final=final).encode()).hexdigest()


@cache
def _print_style() -> tuple[Any, Any]:
    """Parse fonts and stylesheet once a process; fonts cost most of a short pack."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()
    sheet = Path(settings.BASE_DIR) / "static" / "css" / "print.css"
    return CSS(filename=str(sheet), font_config=fonts), fonts


# Its finalizer needs a library that is gone at the very end of the process.
atexit.register(_print_style.cache_clear)


def _refuse_fetch(url: str, *args: Any, **kwargs: Any) -> Any:
    """A pack is made from its record alone; nothing a user typed fetches anything."""
    raise ValueError(f"the pack may not load {url}")


def render_pdf(html: str) -> bytes:
    """Lay out finished HTML as a tagged A4 PDF."""
    from weasyprint import HTML

    sheet, fonts = _print_style()
    document = HTML(
        string=html, base_url=str(settings.BASE_DIR), url_fetcher=_refuse_fetch
    )
    pdf = document.write_pdf(
        stylesheets=[sheet], font_config=fonts, pdf_variant="pdf/ua-1"
    )
    assert isinstance(pdf, bytes)
    return pdf
