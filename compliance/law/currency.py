"""Which rules nobody has held against their source lately."""

from collections.abc import Mapping
from datetime import date

from compliance.law.book import RuleBook


def stale(
    book: RuleBook,
    on_date: date,
    days: int,
    checked: Mapping[str, date] | None = None,
) -> tuple[str, ...]:
    """
    Name the rules that nobody held against their source lately.

    Parameters
    ----------
    book : RuleBook
        The rules.
    on_date : date
        The day asked about.
    days : int
        The workshop's period, >= 0. [d]
    checked : Mapping of str to date, optional
        Confirmations by rule id, as in ``judge``.

    Returns
    -------
    tuple of str
        Ids of rules never checked, or last checked more than ``days`` ago.

    References
    ----------
    Workshop rule.
    """
    found = []
    for rule in book.rules.values():
        last = (checked or {}).get(rule.id)
        if last is None and rule.checked_on is not None:
            last = date.fromisoformat(rule.checked_on)
        if last is None or (on_date - last).days > days:
            found.append(rule.id)
    return tuple(found)
