"""What the handover pack must be able to say of every fitted item."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from builds.models import BuildJob, LineItem, SwitchKind


@dataclass(frozen=True, slots=True)
class Blocker:
    """One thing in the way, and where it is settled."""

    sentence: str
    url: str


def item_page(item: LineItem) -> str:
    return reverse("line-item-edit", args=[item.build_id, item.pk])


def coverage_gaps(*, build: BuildJob) -> list[Blocker]:
    """Say what the pack could not tell its owner about each fitted item."""
    found = []
    for item in build.items.walk_around().select_related("switch_position"):
        page = item_page(item)
        gaps = []
        if not item.place_text:
            gaps.append("where it is")
        if not item.switch_kind:
            gaps.append("where it is switched (“none” is an answer)")
        elif item.switch_kind == SwitchKind.POSITION and item.switch_position is None:
            gaps.append("which switch place it has")
        elif item.switch_kind == SwitchKind.OWN and not item.switch_text:
            gaps.append("where its own control is")
        if item.load_kind and item.circuit_id is None:
            gaps.append("what feeds it")
        if not item.use_text:
            gaps.append("how to use it")
        if gaps:
            found.append(Blocker(f"{item.label}: say {', '.join(gaps)}.", page))
    return found
