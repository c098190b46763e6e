"""Price, hours and tax of a build, rounded once, where a sum is shown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from builds.models import BuildJob, LineItem
from workshop.models import LabourRate, Skill

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Line:
    """What one line costs before tax."""

    parts: Decimal
    labour: Decimal
    hours: Decimal

    @property
    def net(self) -> Decimal:
        return self.parts + self.labour


@dataclass(frozen=True, slots=True)
class Totals:
    parts: Decimal
    labour: Decimal
    tax: Decimal
    hours: Decimal
    unpriced: int

    @property
    def net(self) -> Decimal:
        return self.parts + self.labour

    @property
    def total(self) -> Decimal:
        return self.net + self.tax


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


def rates() -> dict[str, Decimal]:
    return dict(LabourRate.objects.values_list("skill", "rate_per_h"))


def line_of(item: LineItem, rate_of: dict[str, Decimal]) -> Line:
    """Price one line; what the customer supplies costs only its fitting."""
    parts = Decimal(0)
    if item.supplied_by == "workshop" and item.price is not None:
        parts = item.price * item.quantity
    labour = sum(
        (
            Decimal(str(hours)) * rate_of.get(skill, Decimal(0))
            for skill, hours in item.labour.items()
        ),
        Decimal(0),
    )
    return Line(cents(parts), cents(labour * item.quantity), item.labour_h)


def totals_of(build: BuildJob, items: list[LineItem] | None = None) -> Totals:
    """Add up a build; lines the workshop supplies without a price are counted."""
    items = list(build.items.all()) if items is None else items
    rate_of = rates()
    lines = [line_of(item, rate_of) for item in items]
    parts = sum((line.parts for line in lines), Decimal(0))
    labour = sum((line.labour for line in lines), Decimal(0))
    return Totals(
        parts=parts,
        labour=labour,
        tax=cents((parts + labour) * build.tax_percent / 100),
        hours=sum((line.hours for line in lines), Decimal(0)),
        unpriced=sum(i.supplied_by == "workshop" and i.price is None for i in items),
    )


def unrated_work(build: BuildJob) -> list[str]:
    """Name the skills whose hours cost nothing because no rate was ever set."""
    rate_of = rates()
    used = {
        skill
        for item in build.items.all()
        for skill, hours in item.labour.items()
        if hours and skill not in rate_of
    }
    return [skill.label for skill in Skill if skill.value in used]
