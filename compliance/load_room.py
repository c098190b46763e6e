"""From bare to loaded, zone by zone, and how much may still be carried."""

import math
from collections.abc import Mapping
from typing import Any

from compliance.inputs import ZONES, BuildRecord
from compliance.laden import Laden
from compliance.load import AxleLoads, axle_share
from compliance.parts import Part, mass_of
from compliance.ratings import Rating


def load_path(laden: Laden, *, hitched: bool) -> list[dict[str, Any]]:
    """
    Follow the axle loads from the empty vehicle to the customer's own use.

    Parameters
    ----------
    laden : Laden
        The build.
    hitched : bool
        Whether the customer's use has the trailer on.

    Returns
    -------
    list of dict
        ``label``, ``front_kg``, ``rear_kg`` and ``total_kg`` after each step; a step
        that adds nothing is left out. Empty while the axles are not known.

    References
    ----------
    See ``axle_share``.
    """
    people, gaps = laden.people(laden.record.use.people)
    steps: list[tuple[str, list[Part]]] = [
        ("Everything fitted", laden.fitted),
        ("Tanks full", laden.tanks),
        ("People", people),
        ("Luggage", laden.luggage),
        ("Trailer on", laden.coupled if hitched else []),
    ]
    aboard: list[Part] = []
    loads = laden.axles_of(aboard)
    if loads is None or gaps:
        return []
    rows = [_point("Bare, tanks empty", loads, laden.total_of(aboard))]
    for label, parts in steps:
        if not any(part.mass_kg or part.missing for part in parts):
            continue
        aboard += parts
        loads = laden.axles_of(aboard)
        if loads is None:
            return []
        rows.append(_point(label, loads, laden.total_of(aboard)))
    return rows


def _point(label: str, loads: AxleLoads, total_kg: float | None) -> dict[str, Any]:
    return {
        "label": label,
        "front_kg": loads.front_kg,
        "rear_kg": loads.rear_kg,
        "total_kg": total_kg,
    }


def zone_rows(record: BuildRecord) -> dict[str, dict[str, Any]]:
    """
    Add up what is fitted in each zone, in walk-around order.

    Parameters
    ----------
    record : BuildRecord
        The build; what stands in the trailer has a zone of its own.

    Returns
    -------
    dict
        By zone: ``items``, how many of them are ``unweighed``, ``mass_kg`` of the
        others, and ``removed_kg`` of what was taken off for them.

    References
    ----------
    Derived: sums.
    """
    rows: dict[str, dict[str, Any]] = {}
    for zone in ZONES:
        items = [item for item in record.items if item.zone == zone]
        if not items:
            continue
        known = [item.mass_kg for item in items if item.mass_kg is not None]
        off = (part.mass_kg for item in items for part in item.removes)
        rows[zone] = {
            "mass_kg": math.fsum(known),
            "removed_kg": math.fsum(off),
            "items": len(items),
            "unweighed": len(items) - len(known),
        }
    return rows


def still_rows(
    laden: Laden, ratings: Mapping[str, Rating], trailer_kg: float | None
) -> dict[str, dict[str, Any]]:
    """
    Say what may still be carried in the vehicle as built, with every tank full.

    Parameters
    ----------
    laden : Laden
        The build.
    ratings : Mapping of str to Rating
        What counts today, by the names of ``Ratings``. [kg]
    trailer_kg : float or None
        The trailer as it stands on the road, None without one or unweighed. [kg]

    Returns
    -------
    dict
        ``unhitched`` and ``hitched``, each with what is ``left_kg``, which rating is
        ``governing``, what is left ``by`` each, so many ``people`` and then ``and_kg``
        more. ``axles`` says so many people and so much luggage where the axles' limits
        are kept too, and what governs then; it is left out where a place is not known.
        A state in which nothing is known is left out.

    Notes
    -----
    Nobody is aboard and no luggage: all of that is still to come. People are of the
    mass in the customer's use, as many as fit and as there are seats.

    References
    ----------
    Derived; GVM holds the ball load, GCM counts it once.
    """
    rows = {}
    gvm, gcm = ratings["gvm_kg"], ratings["gcm_kg"]
    plain = [*laden.fitted, *laden.tanks]
    alone = laden.total_of(plain)
    if alone is not None and gvm.governs_kg is not None:
        rows["unhitched"] = _still(laden, {"gvm": gvm.governs_kg - alone})
        rows["unhitched"] |= _with_axles(laden, plain, rows["unhitched"], ratings)
    # The bars of a hitch raise no rating: the ball counts whole.
    coupled = laden.total_of([*plain, laden.ball])
    if coupled is None or trailer_kg is None or gvm.governs_kg is None:
        return rows
    assert alone is not None
    by = {"gvm": gvm.governs_kg - coupled}
    if gcm.governs_kg is not None:
        by["gcm"] = gcm.governs_kg - alone - trailer_kg
    rows["hitched"] = _still(laden, by)
    rows["hitched"] |= _with_axles(
        laden, [*plain, laden.ball], rows["hitched"], ratings
    )
    if "gcm" not in by:
        rows["hitched"]["missing"] = ["look up the GCM in the vehicle's papers"]
    return rows


def _still(laden: Laden, by: dict[str, float]) -> dict[str, Any]:
    governing = min(by, key=lambda name: by[name])
    left, person = by[governing], laden.record.use.person_kg
    seats = len(laden.record.vehicle.seats)
    people = and_kg = None
    if person is not None and seats:
        people = max(0, min(seats, math.floor(left / person + 1e-9)))
        and_kg = left - people * person
    return {
        "left_kg": left,
        "governing": governing,
        "people": people,
        "and_kg": and_kg,
        "by": by,
    }


def _with_axles(
    laden: Laden, on: list[Part], still: dict[str, Any], ratings: Mapping[str, Rating]
) -> dict[str, Any]:
    """Give how many people in seat order, and then how much luggage in its place."""
    person, where_m = laden.record.use.person_kg, _luggage_x_m(laden)
    length = laden.wheelbase_m
    if person is None or where_m is None or length is None:
        return {}
    share = axle_share(1.0, where_m, length)
    found: dict[str, Any] = {}
    for people in range(len(laden.seats) + 1):
        loads = laden.axles_of([*on, *laden.seats[:people]])
        if loads is None:
            return {}
        room = {still["governing"]: still["left_kg"] - people * person}
        for name, load, part in (
            ("front_axle", loads.front_kg, share.front_kg),
            ("rear_axle", loads.rear_kg, share.rear_kg),
        ):
            limit = ratings[f"{name}_kg"].governs_kg
            if limit is None:
                return {}
            if part > 0:
                room[name] = (limit - load) / part
            elif load > limit:
                room[name] = limit - load
        governing = min(room, key=lambda name: room[name])
        if people and room[governing] < 0:
            break
        found = {
            "people": people,
            "and_kg": room[governing],
            "governing": governing,
            "luggage_x_m": where_m,
        }
    return {"axles": found}


def _luggage_x_m(laden: Laden) -> float | None:
    """Middle of the luggage in the customer's use, what is on the roof left out. [m]"""
    inside = [p for p in laden.luggage if not p.roof and p.mass_kg]
    total = math.fsum(mass_of(part) for part in inside)
    if not total:
        return None
    return math.fsum(mass_of(p) * (p.x_m or 0.0) for p in inside) / total
