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
from workshop.models import Customer, Site


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
    "supply.system_v": (48, "a build is a 12 V or a 24 V one"),
    "supply.circuits.0.extra_ohm": (0.5, "a build would keep this as 0"),
    "supply.circuits.0.insulation_c": (None, "is not stated"),
    "vehicle.base.half_width_kg": (20, "no place for this"),
    "vehicle.tanks.0.density_kg_per_l": (0.9, "no place for this"),
    "vehicle.alternator.rated_a": (150.5, "would keep this as 150"),
    "items.0.carrier_limit_kg": (0.25, "1 decimal place"),
    "use.luggage.0.zone": ("cargo", "no place for this"),
    "use.luggage.0.z_m": (1.2, "no place for this"),
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


def everything_new(record: dict[str, Any]) -> dict[str, Any]:
    """State all that a record tells of carriers, sides, hitch, panels and both systems."""
    record = copy.deepcopy(record)
    record["vehicle"]["base"] |= {"left_kg": 1061.5, "cg_z_m": 0.712}
    record["trailer"]["hitch_moment_kgm"] = 55.5
    on_roof = {i["kind"]: i for i in record["items"] if i["zone"] == "roof"}
    rack = on_roof["roof-rack"]
    rack |= {"carrier_limit_kg": 75.0, "x_half_width_m": 0.035}
    on_roof["beacon"]["carried_by"] = rack["key"]
    on_top = {"mass_kg": 18.0, "x_m": -1.9, "zone": "roof", "carried_by": rack["key"]}
    record["use"]["luggage"].insert(0, on_top)
    supply = record["supply"]
    supply["system_v"] = 24
    limits = {"charge_min_c": 0.0, "charge_max_c": 45.0}
    supply["batteries"][0] |= limits | {"discharge_min_c": -20.0, "discharge_max_c": 60}
    panel = supply["panels"][0]
    panel |= {"short_circuit_a": 11.5, "open_circuit_v": 24.3}
    feeds = {"key": "panel-lead", "label": "Panel lead", "insulation_c": 90}
    feeds |= {"from": panel["key"], "run_m": 4.0, "area_mm2": 6.0, "feeds": []}
    end = {**feeds, "key": "panel-end", "label": "Panel end", "from": "panel-lead"}
    fed = [circuit for circuit in supply["circuits"] if circuit["from"] != panel["key"]]
    supply["circuits"] = [*fed, feeds, end | {"feeds": [panel["to"]]}]
    return record


def test_all_of_a_vehicle_its_carriers_and_its_panels_comes_back(demo: BuildJob):
    given = everything_new(take_record(demo))

    made = bring_in(given)

    kept = take_record(made)
    # A build keeps what lies inside before what lies on the roof, and has no empty lists.
    inside, on_top = kept["use"]["luggage"]
    assert [on_top, inside] == given["use"]["luggage"]
    kept["use"]["luggage"] = given["use"]["luggage"]
    del given["supply"]["circuits"][-2]["feeds"]
    for circuit in (given["supply"]["circuits"][-1], given["supply"]["circuits"][-2]):
        circuit["engine_space"] = False
    assert kept == given
    assert made.vehicle.system_v == 24
    assert made.roof_luggage_on.label == "Flat roof rack, dual cab"
    assert made.items.get(key=kept["supply"]["panels"][0]["key"]).output_circuit


def test_a_second_load_on_the_roof_is_not_dropped(demo: BuildJob):
    record = take_record(demo)
    on_top = {"mass_kg": 10, "x_m": -1.0, "zone": "roof"}
    record["use"]["luggage"] += [on_top, on_top | {"mass_kg": 5}]

    with pytest.raises(
        ValidationError, match=r"use\.luggage\[2\]: a build has no place"
    ):
        bring_in(record)


def test_a_record_with_other_figures_than_the_workshop_says_which(demo: BuildJob):
    record = take_record(demo) | {"settings": {"panel_derate": 0.5}}

    with pytest.raises(ValidationError) as caught:
        bring_in(record)

    [said] = caught.value.messages
    assert said == (
        "settings.panel_derate: this workshop computes every build with 0.7."
    )
    Site.objects.update(own_figures={"panel_derate": 0.5, "side_share_most": 0.6})
    copy_of = bring_in(record)  # what the record leaves open is the workshop's to set
    assert take_record(copy_of)["settings"]["panel_derate"] == 0.5


def test_pieces_side_by_side_are_added_up(demo: BuildJob):
    one = take_record(demo)
    battery = demo.items.get(supply__role="battery")
    rack = demo.items.get(kind="roof-rack")
    demo.items.filter(supply__role__in=["battery", "panel"]).update(quantity=2)
    demo.items.filter(pk=rack.pk).update(quantity=2, carrier_limit_kg=40)

    two = take_record(demo)

    [before], [after] = (r["supply"]["batteries"] for r in (one, two))
    assert after["key"] == battery.key
    for name in ("capacity_ah", "charge_limit_a", "discharge_limit_a"):
        assert after[name] == 2 * before[name], name
    assert after["internal_mohm"] == before["internal_mohm"] / 2
    assert after["usable_ratio"] == before["usable_ratio"]
    [limit] = [i["carrier_limit_kg"] for i in two["items"] if i["key"] == rack.key]
    assert limit == 80


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
        (["calculate"], b'{"a": 1, "a": 2}', "the name 'a' stands twice in one object"),
        (["calculate"], b"[" * 200_000, "is nested too deeply to be read."),
        (["calculate"], b"9" * 10_000, "has a number with too many digits."),
        (["calculate"], b'{"a": 1,\n 2}', "is not JSON at line 2, column 2"),
    ],
    ids=[
        "bytes",
        "newline",
        "nan",
        "surrogate",
        "unknown",
        "list",
        "twice",
        "deep",
        "digits",
        "comma",
    ],
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
