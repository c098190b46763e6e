"""Power and wiring of one build held against its limits."""

from typing import Any

from compliance.circuit_checks import check_circuits
from compliance.energy_checks import check_energy
from compliance.findings import Finding
from compliance.inputs import BuildRecord
from compliance.source_checks import check_sources
from compliance.supply import SupplyTree


def check_power(record: BuildRecord) -> tuple[dict[str, Any], list[Finding]]:
    """
    Compute and judge a build's power.

    Parameters
    ----------
    record : BuildRecord
        Checked for loops and unknown keys.

    Returns
    -------
    tuple of dict and list of Finding
        ``day``, ``soc``, ``batteries``, ``circuits`` and ``sources`` as the open
        record's answer names them, and the findings. ``day`` and ``soc`` are those of
        the first battery.

    References
    ----------
    See the functions that compute each quantity.
    """
    tree = SupplyTree(record)
    circuits, of_circuits = check_circuits(tree)
    batteries, of_energy = check_energy(tree)
    sources, of_sources = check_sources(tree)
    first: dict[str, Any] = next(iter(batteries.values()), {"day": {}, "soc": {}})
    answer = {
        **first,
        "batteries": batteries,
        "circuits": circuits,
        "sources": sources,
    }
    return answer, [*of_circuits, *of_energy, *of_sources]
