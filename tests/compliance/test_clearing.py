"""What would clear a load: every way that is said, done and computed anew, clears it."""

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.clearing import MOST_WAYS, NO_WAY, Clearing
from compliance.findings import VERDICT_ORDER
from compliance.load_checks import check_load
from compliance.load_figures import LoadFigures
from compliance.load_ways import Ways
from compliance.record import parse_record
from tests.compliance.records import a_record, drop, put


def checked(record):
    return {f.key: f for f in check_load(record)[1]}


def words(data, key):
    return checked(parse_record(data))[key].would_clear


def ways(data, key):
    return Clearing(LoadFigures(parse_record(data))).ways(key)


def open_load_keys(findings):
    """Keys of the findings whose clearing the core works out."""
    looked_at = ("side-share", "cg-height")
    return [
        key
        for key, f in findings.items()
        if f.verdict in ("over", "not proven")
        and key not in looked_at
        and not key.endswith(".planned")
    ]


def small_builds():
    """Small builds near their limits, some of them past several at once."""
    item = st.fixed_dictionaries(
        {
            "mass_kg": st.integers(2, 120),
            "x_m": st.sampled_from([0.7, -1.0, -2.2, -3.0, -3.9]),
            "zone": st.sampled_from(["cargo", "roof", "front", "underneath"]),
            "half": st.sampled_from([None, 1, 6]),
            "on": st.booleans(),
            "litres": st.sampled_from([0, 0, 30]),
        }
    )
    return st.fixed_dictionaries(
        {
            "items": st.lists(item, min_size=1, max_size=6),
            "off": st.dictionaries(
                st.sampled_from(
                    ["gvm_kg", "front_axle_kg", "rear_axle_kg", "gcm_kg", "roof_kg"]
                ),
                st.integers(-60, 120),
            ),
            "ball_kg": st.sampled_from([90, 200, 300]),
            "moment": st.sampled_from([None, 150]),
            "hitched": st.booleans(),
            "roof_luggage": st.sampled_from([0, 25]),
            "interval": st.sampled_from([None, 10]),
        }
    )


def built(plan):
    data = a_record()
    for n, given_item in enumerate(plan["items"]):
        row = {
            "key": f"item-{n}",
            "label": f"Item {n}",
            "kind": "thing",
            "zone": given_item["zone"],
            "mass_kg": given_item["mass_kg"],
            "x_m": given_item["x_m"],
            "y_m": 0,
            "mass_half_width_kg": given_item["half"],
        }
        if given_item["on"] and n:
            row["carried_by"] = "item-0"
        if given_item["litres"]:
            row["tank"] = {"fluid": "water", "capacity_l": given_item["litres"]}
        data["items"].append(row)
    put(data, "items.3.carrier_limit_kg", 60)
    if plan["roof_luggage"]:
        bag = {"mass_kg": plan["roof_luggage"], "x_m": -1.8, "zone": "roof"}
        data["use"]["luggage"].append(bag)
    put(data, "trailer.ball_kg", plan["ball_kg"])
    put(data, "trailer.hitch_moment_kgm", plan["moment"])
    put(data, "use.hitched", plan["hitched"])
    put(data, "vehicle.base.scale_interval_kg", plan["interval"])
    use = check_load(parse_record(data))[0]["scenarios"]["use"]
    loads = {
        "gvm_kg": use["total_kg"],
        "front_axle_kg": use["front_kg"],
        "rear_axle_kg": use["rear_kg"],
        "gcm_kg": use["total_kg"] + 2400,
        "roof_kg": use["roof_kg"],
    }
    for name, off in plan["off"].items():
        put(data, f"vehicle.ratings.{name}", max(1, loads[name] + off))
    return data


@settings(max_examples=60, deadline=None)
@given(small_builds())
def test_every_way_clears_what_it_is_for_and_worsens_nothing(plan):
    record = parse_record(built(plan))
    before = checked(record)
    clearing = Clearing(LoadFigures(record))
    for key in open_load_keys(before):
        found = clearing.ways(key)
        assert len(found) <= MOST_WAYS
        for way in found:
            after = checked(way.record)
            # A load that is gone altogether is cleared as well.
            assert key not in after or after[key].verdict == "within", way.words
            for other, was in before.items():
                if other not in after or was.verdict == "unknown":
                    continue
                rank = VERDICT_ORDER.index
                assert rank(after[other].verdict) >= rank(was.verdict), way.words


