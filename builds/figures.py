"""Every number of a build's answer, with its name, its unit and which way is better."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from builds.figure_names import (
    LEAVES,
    PLACES,
    WORST,
    Leaf,
    in_hand,
    mass,
    numbers_in,
    unit_of,
    unnamed,
)
from builds.models import ZONE_LABELS
from builds.money import Totals
from workshop.templatetags.units import words

Results = dict[str, Any]
Labels = Mapping[str, str]

MAIN = "The main figures"
RANKS = [
    MAIN,
    "As the customer uses it",
    "What may still be carried",
    "Scenario",
    "Each limit at its worst",
    "Balance",
    "Carriers",
    "Zones",
    "Energy a day",
    "Batteries",
    "Circuits",
    "Sources",
    "Switches",
    "Price and hours",
    "What each item adds to the axles",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number of an answer; ``more`` and ``less`` say what a difference means."""

    rank: tuple[int, str]
    group: str
    label: str
    value: float | None
    unit: str
    places: int
    expanded: float | None = None
    verdict: str = ""
    more: str = "more"
    less: str = "less"
    sense: int = 0
    signed: bool = False
    money: bool = False


def finding_of(results: Results, key: str) -> Results:
    found: Results = next((f for f in results["findings"] if f["key"] == key), {})
    return found


def switch_verdict(switching: Results) -> str:
    """Say whether the places do: over when more items wait than places are left."""
    waiting = len(switching["unplaced"])
    if waiting > switching["spare"]:
        return "over"
    return "unknown" if waiting or switching["unanswered"] else "within"


