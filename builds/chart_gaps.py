"""What a chart does not know, in words, and the page where it is entered."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from builds.figures import finding_of
from builds.models import BuildJob, Circuit, LineItem

Results = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Gap:
    """What a chart does not know, and the page where it is entered."""

    sentence: str
    href: str
    where: str


def battery_finding(results: Results, rule: str, key: str) -> Results:
    """Find what was judged of a battery; the first one's findings carry no key."""
    if key not in results["power"].get("batteries", {}):
        return {}
    return finding_of(results, f"{rule}.{key}") or finding_of(results, rule)


def axle_gaps(build: BuildJob, results: Results) -> Iterator[Gap]:
    """What is missing; once, where both axles lack the same."""
    judged = [finding_of(results, f"axle-mass.{axle}") for axle in ("front", "rear")]
    said = [f["sentence"] for f in judged if f.get("verdict") == "unknown"]
    reasons = {sentence.partition(": ")[2] for sentence in said}
    if len(said) == 2 and len(reasons) == 1:
        said = [f"The axle loads are not known: {reasons.pop()}"]
    vehicle = build.vehicle
    bare = (vehicle.wheelbase_mm, vehicle.base_front_kg, vehicle.base_rear_kg)
    href, where = f"{_page(build)}#items", "Line items"
    if None in (*bare, vehicle.front_axle_kg, vehicle.rear_axle_kg):
        href, where = reverse("vehicle-edit", args=[vehicle.pk]), "The vehicle"
    elif None in (build.people, build.person_kg) or build.hitched:
        href, where = _use_page(build), "Use and booking"
    for sentence in said:
        yield Gap(sentence, href, where)


def _page(build: BuildJob) -> str:
    return reverse("build", args=[build.pk])


def _use_page(build: BuildJob) -> str:
    return reverse("build-edit", args=[build.pk])


def soc_gaps(
    build: BuildJob, results: Results, items: Sequence[LineItem]
) -> Iterator[Gap]:
    batteries = [item for item in items if item.supply_role == "battery"]
    if not batteries:
        said = (
            "There is no second battery in this build; its charge has no days to show."
        )
        yield Gap(said, f"{_page(build)}#add", "Add one")
    use = (build.days, build.drive_h_per_day, build.latitude_deg, build.month)
    for item in batteries:
        judged = battery_finding(results, "soc-minimum", item.key)
        if judged.get("verdict") == "unknown" or not judged:
            said = judged.get("sentence") or f"{item.label}: enter its capacity."
            if judged and None in (*use, build.ambient_c):
                yield Gap(f"{item.label}. {said}", _use_page(build), "Use and booking")
            else:
                yield Gap(f"{item.label}. {said}", item.get_absolute_url(), item.label)


def drop_gaps(
    build: BuildJob, results: Results, circuits: Sequence[Circuit]
) -> Iterator[Gap]:
    if not circuits:
        href = reverse("circuit-new", args=[build.pk])
        yield Gap("No circuits yet.", href, "Add a circuit")
    for circuit in circuits:
        judged = finding_of(results, f"circuit-drop.{circuit.key}")
        if judged.get("verdict") == "unknown":
            href = reverse("circuit-edit", args=[build.pk, circuit.pk])
            yield Gap(judged["sentence"], href, circuit.label)


def zone_gaps(build: BuildJob, results: Results) -> Iterator[Gap]:
    zones = results["load"].get("zones", {})
    if not zones:
        yield Gap("Nothing is fitted yet.", f"{_page(build)}#add", "Add an item")
    without = sum(zone.get("unweighed", 0) for zone in zones.values())
    if without:
        said = "1 item has" if without == 1 else f"{without} items have"
        href = f"{_page(build)}#items"
        yield Gap(f"{said} no mass on record.", href, "Line items")