@settings(max_examples=30, deadline=None)
@given(small_builds(), st.randoms())
def test_the_order_of_the_items_changes_no_byte(plan, random):
    data = built(plan)

    def said():
        answer, findings = check_load(parse_record(data))
        rows = [repr(f) for f in sorted(findings, key=lambda f: f.key)]
        return json.dumps(answer, sort_keys=True), rows

    first = said()
    random.shuffle(data["items"])
    assert said() == first


@settings(max_examples=30, deadline=None)
@given(small_builds())
def test_the_verdict_is_that_of_the_band(plan):
    for finding in checked(parse_record(built(plan))).values():
        if finding.value is None or finding.limit is None:
            assert finding.verdict == "unknown"
        elif finding.unit == "kg" and finding.verdict == "within":
            assert finding.value <= finding.limit * (1 + 1e-9)
        elif finding.unit == "kg" and finding.verdict == "over":
            assert finding.value > finding.limit


@settings(max_examples=15, deadline=None)
@given(small_builds())
def test_the_worst_case_equals_brute_force_with_bars_and_roof(plan):
    data = built(plan)
    answer = check_load(parse_record(data))[0]
    tanks = [t["key"] for t in data["vehicle"]["tanks"]]
    tanks += [i["key"] for i in data["items"] if "tank" in i]
    corners = itertools.product(
        itertools.product((0, 1), repeat=len(tanks)), (0, 1, 2), (False, True)
    )
    data["scenarios"] = [
        {
            "key": f"s{n}",
            "tank_ratios": dict(zip(tanks, full, strict=True)),
            "people": people,
            "hitched": hitched,
        }
        for n, (full, people, hitched) in enumerate(corners)
    ][:100]
    if len(data["scenarios"]) == 100:
        return
    bags, rows = data["use"]["luggage"], []
    for aboard in itertools.product((0, 1), repeat=len(bags)):
        for moment in {plan["moment"], None}:
            put(data, "use.luggage", list(itertools.compress(bags, aboard)))
            put(data, "trailer.hitch_moment_kgm", moment)
            rows += check_load(parse_record(data))[0]["scenarios"].values()
    highest = {
        "gvm": max(r["total_kg"] for r in rows),
        "front_axle": max(r["front_kg"] for r in rows),
        "rear_axle": max(r["rear_kg"] for r in rows),
        "gcm": max(r.get("combination_kg", 0.0) for r in rows),
        "roof": max(r["roof_kg"] for r in rows),
    }
    for key, value in highest.items():
        assert answer["worst"][key]["value_kg"] == pytest.approx(value)


@given(st.floats(0, 3), st.sampled_from([0, 150]))
def test_moving_an_item_forward_never_raises_the_rear(forward, moment):
    data = put(a_record(), "trailer.hitch_moment_kgm", moment)
    before = check_load(parse_record(data))[0]["scenarios"]["use"]
    put(data, "items.1.x_m", -3.6 + forward)
    after = check_load(parse_record(data))[0]["scenarios"]["use"]
    assert after["rear_kg"] <= before["rear_kg"]
    assert after["front_kg"] + after["rear_kg"] == pytest.approx(after["total_kg"])


# One kind of way at a time


def over(name, kg, data=None):
    """A record whose load is over its limit by so much."""
    data = data or a_record()
    use = check_load(parse_record(data))[0]["scenarios"]["use"]
    value = {
        "gvm_kg": use["total_kg"],
        "front_axle_kg": use["front_kg"],
        "rear_axle_kg": use["rear_kg"],
        "gcm_kg": use["total_kg"] - 240 + 2400,
    }[name]
    return put(data, f"vehicle.ratings.{name}", value - kg)


def boxed(x_m, **more):
    """A build with a heavy box in the cargo space."""
    data = put(a_record(), "use.luggage", [])
    box = {"key": "box", "label": "Box", "kind": "box", "zone": "cargo"}
    data["items"].append({**box, "mass_kg": 100, "x_m": x_m, "y_m": 0, **more})
    return data


def test_a_rear_axle_is_relieved_forward_as_far_as_the_seats_allow():
    data = over("rear_axle_kg", 10, boxed(-3.0))
    assert words(data, "axle-mass.rear").startswith("Move Box 0.35 m forward")
    put(data, "settings", {"room_behind_seat_m": 1.4})
    assert "Move Box" not in words(data, "axle-mass.rear")


def test_a_front_axle_is_relieved_backward_as_far_as_the_axle():
    data = over("front_axle_kg", 10, boxed(-2.0))
    assert words(data, "axle-mass.front").startswith("Move Box 0.35 m back")
    data = over("front_axle_kg", 10, boxed(-3.1))
    assert "Move Box" not in words(data, "axle-mass.front")


