"""The five figures a coordinator keeps in the head, before and after a change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from builds.models import BuildJob, LineItem
from builds.money import Totals, totals_of
from builds.services.checks import results_with
from builds.snapshots import circuits_of, items_of, take_record


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of the strip; ``value`` is None where it is not known."""

    key: str
    label: str
    value: float | None
    unit: str
    places: int
    verdict: str
    href: str
    after: float | None = None
    shows_after: bool = False
    signed: bool = False


@dataclass(frozen=True, slots=True)
class Effect:
    """What one change does to a number: before, after and the difference."""

    label: str
    before: float | None
    after: float | None
    unit: str
    places: int

    @property
    def difference(self) -> float | None:
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


def _finding(results: dict[str, Any], key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(
        (f for f in results["findings"] if f["key"] == key), {}
    )
    return found


def _margin(results: dict[str, Any], key: str) -> float | None:
    finding = _finding(results, key)
    value, limit = finding.get("value"), finding.get("limit")
    return None if value is None or limit is None else limit - value


def _tightest_axle(results: dict[str, Any]) -> tuple[str, float | None]:
    margins = {
        name: _margin(results, f"axle-mass.{name}") for name in ("front", "rear")
    }
    known = {name: m for name, m in margins.items() if m is not None}
    if not known:
        return "rear", None
    name = min(known, key=lambda n: known[n])
    return name, known[name]


def _rear_kg(results: dict[str, Any]) -> float | None:
    value: float | None = _finding(results, "axle-mass.rear").get("value")
    return value


def _verdict(results: dict[str, Any], key: str) -> str:
    return str(_finding(results, key).get("verdict", "unknown"))


def ledger(
    results: dict[str, Any], totals: Totals, *, after: dict[str, Any] | None = None
) -> list[Figure]:
    """Give the strip of a build; with ``after``, what each figure would become."""
    axle, margin = _tightest_axle(results)
    axle_after = _margin(after, f"axle-mass.{axle}") if after else None
    day = results["power"]["day"]
    switching = results["switching"]
    pending = len(switching["unplaced"])

    def net(found: dict[str, Any] | None) -> float | None:
        value: float | None = found["power"]["day"].get("net_ah") if found else None
        return value

    def payload(found: dict[str, Any] | None) -> float | None:
        value: float | None = found["load"].get("payload_left_kg") if found else None
        return value

    shown = after is not None
    return [
        Figure(
            "payload",
            "Payload left",
            payload(results),
            "kg",
            0,
            _verdict(results, "gvm"),
            "#finding-gvm",
            payload(after),
            shown,
        ),
        Figure(
            "axle",
            f"{axle.capitalize()} axle left",
            margin,
            "kg",
            0,
            _verdict(results, f"axle-mass.{axle}"),
            f"#finding-axle-mass-{axle}",
            axle_after,
            shown,
        ),
        Figure(
            "energy",
            "A day, over or under",
            day.get("net_ah"),
            "Ah",
            0,
            _verdict(results, "energy-day"),
            "#finding-energy-day",
            net(after),
            shown,
            signed=True,
        ),
        Figure(
            "switches",
            "Switch places left",
            float(switching["spare"]),
            f"of {switching['spare'] + switching['used']}",
            0,
            "unknown" if pending else "within",
            "#switches",
            float(after["switching"]["spare"]) if after else None,
            shown,
        ),
        Figure(
            "hours", "Hours", float(totals.hours), "h", 1, "", "#totals", None, False
        ),
    ]


def effect_of(
    *, build: BuildJob, changed: LineItem | None, removed_pk: int | None = None
) -> list[Effect]:
    """Compute what saving one line would do, without saving anything."""
    items = items_of(build)
    circuits = circuits_of(build)
    before = results_with(record=take_record(build, items=items, circuits=circuits))
    money_before = totals_of(build, items)
    wanted = [i for i in items if i.pk != removed_pk]
    if changed is not None:
        wanted = [i for i in wanted if i.pk != changed.pk or changed.pk is None]
        wanted.append(changed)
    after = results_with(record=take_record(build, items=wanted, circuits=circuits))
    money_after = totals_of(build, wanted)

    def of(label: str, unit: str, places: int, pick: Any) -> Effect:
        return Effect(label, pick(before), pick(after), unit, places)

    return [
        of("Vehicle mass", "kg", 0, lambda r: _finding(r, "gvm").get("value")),
        of("Rear axle", "kg", 0, _rear_kg),
        of("Payload left", "kg", 0, lambda r: r["load"].get("payload_left_kg")),
        of("Amp-hours a day", "Ah", 0, lambda r: r["power"]["day"].get("net_ah")),
        Effect(
            "Price before tax", float(money_before.net), float(money_after.net), "", 2
        ),
        Effect("Hours", float(money_before.hours), float(money_after.hours), "h", 1),
    ]
