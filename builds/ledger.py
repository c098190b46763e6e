"""The figures a coordinator keeps in the head, and what a change does to them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from builds.comparison import FindingMoves, Group, Row, finding_moves, groups_of
from builds.figures import finding_of, switch_verdict
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


@dataclass(frozen=True, slots=True)
class Change:
    """A change that was tried: the main figures, what else moves, and the strip."""

    main: list[Row]
    groups: list[Group]
    findings: FindingMoves
    ledger: list[Figure]

    @property
    def moved(self) -> int:
        """How many numbers move besides the main figures."""
        return sum(len(group.rows) for group in self.groups)


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
            verdict=switch_verdict(last.results["switching"]),
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


def change_of(
    before: Picture, after: Picture, *, page: str, switches_page: str
) -> Change:
    """Hold a build as it stands beside the same build with a change carried out."""
    main, *others = groups_of(before.numbers(), after.numbers())
    return Change(
        main.rows,
        [Group(other.title, moved) for other in others if (moved := other.moved)],
        finding_moves(before.results, after.results),
        ledger(
            before, after=after, page=page, switches_page=switches_page, with_price=True
        ),
    )
