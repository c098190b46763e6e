"""The record and worksheet commands: same in, same out; bad input says where."""

from __future__ import annotations

import copy
import io
import json
import os
import subprocess
import sys
from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import ValidationError
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


def changed(record: dict[str, Any], path: str, value: object) -> dict[str, Any]:
    """Give a copy of a record with one value set by its path."""
    record = copy.deepcopy(record)
    *parents, last = [int(p) if p.isdecimal() else p for p in path.split(".")]
    inner: Any = record
    for name in parents:
        inner = inner[name]
    inner[last] = value
    return record


def bring_in(record: dict[str, Any]) -> BuildJob:
    return import_record(data=record, customer=Customer.objects.all()[0])


@pytest.mark.parametrize(
    "path",
    [
        "use",
        "supply",
        "use.luggage",
        "use.hitched",
        "vehicle.ratings",
        "vehicle.tanks",
        "vehicle.seats.0.y_m",
        "items.0.removes",
        "items.0.load",
    ],
)
def test_null_says_as_little_as_leaving_it_out(demo: BuildJob, path: str):
    record = changed(take_record(demo), path, None)

    copy_of = bring_in(record)

    assert copy_of.items.count() == demo.items.count()


UNKEPT = {
    "supply.system_v": (24, "a build would keep this as 12"),
    "supply.circuits.0.extra_ohm": (0.5, "a build would keep this as 0"),
    "supply.circuits.0.insulation_c": (None, "is not stated"),
    "vehicle.base.half_width_kg": (20, "no place for this"),
    "vehicle.tanks.0.density_kg_per_l": (0.9, "no place for this"),
    "vehicle.alternator.rated_a": (150.5, "would keep this as 150"),
    "items.0.x_half_width_m": (0.2, "no place for this"),
    "items.0.facts": ({"marked": True}, "no place for this"),
    "items.0.mass_kg": (12.3456, "no more than 2 decimal places"),
}


@pytest.mark.parametrize("path", UNKEPT)
def test_what_a_build_cannot_hold_is_told_and_nothing_is_made(
    demo: BuildJob, path: str
):
    value, words = UNKEPT[path]
    before = BuildJob.objects.count()

    with pytest.raises(ValidationError) as caught:
        bring_in(changed(take_record(demo), path, value))

    where = path.replace(".0.", "[0].")
    assert [m for m in caught.value.messages if m.startswith(f"{where}: ")]
    assert words in " ".join(caught.value.messages)
    assert BuildJob.objects.count() == before


def test_a_second_load_of_luggage_is_not_dropped(demo: BuildJob):
    luggage = [{"mass_kg": 10, "x_m": -1.0}, {"mass_kg": 500, "x_m": -3.0}]

    with pytest.raises(ValidationError, match=r"use\.luggage\[1\]: "):
        bring_in(changed(take_record(demo), "use.luggage", luggage))


def test_the_usual_density_of_a_fluid_may_be_stated(demo: BuildJob):
    record = take_record(demo)
    assert record["vehicle"]["tanks"][0]["fluid"] == "diesel"

    bring_in(changed(record, "vehicle.tanks.0.density_kg_per_l", 0.84))


def test_a_switch_place_is_given_once_by_a_record_too(demo: BuildJob):
    record = take_record(demo)
    switched = [i for i in record["items"] if i.get("switch", {}).get("position")]
    switched[1]["switch"]["position"] = switched[0]["switch"]["position"]

    with pytest.raises(ValidationError, match="is already taken by"):
        bring_in(record)


def test_a_charger_that_nothing_feeds_is_told_at_the_charger(demo: BuildJob):
    record = take_record(demo)
    key = record["supply"]["chargers"][0]["key"]
    for circuit in record["supply"]["circuits"]:
        circuit["feeds"] = [k for k in circuit.get("feeds", []) if k != key]

    with pytest.raises(ValidationError) as caught:
        bring_in(record)

    assert caught.value.messages == [
        f"supply.chargers[0].from: no circuit feeds {key} from there."
    ]


def test_scenarios_of_a_record_are_said_to_be_left_out(demo: BuildJob, tmp_path):
    path = tmp_path / "record.json"
    record = changed(take_record(demo), "scenarios", [{"key": "empty", "people": 1}])
    path.write_text(json.dumps(record))
    err = io.StringIO()

    run("import_record", str(path), customer="Petra Novasel", stderr=err)

    assert "scenarios are left out" in err.getvalue()


@pytest.mark.parametrize(
    ("command", "text", "where"),
    [
        (["worksheet", "axle-load"], b"\xff\xfe", "cannot be read"),
        (["worksheet", "axle-load"], b'{"a\\nb": 1}', "a b: is not a field here"),
        (["worksheet", "axle-load"], b'{"wheelbase_m": NaN}', "wheelbase_m"),
        (
            ["worksheet", "axle-load"],
            b'{"wheelbase_m": 3, "base": {"mass_kg": 1, "x_m": 0},'
            b' "items": [{"label": "\\ud800", "mass_kg": 1, "x_m": 0}]}',
            "items[0].label: has characters that cannot be printed",
        ),
        (["worksheet", "no-such"], b"{}", "There is no worksheet"),
        (["calculate"], b"[]", "A record must be an object"),
    ],
    ids=["bytes", "newline", "nan", "surrogate", "unknown", "list"],
)
def test_standard_input_that_cannot_be_used_exits_2_on_one_line(
    command: list[str], text: bytes, where: str
):
    done = subprocess.run(
        [sys.executable, "manage.py", *command, "-"],
        input=text,
        capture_output=True,
        cwd=settings.BASE_DIR,
        env={**os.environ, "PYTHONUTF8": "0", "LC_ALL": "C"},
        check=False,
    )

    assert done.returncode == 2
    assert done.stdout == b""
    [line] = done.stderr.decode().splitlines()
    assert where in line


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "inputs.json"
    path.write_text(
        '{"items": [{"mass_kg": 900, "ahead_of_axle_m": 0.5}], "ball_to_axle_m": 4.5}',
        encoding="utf-8-sig",
    )

    result = json.loads(run("worksheet", "trailer-ball", str(path)))

    assert result["ball_kg"] == pytest.approx(100)  # 900 × 0.5 / 4.5
