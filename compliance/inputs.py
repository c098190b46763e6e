"""What the calculation core computes from: one frozen picture of a build.

Axes follow ISO 8855: x forward, y left, z up, metres, origin on the ground below
the front axle centre; the rear axle is at x = -wheelbase. ``None`` means not
recorded, never zero. The names are those of the open build record.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from compliance.settings import Settings

ZONES = (
    "front",
    "under-bonnet",
    "left-side",
    "roof",
    "right-side",
    "rear",
    "cargo",
    "cabin",
    "underneath",
    "wheels",
    "trailer",
)
"""Zones in walk-around order, the reading order of every list and drawing."""

FLUIDS = ("diesel", "petrol", "lpg", "water", "waste-water", "adblue")
"""What a tank may hold; densities stand in ``tables/masses.toml``."""

BaseDefinition = Literal["weighed", "tare", "kerb", "running-order"]
LoadKind = Literal["current", "power", "resistive"]
SwitchKind = Literal["none", "own", "position"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratings:
    """Limits of one vehicle, from its plate or its papers. [kg]"""

    gvm_kg: float | None = None
    front_axle_kg: float | None = None
    rear_axle_kg: float | None = None
    gcm_kg: float | None = None
    braked_towing_kg: float | None = None
    ball_kg: float | None = None
    roof_kg: float | None = None


RATING_NAMES = tuple(Ratings.__dataclass_fields__)
"""Every rating by its name, in the order of the plate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """The vehicle before the build; what was aboard when that mass was taken.

    ``left_kg`` is what both left wheels carried then, ``cg_z_m`` the height of its
    centre of gravity above the ground.
    """

    definition: BaseDefinition | None = None
    mass_kg: float | None = None
    front_kg: float | None = None
    rear_kg: float | None = None
    fuel_l: float | None = None
    people: int | None = None
    scale_interval_kg: float | None = None
    half_width_kg: float | None = None
    left_kg: float | None = None
    cg_z_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """A seat that can be occupied; people fill seats in the order listed."""

    key: str
    x_m: float
    y_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """A consumable that is anywhere from empty to full.

    Without ``density_kg_per_l`` the density of its fluid in the table counts.
    """

    key: str
    fluid: str
    capacity_l: float
    x_m: float
    density_kg_per_l: float | None = None
    y_m: float | None = None
    z_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchPosition:
    """One place in the cabin that can take a switch."""

    key: str
    panel: str
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternator:
    """The vehicle's generator as rated, cold and at full speed."""

    rated_a: float | None = None
    variable_voltage: bool | None = None
    own_load_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StartBattery:
    """The battery that starts the engine."""

    capacity_ah: float | None = None
    standby_a: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """Geometry, ratings and electrical basis of the vehicle being fitted."""

    label: str
    vin: str | None = None
    category: str | None = None
    wheelbase_m: float | None = None
    track_m: float | None = None
    ball_overhang_m: float | None = None
    ratings: Ratings = field(default_factory=Ratings)
    base: Base = field(default_factory=Base)
    seats: tuple[Seat, ...] = ()
    tanks: tuple[Tank, ...] = ()
    alternator: Alternator = field(default_factory=Alternator)
    start_battery: StartBattery = field(default_factory=StartBattery)
    switch_positions: tuple[SwitchPosition, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trailer:
    """The trailer as it stands on the road, hitched to this vehicle.

    ``hitch_moment_kgm`` is the moment of a weight-distributing hitch; without one the
    ball is a plain pivot.
    """

    mass_kg: float | None = None
    ball_kg: float | None = None
    atm_kg: float | None = None
    gtm_kg: float | None = None
    ball_to_axle_m: float | None = None
    hitch_moment_kgm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedPart:
    """An original part taken off; ``mass_kg`` is positive, the core subtracts it."""

    label: str
    mass_kg: float
    x_m: float | None = None
    y_m: float | None = None
    z_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemTank:
    """A tank that is a line item; its shell is in the item's mass.

    Without ``density_kg_per_l`` the density of its fluid in the table counts.
    ``replaces`` is the key of the vehicle's tank that was taken out for it.
    """

    fluid: str
    capacity_l: float
    density_kg_per_l: float | None = None
    replaces: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingChange:
    """Ratings an item raises. ``evidence`` is the paper on file, ``None`` = planned."""

    ratings: Ratings
    evidence: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """How an item draws current.

    ``current_a`` for kind ``current``, ``power_w`` at the item for ``power`` (an
    inverter states its ``efficiency``), ``resistance_ohm`` for ``resistive``.
    ``duty`` is a ratio 0 to 1 or ``"fridge"`` (by ambient temperature).
    ``short_time`` marks winches and the like: shown, exempt from the drop limit,
    left out of the day's balance.
    """

    kind: LoadKind
    current_a: float | None = None
    power_w: float | None = None
    resistance_ohm: float | None = None
    efficiency: float | None = None
    hours_per_day: float | None = None
    duty: float | Literal["fridge"] | None = None
    standby_a: float | None = None
    limit_percent: float | None = None
    short_time: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """Where an item is switched.

    ``none``: nothing to switch. ``own``: the control is on the item itself.
    ``position``: it needs a place in the cabin; ``position`` names it once chosen.
    """

    kind: SwitchKind
    position: str | None = None
    interlock: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One fitted line item; ``mass_kg`` is the whole line, all pieces together.

    ``carrier_limit_kg`` is what a rack, slide or tray may itself carry;
    ``carried_by`` is the key of the item that this one stands on.
    """

    key: str
    label: str
    kind: str
    zone: str
    supplied_by: str = "workshop"
    mass_kg: float | None = None
    mass_half_width_kg: float | None = None
    x_m: float | None = None
    x_half_width_m: float | None = None
    y_m: float | None = None
    z_m: float | None = None
    removes: tuple[RemovedPart, ...] = ()
    tank: ItemTank | None = None
    carrier_limit_kg: float | None = None
    carried_by: str | None = None
    raises: RatingChange | None = None
    load: Load | None = None
    switch: Switch | None = None
    facts: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """An aux battery; its key is the key of the line item that brings it.

    The temperatures are those of its data sheet, for charging and for discharging.
    """

    key: str
    chemistry: Literal["lfp", "agm", "flooded"]
    capacity_ah: float
    usable_ratio: float | None = None
    charge_limit_a: float | None = None
    discharge_limit_a: float | None = None
    internal_mohm: float | None = None
    place: str | None = None
    charge_min_c: float | None = None
    charge_max_c: float | None = None
    discharge_min_c: float | None = None
    discharge_max_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Charger:
    """Brings energy to a battery.

    ``kind`` is ``dc-dc`` (``source`` is a battery key or ``"start"``), ``solar`` or
    ``shore``. In a circuit's ``feeds`` the charger's key is an input load where the
    circuit hangs on ``source`` and the output side where it hangs on ``to``.
    """

    key: str
    kind: Literal["dc-dc", "solar", "shore"]
    source: str | None = None
    to: str
    out_a: float
    out_v: float | None = None
    efficiency: float | None = None
    solar_input_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A solar panel lying flat; ``derate`` is the ratio of yield to rated power."""

    key: str
    power_w: float
    to: str | None = None
    derate: float | None = None
    short_circuit_a: float | None = None
    open_circuit_v: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A protected pair of conductors. ``run_m`` is one way; ``source`` feeds it.

    ``source`` is ``"start"``, a battery key, a panel key, or another circuit's key.
    ``feeds`` lists item and charger keys at its far end.
    """

    key: str
    source: str | None
    label: str = ""
    fuse_a: float | None = None
    fuse_kind: str | None = None
    fuse_to_source_m: float | None = None
    fuse_place: str | None = None
    area_mm2: float | None = None
    run_m: float | None = None
    extra_ohm: float = 0.0
    insulation_c: float | None = None
    engine_space: bool = False
    feeds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Everything between the batteries and the loads."""

    system_v: float = 12.0
    batteries: tuple[Battery, ...] = ()
    chargers: tuple[Charger, ...] = ()
    panels: tuple[Panel, ...] = ()
    circuits: tuple[Circuit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Luggage:
    """Loose load in the customer's own use; ``carried_by`` as of an item."""

    mass_kg: float
    x_m: float
    y_m: float | None = None
    z_m: float | None = None
    zone: str | None = None
    carried_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How the customer will use the vehicle."""

    people: int | None = None
    person_kg: float | None = None
    luggage: tuple[Luggage, ...] = ()
    hitched: bool = False
    ambient_c: float | None = None
    latitude_deg: float | None = None
    month: int | None = None
    drive_h_per_day: float | None = None
    days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One state of loading; what it leaves out comes from ``Use``."""

    key: str
    people: int | None = None
    fuel_ratio: float | None = None
    water_ratio: float | None = None
    tank_ratios: Mapping[str, float] = field(default_factory=dict)
    hitched: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildRecord:
    """The whole record of one build."""

    jurisdiction: str | None = None
    vehicle: Vehicle
    trailer: Trailer | None = None
    items: tuple[Item, ...] = ()
    supply: Supply = field(default_factory=Supply)
    use: Use = field(default_factory=Use)
    scenarios: tuple[Scenario, ...] = ()
    settings: Settings = field(default_factory=Settings)
