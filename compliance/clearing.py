"""What would bring an overload back: worked out, then tried by the core, then shown."""

from dataclasses import dataclass
from functools import cached_property, partial
from itertools import islice

from compliance.findings import VERDICT_ORDER, Verdict, verdict
from compliance.load_figures import LoadFigures
from compliance.load_quantities import Quantities
from compliance.load_ways import LoadWay, Ways

MOST_WAYS = 3
MOST_TRIALS = 30
"""How many changed builds are computed for one answer; every save waits for them."""

NO_WAY = "No change of load clears it: more is over than all that is fitted and loaded there."

OPEN: tuple[Verdict, ...] = ("over", "not proven")

NOISE_KG = 1e-6


@dataclass(frozen=True, slots=True)
class Held:
    """One load held against its limit."""

    value: float | None
    limit: float | None
    expanded: float
    where: str = ""
    rated: bool = True

    @property
    def verdict(self) -> Verdict:
        """Say how it stands."""
        return verdict(self.value, self.limit, self.expanded)

    @property
    def excess(self) -> float | None:
        """By how much it is not proven to be within, None if not known."""
        if self.value is None or self.limit is None:
            return None
        return self.value + self.expanded - self.limit


def standing(figures: LoadFigures) -> dict[str, Held]:
    """
    Hold every load of a build against its limit, in use and at worst.

    Parameters
    ----------
    figures : LoadFigures
        The build.

    Returns
    -------
    dict of str to Held
        By the keys of the findings; what no rating decides, such as the share of one
        side, is among them so that no advice makes it worse. [kg], shares [%]

    References
    ----------
    See the functions that compute each quantity.
    """
    held = {
        q.key: Held(q.value_kg, q.rating.governs_kg, q.expanded_kg, q.where)
        for q in Quantities(figures).all()
    }
    for name, (worst, expanded) in figures.worst_cases.items():
        limit = figures.ratings[f"{name}_kg"].governs_kg
        like = {"front_axle": "axle-mass.front", "rear_axle": "axle-mass.rear"}
        where = held[like.get(name, "gvm")].where
        held[f"worst.{name}"] = Held(worst.value_kg, limit, expanded or 0.0, where)
    held |= {
        key: Held(value, limit, 0.0, rated=False)
        for key, value, limit in figures.balance.measures()
    }
    return held


class Clearing:
    """Ways to clear what is over or not proven, each shown only after it was tried."""

    def __init__(self, figures: LoadFigures) -> None:
        self.figures = figures
        self._found: dict[str, list[LoadWay]] = {}
        self._hopeless: set[str] = set()
        self._left = 0

    @cached_property
    def _before(self) -> dict[str, Held]:
        return standing(self.figures)

    @cached_property
    def _allowed(self) -> int:
        """How many trials each finding may have, so that none uses up the others'."""
        in_use = [
            held
            for key, held in self._before.items()
            if key != "payload" and not key.startswith("worst.")
        ]
        return MOST_TRIALS // max(1, sum(held.verdict in OPEN for held in in_use))

    def said(self, key: str, outcome: Verdict) -> str | None:
        """
        Say what would clear one finding.

        Parameters
        ----------
        key : str
            Key of the finding.
        outcome : Verdict
            Its verdict.

        Returns
        -------
        str or None
            Up to three ways in one sentence, or that no change of load does; None when
            it is within, unknown, or nothing was found that clears it and makes
            nothing else worse.
        """
        if outcome not in OPEN:
            return None
        words = [way.words for way in self.ways(key)]
        if outcome == "over" and self._named(key) in self._hopeless:
            return NO_WAY
        if outcome == "not proven":
            words.insert(0, "weigh it")
        if not words:
            return None
        text = "; or ".join(words)
        return f"{text[0].upper()}{text[1:]}."

    def ways(self, key: str) -> list[LoadWay]:
        """
        Find what would clear one finding.

        Parameters
        ----------
        key : str
            Key of a finding that is over or not proven.

        Returns
        -------
        list of LoadWay
            At most three, each with the build as it is once that is done.

        References
        ----------
        Derived: loads are linear in mass and place, and each way is computed anew.
        """
        key = self._named(key)
        if key not in self._found:
            self._found[key] = self._ways(key)
        return self._found[key]

    def _named(self, key: str) -> str:
        """Name the load that decides where a finding is about two."""
        if key == "payload":
            # The same kilograms under another name.
            return self.figures.most_kg()[1].lower()
        if key == "front-share":
            least = self._before["front-share.least"].verdict in OPEN
            return "front-share.least" if least else "front-share.most"
        return key

    def _ways(self, key: str) -> list[LoadWay]:
        held = self._before[key]
        excess_kg = held.excess
        assert excess_kg is not None
        if key.startswith("front-share."):
            total_kg = self.figures.worst.of(None).value_kg
            excess_kg *= total_kg or self.figures.use.total_kg or 0.0
        self._left = self._allowed
        ways = Ways(self.figures, key, excess_kg)
        found: list[LoadWay] = []
        for kind in ways.kinds():
            found += islice((way for way in kind() if self._clears(key, way)), 1)
            if len(found) == MOST_WAYS:
                break
        if not found and held.where:
            if excess_kg > ways.most_kg():
                self._hopeless.add(key)
                return []
            self._left += 1
            found += filter(partial(self._clears, key), [ways.anything(held.where)])
        return found

    def _clears(self, key: str, way: LoadWay) -> bool:
        """Compute the build with the change made: does it clear, and harm nothing?"""
        self._left -= 1
        if self._left < 0:
            return False
        after = standing(LoadFigures(way.record, self.figures))
        # A load that is no longer there, such as that of an empty roof, is cleared.
        gone = key not in after
        return (gone or after[key].verdict == "within") and not any(
            _worse(before, after[name])
            for name, before in self._before.items()
            if name in after
        )


def _worse(before: Held, after: Held) -> bool:
    rank = VERDICT_ORDER.index
    if rank(after.verdict) < rank(before.verdict):
        return True
    if not before.rated:
        return False
    was, now = before.excess, after.excess
    return was is not None and now is not None and 0 < was < now - NOISE_KG
