"""Facts nobody has, as questions in the place where somebody can answer them."""

from collections.abc import Iterable
from dataclasses import dataclass

from compliance.law.findings import LawFinding
from compliance.law.registry import FactInfo, Registry


@dataclass(frozen=True, slots=True)
class Question:
    """
    One fact to be asked for, once.

    ``subject`` is an item's key or ``vehicle``; ``why`` are the titles of the rules
    that ask; ``blocks`` says that the vehicle may not be handed over without it.
    """

    fact: FactInfo
    subject: str
    label: str
    why: tuple[str, ...]
    blocks: bool

    @property
    def words(self) -> str:
        """The question with its unit: ``Ground to the top of the part (mm)``."""
        unit = self.fact.unit
        return self.fact.words + (f" ({unit})" if unit not in ("", "1") else "")


def questions(
    findings: Iterable[LawFinding], registry: Registry
) -> tuple[Question, ...]:
    """
    Gather what has to be asked so that no finding stays unknown.

    Parameters
    ----------
    findings : Iterable of LawFinding
        As ``judge`` gives them, of one jurisdiction or of two.
    registry : Registry
        Facts of the rule book.

    Returns
    -------
    tuple of Question
        Each fact once for its subject, those that block first, then as found. Facts
        that follow from other findings are not asked.

    References
    ----------
    Derived: from the findings.
    """
    asked: dict[tuple[str, str], list[LawFinding]] = {}
    for finding in findings:
        for name in finding.missing:
            info = registry.facts.get(name)
            if info is not None and info.place != "none":
                subject = finding.subject if name.startswith("i.") else "vehicle"
                asked.setdefault((subject, name), []).append(finding)
    made = [
        Question(
            registry.facts[name],
            subject,
            "" if subject == "vehicle" else by[0].label,
            tuple(dict.fromkeys(f.title for f in by)),
            any(f.blocks for f in by),
        )
        for (subject, name), by in asked.items()
    ]
    return tuple(sorted(made, key=lambda question: not question.blocks))
