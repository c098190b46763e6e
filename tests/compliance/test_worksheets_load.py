"""Worksheets about mass, and the reading of their inputs."""

import json
import math

import pytest

from compliance.worksheets import (
    WORKSHEETS,
    Field,
    Inputs,
    Worksheet,
    WorksheetError,
    run,
)
from compliance.worksheets.fields import read_inputs
from tests.compliance.records import put

LOAD_SHEETS = [
    "axle-load",
    "trailer-ball",
    "hitched",
    "towing-limit",
    "weighbridge",
    "cg-height",
    "payload",
]


def example(name):
    return json.loads(json.dumps(WORKSHEETS[name].example()))


def refused(name, inputs):
    with pytest.raises(WorksheetError) as caught:
        run(name, inputs)
    assert str(caught.value).endswith(".")
    return caught.value


@pytest.mark.parametrize("name", LOAD_SHEETS)
def test_the_example_of_each_sheet_computes_and_shows_its_working(name):
    answer = run(name, example(name))
    assert answer["working"]
    for row in answer["working"]:
        assert row.keys() == {"label", "formula", "value", "unit", "source", "mark"}
    json.dumps(answer, allow_nan=False)


@pytest.mark.parametrize("name", LOAD_SHEETS)
def test_each_field_says_what_it_is(name):
    for field in WORKSHEETS[name].fields:
        assert field.help
        assert field.kind not in ("group", "table") or field.columns


@pytest.mark.parametrize("name", LOAD_SHEETS)
def test_each_required_field_is_asked_for(name):
    for field in WORKSHEETS[name].fields:
        inputs = example(name)
        if field.required:
            del inputs[field.name]
            assert refused(name, inputs).field == field.name


def test_axle_load_gives_sides_and_height_when_all_are_known():
    answer = run(
        "axle-load",
        {
            "wheelbase_m": 3.2,
            "track_m": 1.6,
            "base": {"mass_kg": 2200, "x_m": -1.4, "y_m": 0, "z_m": 0.72},
            "items": [{"mass_kg": 80, "x_m": -2, "y_m": 0.4, "z_m": 2.05}],
        },
    )
    assert answer["items"][0]["label"] == "item 1"
    assert answer["left_kg"] == pytest.approx(1140 + 20)
    assert answer["right_kg"] == pytest.approx(1140 - 20)
    # Published in the notes on roof load: 80 kg at 2.05 m raise the centre by 47 mm.
    assert answer["cg_z_m"] - 0.72 == pytest.approx(0.047, abs=0.0005)
    assert answer["cg_x_m"] == pytest.approx((-1.4 * 2200 - 2 * 80) / 2280)


def test_axle_load_leaves_out_sides_that_are_not_known():
    inputs = example("axle-load")
    answer = run("axle-load", inputs)
    assert "left_kg" not in answer
    assert "cg_z_m" not in answer


def test_axle_load_refuses_a_base_said_twice_or_half():
    inputs = example("axle-load")
    inputs["base"]["mass_kg"] = 2120
    assert refused("axle-load", inputs).field == "base"
    assert (
        refused("axle-load", {**inputs, "base": {"front_kg": 5}}).field
        == "base.rear_kg"
    )
    assert refused("axle-load", {**inputs, "base": {}}).field == "base.mass_kg"
    nothing = {"wheelbase_m": 3.2, "base": {"front_kg": 0, "rear_kg": 0}}
    assert refused("axle-load", nothing).field == "base"


def test_a_trailer_must_weigh_something():
    inputs = {"items": [{"mass_kg": 0, "ahead_of_axle_m": 1}], "ball_to_axle_m": 4}
    assert refused("trailer-ball", inputs).field == "items"


def test_trailer_ball_by_hand():
    answer = run("trailer-ball", example("trailer-ball"))
    ball = (1900 * 0.4 - 120 * 1.5) / 4.6
    assert answer["ball_kg"] == pytest.approx(ball)
    assert answer["axle_kg"] == pytest.approx(2020 - ball)
    assert answer["ball_percent"] == pytest.approx(100 * ball / 2020)


def test_hitched_without_a_trailer_mass_leaves_its_results_out():
    inputs = example("hitched")
    del inputs["trailer_kg"]
    answer = run("hitched", inputs)
    assert answer["lever_ratio"] == pytest.approx(1 + 1.25 / 3.2)
    assert "trailer_axle_kg" not in answer
    assert "combination_kg" not in answer


