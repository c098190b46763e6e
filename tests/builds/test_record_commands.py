"""The record and worksheet commands: same in, same out; bad input says where."""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import CommandError, call_command

from builds.demo import scenario
from builds.models import BuildJob, CheckReport
from builds.records import import_record
from builds.snapshots import take_record
from compliance.assess import calculate
from workshop.models import Customer


@pytest.fixture
def demo(db) -> BuildJob:
    scenario.load()
    return BuildJob.objects.get(title="River survey ute")


def run(*arguments: str, **options) -> str:
    out = io.StringIO()
    call_command(*arguments, stdout=out, **options)
    return out.getvalue()


def test_a_build_goes_out_and_comes_back_the_same(demo: BuildJob):
    record = json.loads(run("export_record", demo.number))

    copy = import_record(data=record, customer=Customer.objects.all()[0])

    assert take_record(copy) == record
    assert copy.report.results == demo.report.results
    assert copy.tasks.count() == copy.items.count()


def test_calculate_answers_with_the_stored_findings(demo: BuildJob, tmp_path):
    path = tmp_path / "record.json"
    path.write_text(run("export_record", str(demo.pk)))

    first, second = run("calculate", str(path)), run("calculate", str(path))

    assert first == second
    assert json.loads(first) == demo.report.results


def test_the_command_line_and_the_core_agree_on_every_number(demo: BuildJob):
    assert calculate(take_record(demo)) == demo.report.results


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("{", "is not JSON"),
        ("[]", "object"),
        ('{"format":"build-record","version":1}', "vehicle"),
        (
            '{"format":"build-record","version":1,"vehicle":{"label":"x",'
            '"wheelbase_m":NaN}}',
            "vehicle.wheelbase_m",
        ),
    ],
    ids=["broken", "list", "no-vehicle", "nan"],
)
def test_a_bad_record_exits_2_and_says_where(text: str, where: str, tmp_path):
    path = tmp_path / "record.json"
    path.write_text(text)

    with pytest.raises(CommandError) as caught:
        run("calculate", str(path))

    assert caught.value.returncode == 2
    assert where in str(caught.value)


def test_a_bad_record_leaves_nothing_behind(demo: BuildJob, tmp_path):
    record = take_record(demo)
    record["supply"]["circuits"][0]["from"] = "nowhere"
    path = tmp_path / "record.json"
    path.write_text(json.dumps(record))
    before = (BuildJob.objects.count(), CheckReport.objects.count())

    with pytest.raises(CommandError) as caught:
        run("import_record", str(path), customer="Petra Novasel")

    assert "supply.circuits[0]" in str(caught.value)
    assert (BuildJob.objects.count(), CheckReport.objects.count()) == before


def test_a_missing_file_and_a_missing_build_exit_2():
    with pytest.raises(CommandError) as caught:
        run("calculate", "no-such-file.json")

    assert caught.value.returncode == 2


def test_a_worksheet_computes_a_published_case(tmp_path):
    """Beer and Johnston, Statics, problem 4.1: two crates, one behind the axle."""
    path = tmp_path / "inputs.json"
    path.write_text(
        json.dumps(
            {
                "wheelbase_m": 3.0,
                "base": {"mass_kg": 1400, "x_m": -1.2},
                "items": [
                    {"label": "A", "mass_kg": 350, "x_m": -2.05},
                    {"label": "B", "mass_kg": 350, "x_m": -3.75},
                ],
            }
        )
    )

    result = json.loads(run("worksheet", "axle-load", str(path)))

    assert result["rear_kg"] == pytest.approx(1236.67, abs=0.5)
    assert result["front_kg"] == pytest.approx(863.33, abs=0.5)


def test_a_worksheet_refuses_what_it_cannot_read(tmp_path):
    path = tmp_path / "inputs.json"
    path.write_text('{"wheelbase_m": 0, "base": {"mass_kg": 1, "x_m": 0}, "items": []}')

    with pytest.raises(CommandError) as caught:
        run("worksheet", "axle-load", str(path))

    assert caught.value.returncode == 2
    assert "wheelbase_m" in str(caught.value)


def test_builds_are_rechecked_after_the_rules_changed(demo: BuildJob):
    CheckReport.objects.update(ruleset="older", results={"findings": []})

    run("recheck_builds")

    demo.report.refresh_from_db()
    assert demo.report.ruleset != "older"
    assert demo.report.results["findings"]
