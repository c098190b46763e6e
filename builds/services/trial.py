"""What a change would do: carried out, read and undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from builds.csv_files import Imported
from builds.figures import Number, numbers_of
from builds.models import BuildJob, CheckReport
from builds.money import Totals, totals_of
from builds.services.checks import report_of


@dataclass(frozen=True, slots=True)
class Picture:
    """A build's results and its price at one moment; ``labels`` name its keys."""

    results: dict[str, Any]
    totals: Totals
    labels: dict[str, str] = field(default_factory=dict)

    def numbers(self) -> dict[str, Number]:
        return numbers_of(self.results, self.totals, self.labels)


def picture_of(*, build: BuildJob) -> Picture:
    return _picture(build, report_of(build=build))


def _picture(build: BuildJob, report: CheckReport) -> Picture:
    items = list(build.items.all())
    # An item and the circuit that feeds it may share a key, and then a name too.
    labels = dict(build.circuits.values_list("key", "label"))
    labels |= {item.key: item.label for item in items}
    return Picture(report.results, totals_of(build, items), labels)


def try_change(*, build: BuildJob, change: Callable[[], object]) -> Picture:
    """Carry out a change, picture what it leads to, and take all of it back.

    The service itself runs, so what is shown is what saving would do, with the
    circuit a part brings and with the service's refusals. The caller's objects are
    changed as by the real thing and are not to be used again.
    """
    with transaction.atomic():
        change()
        # The service has just stored it, in this transaction: no need to check again.
        found = _picture(build, CheckReport.objects.get(build=build))
        transaction.set_rollback(True)
    return found


def try_import(*, bring_in: Callable[..., Imported], text: str) -> Imported:
    """Carry an import out, see what it did, and take all of it back."""
    with transaction.atomic():
        done = bring_in(text=text)
        transaction.set_rollback(True)
    return done