def test_what_stands_on_it_moves_along():
    data = boxed(-3.0)
    put(data, "items.1.carried_by", "box")
    put(data, "use.luggage", [{"mass_kg": 48, "x_m": -3.0, "carried_by": "box"}])
    data = over("rear_axle_kg", 10, data)
    way = ways(data, "axle-mass.rear")[0]
    # 100 kg of box, 52 kg of tank and water, 48 kg of luggage.
    assert way.words == "move Box 0.20 m forward"
    moved = {item.key: item.x_m for item in way.record.items}
    assert moved["water"] == pytest.approx(-3.4)
    assert way.record.use.luggage[0].x_m == pytest.approx(-2.8)


def test_without_seats_nothing_goes_past_the_middle():
    data = put(put(boxed(-1.8), "vehicle.seats", []), "use.people", 0)
    put(data, "vehicle.base.people", 0)
    data = over("rear_axle_kg", 10, data)
    assert "Move Box" not in words(data, "axle-mass.rear")


def test_nothing_is_moved_that_weighs_nothing():
    data = put(a_record(), "items.1", {**a_record()["items"][1], "tank": None})
    put(data, "items.1.mass_kg", 0)
    data = over("rear_axle_kg", 5, data)
    assert "Move Water" not in words(data, "axle-mass.rear")


def test_the_paper_comes_first_and_raises_what_it_was_planned_to():
    data = over("gvm_kg", 50)
    put(data, "items.0.raises", {"gvm_kg": 3500})
    first = ways(data, "gvm")[0]
    assert first.words == "put the paper for Front bar on file"
    assert first.record.items[0].raises.evidence == "on file"
    # Not high enough: it is not said.
    put(data, "items.0.raises", {"gvm_kg": 2650})
    assert "paper" not in words(data, "gvm")


def test_the_lightest_item_that_is_enough_is_left_out():
    data = over("gvm_kg", 4, put(a_record(), "use.luggage", []))
    put(data, "items.1.tank", None)
    data = over("gvm_kg", 4, data)
    assert "leave out Driving lamps (5 kg)" in words(data, "gvm").lower().replace(
        "driving lamps", "Driving lamps"
    )
    left = next(w for w in ways(data, "gvm") if w.words.startswith("leave"))
    assert all("lamps" not in c.feeds for c in left.record.supply.circuits)
    # What replaces a tank, brings energy or carries something stays.
    put(data, "items.2.carried_by", "front-bar")
    data = over("gvm_kg", 30, data)
    assert "Front bar" not in words(data, "gvm")


def test_an_item_with_a_tank_leaves_with_its_content():
    data = put(put(a_record(), "use.luggage", []), "items.1.mass_kg", 20)
    put(data, "scenarios.0.tank_ratios", {"water": 0.5})
    data = over("gvm_kg", 45, data)
    left = next(w for w in ways(data, "gvm") if w.words.startswith("leave"))
    # 20 kg of tank and 40 kg of water are enough, and lighter than the front bar.
    assert left.words == "leave out Water tank (20 kg)"
    assert left.record.scenarios[0].tank_ratios == {}
    # Without the tank that replaces it the vehicle would have none.
    put(data, "scenarios.0.tank_ratios", {})
    put(data, "items.1.tank.replaces", "fuel")
    assert "Water tank (" not in words(over("gvm_kg", 45, data), "gvm")


def test_water_of_the_vehicles_own_tank_is_left_behind():
    data = put(a_record(), "use.luggage", [])
    put(data, "items.1.tank", None)
    tank = {"key": "galley", "fluid": "water", "capacity_l": 60, "x_m": -3.0}
    data["vehicle"]["tanks"].append(tank)
    data = over("gvm_kg", 20, data)
    way = next(w for w in ways(data, "gvm") if "galley" in w.words)
    assert way.words == "travel with 20 l less in galley"
    assert way.record.vehicle.tanks[1].capacity_l == 40


def test_the_ball_is_relieved_by_load_moved_back():
    data = put(a_record(), "vehicle.ratings.ball_kg", 220)
    assert words(data, "ball") == (
        "Move 92 kg in the trailer 1 m back; "
        "or take 200 kg out of the trailer, evenly along it."
    )
    drop(data, "trailer.ball_to_axle_m")
    assert "until the ball carries 20 kg less" in words(data, "ball")
    data = put(put(data, "trailer.ball_to_axle_m", 9), "trailer.mass_kg", 2600)
    put(data, "vehicle.ratings.ball_kg", 239)
    assert words(data, "ball").startswith("Move 9 kg in the trailer 1 m back")