def test_hitched_with_a_distributing_hitch():
    answer = run("hitched", {**example("hitched"), "hitch_moment_kgm": 230})
    plain = run("hitched", example("hitched"))
    assert answer["trailer_axle_kg"] == pytest.approx(2500 - 250 + 50)
    assert answer["combination_kg"] == plain["combination_kg"] == 2680 + 2500
    assert answer["total_kg"] + answer["trailer_axle_kg"] == pytest.approx(5180)
    assert answer["front_kg"] > plain["front_kg"]


def test_hitched_refuses_what_cannot_be():
    inputs = {**example("hitched"), "hitch_moment_kgm": 230}
    del inputs["ball_to_axle_m"]
    assert refused("hitched", inputs).field == "ball_to_axle_m"
    assert (
        refused("hitched", {**example("hitched"), "ball_kg": 2600}).field == "ball_kg"
    )


def test_no_trailer_is_light_enough_for_an_overloaded_vehicle():
    answer = run("towing-limit", {**example("towing-limit"), "rear_kg": 1900})
    assert answer["governing"] == "rear_axle"
    assert answer["by"]["rear_axle"] < 0
    assert answer["trailer_kg"] == 0


def test_weighbridge_by_hand():
    answer = run("weighbridge", example("weighbridge"))
    assert answer["gap_kg"] == 0
    assert answer["permitted_error_kg"] == 20
    assert answer["standard_uncertainty_kg"] == pytest.approx((500 / 3) ** 0.5)
    assert answer["verdict"] == "within"
    inputs = {"total_kg": 3190, "scale_interval_kg": 20, "in_service": True}
    assert "verdict" not in run("weighbridge", inputs)
    near = run("weighbridge", {**inputs, "limit_kg": 3200})
    assert near["verdict"] == "not proven"


def test_weighbridge_refuses_half_a_split_and_too_fine_a_scale():
    for axle in ("front_kg", "rear_kg"):
        inputs = example("weighbridge")
        del inputs[axle]
        assert refused("weighbridge", inputs).field == axle
    fine = {**example("weighbridge"), "scale_interval_kg": 0.1}
    assert refused("weighbridge", fine).field == "scale_interval_kg"


def test_a_ticket_that_does_not_add_up_is_held_against_no_limit():
    inputs = {**example("weighbridge"), "front_kg": 1120}
    error = refused("weighbridge", inputs)
    assert error.field == "total_kg"
    assert "differs by 200 kg from the two axles together" in error.sentence
    del inputs["limit_kg"]
    answer = run("weighbridge", inputs)
    assert (answer["gap_kg"], answer["consistent"]) == (200, False)
    assert "verdict" not in answer


def test_a_centre_of_gravity_is_not_under_the_ground():
    inputs = {**example("cg-height"), "front_raised_kg": 1100}
    error = refused("cg-height", inputs)
    assert error.field == "front_raised_kg"
    assert "at -0.28 m, which is not above the ground" in error.sentence
    low = run("cg-height", {**inputs, "front_raised_kg": 1150})
    assert low["height_m"] == pytest.approx(0.0456, abs=0.0001)


def test_people_are_whole():
    error = refused("payload", {**example("payload"), "people": 2.5})
    assert (error.field, error.sentence) == ("people", "must be a whole number.")


def test_cg_height_by_lift_and_by_tilt_agree():
    inputs = example("cg-height")
    by_lift = run("cg-height", inputs)
    tilt = math.degrees(math.asin(inputs.pop("raised_m") / 3.2))
    by_tilt = run("cg-height", {**inputs, "tilt_deg": tilt})
    assert by_tilt["height_m"] == pytest.approx(by_lift["height_m"])
    lever = 0.7 / (3.2**2 - 0.7**2) ** 0.5
    assert by_lift["height_m"] == pytest.approx(0.37 + 60 * 3.2 / (2200 * lever))


def test_cg_height_wants_one_of_lift_and_tilt():
    inputs = example("cg-height")
    assert refused("cg-height", {**inputs, "tilt_deg": 10}).field == "raised_m"
    assert refused("cg-height", {**inputs, "raised_m": 3.2}).field == "raised_m"
    del inputs["raised_m"]
    assert refused("cg-height", inputs).field == "raised_m"


def test_payload_by_gvm_and_by_gcm():
    inputs = example("payload")
    answer = run("payload", inputs)
    assert answer["by_gvm_kg"] == 3200 - 2120 - 160 - 400 - 250
    assert answer["by_gcm_kg"] == 6000 - 2120 - 160 - 400 - 2500
    assert (answer["governing"], answer["remaining_kg"]) == ("gvm", 270)
    answer = run("payload", {**inputs, "gcm_kg": 5200})
    assert (answer["governing"], answer["remaining_kg"]) == ("gcm", 20)
    over = run("payload", {**inputs, "items_kg": 800})
    assert over["remaining_kg"] == -130
    del inputs["trailer_kg"]
    assert refused("payload", inputs).field == "trailer_kg"
    del inputs["gcm_kg"]
    assert "by_gcm_kg" not in run("payload", inputs)


