"""What a rule says of a build, frozen with all it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from compliance.findings import Mark

Shown = Literal["stop", "certificate", "check", "unknown", "clear"]
SHOWN_ORDER: tuple[Shown, ...] = ("stop", "certificate", "unknown", "check", "clear")
"""Outcomes as they are shown, gravest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LawFinding:
    """
    What one rule says of a build, or of one item of it, frozen.

    ``key`` is stable: rule id, jurisdiction asked for, and the item where it is about
    one. ``outcome`` is what is shown; ``rule_outcome`` what the rule asks for when it
    is broken. ``facts`` are all facts the rule names with the values used, None where
    not known; ``figures`` its parameters with the jurisdiction each is of. ``missing``
    are the facts an unknown answer hangs on. ``papers`` are the papers that prove it,
    ``papers_missing`` those not on file. ``blocks`` says that the vehicle may not be
    handed over so. ``reach`` says where the rule was read if not for this place.
    """

    key: str
    rule: str
    ruleset: str
    title: str
    edition: str
    jurisdiction: str
    on: str
    subject: str
    label: str
    outcome: Shown
    rule_outcome: str
    facts: Mapping[str, object]
    figures: Mapping[str, tuple[float | str, str]]
    missing: tuple[str, ...]
    papers: tuple[str, ...]
    papers_missing: tuple[str, ...]
    blocks: bool
    message: str
    sentence: str
    source: str
    seen_at: str
    mark: Mark
    read_via: str
    confidence: str
    reach: str
    checked_on: str | None
