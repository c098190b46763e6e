"""The path from bare to loaded, zone by zone, and what may still be carried."""

import pytest

from compliance.load_checks import check_load
from compliance.record import parse_record
from tests.compliance.records import a_record, drop, put


def loads(data):
    return check_load(parse_record(data))[0]


def hitched_by_bars(moment=230):
    return put(a_record(), "trailer.hitch_moment_kgm", moment)


def test_the_path_ends_where_the_use_stands():
    answer = loads(a_record())
    path, use = answer["path"], answer["scenarios"]["use"]
    assert [step["label"] for step in path] == [
        "Bare, tanks empty",
        "Everything fitted",
        "Tanks full",
        "People",
        "Luggage",
        "Trailer on",
    ]
    for name in ("front_kg", "rear_kg", "total_kg"):
        assert path[-1][name] == pytest.approx(use[name])
    assert path[0]["total_kg"] == pytest.approx(2120 - 80 * 0.84)
    assert path[-1]["total_kg"] - path[-2]["total_kg"] == pytest.approx(240)


def test_a_step_that_adds_nothing_is_left_out():
    data = put(put(a_record(), "use.people", 0), "use.hitched", False)
    put(data, "use.luggage", [])
    assert [step["label"] for step in loads(data)["path"]] == [
        "Bare, tanks empty",
        "Everything fitted",
        "Tanks full",
    ]


@pytest.mark.parametrize(
    "path", ["use.people", "items.0.x_m", "items.0.mass_kg", "vehicle.base.front_kg"]
)
def test_no_path_while_an_axle_is_not_known(path):
    assert loads(drop(a_record(), path))["path"] == []


def test_zones_are_summed_in_walk_around_order():
    data = drop(a_record(), "items.2.mass_kg")
    put(data, "items.1.zone", "trailer")
    zones = loads(data)["zones"]
    assert list(zones) == ["front", "trailer"]
    assert zones["front"] == {
        "mass_kg": 62,
        "removed_kg": 14,
        "items": 2,
        "unweighed": 1,
    }
    assert zones["trailer"]["mass_kg"] == 12


def test_what_may_still_be_carried_by_hand():
    still = loads(a_record())["still"]
    alone = 2120 + 65 + 40
    assert still["unhitched"]["left_kg"] == pytest.approx(3200 - alone)
    assert still["unhitched"]["people"] == 2
    assert still["unhitched"]["and_kg"] == pytest.approx(3200 - alone - 160)
    assert still["hitched"]["by"] == pytest.approx(
        {"gvm": 3200 - alone - 240, "gcm": 6000 - alone - 2400}
    )


def test_no_more_people_than_fit():
    data = put(a_record(), "vehicle.ratings.gvm_kg", 2225 + 100)
    still = loads(data)["still"]
    assert (still["unhitched"]["people"], still["hitched"]["people"]) == (1, 0)
    assert still["unhitched"]["and_kg"] == pytest.approx(20)
    assert still["hitched"]["and_kg"] == pytest.approx(-140)


def test_the_combination_may_govern():
    still = loads(put(a_record(), "vehicle.ratings.gcm_kg", 4700))["still"]
    assert still["hitched"]["governing"] == "gcm"
    assert still["hitched"]["left_kg"] == pytest.approx(4700 - 2225 - 2400)


def test_without_a_person_the_kilograms_are_still_said():
    for path in ("use.person_kg", "vehicle.seats"):
        still = loads(drop(a_record(), path))["still"]
        assert still["unhitched"]["people"] is None
        assert still["unhitched"]["and_kg"] is None
        assert still["unhitched"]["left_kg"] == pytest.approx(975)


@pytest.mark.parametrize(
    ("path", "states"),
    [
        ("items.0.mass_kg", set()),
        ("vehicle.ratings.gvm_kg", set()),
        ("trailer", {"unhitched"}),
        ("trailer.mass_kg", {"unhitched"}),
        ("trailer.ball_kg", {"unhitched"}),
    ],
)
def test_what_is_not_known_is_left_out(path, states):
    assert loads(drop(a_record(), path))["still"].keys() == states


def test_a_combination_without_its_rating_asks_for_it():
    still = loads(drop(a_record(), "vehicle.ratings.gcm_kg"))["still"]
    assert "look up the GCM" in still["hitched"]["missing"][0]
    assert still["hitched"]["by"].keys() == {"gvm"}


# A weight-distributing hitch


def test_the_bars_move_load_to_the_front_and_to_the_trailer():
    plain = loads(a_record())["scenarios"]["use"]
    use = loads(hitched_by_bars())["scenarios"]["use"]
    on = 240 - 230 / 4.6
    alone_front = plain["front_kg"] + 240 * 1.25 / 3.2
    front = alone_front + (230 - on * 1.25) / 3.2
    assert use["front_kg"] == pytest.approx(front)
    assert use["total_kg"] == pytest.approx(plain["total_kg"] - 50)
    assert use["rear_kg"] == pytest.approx(use["total_kg"] - front)
    assert use["trailer_axle_kg"] == pytest.approx(2400 - on)
    assert use["combination_kg"] == pytest.approx(plain["combination_kg"])
    assert use["ball_kg"] == 240


def test_bars_do_nothing_unhitched():
    data = put(hitched_by_bars(), "use.hitched", False)
    plain = put(a_record(), "use.hitched", False)
    assert loads(data)["scenarios"]["use"] == loads(plain)["scenarios"]["use"]