def test_more_load_is_moved_further():
    data = put(a_record(), "trailer.ball_kg", 350)
    put(data, "trailer.mass_kg", 2000)
    put(data, "vehicle.ratings.ball_kg", 200)
    assert words(data, "ball").startswith("Move 345 kg in the trailer 2 m back")
    put(data, "vehicle.ratings.ball_kg", 100)
    # A quarter of the trailer is not moved about, and a light ball is not steady.
    assert words(data, "ball") == ("Take 1,429 kg out of the trailer, evenly along it.")


def test_no_way_leaves_too_little_on_the_ball():
    data = put(a_record(), "trailer.ball_kg", 200)
    put(data, "vehicle.ratings.ball_kg", 190)
    assert words(data, "ball") == ("Take 120 kg out of the trailer, evenly along it.")
    # Unweighed, it is not known how much is too little.
    drop(data, "trailer.mass_kg")
    assert words(data, "ball") == (
        "Move load in the trailer back until the ball carries 10 kg less."
    )


@pytest.mark.parametrize(
    ("path", "limit", "key"),
    [
        ("trailer.atm_kg", 2350, "trailer.atm"),
        ("trailer.gtm_kg", 2110, "trailer.gtm"),
        ("vehicle.ratings.braked_towing_kg", 2350, "braked-towing"),
        ("vehicle.ratings.gcm_kg", 4795, "gcm"),
    ],
)
def test_a_trailer_is_unloaded_over_its_axles(path, limit, key):
    data = put(a_record(), path, limit)
    assert "take 50 kg out of the trailer over its axles" in words(data, key).lower()


def test_an_impossible_trailer_has_no_way():
    data = put(a_record(), "trailer.atm_kg", 100)
    assert words(data, "trailer.atm") is None
    put(data, "vehicle.ratings.ball_kg", 1)
    drop(data, "trailer.mass_kg")
    assert words(put(data, "trailer.ball_kg", 2), "ball") == (
        "Move load in the trailer back until the ball carries 1 kg less."
    )


def test_a_rear_axle_before_the_bars_is_held_to_the_same_rating():
    data = put(a_record(), "trailer.hitch_moment_kgm", 230)
    use = check_load(parse_record(data))[0]["scenarios"]["use"]
    put(data, "vehicle.ratings.rear_axle_kg", use["rear_kg"] + 20)
    findings = checked(parse_record(data))
    assert findings["axle-mass.rear"].verdict == "within"
    plain = findings["axle-mass.rear.plain"]
    assert (plain.verdict, plain.severity) == ("over", "stop")
    rear = check_load(parse_record(a_record()))[0]["scenarios"]["use"]["rear_kg"]
    assert plain.value == pytest.approx(rear)
    assert sum(s.value for s in plain.working[:-2]) == pytest.approx(plain.value)
    assert plain.would_clear
    assert "worst.rear_axle" not in findings
    # Unhitched there are no bars to tension.
    put(data, "use.hitched", False)
    assert "axle-mass.rear.plain" not in checked(parse_record(data))


def test_the_axles_may_be_known_to_be_missing_before_the_bars():
    data = put(a_record(), "trailer.hitch_moment_kgm", 230)
    drop(data, "vehicle.wheelbase_m")
    assert checked(parse_record(data))["axle-mass.rear.plain"].verdict == "unknown"


def test_no_way_is_said_twice():
    data = put(a_record(), "use.luggage.0.mass_kg", 200)
    assert words(over("gvm_kg", 144, data), "gvm") == "Take out 144 kg of luggage."


def test_no_more_is_taken_out_than_there_is():
    data = put(a_record(), "vehicle.ratings.rear_axle_kg", 100)
    finding = checked(parse_record(data))["axle-mass.rear"]
    assert finding.verdict == "over"
    assert finding.would_clear == NO_WAY
    # Of a combination the trailer too may be unloaded, to its last kilogram.
    put(data, "trailer.mass_kg", 9000)
    put(data, "vehicle.ratings.gcm_kg", 50)
    assert words(data, "gcm") == NO_WAY


def test_nothing_is_left_out_that_weighs_far_more_than_is_over():
    data = put(boxed(-2.0), "items.1.tank", None)
    assert "Box" not in words(over("gvm_kg", 33, data), "gvm")
    assert "leave out Box (100 kg)" in words(over("gvm_kg", 63, data), "gvm").replace(
        "Leave", "leave"
    )
    put(data, "items.3.mass_kg", 100.04999)
    assert "(100 kg)" in words(over("gvm_kg", 63, data), "gvm")


