"""Every address of the app, and one of each thing an address can name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from builds.models import BuildJob, Pack, PackState
from builds.services import jobs
from builds.services.tasks import add_task
from builds.services.variants import open_variant
from tests.factories import (
    BayFactory,
    BuildJobFactory,
    CustomerFactory,
    LineItemFactory,
    PackageFactory,
    PartTypeFactory,
    PersonFactory,
    VehicleFactory,
    set_rates,
)
from workshop import services
from workshop.models import Person

# Values that are recognised wherever they turn up on a page.
PHONE = "(00) 8417 2263"
EMAIL = "quillon@hidden-harbour.example"
ADDRESS = "77 Unlisted Quay"
CUSTOMER_NOTES = "Pays by barter only"
PRICE = Decimal("3141.59")
RATE = "271.82"
CURRENCY = "QQD"
CONTACTS = (PHONE, EMAIL, ADDRESS, CUSTOMER_NOTES)
LINE = "3,549.32"  # the price and an hour and a half at that rate
MONEY = ("3,141.59", "3141.59", LINE, LINE.replace(",", ""), RATE, CURRENCY)


@dataclass(frozen=True)
class Address:
    """One named address of the app with what its view says of itself."""

    name: str
    kwargs: tuple[str, ...]
    view: Any

    @property
    def roles(self) -> frozenset[str] | None:
        found = getattr(self.view, "roles", None)
        return None if found is None else frozenset(str(role) for role in found)


def _walk(patterns: list[Any], before: tuple[str, ...] = ()) -> Iterator[Address]:
    for pattern in patterns:
        kwargs = (*before, *pattern.pattern.regex.groupindex)
        if isinstance(pattern, URLResolver):
            yield from _walk(pattern.url_patterns, kwargs)
        elif isinstance(pattern, URLPattern):
            assert pattern.name, f"{pattern.pattern} has no name"
            yield Address(pattern.name, kwargs, pattern.callback)


def addresses() -> list[Address]:
    return list(_walk(get_resolver().url_patterns))


@dataclass
class World:
    build: BuildJob
    pack: Pack
    person: Person
    ids: dict[str, object]

    def url(self, address: Address, **other: object) -> str:
        """Fill an address with ids of this world; a new kind of id must be named here."""
        values = {
            name: self.ids.get(f"{address.name} {name}", self.ids.get(name))
            for name in address.kwargs
        } | other
        unknown = [name for name, value in values.items() if value is None]
        assert not unknown, f"{address.name} needs a value for {unknown} in pages.py"
        return reverse(address.name, kwargs=values)


def make_world() -> World:
    set_rates(RATE)
    services.update_site(name="Marl Point Fitting", currency=CURRENCY)
    customer = CustomerFactory(
        name="Quillon Ashgrove",
        phone=PHONE,
        email=EMAIL,
        address=ADDRESS,
        notes=CUSTOMER_NOTES,
    )
    person = PersonFactory(manager=True)
    vehicle = VehicleFactory(customer=customer, vin="7AZDT28D4RW004417")
    build = BuildJobFactory(vehicle=vehicle, bay=BayFactory(), people_assigned=[person])
    lamps = LineItemFactory(
        build=build, part=PartTypeFactory(lamps=True, price=PRICE, key="lamps-odd")
    )
    LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    package = PackageFactory(parts=[PartTypeFactory(price=PRICE)])
    task = add_task(build=build, title="Wash the chassis", steps=[{"text": "Wash"}])
    pack = Pack.objects.create(
        build=build, revision=1, asked_by=person, state=PackState.FAILED
    )
    ids: dict[str, object] = {
        "build_id": build.pk,
        "other_id": open_variant(build=build, by=person).pk,
        "item_id": lamps.pk,
        "circuit_id": lamps.circuit.pk,
        "task_id": task.pk,
        "pack_id": pack.pk,
        "vehicle_id": vehicle.pk,
        "place_id": vehicle.switch_positions.last().pk,
        "customer_id": customer.pk,
        "person_id": person.pk,
        "bay_id": build.bay.pk,
        "part-type key": "lamps-odd",
        "part-type-edit key": "lamps-odd",
        "package key": package.key,
        "package-edit key": package.key,
        "package-remove key": package.key,
        "type-sheet key": vehicle.type_sheet.key,
        "worksheet name": "axle-load",
    }
    return World(BuildJob.objects.get(pk=build.pk), pack, person, ids)


def move_on(world: World, *stages: str) -> None:
    for stage in stages:
        jobs.move_stage(build=world.build, to=stage, by=world.person)
