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

    for page in (
        pack_html(build, final=False),
        office.get(build.get_absolute_url()).content.decode(),
    ):
        told = re.findall(
            r"Not all at once:</strong> with (.*?), (the [a-z ]+|vehicle) would", page
        )
        assert [what for _, what in told] == ["the vehicle", "the rear axle"]
        assert worst["rear_axle"]["state"] in page
        assert f"{worst['rear_axle']['value_kg']:,.0f} kg" in page
