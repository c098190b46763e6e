"""Faults of a record that no single value shows: links that lead nowhere or round."""

from collections.abc import Iterator, Mapping

from compliance.inputs import BuildRecord, Supply
from compliance.record_geometry import geometry_faults

Fault = tuple[str, str]

START = "start"
"""The key by which circuits and chargers name the start battery."""


def link_faults(record: BuildRecord) -> list[Fault]:
    """
    Find what is wrong between the parts of a record.

    Parameters
    ----------
    record : BuildRecord
        A record whose single values are sound.

    Returns
    -------
    list of (path, sentence)
        Empty when every key leads to what it should, and every place and mass can be.
    """
    found = [
        *_state_faults(record),
        *_carrier_faults(record),
        *_switch_faults(record),
        *_charging_faults(record),
        *_circuit_faults(record.supply),
        *_feed_faults(record),
    ]
    # A pile can be counted only where nothing goes round.
    return found or geometry_faults(record)


def _state_faults(record: BuildRecord) -> Iterator[Fault]:
    tanks = {tank.key for tank in record.vehicle.tanks}
    held = {item.key for item in record.items if item.tank is not None}
    for key in sorted(tanks & held):
        yield "vehicle.tanks", f"{key!r} is also the key of an item with a tank."
    for index, item in enumerate(record.items):
        replaced = item.tank and item.tank.replaces
        if replaced and replaced not in tanks:
            path = f"items[{index}].tank.replaces"
            yield path, f"{replaced!r} is not a tank of the vehicle."
    for index, scenario in enumerate(record.scenarios):
        path = f"scenarios[{index}]"
        if scenario.key == "use":
            yield f"{path}.key", "'use' is the state in use itself. Choose another."
        for key in scenario.tank_ratios:
            if key not in tanks and key not in held:
                yield f"{path}.tank_ratios.{key}", "is not the key of a tank."


def _carrier_faults(record: BuildRecord) -> Iterator[Fault]:
    items = {item.key for item in record.items}
    carried = {i.key: i.carried_by for i in record.items if i.carried_by is not None}
    ends = _ends(carried)
    for index, item in enumerate(record.items):
        path = f"items[{index}].carried_by"
        if item.carried_by is None:
            continue
        if item.carried_by not in items:
            yield path, f"{item.carried_by!r} is not an item."
        elif ends[item.key] is None:
            yield path, "leads round in a circle."
    for index, luggage in enumerate(record.use.luggage):
        if luggage.carried_by is not None and luggage.carried_by not in items:
            path = f"use.luggage[{index}].carried_by"
            yield path, f"{luggage.carried_by!r} is not an item."


def _ends(links: Mapping[str, str]) -> dict[str, str | None]:
    """Follow each key to where its links end; None where they go round."""
    ends: dict[str, str | None] = {}
    for key in links:
        # A dict keeps the order and is quick to ask; each link is followed once.
        trail: dict[str, None] = {}
        at = key
        while at in links and at not in ends and at not in trail:
            trail[at] = None
            at = links[at]
        end = None if at in trail else ends.get(at, at)
        ends.update(dict.fromkeys(trail, end))
    return ends


def _switch_faults(record: BuildRecord) -> Iterator[Fault]:
    places = {place.key for place in record.vehicle.switch_positions}
    for index, item in enumerate(record.items):
        if item.switch is None or item.switch.position is None:
            continue
        path = f"items[{index}].switch"
        if item.switch.kind != "position":
            yield f"{path}.position", "is named, but the kind says that none is needed."
        elif item.switch.position not in places:
            yield (
                f"{path}.position",
                f"{item.switch.position!r} is not a switch position of the vehicle.",
            )


def _charging_faults(record: BuildRecord) -> Iterator[Fault]:
    supply = record.supply
    batteries = {battery.key for battery in supply.batteries}
    chargers = {charger.key for charger in supply.chargers}
    if START in batteries:
        yield "supply.batteries", "'start' is the start battery. Choose another key."
    for index, charger in enumerate(supply.chargers):
        path = f"supply.chargers[{index}]"
        if charger.kind == "dc-dc" and charger.source is None:
            yield f"{path}.from", "is missing: a DC-DC charger draws from a battery."
        if charger.source not in (None, START) and charger.source not in batteries:
            yield f"{path}.from", f"{charger.source!r} is not a battery."
        if charger.to != START and charger.to not in batteries:
            yield f"{path}.to", f"{charger.to!r} is not a battery."
        elif charger.to == charger.source:
            yield f"{path}.to", "is the battery that it draws from."
    for index, panel in enumerate(supply.panels):
        if panel.to is not None and panel.to not in chargers:
            yield f"supply.panels[{index}].to", f"{panel.to!r} is not a charger."


def _circuit_faults(supply: Supply) -> Iterator[Fault]:
    sources = {battery.key for battery in supply.batteries} | {START}
    panels = {panel.key for panel in supply.panels}
    for key in sorted(sources & panels):
        yield "supply.panels", f"{key!r} is also the key of a battery."
    sources |= panels
    roots = _roots(supply)
    for key in sorted(roots.keys() & sources):
        yield "supply.circuits", f"{key!r} is also the key of what feeds circuits."
    for index, circuit in enumerate(supply.circuits):
        path = f"supply.circuits[{index}].from"
        if circuit.source not in roots and circuit.source not in sources:
            yield path, f"{circuit.source!r} is no battery, panel or circuit."
        elif roots[circuit.key] is None:
            yield path, "leads round in a circle and never to a battery."


def _roots(supply: Supply) -> dict[str, str | None]:
    """Follow each circuit to what is not a circuit; None when it goes round."""
    return _ends({circuit.key: circuit.source or "" for circuit in supply.circuits})


def _feed_faults(record: BuildRecord) -> Iterator[Fault]:
    supply = record.supply
    items = {item.key for item in record.items}
    chargers = {charger.key: charger for charger in supply.chargers}
    panels = {panel.key: panel for panel in supply.panels}
    roots = _roots(supply)
    fed: dict[tuple[str, str], str] = {}
    for index, circuit in enumerate(supply.circuits):
        root = roots[circuit.key]
        for place, key in enumerate(circuit.feeds):
            path = f"supply.circuits[{index}].feeds[{place}]"
            if key not in items and key not in chargers:
                yield path, f"{key!r} is neither an item nor a charger."
                continue
            side = ""
            if panel := panels.get(root or ""):
                # Every panel may have its own way to one charger.
                side = panel.key
                if key not in chargers:
                    yield path, f"{key!r} is no charger, and hangs on a panel."
                elif panel.to not in (None, key):
                    yield path, f"{key!r} is not the charger of the panel {side!r}."
            elif key in chargers:
                # A charger has two ends; each hangs on its own battery's tree.
                side = "to" if root == chargers[key].to else "from"
            taken = fed.get((key, side))
            if taken is not None:
                yield path, f"{key!r} is already fed by the circuit {taken!r}."
            fed[key, side] = taken or circuit.key