def test_a_moment_without_the_trailers_arm_is_a_gap():
    record = parse_record(drop(hitched_by_bars(), "trailer.ball_to_axle_m"))
    answer, judged = check_load(record)
    findings = {f.key: f for f in judged}
    assert findings["axle-mass.rear"].verdict == "unknown"
    assert "from the ball to the trailer's axle" in findings["axle-mass.rear"].sentence
    # What the vehicle weighs with slack bars needs no arm.
    assert findings["gvm"].verdict == "within"
    assert "hitched" in answer["still"]


def test_the_bars_of_a_hitch_raise_no_payload():
    """Tensioned they take mass off the vehicle; GVM and payload count them slack."""
    bars, plain = loads(hitched_by_bars()), loads(a_record())
    assert bars["payload_left_kg"] == pytest.approx(plain["payload_left_kg"])
    assert bars["still"] == plain["still"]
    total = bars["scenarios"]["use"]["total_kg"]
    assert total < plain["scenarios"]["use"]["total_kg"]
    judged = {f.key: f for f in check_load(parse_record(hitched_by_bars()))[1]}
    assert judged["gvm"].value == pytest.approx(plain["scenarios"]["use"]["total_kg"])


def test_the_worst_is_reached_before_the_bars_are_tensioned():
    """Tensioned they take load off the rear axle; at worst they are not yet."""
    worst = loads(hitched_by_bars())["worst"]
    plain = loads(a_record())["worst"]
    for name in ("gvm", "rear_axle"):
        assert worst[name]["value_kg"] == pytest.approx(plain[name]["value_kg"])
        assert worst[name]["state"].endswith("; hitched, before the bars are tensioned")
    assert worst["gcm"]["value_kg"] == pytest.approx(plain["gcm"]["value_kg"])


def test_the_whole_reading_decides_the_total_and_each_axle_its_own():
    """Readings that differ as the scale permits: what is added on top is the same."""
    data = put(a_record(), "vehicle.base.scale_interval_kg", 20)
    by_axle = loads(data)
    put(data, "vehicle.base.mass_kg", 2150)
    whole = loads(data)
    use, was = whole["scenarios"]["use"], by_axle["scenarios"]["use"]
    assert use["total_kg"] == pytest.approx(was["total_kg"] + 30)
    assert (use["front_kg"], use["rear_kg"]) == (was["front_kg"], was["rear_kg"])
    assert use["total_u_kg"] < was["total_u_kg"]
    assert use["front_u_kg"] == was["front_u_kg"]
    for row in (*whole["scenarios"].values(), *whole["path"]):
        assert row["total_kg"] == pytest.approx(row["front_kg"] + row["rear_kg"] + 30)
    for name, more in (("gvm", 30), ("gcm", 30), ("front_axle", 0), ("rear_axle", 0)):
        was_kg = by_axle["worst"][name]["value_kg"]
        assert whole["worst"][name]["value_kg"] == pytest.approx(was_kg + more)


@pytest.mark.parametrize(
    ("state", "where_m", "governing"),
    [
        ("unhitched", -4.2, "rear_axle"),
        ("hitched", -3.0, "rear_axle"),
        ("unhitched", -3.0, "gvm"),
        ("unhitched", 0.4, "front_axle"),
    ],
)
def test_what_the_axles_leave_is_reached_and_not_passed(state, where_m, governing):
    """Loaded so, the limit that governs is reached to the gram and no other passed."""
    data = put(a_record(), "use.luggage", [{"mass_kg": 60, "x_m": where_m}])
    left = loads(data)["still"][state]["axles"]
    assert (left["governing"], left["luggage_x_m"]) == (governing, where_m)
    assert left["and_kg"] > 0

    data = put(data, "use.luggage", [{"mass_kg": left["and_kg"], "x_m": where_m}])
    data["use"] |= {"people": left["people"], "hitched": state == "hitched"}
    use = loads(data)["scenarios"]["use"]
    reached = {
        "gvm": 3200 - use["total_kg"],
        "front_axle": 1480 - use["front_kg"],
        "rear_axle": 1850 - use["rear_kg"],
    }
    assert reached.pop(governing) == pytest.approx(0, abs=1e-6)
    assert min(reached.values()) >= -1e-6


def test_no_more_people_than_the_axles_carry():
    data = put(a_record(), "vehicle.ratings.rear_axle_kg", 1000)
    left = loads(data)["still"]["unhitched"]["axles"]
    assert (left["people"], left["governing"]) == (0, "rear_axle")
    data = put(a_record(), "vehicle.ratings.front_axle_kg", 1230)
    assert loads(data)["still"]["unhitched"]["axles"]["people"] == 0
    data = put(data, "use.luggage", [{"mass_kg": 60, "x_m": -3.5}])
    assert loads(data)["still"]["unhitched"]["axles"]["governing"]


def test_an_axle_over_its_limit_leaves_nothing_wherever_the_luggage_lies():
    data = put(a_record(), "vehicle.ratings.front_axle_kg", 900)
    data = put(data, "use.luggage", [{"mass_kg": 60, "x_m": -3.5}])
    left = loads(data)["still"]["unhitched"]["axles"]
    assert left["governing"] == "front_axle"
    assert left["and_kg"] < 0


@pytest.mark.parametrize(
    "path",
    [
        "use.luggage",
        "use.person_kg",
        "vehicle.wheelbase_m",
        "vehicle.ratings.rear_axle_kg",
        "items.1.x_m",
    ],
)
def test_without_places_or_limits_the_axles_say_nothing(path):
    still = loads(drop(a_record(), path))["still"]
    assert "axles" not in still.get("unhitched", {})