# Reading inputs


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        ("wheelbase_m", "3,2", "wheelbase_m"),
        ("wheelbase_m", True, "wheelbase_m"),
        ("wheelbase_m", math.nan, "wheelbase_m"),
        ("wheelbase_m", math.inf, "wheelbase_m"),
        ("wheelbase_m", 10**400, "wheelbase_m"),
        ("wheelbase_m", 0, "wheelbase_m"),
        ("wheelbase_m", 60, "wheelbase_m"),
        ("wheelbase_m", [3.2], "wheelbase_m"),
        ("base", [], "base"),
        ("base", {"tare_kg": 1}, "base.tare_kg"),
        ("items", {}, "items"),
        ("items", [3], "items[0]"),
        ("items.1.mass_kg", None, "items[1].mass_kg"),
        ("items.1.label", 3, "items[1].label"),
        ("colour", "red", "colour"),
    ],
)
def test_a_bad_input_names_its_field(path, value, field):
    inputs = example("axle-load")
    assert refused("axle-load", put(inputs, path, value)).field == field


def test_above_excludes_its_value():
    inputs = {**example("trailer-ball"), "ball_to_axle_m": 0}
    assert "more than 0 m" in refused("trailer-ball", inputs).sentence


def test_a_required_table_needs_a_row():
    inputs = {**example("trailer-ball"), "items": []}
    assert refused("trailer-ball", inputs).field == "items"


def test_an_unknown_sheet_is_refused():
    error = refused("horoscope", {})
    assert error.field == ""
    assert "axle-load" in error.sentence


@pytest.mark.parametrize("inputs", [None, [], "text"])
def test_inputs_must_be_an_object(inputs):
    refused("payload", inputs)


@pytest.mark.parametrize(("mass", "lift"), [(1e-310, 0.7), (5e-324, 1e-3)])
def test_results_too_extreme_to_print_are_refused(mass, lift):
    inputs = {**example("cg-height"), "mass_kg": mass, "raised_m": lift}
    assert "too extreme" in refused("cg-height", inputs).sentence


FIELDS = (
    Field(name="one", help="a number"),
    Field(name="several", help="numbers", kind="numbers", required=False),
    Field(
        name="word", help="a word", kind="choice", choices=("a", "b"), required=False
    ),
    Field(name="sure", help="yes or no", kind="flag", required=False),
    Field(name="more", help="a group", kind="group", required=False, columns=()),
    Field(name="rows", help="a table", kind="table", required=False, columns=()),
)


def test_every_kind_is_read_by_its_name():
    read = read_inputs(
        FIELDS, {"one": 1, "several": [1, 2], "word": "a", "sure": True, "more": None}
    )
    assert list(read) == ["one", "several", "word", "sure"]
    assert read.numbers("several") == [1.0, 2.0]
    assert read.is_list("several")
    assert (read.text("word"), read.flag("sure")) == ("a", True)
    assert not read.has("more")
    assert list(read.group("more")) == []
    assert read.rows("rows") == []
    single = read_inputs(FIELDS, {"one": 1, "several": 3})
    assert single.numbers("several") == [3.0]
    assert not single.is_list("several")
    assert (single.text("word", "b"), single.flag("sure")) == ("b", False)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"one": 1, "several": []}, "several"),
        ({"one": 1, "several": [1, "2"]}, "several[1]"),
        ({"one": 1, "word": "c"}, "word"),
        ({"one": 1, "sure": 1}, "sure"),
    ],
)
def test_every_kind_refuses_the_wrong_type(given, field):
    with pytest.raises(WorksheetError) as caught:
        read_inputs(FIELDS, given)
    assert caught.value.field == field


def test_a_sheet_that_cannot_compute_says_so(monkeypatch):
    def divide(inputs: Inputs):
        return {"out": inputs.number("one") / 0, "working": []}

    sheet = Worksheet(
        name="odd", title="Odd", description="Odd.", fields=FIELDS, compute=divide
    )
    monkeypatch.setitem(WORKSHEETS, "odd", sheet)
    assert "too extreme" in refused("odd", {"one": 1}).sentence


def test_an_error_without_a_field_stands_alone():
    assert str(WorksheetError("", "Nothing fits.")) == "Nothing fits."
    assert str(WorksheetError("mass_kg", "is missing.")) == "mass_kg: is missing."
