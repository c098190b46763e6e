"""What a record says of one load and of one circuit's cable, in the units of sums."""

from collections.abc import Sequence

from compliance.inputs import Circuit, Load
from compliance.wiring import run_ohm


def circuit_ohm(circuit: Circuit, conductor_c: float) -> float | None:
    """Give a circuit's own resistance out and back, None where it is not recorded."""
    if circuit.area_mm2 is None or circuit.run_m is None:
        return None
    return run_ohm(circuit.area_mm2, circuit.run_m, conductor_c, circuit.extra_ohm)


def circuit_name(circuit: Circuit) -> str:
    """Name a circuit as the build does."""
    return circuit.label or circuit.key


def cable_gap(circuit: Circuit) -> str:
    """Say what of a circuit's cable is not recorded."""
    wanted: Sequence[str] = [
        word
        for word, value in (
            ("cable area", circuit.area_mm2),
            ("run", circuit.run_m),
        )
        if value is None
    ]
    return f"the {' and '.join(wanted)} of {circuit_name(circuit)}"


def load_value(load: Load, scale: float = 1.0) -> float | None:
    """
    Give what a load draws, in the unit of its kind.

    Parameters
    ----------
    load : Load
        From the record.
    scale : float
        System voltage over 12 V.

    Returns
    -------
    float or None
        A for ``current``, W at the supply for ``power``, S for ``resistive``; ``None``
        where it is not stated.

    Notes
    -----
    A resistive load with a current alone is taken to draw it at the system voltage.

    References
    ----------
    Derived.
    """
    if load.kind == "current":
        return load.current_a
    if load.kind == "power":
        if load.power_w is None:
            return None
        return load.power_w / (load.efficiency or 1.0)
    if load.resistance_ohm is not None:
        return 1 / load.resistance_ohm
    return None if load.current_a is None else load.current_a / (12.0 * scale)


def mean_a(load: Load, source_v: float, scale: float = 1.0) -> float | None:
    """
    Give the current a load draws at its battery's resting voltage.

    Parameters
    ----------
    load : Load
        From the record.
    source_v : float
        Voltage. [V]
    scale : float
        System voltage over 12 V.

    Returns
    -------
    float or None
        Current, ``None`` where the load is not stated. [A]

    References
    ----------
    Derived.
    """
    value = load_value(load, scale)
    if value is None or load.kind == "current":
        return value
    return value / source_v if load.kind == "power" else value * source_v
