"""Figures a workshop may set for itself, each with the table it stands in otherwise.

Only what comes from memory, from common practice or from the workshop's own rule is
here; a figure that a standard fixes is not for setting.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from compliance.findings import Mark
from compliance.tables import citation, mark, table

OWN = "the workshop's own figure"


@dataclass(frozen=True, slots=True)
class Setting:
    """One figure: where it stands, what may be set, and what it is in words."""

    table: str
    entry: str
    kind: str
    low: float
    high: float
    label: str

    @property
    def default(self) -> float:
        """What counts where the workshop has set nothing."""
        value = table(self.table)[self.entry]["value"]
        return float(value[self.kind] if self.kind else value)

    @property
    def unit(self) -> str:
        """Unit of the figure; ``1`` for a ratio."""
        return str(table(self.table)[self.entry]["unit"])


def _batteries(name: str, entry: str, label: str) -> dict[str, Setting]:
    kinds = {"lfp": "lithium", "agm": "AGM", "flooded": "flooded lead-acid"}
    return {
        f"{name}_{kind}": Setting("energy", entry, kind, 0.05, 1, f"{label}, {words}")
        for kind, words in kinds.items()
    }


SETTINGS: dict[str, Setting] = {
    "front_share_least": Setting(
        "judging", "front_share_least", "", 0.1, 0.9, "Least share on the front axle"
    ),
    "front_share_most": Setting(
        "judging", "front_share_most", "", 0.1, 0.95, "Largest share on the front axle"
    ),
    "side_share_most": Setting(
        "judging", "side_share_most", "", 0.5, 0.9, "Largest share on one side"
    ),
    "cg_rise_most_m": Setting(
        "judging", "cg_rise_most", "", 0.005, 1, "Most the centre of gravity may rise"
    ),
    "room_behind_seat_m": Setting(
        "judging", "room_behind_seat", "", 0, 3, "Room kept behind the rearmost seat"
    ),
    "engine_space_air_c": Setting(
        "judging", "engine_space_air", "", 30, 140, "Air in the engine space"
    ),
    "conductor_c": Setting(
        "conductors", "working_temperature", "", 20, 120, "Conductor in the vehicle"
    ),
    "fuse_load_factor": Setting(
        "fuses", "load_factor", "", 0.4, 1, "Share of its rating a fuse carries"
    ),
    "fuse_reach_m": Setting(
        "fuses", "reach", "", 0.05, 2, "Cable allowed between source and fuse"
    ),
    "drop_limit_charging_percent": Setting(
        "energy", "drop_limit_charging", "", 0.5, 20, "Drop allowed when charging"
    ),
    "drop_limit_other_percent": Setting(
        "energy", "drop_limit_other", "", 0.5, 20, "Drop allowed at other loads"
    ),
    **_batteries("usable_ratio", "usable_ratio", "Share of a battery that is used"),
    **_batteries("coulombic_ratio", "coulombic_ratio", "Charge given back"),
    "charger_efficiency": Setting(
        "energy", "charger_efficiency", "", 0.3, 1, "Efficiency of a charger"
    ),
    "charger_output_v": Setting(
        "energy", "charger_output", "", 10, 18, "Output of a charger, 12 V system"
    ),
    "charger_lowest_input_v": Setting(
        "energy", "charger_lowest_input", "", 8, 14, "Lowest input, 12 V system"
    ),
    "alternator_hot_ratio": Setting(
        "energy", "alternator_hot_ratio", "", 0.2, 1, "Alternator hot, of its rating"
    ),
    "alternator_idle_ratio": Setting(
        "energy", "alternator_idle_ratio", "", 0.1, 1, "Alternator hot and idling"
    ),
    "panel_derate": Setting(
        "energy", "panel_derate", "", 0.2, 1, "Yield of a flat panel"
    ),
    "sunshine_ratio": Setting(
        "energy", "sunshine_ratio", "", 0.05, 1, "Share of the day with sun"
    ),
    "standby_no_start_ratio": Setting(
        "energy", "standby_no_start_ratio", "", 0.1, 1, "Drawn when it will not start"
    ),
    "lead_charge_rate_c": Setting(
        "batteries", "lead_charge_rate", "", 0.05, 1, "Charge a lead-acid battery takes"
    ),
}
"""Every figure that may be set, by its name in the record."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The figures one record is computed with."""

    own: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, **own: float) -> "Settings":
        """Take the workshop's own figures by their names in ``SETTINGS``."""
        return cls(own)

    def value(self, name: str) -> float:
        """Give a figure, the workshop's own before that of the table."""
        own = self.own.get(name)
        return SETTINGS[name].default if own is None else own

    def source(self, name: str) -> str:
        """Name where the figure in use comes from."""
        setting = SETTINGS[name]
        return OWN if name in self.own else citation(setting.table, setting.entry)

    def mark(self, name: str) -> Mark:
        """Give the mark that travels with the figure in use."""
        setting = SETTINGS[name]
        return (
            "workshop rule" if name in self.own else mark(setting.table, setting.entry)
        )
