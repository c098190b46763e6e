"""Circuits: one source, kept from an old page, shown with what was computed."""

from __future__ import annotations

import html
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from builds.models import BuildJob, Circuit
from builds.services import circuits
from tests.factories import BuildJobFactory, LineItemFactory, PartTypeFactory

pytestmark = pytest.mark.django_db


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", html.unescape(text))


@pytest.fixture
def build() -> BuildJob:
    made = BuildJobFactory()
    LineItemFactory(build=made, part=PartTypeFactory(battery=True))
    LineItemFactory(build=made, part=PartTypeFactory(fridge=True))
    return made


def typed(**other: object) -> dict[str, object]:
    return {
        "label": "Rear lamps",
        "source": "start",
        "fuse_a": "10",
        "fuse_kind": "blade",
        "area_mm2": "2.5",
        "run_m": "4",
        "insulation_c": "105",
        **other,
    }


def test_a_circuit_hangs_on_each_kind_of_source(office: Client, build: BuildJob):
    url = reverse("circuit-new", args=[build.pk])
    battery = build.items.get(kind="aux-battery")
    feeder = battery.fed_circuits.get()
    panel = LineItemFactory(
        build=build, part=PartTypeFactory(supply={"role": "panel", "power_w": 200})
    )
    sources = {
        f"item-{panel.pk}": (False, panel.pk, None),
        "start": (True, None, None),
        f"item-{battery.pk}": (False, battery.pk, None),
        f"circuit-{feeder.pk}": (False, None, feeder.pk),
    }
    for number, (source, expected) in enumerate(sources.items()):
        response = office.post(url, typed(label=f"Circuit {number}", source=source))
        made = Circuit.objects.get(label=f"Circuit {number}")
        assert response.status_code == 302
        assert (
            made.fed_by_start_battery,
            made.fed_by_item_id,
            made.fed_by_circuit_id,
        ) == expected


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("label", "", "This field is required"),
        ("source", "", "This field is required"),
        ("source", "circuit-9999", "Select a valid choice"),
        ("source", "item-x", "Select a valid choice"),
        ("fuse_a", "ten", "Enter a number"),
        ("fuse_a", "0", "greater than or equal to 0.5"),
        ("area_mm2", "2,5", "Use a point for decimals: 2.5"),
        ("run_m", "4 m", "Enter the number only"),
        ("run_m", "400", "less than or equal to 30"),
        ("fuse_to_source_mm", "-1", "greater than or equal to 0"),
        ("insulation_c", "200", "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_told_at_the_field(
    office: Client, build: BuildJob, field: str, value: str, sentence: str
):
    before = build.circuits.count()
    response = office.post(
        reverse("circuit-new", args=[build.pk]),
        typed(fuse_place="Keep me", **{field: value}),
    )

    assert response.status_code == 422
    assert sentence in str(response.context["form"].errors[field])
    assert 'value="Keep me"' in response.content.decode()
    assert build.circuits.count() == before


def test_a_loop_is_told_at_the_source(office: Client, build: BuildJob):
    circuit = build.items.get(kind="fridge").circuit
    feeder = circuit.fed_by_circuit
    response = office.post(
        reverse("circuit-edit", args=[build.pk, feeder.pk]),
        typed(source=f"circuit-{circuit.pk}"),
    )

    assert response.status_code == 422
    assert "is itself fed from this circuit" in str(
        response.context["form"].errors["source"]
    )


def test_a_circuit_shows_current_drop_and_verdict(office: Client, build: BuildJob):
    circuit = build.items.get(kind="fridge").circuit
    circuits.update_circuit(circuit=circuit, area_mm2=Decimal("0.5"))

    page = words(office.get(build.get_absolute_url()))
    own = words(office.get(reverse("circuit-edit", args=[build.pk, circuit.pk])))

    answer = build.report.__class__.objects.get(build=build).results["power"][
        "circuits"
    ][circuit.key]
    assert answer["verdict"] == "over"
    assert f"4.5 {answer['drop_percent']:.1f} of 3 over Circuit drop" in page
    assert f"{answer['drop_percent']:.1f} % of 3 % allowed" in own
    assert "It feeds Fridge 45" in own


def test_an_output_says_between_what_it_leads(office: Client, build: BuildJob):
    charger = LineItemFactory(build=build, part=PartTypeFactory(charger=True))
    url = reverse("circuit-edit", args=[build.pk, charger.output_circuit_id])

    assert "It leads between DC-DC charger 40 and Aux battery 100" in words(
        office.get(url)
    )


def test_a_save_from_an_old_page_overwrites_nothing(office: Client, build: BuildJob):
    circuit = build.items.get(kind="fridge").circuit
    url = reverse("circuit-edit", args=[build.pk, circuit.pk])
    version = office.get(url).context["form"]["version"].value()
    circuits.update_circuit(circuit=circuit, area_mm2=Decimal(10))

    response = office.post(url, typed(area_mm2="1", version=version))

    assert response.status_code == 409
    assert "was changed by somebody else" in words(response)
    assert 'value="Rear lamps"' in response.content.decode()
    assert Circuit.objects.get(pk=circuit.pk).area_mm2 == 10


def test_a_circuit_that_feeds_something_stays(office: Client, build: BuildJob):
    circuit = build.items.get(kind="fridge").circuit
    url = reverse("circuit-remove", args=[build.pk, circuit.pk])

    response = office.post(url)
    assert response.status_code == 422
    assert "still feeds Fridge 45. Move these first." in words(response)

    spare = circuits.add_circuit(build=build, label="Spare", fed_by_start_battery=True)
    gone = office.post(reverse("circuit-remove", args=[build.pk, spare.pk]))
    assert gone.status_code == 302
    assert not Circuit.objects.filter(pk=spare.pk).exists()
    assert office.get(url).status_code == 405


def test_a_circuit_of_another_build_is_not_found(office: Client, build: BuildJob):
    other = BuildJobFactory()
    circuit = build.circuits.all()[0]
    for name in ("circuit-edit", "circuit-remove"):
        url = reverse(name, args=[other.pk, circuit.pk])
        assert office.post(url, typed()).status_code == 404


def test_a_fitter_changes_no_circuits(shop: Client, build: BuildJob):
    circuit = build.circuits.all()[0]
    assert shop.get(reverse("circuit-new", args=[build.pk])).status_code == 403
    for name in ("circuit-edit", "circuit-remove"):
        url = reverse(name, args=[build.pk, circuit.pk])
        assert shop.post(url, typed()).status_code == 403
