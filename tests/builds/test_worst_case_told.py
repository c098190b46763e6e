"""What must not be loaded all at once is told to the office and to the owner."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from builds.demo import scenario
from builds.handover import pack_html
from builds.models import BuildJob

pytestmark = pytest.mark.django_db


def test_the_fullest_state_is_told_where_it_would_be_too_much(office: Client):
    scenario.load()
    build = BuildJob.objects.get(title="River survey ute")
    worst = build.report.results["load"]["worst"]
    assert worst["rear_axle"]["verdict"] == "over"
    assert worst["front_axle"]["verdict"] == "within"

    pack = pack_html(build, final=False)
    told = re.findall(
        r"Not in every state:</strong> with (.*?), (the [a-z ]+|vehicle) would", pack
    )
    assert [what for _, what in told] == ["the vehicle", "the rear axle"]
    page = office.get(build.get_absolute_url()).content.decode()
    assert "Rear axle at its worst" in page
    for text in (pack, page):
        assert worst["rear_axle"]["state"] in text
        assert f"{worst['rear_axle']['value_kg']:,.0f}" in text


def test_what_may_still_be_carried_is_told_in_people_and_kilograms(office: Client):
    scenario.load()
    build = BuildJob.objects.get(title="River survey ute")
    still = build.report.results["load"]["still"]
    governs = {"gvm": "GVM", "rear_axle": "rear axle"}
    assert {row["axles"]["governing"] for row in still.values()} == set(governs)
    for text in (
        pack_html(build, final=False),
        office.get(build.get_absolute_url()).content.decode(),
    ):
        for state, words in (
            ("unhitched", "Without a trailer"),
            ("hitched", "With the trailer on"),
        ):
            row = still[state]
            said = (
                f"{words}: <strong>{row['people']} people and {row['and_kg']:,.0f} kg"
            )
            assert said in text
            axles = row["axles"]
            assert (
                f"<strong>{axles['people']} people and {axles['and_kg']:,.0f} kg"
                f"</strong>; the {governs[axles['governing']]} governs" in text
            )