class Numbers:
    """Walks one answer and names what it finds; ``found`` is in reading order."""

    def __init__(self, results: Results, totals: Totals, labels: Labels) -> None:
        self.results, self.totals, self.labels = results, totals, labels
        self.verdicts = {f["key"]: f["verdict"] for f in results["findings"]}
        self.found: dict[str, Number] = {}
        self._main()
        self._load()
        self._power()
        self._switches()
        self._price()

    def add(
        self,
        key: str,
        group: str,
        leaf: Leaf,
        value: Any,
        unit: str,
        *,
        owner: str = "",
        expanded: float | None = None,
        verdict: str = "",
        money: bool = False,
    ) -> None:
        """Keep a number under its group, named for what owns it."""
        label = f"{owner}: {leaf.label}" if owner else leaf.label
        places = PLACES.get(unit, 1) if leaf.places is None else leaf.places
        title = next(n for n, name in enumerate(RANKS) if group.startswith(name))
        self.found[key] = Number(
            rank=(title, group),
            group=group,
            label=label[:1].upper() + label[1:],
            value=None if value is None else float(value),
            unit=unit,
            places=2 if money else places,
            expanded=expanded,
            verdict=verdict,
            more=leaf.more,
            less=leaf.less,
            sense=leaf.sense,
            signed=leaf.signed,
            money=money,
        )

    def row(
        self,
        path: str,
        group: str,
        row: Mapping[str, Any],
        *,
        owner: str = "",
        verdicts: Mapping[str, str] | None = None,
        leaves: Mapping[str, Leaf] | None = None,
        signed: bool = False,
    ) -> None:
        """Keep each number that one row of the answer holds."""
        for name, value in numbers_in(row):
            leaf = (leaves or {}).get(name) or LEAVES.get(name) or unnamed(name)
            self.add(
                f"{path}.{name}",
                group,
                leaf._replace(signed=True) if signed else leaf,
                value,
                unit_of(name),
                owner=owner,
                expanded=row.get(f"{name.removesuffix('_kg')}_u_kg"),
                verdict=(verdicts or {}).get(name, ""),
            )

    def name(self, key: str) -> str:
        """Name a key of the answer as the workshop does."""
        if key not in self.labels and key.endswith("-charge"):
            return f"{self.name(key.removesuffix('-charge'))}, charging"
        return self.labels.get(key) or words(key)

    def judged(self, *keys: str) -> str:
        return next((self.verdicts[key] for key in keys if key in self.verdicts), "")

    def _main(self) -> None:
        load, power = self.results["load"], self.results["power"]
        use = load["scenarios"].get("use", {})
        for name, label, finding in (
            ("total_kg", "Vehicle mass", "gvm"),
            ("front_kg", "Front axle", "axle-mass.front"),
            ("rear_kg", "Rear axle", "axle-mass.rear"),
            ("roof_kg", "Roof", "roof"),
            ("combination_kg", "Vehicle and trailer", "gcm"),
        ):
            if name in use or finding not in ("roof", "gcm"):
                leaf = mass(label)
                band = use.get(f"{name.removesuffix('_kg')}_u_kg")
                self.add(
                    f"main.{name}",
                    MAIN,
                    leaf,
                    use.get(name),
                    "kg",
                    expanded=band,
                    verdict=self.judged(finding) or "unknown",
                )
        left, day, soc = load.get("payload_left_kg"), power["day"], power.get("soc", {})
        verdict = self.judged("payload")
        leaf = in_hand("Payload left")
        self.add("main.payload", MAIN, leaf, left, "kg", verdict=verdict)
        self._main_energy(day, soc)
        switching = self.results["switching"]
        self.add(
            "main.switches",
            MAIN,
            Leaf("Switch places left", "more", "fewer", 1, 0),
            switching["spare"],
            "",
            verdict=switch_verdict(switching),
        )
        hours = Leaf("Hours", "more", "fewer", -1)
        self.add("main.hours", MAIN, hours, self.totals.hours, "h")
        for key, label, amount in (
            ("net", "Price before tax", self.totals.net),
            ("total", "Price with tax", self.totals.total),
        ):
            leaf = Leaf(label, "dearer", "cheaper", -1)
            self.add(f"main.{key}", MAIN, leaf, amount, "", money=True)

    def _main_energy(self, day: Results, soc: Results) -> None:
        over = LEAVES["net_ah"]._replace(label="A day, over or under")
        verdict = self.judged("energy-day")
        self.add("main.net_ah", MAIN, over, day.get("net_ah"), "Ah", verdict=verdict)
        least = soc.get("minimum_ratio")
        if least is not None:
            self.add(
                "main.soc",
                MAIN,
                Leaf("Lowest charge", "more left", "less left", 1, 0),
                100 * least,
                "%",
                verdict=self.judged("soc-minimum"),
            )
        if "autonomy_days" in day:
            lasts = LEAVES["autonomy_days"]._replace(label="Lasts without charging")
            self.add("main.lasts", MAIN, lasts, day["autonomy_days"], "days")

    def _load(self) -> None:
        load = self.results["load"]
        shown = {"total_kg", "front_kg", "rear_kg", "roof_kg", "combination_kg"}
        sides = {**LEAVES, "left_kg": mass("left side")}
        for key, row in load["scenarios"].items():
            if key == "use":
                row = {k: v for k, v in row.items() if k not in shown}
                self.row("use", RANKS[1], row, leaves=sides)
            else:
                group = f"Scenario: {words(key).lower()}"
                self.row(f"scenario.{key}", group, row, leaves=sides)
        for key, row in load.get("still", {}).items():
            still = {"left_kg": in_hand("left")}
            self.row(f"still.{key}", RANKS[2], row, owner=words(key), leaves=still)
        for key, row in load["worst"].items():
            verdicts = {"value_kg": row["verdict"]}
            owner = WORST.get(key, words(key))
            self.row(f"worst.{key}", RANKS[4], row, owner=owner, verdicts=verdicts)
        # What stands on the left is told with the use; only the share is new here.
        share = {"left_share": (load.get("sides") or {}).get("left_share")}
        self.row("sides", "Balance", share)
        self.row("cg", "Balance", load.get("cg") or {})
        for key, row in (load.get("carriers") or {}).items():
            verdicts = {"carried_kg": row.get("verdict", "")}
            owner = self.name(key)
            self.row(f"carrier.{key}", "Carriers", row, owner=owner, verdicts=verdicts)
        for key, row in (load.get("zones") or {}).items():
            self.row(
                f"zone.{key}", "Zones", row, owner=ZONE_LABELS.get(key, words(key))
            )
        adds = {
            "front_kg": Leaf("on the front axle"),
            "rear_kg": Leaf("on the rear axle"),
        }
        for key, row in load["items"].items():
            path, owner = f"item.{key}", self.name(key)
            self.row(path, RANKS[-1], row, owner=owner, leaves=adds, signed=True)

    def _power(self) -> None:
        power = self.results["power"]
        main = {"net_ah", "autonomy_days", "minimum_ratio"}
        for part in ("day", "soc"):
            row = {k: v for k, v in power.get(part, {}).items() if k not in main}
            self.row(f"power.{part}", "Energy a day", row)
        batteries = power.get("batteries", {})
        if len(batteries) == 1:
            batteries = {}  # the day and the charge above are those of the only one
        for key, found in batteries.items():
            for part in ("day", "soc"):
                row, owner = found.get(part) or {}, self.name(key)
                self.row(f"battery.{key}.{part}", "Batteries", row, owner=owner)
        for key, row in power.get("circuits", {}).items():
            verdicts = {
                "current_a": row.get("verdict", ""),
                "drop_percent": self.judged(f"circuit-drop.{key}"),
                "ampacity_a": self.judged(f"circuit-fuse.{key}"),
            }
            owner = self.name(key)
            self.row(f"circuit.{key}", "Circuits", row, owner=owner, verdicts=verdicts)
        for key, row in power.get("sources", {}).items():
            verdicts = {"demand_a": row.get("verdict", "")}
            owner = self.name(key)
            self.row(f"source.{key}", "Sources", row, owner=owner, verdicts=verdicts)

    def _switches(self) -> None:
        switching = self.results["switching"]
        counts = {
            "used": switching["used"],
            "unplaced": len(switching["unplaced"]),
            "unanswered": len(switching["unanswered"]),
        }
        self.row("switching", "Switches", counts)

    def _price(self) -> None:
        totals, group = self.totals, "Price and hours"
        for name, amount in (
            ("parts", totals.parts),
            ("labour", totals.labour),
            ("tax", totals.tax),
        ):
            leaf = Leaf(name, "dearer", "cheaper", -1)
            self.add(f"price.{name}", group, leaf, amount, "", money=True)
        without = Leaf("lines without a price", "more", "fewer", -1, 0)
        self.add("price.unpriced", group, without, totals.unpriced, "")


def numbers_of(results: Results, totals: Totals, labels: Labels) -> dict[str, Number]:
    """Give every number of an answer by a key that is stable between answers."""
    return Numbers(results, totals, labels).found
