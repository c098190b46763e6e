"""Mass of one build held against its limits."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from compliance.clearing import Clearing
from compliance.findings import SEVERITY, Finding, Step, held_against, verdict
from compliance.inputs import BuildRecord
from compliance.load_balance import asked
from compliance.load_figures import LoadFigures
from compliance.load_quantities import Quantities, Quantity

WORST = {
    "gvm": ("gvm", "Total mass"),
    "front_axle": ("axle-mass.front", "Front axle"),
    "rear_axle": ("axle-mass.rear", "Rear axle"),
    "gcm": ("gcm", "Combination"),
}
"""What the worst of all states is compared with: the customer's own use.

The roof is not here: its load in use is its worst already.
"""


def check_load(record: BuildRecord) -> tuple[dict[str, Any], list[Finding]]:
    """
    Compute and judge a build's masses.

    Parameters
    ----------
    record : BuildRecord
        A build whose keys lead where they should.

    Returns
    -------
    tuple of dict and list of Finding
        What the open record's answer has under ``load``, and the findings, judged for
        the customer's use and for the worst of all states.

    References
    ----------
    See the functions that compute each quantity.
    """
    check = _LoadCheck(LoadFigures(record))
    return check.figures.rows(), list(check.findings())


class _LoadCheck:
    def __init__(self, figures: LoadFigures) -> None:
        self.figures = figures
        self.clearing = Clearing(figures)

    def findings(self) -> Iterator[Finding]:
        """Judge each load in use, then each that could get worse than that."""
        judged = {}
        for quantity in Quantities(self.figures).all():
            judged[quantity.key] = quantity
            yield self._in_use(quantity)
            if (planned := _as_planned(quantity)) is not None:
                yield planned
        for name, (key, label) in WORST.items():
            # A rear axle that is over before the bars are tensioned says it all.
            told = [judged[k] for k in (key, f"{key}.plain") if k in judged]
            if told and all(q.verdict in ("within", "unknown") for q in told):
                yield from self._at_worst(name, label)
        for found in self.figures.balance.findings():
            if found.key != "front-share":
                yield found
                continue
            said = self.clearing.said(found.key, found.verdict)
            yield replace(found, would_clear=said)

    def _in_use(self, quantity: Quantity) -> Finding:
        """Hold a load against what governs."""
        outcome = quantity.verdict
        return Finding(
            key=quantity.key,
            severity=SEVERITY[outcome],
            subject=quantity.subject,
            verdict=outcome,
            value=quantity.value_kg,
            limit=quantity.rating.governs_kg,
            unit="kg",
            sentence=_sentence(quantity),
            source=quantity.rating.source,
            would_clear=self.clearing.said(quantity.key, outcome),
            working=(*quantity.working(), *_limit_step(quantity)),
        )

    def _at_worst(self, name: str, label: str) -> Iterator[Finding]:
        """Tell what the customer's own use does not reach, but the vehicle could."""
        worst, expanded = self.figures.worst_cases[name]
        rating = self.figures.ratings[f"{name}_kg"]
        value, limit = worst.value_kg, rating.governs_kg
        outcome = verdict(value, limit, expanded or 0.0)
        if value is None or limit is None or outcome == "within":
            return
        said = held_against(value, limit, "kg", expanded or 0.0)
        yield Finding(
            key=f"worst.{name}",
            severity="check",
            subject="vehicle",
            verdict=outcome,
            value=value,
            limit=limit,
            unit="kg",
            sentence=f"{label} at its worst ({worst.state}) {said}",
            source=rating.source,
            would_clear=self.clearing.said(f"worst.{name}", outcome),
        )


def _as_planned(quantity: Quantity) -> Finding | None:
    """Hold a load against what its rating becomes once the paper is on file."""
    planned, value = quantity.rating.planned_kg, quantity.value_kg
    if planned is None or value is None:
        return None
    said = held_against(value, planned, "kg", quantity.expanded_kg)
    return Finding(
        key=f"{quantity.key}.planned",
        severity="check",
        subject=quantity.subject,
        verdict=verdict(value, planned, quantity.expanded_kg),
        value=value,
        limit=planned,
        unit="kg",
        sentence=f"{quantity.label} as planned, {said} "
        f"Does not count until the paper for {quantity.rating.planned_by} is on file.",
        source=f"{quantity.rating.planned_by}, planned",
        working=quantity.working(),
    )


def _sentence(quantity: Quantity) -> str:
    value, limit = quantity.value_kg, quantity.rating.governs_kg
    if value is not None and limit is not None:
        said = held_against(value, limit, "kg", quantity.expanded_kg)
        return f"{quantity.label} {said}"
    known = f"{quantity.label} is not known"
    if value is not None:
        known = f"{quantity.label} {value:,.0f} kg, its limit is not known"
    look_up = () if limit is not None else (quantity.look_up,)
    return f"{known}: {asked(quantity.gaps, *look_up)}."


def _limit_step(quantity: Quantity) -> tuple[Step, ...]:
    limit = quantity.rating.governs_kg
    if limit is None:
        return ()
    return (
        Step(
            label="limit",
            formula="as rated",
            value=limit,
            unit="kg",
            source=quantity.rating.source,
            mark="given",
        ),
    )
