import pytest

from builds.models import CheckReport
from builds.services.checks import report_of
from builds.snapshots import digest_of, take_record
from tests.factories import BuildJobFactory, LineItemFactory, PartTypeFactory

pytestmark = pytest.mark.django_db


def test_factories_make_a_build_that_can_be_assessed():
    build = BuildJobFactory()
    battery = LineItemFactory(build=build, part=PartTypeFactory(battery=True))
    LineItemFactory(build=build, part=PartTypeFactory(charger=True))
    LineItemFactory(build=build, part=PartTypeFactory(fridge=True))
    LineItemFactory(build=build, part=PartTypeFactory(lamps=True))
    LineItemFactory(build=build)
    results = report_of(build=build).results
    assert results["load"]["payload_left_kg"] is not None
    assert results["power"]["day"]["net_ah"] is not None
    assert battery.fed_circuits.exists()
    assert CheckReport.objects.get(build=build).digest == digest_of(take_record(build))