# Not proven, worst


def test_what_is_not_proven_is_weighed_or_lightened():
    data = put(over("gvm_kg", -5), "vehicle.base.scale_interval_kg", 20)
    finding = checked(parse_record(data))["gvm"]
    assert finding.verdict == "not proven"
    assert finding.would_clear.startswith("Weigh it; or ")
    assert "kg" in finding.would_clear


def test_what_is_within_or_unknown_says_nothing():
    findings = checked(parse_record(drop(a_record(), "items.0.mass_kg")))
    assert findings["gvm"].would_clear is None
    assert findings["ball"].would_clear is None


def lonely(name="gvm_kg", spare=20):
    """One person of two travels: within in use, over with everyone aboard."""
    data = put(a_record(), "use.people", 1)
    return over(name, -spare, data)


@pytest.mark.parametrize(
    ("name", "key", "spare"),
    [
        ("gvm_kg", "worst.gvm", 20),
        ("rear_axle_kg", "worst.rear_axle", 20),
        ("gcm_kg", "worst.gcm", 20),
        ("front_axle_kg", "worst.front_axle", 20),
    ],
)
def test_everything_at_once_is_told_while_the_use_is_within(name, key, spare):
    data = lonely(name, spare)
    findings = checked(parse_record(data))
    finding = findings[key]
    assert (finding.verdict, finding.severity) == ("over", "check")
    assert "every seat taken" in finding.sentence
    assert finding.would_clear
    worst = check_load(parse_record(data))[0]["worst"][key.removeprefix("worst.")]
    assert (finding.value, finding.limit) == (worst["value_kg"], worst["limit_kg"])
    # Once the use itself is over, that says it all.
    findings = checked(parse_record(lonely(name, -1)))
    assert key not in findings


def test_everything_at_once_within_says_nothing():
    findings = checked(parse_record(a_record()))
    assert not any(key.startswith("worst.") for key in findings)


def test_everything_at_once_may_be_known_before_the_use_is():
    data = drop(over("gvm_kg", 100), "use.people")
    findings = checked(parse_record(data))
    assert findings["gvm"].verdict == "unknown"
    assert findings["worst.gvm"].verdict == "over"
    assert findings["worst.gvm"].would_clear == "Take 100 kg out of the vehicle."


def test_payload_is_cleared_as_the_rating_that_governs_it():
    data = over("gcm_kg", 30)
    findings = checked(parse_record(data))
    assert findings["payload"].would_clear == findings["gcm"].would_clear
    data = over("gvm_kg", 30)
    findings = checked(parse_record(data))
    assert findings["payload"].would_clear == findings["gvm"].would_clear


def test_what_has_no_rating_and_is_over_already_forbids_no_advice():
    data = put(over("gvm_kg", 30), "settings", {"front_share_least": 0.9})
    findings = checked(parse_record(data))
    assert findings["front-share"].verdict == "over"
    assert findings["gvm"].would_clear.startswith("Take out 30 kg of luggage; or ")
    # Taking mass off the middle lowers the front's share a little further.
    assert ways(data, "gvm")[1].words == "travel with 30 l less in Water tank"


def test_trials_are_shared_out_and_end():
    data = a_record()
    for name in ("gvm_kg", "front_axle_kg", "rear_axle_kg", "gcm_kg"):
        over(name, 30, data)
    for n in range(40):
        row = {"key": f"s{n}", "label": "S", "kind": "s", "zone": "underneath"}
        on = {"key": f"o{n}", "label": "O", "kind": "o", "zone": "underneath"}
        place = {"mass_kg": 5, "x_m": -2, "y_m": 0}
        data["items"] += [
            {**row, **place, "carrier_limit_kg": 1},
            {**on, **place, "carried_by": f"s{n}"},
        ]
    assert len(open_load_keys(checked(parse_record(data)))) > 40


def test_a_way_counts_what_it_takes_off_each_load():
    figures = LoadFigures(parse_record(a_record()))
    at = {"roof": False, "on": ["rack"]}
    assert Ways(figures, "gvm", 1).counts(-1.6, **at) == 1
    assert Ways(figures, "axle-mass.rear", 1).counts(-1.6, **at) == 0.5
    assert Ways(figures, "axle-mass.front", 1).counts(0.8, **at) == 1.25
    assert Ways(figures, "roof", 1).counts(-1.6, **at) == 0
    assert Ways(figures, "carrier.rack", 1).counts(-1.6, **at) == 1
    assert Ways(figures, "carrier.tray", 1).counts(-1.6, **at) == 0
