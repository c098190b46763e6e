"""Which rating governs: the plate's, or a raised one whose paper is on file."""

from collections.abc import Mapping
from dataclasses import dataclass

from compliance.inputs import RATING_NAMES, BuildRecord, Item


@dataclass(frozen=True, slots=True)
class Rating:
    """
    One limit of the vehicle. [kg]

    ``governs_kg`` counts today. ``planned_kg`` is what it becomes once the papers of
    ``planned_by`` are on file; ``None`` when nothing is planned.
    """

    governs_kg: float | None
    source: str
    planned_kg: float | None = None
    planned_by: str = ""


def governing_ratings(record: BuildRecord) -> Mapping[str, Rating]:
    """
    Find the rating that counts today, and the planned one beside it.

    Parameters
    ----------
    record : BuildRecord
        The vehicle's own ratings and the items that change them.

    Returns
    -------
    Mapping of str to Rating
        By the names of ``Ratings``.

    Notes
    -----
    A raised rating counts only with its paper. A lowered one, such as that of a
    smaller tyre, counts at once: the weakest part decides.

    References
    ----------
    49 CFR 571.3, an axle rating is decided by its weakest part (published).
    """
    changes = sorted(
        (item for item in record.items if item.raises is not None),
        key=lambda item: item.key,
    )
    return {
        name: _rating(name, getattr(record.vehicle.ratings, name), changes)
        for name in RATING_NAMES
    }


def _rating(name: str, original: float | None, changes: list[Item]) -> Rating:
    governs, source = original, "vehicle plate or papers"
    planned, planned_by = original, ""
    lowest: float | None = None
    lowered_by = ""
    for item in changes:
        assert item.raises is not None
        aim: float | None = getattr(item.raises.ratings, name)
        if aim is None:
            continue
        if original is not None and aim < original:
            if lowest is None or aim < lowest:
                lowest, lowered_by = aim, item.label
            continue
        if planned is None or aim > planned:
            planned, planned_by = aim, item.label
        if item.raises.evidence and (governs is None or aim > governs):
            governs, source = aim, f"{item.label}, {item.raises.evidence}"
    if lowest is not None:
        return Rating(lowest, f"lowered by {lowered_by}")
    if planned == governs:
        return Rating(governs, source)
    return Rating(governs, source, planned, planned_by)
