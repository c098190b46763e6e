"""The figures a coordinator keeps in the head, and what a change does to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from builds.services.trial import Picture

Results = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure of the strip; None where it is not known."""

    key: str
    label: str
    value: float | None
    after: float | None = None
    unit: str = ""
    places: int = 0
    verdict: str = ""
    href: str
    signed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What one change does to a number; ``verdict`` is the one it would then have."""

    label: str
    before: float | None
    after: float | None
    unit: str = ""
    places: int = 0
    verdict: str = ""

    @property
    def difference(self) -> float | None:
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


@dataclass(frozen=True, slots=True)
class Change:
    """A change that was tried: the rows, the strip, and what it would break or mend."""

    effects: list[Effect]
    ledger: list[Figure]
    breaks: list[str]
    mends: list[str]


def finding_of(results: Results, key: str) -> Results:
    found: Results = next((f for f in results["findings"] if f["key"] == key), {})
    return found


def _value(results: Results, key: str) -> float | None:
    value: float | None = finding_of(results, key).get("value")
    return value


def _verdict(results: Results, key: str) -> str:
    return str(finding_of(results, key).get("verdict", "unknown"))


def _margin(results: Results, key: str) -> float | None:
    finding = finding_of(results, key)
    value, limit = finding.get("value"), finding.get("limit")
    return None if value is None or limit is None else limit - value


def _tightest_axle(results: Results) -> str:
    margins = {
        axle: margin
        for axle in ("front", "rear")
        if (margin := _margin(results, f"axle-mass.{axle}")) is not None
    }
    return min(margins, key=lambda axle: margins[axle]) if margins else "rear"


def _payload_left(results: Results) -> float | None:
    left: float | None = results["load"].get("payload_left_kg")
    return left


def _net_ah(results: Results) -> float | None:
    net: float | None = results["power"]["day"].get("net_ah")
    return net


def ledger(
    now: Picture,
    *,
    page: str,
    switches_page: str,
    with_price: bool,
    after: Picture | None = None,
) -> list[Figure]:
    """Give the strip of a build; with ``after``, what each figure would become.

    ``page`` is the build page, where the working of each figure stands.
    """
    last = after or now
    axle = f"axle-mass.{_tightest_axle(last.results)}"
    switching = now.results["switching"]

    def figure(
        key: str, label: str, pick: Callable[[Picture], float | None], **more: Any
    ) -> Figure:
        value, then = pick(now), pick(after) if after else None
        return Figure(key=key, label=label, value=value, after=then, **more)

    energy = finding_of(last.results, "energy-day")
    figures = [
        figure(
            "payload",
            "Payload left",
            lambda p: _payload_left(p.results),
            unit="kg",
            verdict=_verdict(last.results, "payload"),
            href=f"{page}#finding-payload",
        ),
        figure(
            "axle",
            f"{axle.removeprefix('axle-mass.').capitalize()} axle left",
            lambda p: _margin(p.results, axle),
            unit="kg",
            verdict=_verdict(last.results, axle),
            href=f"{page}#finding-{axle.replace('.', '-')}",
        ),
        figure(
            "energy",
            "A day, over or under",
            lambda p: _net_ah(p.results),
            unit="Ah",
            verdict=str(energy.get("verdict", "")),
            href=f"{page}#finding-energy-day" if energy else f"{page}#supply",
            signed=True,
        ),
        figure(
            "switches",
            "Switch places left",
            lambda p: float(p.results["switching"]["spare"]),
            unit=f"of {switching['spare'] + switching['used']}",
            verdict=_switch_verdict(last.results["switching"]),
            href=switches_page,
        ),
        figure(
            "hours",
            "Hours",
            lambda p: float(p.totals.hours),
            unit="h",
            places=1,
            href=f"{page}#{'totals' if with_price else 'items'}",
        ),
    ]
    if with_price:
        price = figure(
            "price",
            "Price with tax",
            lambda p: float(p.totals.total),
            href=f"{page}#totals",
        )
        figures.append(price)
    return figures


def _switch_verdict(switching: Results) -> str:
    """Say whether the places do: over when more items wait than places are left."""
    waiting = len(switching["unplaced"])
    if waiting > switching["spare"]:
        return "over"
    return "unknown" if waiting or switching["unanswered"] else "within"


def change_of(
    before: Picture, after: Picture, *, page: str, switches_page: str
) -> Change:
    """Hold a build as it stands beside the same build with a change carried out."""

    def of(label: str, pick: Callable[[Results], float | None], **more: Any) -> Effect:
        return Effect(
            label=label, before=pick(before.results), after=pick(after.results), **more
        )

    def judged(key: str) -> dict[str, Any]:
        return {"unit": "kg", "verdict": _verdict(after.results, key)}

    effects = [
        of("Vehicle mass", lambda r: _value(r, "gvm"), **judged("gvm")),
        of(
            "Front axle",
            lambda r: _value(r, "axle-mass.front"),
            **judged("axle-mass.front"),
        ),
        of(
            "Rear axle",
            lambda r: _value(r, "axle-mass.rear"),
            **judged("axle-mass.rear"),
        ),
        of("Payload left", _payload_left, unit="kg"),
        of("A day, over or under", _net_ah, unit="Ah", places=1),
        Effect(
            label="Hours",
            before=float(before.totals.hours),
            after=float(after.totals.hours),
            unit="h",
            places=1,
        ),
        Effect(
            label="Price before tax",
            before=float(before.totals.net),
            after=float(after.totals.net),
            places=2,
        ),
    ]
    return Change(
        effects,
        ledger(
            before, after=after, page=page, switches_page=switches_page, with_price=True
        ),
        breaks=_new_stops(before.results, after.results),
        mends=_new_stops(after.results, before.results),
    )


def _new_stops(old: Results, new: Results) -> list[str]:
    """Sentences of the stops that ``new`` has and ``old`` does not."""
    had = {f["key"] for f in old["findings"] if f["severity"] == "stop"}
    return [
        f["sentence"]
        for f in new["findings"]
        if f["severity"] == "stop" and f["key"] not in had
    ]
