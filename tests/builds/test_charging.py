"""What charges what is settled at the field, not by a refusal of the core."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from builds.demo import scenario
from builds.handover import feed_words
from builds.models import BuildJob, LineItem
from builds.services import line_items


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
    assert feed_words(inlet) == (
        "carries current, 30 A fuse; not in the list of circuits"
    )
    assert feed_words(build.items.get(part__key="cargo-barrier")) == "draws no current"
