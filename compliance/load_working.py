"""The sums behind a mass, line by line, as a person would write them."""

from collections.abc import Callable, Iterator

from compliance.findings import Step
from compliance.laden import Laden, State
from compliance.load import Axle
from compliance.parts import Part, mass_of

SHOWN = 8
"""How many contributors are written out; the rest is one line."""


def total_working(
    laden: Laden, state: State, expanded_kg: float | None
) -> tuple[Step, ...]:
    """
    Write out the total of one state.

    Parameters
    ----------
    laden : Laden
        The build.
    state : State
        One of its states.
    expanded_kg : float or None
        U of the total. [kg]

    Returns
    -------
    tuple of Step
        The base, the main contributors, the rest and the sum; empty if not known.
    """
    if state.total_kg is None:
        return ()
    return (
        *laden.base.working,
        *_contributors(state, lambda part, kg: kg, lambda part, kg: f"{kg:,g} kg"),
        *_sum("total", state.total_kg, expanded_kg),
    )


def axle_working(
    laden: Laden,
    state: State,
    axle: Axle,
    expanded_kg: tuple[float | None, float | None],
) -> tuple[Step, ...]:
    """
    Write out one axle's load in one state.

    Parameters
    ----------
    laden : Laden
        The build.
    state : State
        One of its states.
    axle : {"front", "rear"}
        Which axle.
    expanded_kg : tuple of (float or None, float or None)
        U of the front and of the rear axle. [kg]

    Returns
    -------
    tuple of Step
        The base, the main contributors, the rest and the sum; empty if not known.
    """
    base, length = laden.base.axles, laden.wheelbase_m
    if state.axles is None or base is None or length is None:
        return ()
    front = axle == "front"

    def share(part: Part, kg: float) -> float:
        rear = -kg * (part.x_m or 0.0) / length
        return kg - rear if front else rear

    def formula(part: Part, kg: float) -> str:
        lever = f"{-(part.x_m or 0.0):.2f} m / {length:.2f} m"
        return f"{kg:,g} kg × (1 - {lever})" if front else f"{kg:,g} kg × {lever}"

    return (
        Step(
            label=f"base, {axle} axle",
            formula="weighed, less fuel and people where they were",
            value=base.front_kg if front else base.rear_kg,
            unit="kg",
            source="vehicle",
            mark="derived" if len(laden.base.working) > 1 else "given",
        ),
        *_contributors(state, share, formula),
        *_sum(
            f"{axle} axle",
            state.axles.front_kg if front else state.axles.rear_kg,
            expanded_kg[0 if front else 1],
        ),
    )


def _contributors(
    state: State,
    share: Callable[[Part, float], float],
    formula: Callable[[Part, float], str],
) -> Iterator[Step]:
    rows = [
        (share(part, kg), kg, part)
        for part, ratio in state.parts
        if (kg := mass_of(part) * ratio)
    ]
    rows.sort(key=lambda row: (-abs(row[0]), row[2].label, row[2].key))
    for value, kg, part in rows[:SHOWN]:
        yield Step(
            label=part.label,
            formula=formula(part, kg),
            value=value,
            unit="kg",
            source=part.source,
            mark=part.mark,
        )
    rest = rows[SHOWN:]
    if rest:
        yield Step(
            label=f"{len(rest)} others together",
            formula="sum",
            value=sum(row[0] for row in rest),
            unit="kg",
            source="line items and use",
            mark="derived",
        )


def _sum(label: str, value: float, expanded_kg: float | None) -> Iterator[Step]:
    yield Step(
        label=label,
        formula="sum of the lines above",
        value=value,
        unit="kg",
        source="sum of moments" if "axle" in label else "sum of masses",
        mark="derived",
    )
    if expanded_kg is not None:
        yield Step(
            label="tolerance of the sum",
            formula="U = 2 √Σu², u = a/√3 of each half width",
            value=expanded_kg,
            unit="kg",
            source="JCGM 100:2008 5.1.2",
            mark="from memory",
        )
