"""Faults of a record that no single value shows: links that lead nowhere or round."""

from collections.abc import Iterator

from compliance.inputs import BuildRecord, Circuit, Supply

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
        Empty when every key leads to what it should.
    """
    return [
        *_state_faults(record),
        *_carrier_faults(record),
        *_switch_faults(record),
        *_charging_faults(record),
        *_circuit_faults(record.supply),
        *_feed_faults(record),
    ]


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
    on = {item.key: item.carried_by for item in record.items}
    for index, item in enumerate(record.items):
        path = f"items[{index}].carried_by"
        if item.carried_by is None:
            continue
        if item.carried_by not in on:
            yield path, f"{item.carried_by!r} is not an item."
        elif _goes_round(item.key, on):
            yield path, "leads round in a circle."
    for index, luggage in enumerate(record.use.luggage):
        if luggage.carried_by is not None and luggage.carried_by not in on:
            path = f"use.luggage[{index}].carried_by"
            yield path, f"{luggage.carried_by!r} is not an item."


def _goes_round(key: str, on: dict[str, str | None]) -> bool:
    seen: set[str] = set()
    at: str | None = key
    while at is not None and at in on:
        if at in seen:
            return True
        seen.add(at)
        at = on[at]
    return False


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
    batteries = {battery.key for battery in supply.batteries} | {START}
    batteries |= {panel.key for panel in supply.panels}
    circuits = {circuit.key: circuit for circuit in supply.circuits}
    for key in sorted(circuits.keys() & batteries):
        yield "supply.circuits", f"{key!r} is also the key of what feeds circuits."
    for index, circuit in enumerate(supply.circuits):
        path = f"supply.circuits[{index}].from"
        if circuit.source not in circuits and circuit.source not in batteries:
            yield path, f"{circuit.source!r} is no battery, panel or circuit."
        elif _root(circuit, circuits) is None:
            yield path, "leads round in a circle and never to a battery."


def _root(circuit: Circuit, circuits: dict[str, Circuit]) -> str | None:
    """Follow a circuit to what is not a circuit; None when it goes round."""
    seen = set()
    key: str | None = circuit.key
    while key in circuits:
        if key in seen:
            return None
        seen.add(key)
        key = circuits[key].source
    return key or ""


def _feed_faults(record: BuildRecord) -> Iterator[Fault]:
    supply = record.supply
    items = {item.key for item in record.items}
    chargers = {charger.key: charger for charger in supply.chargers}
    circuits = {circuit.key: circuit for circuit in supply.circuits}
    fed: dict[tuple[str, str], str] = {}
    for index, circuit in enumerate(supply.circuits):
        for place, key in enumerate(circuit.feeds):
            path = f"supply.circuits[{index}].feeds[{place}]"
            if key not in items and key not in chargers:
                yield path, f"{key!r} is neither an item nor a charger."
                continue
            side = ""
            if key in chargers:
                # A charger has two ends; each hangs on its own battery's tree.
                root = _root(circuit, circuits)
                side = "to" if root == chargers[key].to else "from"
            first = fed.setdefault((key, side), circuit.key)
            if first != circuit.key or circuit.feeds.index(key) != place:
                yield path, f"{key!r} is already fed by the circuit {first!r}."
