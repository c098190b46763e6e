"""The vehicle before the build, brought to one meaning: no fuel and nobody aboard."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from compliance.findings import Mark, Step
from compliance.inputs import Base, BuildRecord, Tank
from compliance.load import Axle, AxleLoads, PointMass, axle_share, left_share_kg
from compliance.tables import citation, mark, table
from compliance.weighing import check_ticket, scale_half_width_kg

FUELS = frozenset({"diesel", "petrol", "lpg"})

_GIVEN: Mark = "given"

DRIVER = ("base_definitions", "running_order_driver")
"""Where the driver of a mass in running order stands in the tables."""


@dataclass(frozen=True, slots=True)
class BaseMass:
    """
    The vehicle with empty fuel tanks and nobody aboard. [kg]

    ``gaps`` say what is missing for the total, ``axle_gaps`` for the axles besides.
    ``kerb_kg`` is the same mass with the original fuel tanks full, ``weighed_kg`` the
    mass as it was given. ``left_kg`` is on the left wheels, if it was weighed by side.
    ``fuel_kg`` is what was then in each of its tanks, by their keys.
    ``variances`` are those of the total, the front and the rear axle, in kg^2.
    """

    total_kg: float | None = None
    axles: AxleLoads | None = None
    kerb_kg: float | None = None
    gaps: tuple[str, ...] = ()
    axle_gaps: tuple[str, ...] = ()
    variances: tuple[float, float, float] | None = None
    weighed_kg: float | None = None
    left_kg: float | None = None
    fuel_kg: Mapping[str, float] = field(default_factory=dict)
    working: tuple[Step, ...] = ()

    def variance(self, axle: Axle | None) -> float | None:
        """Give the variance of the total or of one axle, None if not known. [kg^2]"""
        if self.variances is None:
            return None
        return self.variances[(None, "front", "rear").index(axle)]


@dataclass(frozen=True, slots=True)
class _Aboard:
    """Something that was in the vehicle when its base mass was taken."""

    key: str
    label: str
    formula: str
    mass_kg: float
    x_m: float
    source: str
    mark: Mark
    y_m: float | None = None


@dataclass(frozen=True, slots=True)
class _Reading:
    """
    The base mass as entered, what follows from two of three filled in. [kg]

    Three readings stay three: the whole counts for the total and each axle's for that
    axle, so that they differ by what the scale is permitted.
    """

    total_kg: float | None
    front_kg: float | None
    rear_kg: float | None


def dry_base(record: BuildRecord) -> BaseMass:
    """
    Convert the base mass by its definition, explicitly and line by line.

    Parameters
    ----------
    record : BuildRecord
        Base mass with its definition, tanks and seats.

    Returns
    -------
    BaseMass
        Masses with fuel and people taken off where they were, or what is missing.

    Notes
    -----
    Only fuel and people are taken off: other tanks count as empty when it was weighed.
    A tare mass has 10 l of fuel aboard, a kerb mass full tanks, a mass in running
    order 90 % of them and the driver.

    References
    ----------
    ``tables/base_definitions.toml``.
    """
    reading = _reading(record.vehicle.base)
    gaps = list(_gaps(record, reading))
    axle_gaps = _axle_gaps(record, reading)
    if gaps:
        return BaseMass(gaps=tuple(gaps), axle_gaps=axle_gaps)
    fuel = list(_fuel_aboard(record))
    aboard = [*fuel, *_people_aboard(record)]
    full = sum(tank.capacity_l * _density(tank) for tank in _fuel_tanks(record))
    assert reading.total_kg is not None
    total = reading.total_kg - sum(part.mass_kg for part in aboard)
    return BaseMass(
        total_kg=total,
        axles=None if axle_gaps else _dry_axles(record, reading, aboard),
        kerb_kg=total + full,
        axle_gaps=axle_gaps,
        variances=_variances(record.vehicle.base, reading),
        weighed_kg=reading.total_kg,
        left_kg=_dry_left_kg(record, aboard),
        fuel_kg={part.key: part.mass_kg for part in fuel},
        working=tuple(_working(record.vehicle.base, reading, aboard)),
    )


def _reading(base: Base) -> _Reading:
    total, front, rear = base.mass_kg, base.front_kg, base.rear_kg
    if front is not None and rear is not None:
        total = front + rear if total is None else total
    elif total is not None and front is not None:
        rear = total - front
    elif total is not None and rear is not None:
        front = total - rear
    return _Reading(total, front, rear)


def _gaps(record: BuildRecord, reading: _Reading) -> Iterator[str]:
    base, tanks = record.vehicle.base, _fuel_tanks(record)
    if reading.total_kg is None:
        yield "weigh the vehicle, or look up its base mass"
        return
    if base.definition is None:
        yield "say what the base mass is: weighed, tare, kerb or running order"
        return
    if said := _ticket_gap(base):
        yield said
    fuel_l = base.fuel_l
    if fuel_l is None and base.definition == "weighed" and tanks:
        yield "say how much fuel was aboard when it was weighed"
    elif fuel_l is None and base.definition in ("tare", "running-order") and not tanks:
        yield "record the fuel tank, or say that 0 l of fuel were aboard"
    elif tanks and (fuel_l or 0.0) > sum(t.capacity_l for t in tanks):
        yield f"check the fuel aboard: {fuel_l:g} l is more than the tanks hold"
    people = _people_count(base)
    if people is None:
        yield "say how many people were aboard when it was weighed"
    elif people > len(record.vehicle.seats):
        yield "record the seats of those who were aboard when it was weighed"
    elif people and _person_kg(record) is None:
        yield "say what mass to take for a person"


def _ticket_gap(base: Base) -> str:
    """Say that the parts of the ticket do not add up, if they do not."""
    if base.mass_kg is None or base.front_kg is None or base.rear_kg is None:
        return ""
    axles = (base.front_kg, base.rear_kg)
    gap = base.mass_kg - sum(axles)
    if base.scale_interval_kg is None:
        consistent = abs(gap) <= 1e-9 * base.mass_kg
    else:
        ticket = check_ticket(
            total_kg=base.mass_kg, axles_kg=axles, interval_kg=base.scale_interval_kg
        )
        consistent = ticket.consistent
    if consistent:
        return ""
    return (
        f"weigh again: front and rear axle make {sum(axles):,g} kg, "
        f"the whole vehicle {base.mass_kg:,g} kg, a gap of {abs(gap):,g} kg"
    )


def _axle_gaps(record: BuildRecord, reading: _Reading) -> tuple[str, ...]:
    gaps = []
    if reading.front_kg is None:
        gaps.append("weigh each axle of the vehicle by itself")
    if record.vehicle.wheelbase_m is None:
        gaps.append("measure the wheelbase")
    return tuple(gaps)


def _fuel_tanks(record: BuildRecord) -> list[Tank]:
    return [tank for tank in record.vehicle.tanks if tank.fluid in FUELS]


def _density(tank: Tank) -> float:
    if tank.density_kg_per_l is not None:
        return tank.density_kg_per_l
    return float(table("masses")[tank.fluid]["value"])


def _value(name: str) -> float:
    return float(table("base_definitions")[name]["value"])


def _fuel_aboard(record: BuildRecord) -> Iterator[_Aboard]:
    base, tanks = record.vehicle.base, _fuel_tanks(record)
    capacity = sum(tank.capacity_l for tank in tanks)
    source, known = "vehicle", _GIVEN
    left = base.fuel_l
    if left is None:
        source, known = citation("base_definitions"), mark("base_definitions")
        left = {
            "tare": min(_value("tare_fuel"), capacity),
            "kerb": capacity,
            "running-order": _value("running_order_fuel") * capacity,
        }.get(base.definition or "", 0.0)
    for tank in tanks:
        litres = min(left, tank.capacity_l)
        left -= litres
        density = _density(tank)
        yield _Aboard(
            tank.key,
            f"fuel in {tank.key}",
            f"-{litres:g} l × {density:g} kg/l",
            litres * density,
            tank.x_m,
            source,
            known,
            tank.y_m,
        )


def _people_count(base: Base) -> int | None:
    if base.people is not None:
        return base.people
    return {"tare": 0, "kerb": 0, "running-order": 1}.get(base.definition or "")


def _person_kg(record: BuildRecord) -> float | None:
    if record.vehicle.base.definition == "running-order":
        return _value("running_order_driver")
    return record.use.person_kg


def _people_aboard(record: BuildRecord) -> Iterator[_Aboard]:
    mass = _person_kg(record)
    source, known = "customer's use", _GIVEN
    if record.vehicle.base.definition == "running-order":
        source, known = citation(*DRIVER), mark(*DRIVER)
    for seat in record.vehicle.seats[: _people_count(record.vehicle.base)]:
        assert mass is not None
        yield _Aboard(
            seat.key,
            f"person, {seat.key}",
            f"-1 × {mass:g} kg",
            mass,
            seat.x_m,
            source,
            known,
            seat.y_m,
        )


def _dry_left_kg(record: BuildRecord, aboard: list[_Aboard]) -> float | None:
    """Take what was aboard off the left wheels; None unless weighed by side. [kg]"""
    left, track_m = record.vehicle.base.left_kg, record.vehicle.track_m
    if left is None or track_m is None:
        return None
    rows = [PointMass(p.label, p.mass_kg, p.x_m, p.y_m) for p in aboard]
    return left - left_share_kg(rows, track_m)


def _dry_axles(
    record: BuildRecord, reading: _Reading, aboard: list[_Aboard]
) -> AxleLoads:
    wheelbase_m = record.vehicle.wheelbase_m
    assert wheelbase_m is not None
    assert reading.front_kg is not None
    assert reading.rear_kg is not None
    loads = AxleLoads(reading.front_kg, reading.rear_kg)
    for part in aboard:
        loads += axle_share(-part.mass_kg, part.x_m, wheelbase_m)
    return loads


def _variances(base: Base, reading: _Reading) -> tuple[float, float, float] | None:
    """Variances of total, front and rear: the scale's, else those of the book."""
    total, front, rear = reading.total_kg or 0.0, reading.front_kg, reading.rear_kg
    interval = base.scale_interval_kg
    if interval is None:
        if base.half_width_kg is None:
            return None
        whole = base.half_width_kg**2 / 3
        share = 0.0 if front is None or not total else front / total
        # An error of the whole is shared by the axles as the mass itself is.
        return whole, whole * share**2, whole * (1 - share) ** 2
    rounding = (interval / 2) ** 2 / 3

    def error(kg: float) -> float:
        return scale_half_width_kg(kg, interval)

    def read(kg: float) -> float:
        return error(kg) ** 2 / 3 + rounding

    def both(one: float, other: float) -> float:
        # Both stood on the same scale: its error adds up, its rounding does not.
        return (error(one) + error(other)) ** 2 / 3 + 2 * rounding

    if front is None or rear is None:
        return read(total), 0.0, 0.0
    return (
        both(front, rear) if base.mass_kg is None else read(total),
        both(total, rear) if base.front_kg is None else read(front),
        both(total, front) if base.rear_kg is None else read(rear),
    )


def _working(base: Base, reading: _Reading, aboard: list[_Aboard]) -> Iterator[Step]:
    assert reading.total_kg is not None
    formula = f"{base.definition} mass"
    if None not in (base.mass_kg, base.front_kg, base.rear_kg):
        axles_kg = (base.front_kg or 0.0) + (base.rear_kg or 0.0)
        formula += f" of the whole; its axles by themselves make {axles_kg:,g} kg"
    yield Step(
        label="base mass",
        formula=formula,
        value=reading.total_kg,
        unit="kg",
        source="vehicle",
        mark="given",
    )
    for part in aboard:
        yield Step(
            label=f"{part.label}, taken off first",
            formula=part.formula,
            value=-part.mass_kg,
            unit="kg",
            source=part.source,
            mark=part.mark,
        )
