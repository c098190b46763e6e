"""What charges what is settled at the field, not by a refusal of the core."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from builds.demo import scenario
from builds.handover import feed_words
from builds.models import BuildJob, LineItem
from builds.services import circuits, line_items
from builds.snapshots import take_record
from tests.factories import BuildJobFactory, LineItemFactory, PartTypeFactory


@pytest.fixture
def build(db) -> BuildJob:
    scenario.load()
    return BuildJob.objects.get(title="River survey ute")


def of_role(build: BuildJob, role: str) -> LineItem:
    return next(i for i in build.items.all() if i.supply_role == role)


def test_a_dcdc_charger_keeps_the_circuit_that_feeds_it(build: BuildJob):
    charger = of_role(build, "charger")

    with pytest.raises(ValidationError) as caught:
        line_items.update_line_item(item=charger, circuit=None)

    assert list(caught.value.message_dict) == ["circuit"]


def test_a_charger_charges_a_battery_and_a_panel_a_charger(build: BuildJob):
    charger, panel = of_role(build, "charger"), of_role(build, "panel")
    battery, board = of_role(build, "battery"), of_role(build, "board")

    for item, wrong in ((charger, board), (panel, battery)):
        with pytest.raises(ValidationError) as caught:
            line_items.update_line_item(item=item, charges=wrong)
        assert list(caught.value.message_dict) == ["charges"]


def test_what_passes_current_on_has_its_fuse_in_the_list(build: BuildJob):
    """A plug for the trailer draws nothing itself and still needs its fuse named."""
    plug = build.items.get(part__key="heavy-duty-plug-rear")

    assert plug.circuit is not None
    assert plug.circuit.fed_by_start_battery
    assert feed_words(plug) == "50 A fuse (Midi, bolted), at the start battery"
    assert "source itself" in feed_words(of_role(build, "battery"))
    assert "source itself" in feed_words(of_role(build, "panel"))
    inlet = build.items.get(part__key="solar-inlet")
    assert (
        feed_words(inlet)
        == "Output, Fixed solar panel 200 W: 20 A fuse (Blade), before DC-DC charger 40 A with solar input"
    )
    assert feed_words(build.items.get(part__key="cargo-barrier")) == "draws no current"


def test_a_charger_and_a_panel_bring_the_circuits_to_what_they_charge(build: BuildJob):
    charger, panel = of_role(build, "charger"), of_role(build, "panel")
    battery = of_role(build, "battery")

    assert charger.output_circuit.fed_by_item == battery
    assert charger.output_circuit.fuse_a == charger.circuit.fuse_a
    assert panel.output_circuit.fed_by_item == panel
    [record] = [
        c
        for c in take_record(build)["supply"]["circuits"]
        if c["key"] == panel.output_circuit.key
    ]
    assert (record["from"], record["feeds"]) == (panel.key, [charger.key])


@pytest.mark.django_db
def test_a_charger_taken_off_takes_both_its_circuits_along():
    made = BuildJobFactory()
    battery = LineItemFactory(build=made, part=PartTypeFactory(battery=True))
    charger = LineItemFactory(build=made, part=PartTypeFactory(charger=True))
    assert made.circuits.count() == 3
    assert charger.output_circuit.run_m is None  # nobody has measured it

    line_items.remove_line_item(item=charger)

    assert [c.fed_by_item for c in made.circuits.all()] == [battery]


def test_nothing_but_its_charger_hangs_on_a_panel(build: BuildJob):
    panel, fridge = of_role(build, "panel"), build.items.get(part__key="fridge-45")
    lead, own = panel.output_circuit, fridge.circuit

    with pytest.raises(ValidationError) as caught:
        line_items.update_line_item(item=fridge, circuit=lead)
    assert list(caught.value.message_dict) == ["circuit"]
    assert "a panel feeds only its charger" in str(caught.value)

    with pytest.raises(ValidationError) as caught:
        circuits.update_circuit(circuit=own, fed_by_circuit=None, fed_by_item=panel)
    assert list(caught.value.message_dict) == ["fed_by_item"]
    assert "Fridge 45 L hangs on this circuit" in str(caught.value)


def test_an_output_starts_at_what_is_charged(build: BuildJob):
    charger, panel = of_role(build, "charger"), of_role(build, "panel")

    for item, wrong in (
        (charger, panel.output_circuit),
        (panel, charger.output_circuit),
    ):
        with pytest.raises(ValidationError) as caught:
            line_items.update_line_item(item=item, output_circuit=wrong)
        assert list(caught.value.message_dict) == ["output_circuit"]


def test_what_feeds_circuits_stays_a_source(build: BuildJob):
    battery = of_role(build, "battery")

    with pytest.raises(ValidationError) as caught:
        line_items.update_line_item(item=battery, supply={})

    assert list(caught.value.message_dict) == ["supply"]
    assert "Main feed" in str(caught.value)
