"""Left and right, the height of the centre of gravity, and the share of the front."""

import copy
import itertools
import re

import pytest

from compliance.load_checks import check_load
from compliance.load_height import stability
from compliance.record import parse_record
from tests.compliance.records import a_record, drop, put

FUEL_KG = 80 * 0.84


def checked(data):
    answer, findings = check_load(parse_record(data))
    return answer, {f.key: f for f in findings}


# Sides


def test_the_vehicle_is_taken_in_the_middle_unless_weighed_by_side():
    answer, findings = checked(a_record())
    total = answer["scenarios"]["use"]["total_kg"]
    left = total / 2 + (FUEL_KG * 0.2 - 52 * 0.2) / 1.56
    assert answer["sides"] == pytest.approx(
        {"left_kg": left, "right_kg": total - left, "left_share": left / total}
    )
    side = findings["side-share"]
    assert (side.verdict, side.severity) == ("within", "clear")
    assert "taken in the middle" in side.working[0].formula
    assert side.limit == 53
    assert side.working[-1].mark == "common practice"


def test_a_vehicle_weighed_by_side_brings_its_own():
    data = put(a_record(), "vehicle.base.left_kg", 1090)
    put(data, "vehicle.base.people", 1)
    answer, findings = checked(data)
    # Fuel and the driver were aboard, the driver on the right.
    dry = 1090 - FUEL_KG * (0.5 + 0.2 / 1.56) - 80 * (0.5 - 0.38 / 1.56)
    rest = (62 - 14 + 5 + 160 + 60 + 240) / 2
    rest += FUEL_KG * (0.5 + 0.2 / 1.56) + 52 * (0.5 - 0.2 / 1.56)
    assert answer["sides"]["left_kg"] == pytest.approx(dry + rest)
    assert "weighed by side" in findings["side-share"].working[0].formula


def test_a_heavy_side_is_looked_at_and_never_stops():
    for y_m, side in ((1.4, "Left"), (-1.4, "Right")):
        data = put(a_record(), "items.1.y_m", y_m)
        put(data, "items.1.mass_kg", 150)
        finding = checked(data)[1]["side-share"]
        assert (finding.verdict, finding.severity) == ("over", "check")
        assert finding.sentence.startswith(f"{side} side carries 5")
        assert finding.value > 53


def test_the_workshops_own_share_counts():
    data = put(a_record(), "settings", {"side_share_most": 0.501})
    finding = checked(data)[1]["side-share"]
    assert finding.limit == pytest.approx(50.1)
    assert finding.source == "the workshop's own figure"
    assert finding.working[-1].mark == "workshop rule"


def test_loose_load_without_a_side_stands_in_the_middle_and_is_said_to():
    data = drop(a_record(), "use.luggage.0.y_m")
    assert checked(data)[0]["sides"] == checked(a_record())[0]["sides"]
    steps = checked(data)[1]["side-share"].working
    assert any(step.label == "luggage: taken in the middle" for step in steps)


def test_what_is_missing_of_the_sides_is_said_once():
    data = drop(drop(a_record(), "items.0.y_m"), "vehicle.track_m")
    answer, findings = checked(data)
    said = findings["side-share"].sentence
    assert "measure the track; measure how far left or right Front bar sits" in said
    assert said.count("Front bar") == 1
    assert findings["side-share"].severity == "check"
    assert "sides" not in answer
    data = drop(a_record(), "items.1.y_m")
    assert "Water tank" in checked(data)[1]["side-share"].sentence


def test_nothing_known_of_the_sides_is_quiet():
    data = a_record()
    for item in data["items"]:
        del item["y_m"]
    assert "side-share" not in checked(data)[1]
    put(data, "vehicle.base.left_kg", 1060)
    assert checked(data)[1]["side-share"].verdict == "unknown"


def test_sides_wait_for_the_masses():
    answer, findings = checked(drop(a_record(), "items.0.mass_kg"))
    assert "side-share" not in findings
    assert "sides" not in answer


# Height


def high_record():
    data = put(a_record(), "vehicle.base", {"definition": "kerb", "mass_kg": 2200})
    put(data, "vehicle.base.cg_z_m", 0.72)
    put(data, "vehicle.track_m", 1.55)
    data["items"] = [
        {
            "key": "tent",
            "label": "Tent",
            "kind": "tent",
            "zone": "roof",
            "mass_kg": 80,
            "x_m": -1.5,
            "y_m": 0,
            "z_m": 2.05,
        }
    ]
    data["supply"] = {}
    return data


def test_the_rise_of_the_published_example():
    """80 kg at 2.05 m on 2,200 kg at 0.72 m: +47 mm, t/2h from 1.076 to 1.011."""
    answer, findings = checked(high_record())
    cg = answer["cg"]
    assert cg["rise_m"] == pytest.approx(0.0467, abs=5e-5)
    assert cg["after_m"] == pytest.approx(0.72 + cg["rise_m"])
    assert cg["stability_before"] == pytest.approx(1.076, abs=5e-4)
    assert cg["stability_after"] == pytest.approx(1.011, abs=5e-4)
    finding = findings["cg-height"]
    assert finding.sentence == (
        "Centre of gravity rises 47 mm against 50 mm: 3 mm in hand."
    )
    marks = {step.label: step.mark for step in finding.working}
    assert marks["static stability, after"] == "from memory"


def test_a_high_build_is_looked_at_and_never_stops():
    data = put(high_record(), "items.0.mass_kg", 95)
    finding = checked(data)[1]["cg-height"]
    assert (finding.verdict, finding.severity) == ("over", "check")


def test_no_advice_lifts_the_centre_of_gravity_further():
    """Leaving out what is low raises the rest: it is among what may not get worse."""
    data = put(high_record(), "items.0.mass_kg", 88)
    low = {"key": "plate", "label": "Plate", "kind": "plate", "zone": "underneath"}
    data["items"].append({**low, "mass_kg": 60, "x_m": -1.5, "y_m": 0, "z_m": 0.3})
    put(data, "use.luggage", [])
    total = checked(data)[0]["scenarios"]["use"]["total_kg"]
    put(data, "vehicle.ratings.gvm_kg", total - 50)
    assert checked(data)[1]["cg-height"].verdict == "within"
    said = checked(data)[1]["gvm"].would_clear
    assert "Leave out Tent (88 kg)" in said
    assert "Plate" not in said


def test_what_is_taken_off_was_as_high_as_what_replaces_it():
    data = high_record()
    removes = [{"label": "rack", "mass_kg": 30, "x_m": -1.5}]
    put(data, "items.0.removes", removes)
    after = checked(data)[0]["cg"]["after_m"]
    assert after == pytest.approx((2200 * 0.72 + 50 * 2.05) / 2250)
    put(data, "items.0.removes.0.z_m", 1.5)
    after = checked(data)[0]["cg"]["after_m"]
    assert after == pytest.approx((2200 * 0.72 + 80 * 2.05 - 30 * 1.5) / 2250)


def test_a_height_that_is_missing_is_asked_for():
    data = drop(high_record(), "items.0.z_m")
    removes = [{"label": "rack", "mass_kg": 30, "x_m": -1.5}]
    put(data, "items.0.removes", removes)
    answer, findings = checked(data)
    finding = findings["cg-height"]
    assert "cg" not in answer
    assert finding.verdict == "unknown"
    assert finding.sentence.count("measure how high Tent sits") == 1
    put(data, "items.0.mass_kg", None)
    assert "weigh Tent" in checked(data)[1]["cg-height"].sentence


def fully_loaded():
    """The 80 kg of the example as a bare tent, what a tank in it holds, and luggage."""
    data = put(high_record(), "items.0.mass_kg", 20)
    put(data, "items.0.tank", {"fluid": "water", "capacity_l": 30})
    bag = {"mass_kg": 30, "x_m": -1.5, "zone": "roof", "z_m": 2.05}
    return put(data, "use.luggage", [bag])


def test_luggage_and_water_on_the_roof_lift_as_what_is_fitted_does():
    """80 kg at 2.05 m on 2,200 kg at 0.72 m: +47 mm, whatever the 80 kg are."""
    answer, findings = checked(fully_loaded())
    assert answer["cg"]["before_m"] == 0.72
    assert answer["cg"]["rise_m"] == pytest.approx(80 * (2.05 - 0.72) / 2280)
    steps = {step.label: step for step in findings["cg-height"].working}
    assert (steps["Tent"].value, steps["luggage"].value) == (30, 30)
    assert "nobody aboard" in steps["after"].formula
    # The fuel was aboard when it was weighed: none is left out.
    assert not any(label.endswith("left out") for label in steps)


def test_luggage_is_at_least_as_high_as_what_it_lies_on():
    data = fully_loaded()
    put(data, "use.luggage", [{"mass_kg": 30, "x_m": -1.5, "carried_by": "tent"}])
    answer, findings = checked(data)
    assert answer["cg"] == checked(fully_loaded())[0]["cg"]
    steps = {step.label: step for step in findings["cg-height"].working}
    assert steps["luggage"].formula == "at 2.05 m, as high as what it lies on"
    put(data, "use.luggage.0.z_m", 2.3)
    assert checked(data)[0]["cg"]["after_m"] > answer["cg"]["after_m"]


def test_luggage_on_the_roof_without_a_height_is_asked_for():
    data = drop(fully_loaded(), "use.luggage.0.z_m")
    answer, findings = checked(data)
    assert "cg" not in answer
    assert findings["cg-height"].verdict == "unknown"
    assert "how high the luggage on the roof lies" in findings["cg-height"].sentence
    # Inside it is left out, and said to be.
    put(data, "use.luggage.0.zone", "cargo")
    answer, findings = checked(data)
    assert answer["cg"]["rise_m"] == pytest.approx(50 * (2.05 - 0.72) / 2250)
    labels = [step.label for step in findings["cg-height"].working]
    assert "luggage: left out" in labels
    put(data, "vehicle.base", {"definition": "tare", "mass_kg": 2200, "cg_z_m": 0.72})
    steps = {step.label: step for step in checked(data)[1]["cg-height"].working}
    assert steps["fuel, luggage: left out"].value == pytest.approx(30 + 70 * 0.84)


def test_fuel_counts_beyond_what_was_in_the_tank_when_weighed():
    data = put(high_record(), "vehicle.tanks.0.z_m", 0.5)
    # Kerb mass has it full already.
    assert checked(data)[0]["cg"] == checked(high_record())[0]["cg"]
    put(data, "vehicle.base", {"definition": "weighed", "mass_kg": 2200, "fuel_l": 30})
    put(data, "vehicle.base.people", 0)
    put(data, "vehicle.base.cg_z_m", 0.72)
    more = 50 * 0.84
    after = (2200 * 0.72 + 80 * 2.05 + more * 0.5) / (2280 + more)
    assert checked(data)[0]["cg"]["after_m"] == pytest.approx(after)
    # Another tank takes its place: what was in the first is gone, this one is full.
    put(data, "items.0.tank", {"fluid": "diesel", "capacity_l": 100})
    put(data, "items.0.tank.replaces", "fuel")
    put(data, "items.0.z_m", 0.6)
    off, on = 30 * 0.84, 100 * 0.84
    put(data, "items.0.tank.density_kg_per_l", 0.84)
    moment = 2200 * 0.72 + (80 + on) * 0.6 - off * 0.5
    after = moment / (2280 + on - off)
    assert checked(data)[0]["cg"]["after_m"] == pytest.approx(after)


@pytest.mark.parametrize("path", ["vehicle.base.cg_z_m", "vehicle.base.mass_kg"])
def test_without_a_base_height_or_mass_nothing_is_said(path):
    answer, findings = checked(drop(high_record(), path))
    assert "cg" not in answer
    assert "cg-height" not in findings


def test_without_a_track_there_is_no_factor():
    cg = checked(drop(high_record(), "vehicle.track_m"))[0]["cg"]
    assert cg.keys() == {"before_m", "after_m", "rise_m"}


def test_more_taken_off_than_there_was_is_asked_about():
    data = high_record()
    removes = [{"label": "body", "mass_kg": 9000, "x_m": -1.5}]
    put(data, "items.0.removes", removes)
    answer, findings = checked(data)
    assert "less than nothing" in findings["cg-height"].sentence
    assert "cg" not in answer
    assert "sides" not in answer
    assert "front-share" not in findings


def test_stability_is_half_the_track_over_the_height():
    assert stability(1.5, 0.75) == 1


# The share of the front axle


def brute_shares(data):
    found = []
    bags, moment = data["use"]["luggage"], data["trailer"].get("hitch_moment_kgm")
    corners = itertools.product((1, 2), *[(0, 1)] * 3, (bags, []), (moment, None))
    for people, fuel, water, hitched, luggage, bars in corners:
        tried = put(copy.deepcopy(data), "use.luggage", luggage)
        put(tried, "trailer.hitch_moment_kgm", bars)
        state = {
            "key": "try",
            "people": people,
            "fuel_ratio": fuel,
            "water_ratio": water,
            "hitched": bool(hitched),
        }
        row = checked({**tried, "scenarios": [state]})[0]["scenarios"]["try"]
        found.append(row["front_kg"] / row["total_kg"])
    return min(found), max(found)


@pytest.mark.parametrize("moment", [None, 230])
def test_the_share_is_judged_at_its_extremes(moment):
    data = put(a_record(), "trailer.hitch_moment_kgm", moment)
    low, high = brute_shares(data)
    finding = checked(data)[1]["front-share"]
    assert finding.working[0].value == pytest.approx(100 * low)
    assert finding.working[1].value == pytest.approx(100 * high)
    assert finding.verdict == "within"
    assert "Water tank full" in finding.working[0].formula
    assert "; hitched" in finding.working[0].formula


@pytest.mark.parametrize(
    ("name", "edge", "says"),
    [
        ("front_share_least", 1e-6, "At its lightest the front axle carries "),
        ("front_share_most", -1e-6, "At its heaviest the front axle carries "),
    ],
)
def test_a_share_beyond_its_bounds_is_looked_at(name, edge, says):
    low, high = brute_shares(a_record())
    value = (low if name.endswith("least") else high) + edge
    finding = checked(put(a_record(), "settings", {name: value}))[1]["front-share"]
    assert (finding.verdict, finding.severity) == ("over", "check")
    assert says in finding.sentence
    share, bound = re.findall(r"([\d.]+) %", finding.sentence)
    assert share != bound
    assert ". State: the driver alone; fuel " in finding.sentence


def leaning(share):
    """A build whose front axle carries a little less than it should."""
    data = put(a_record(), "settings", {"front_share_least": share})
    box = {"key": "box", "label": "Box", "kind": "box", "zone": "cargo", "z_m": 0.5}
    data["items"].append({**box, "mass_kg": 100, "x_m": -3.0, "y_m": 0})
    return data


def test_a_light_front_axle_is_cleared_by_a_move_forward():
    low = brute_shares(leaning(0.4))[0]
    data = leaning(low + 0.003)
    finding = checked(data)[1]["front-share"]
    assert finding.verdict == "over"
    assert f"the workshop looks below {100 * low + 0.3:.1f}" in finding.sentence
    assert re.fullmatch(r"Move Box 0\.\d\d m forward\.", finding.would_clear)
    shift = float(finding.would_clear.split()[2])
    put(data, "items.3.x_m", -3.0 + shift)
    assert checked(data)[1]["front-share"].verdict == "within"
    put(data, "items.3.x_m", -3.0 + shift - 0.1)
    assert checked(data)[1]["front-share"].verdict == "over"
    # What is bolted on is not moved: no way is made up.
    assert checked(leaning(0.8))[1]["front-share"].would_clear is None


def test_a_heavy_front_axle_is_cleared_by_a_move_back():
    data = put(leaning(0.4), "items.3.x_m", -1.0)
    put(data, "vehicle.seats", [])
    put(data, "use.people", 0)
    put(data, "vehicle.base.people", 0)
    put(data, "settings.front_share_most", 0.5)
    use = checked(data)[0]["scenarios"]["use"]
    share = use["front_kg"] / use["total_kg"]
    put(data, "settings.front_share_most", share - 0.002)
    finding = checked(data)[1]["front-share"]
    assert finding.sentence.endswith("State: in the customer's use.")
    assert re.fullmatch(r"Move Box 0\.\d\d m back\.", finding.would_clear)


def test_people_are_said_as_they_fill_the_seats():
    data = a_record()
    for n in (1, 2):
        seat = {"key": f"rear-{n}", "x_m": -2.6, "y_m": 0}
        data["vehicle"]["seats"].append(seat)
    steps = checked(data)[1]["front-share"].working
    assert steps[0].formula.startswith("front / total; every seat taken; ")
    assert (
        "the driver alone" in checked(a_record())[1]["front-share"].working[0].formula
    )
    put(data, "vehicle.seats.3.x_m", 0.5)
    steps = checked(data)[1]["front-share"].working
    assert steps[0].formula.startswith("front / total; 3 people; ")


def test_without_seats_the_use_alone_is_judged():
    data = put(put(a_record(), "vehicle.seats", []), "use.people", 0)
    answer, findings = checked(data)
    use = answer["scenarios"]["use"]
    share = 100 * use["front_kg"] / use["total_kg"]
    finding = findings["front-share"]
    assert finding.working[0].value == pytest.approx(share)
    assert finding.working[0].formula.endswith("in the customer's use")


def test_without_axles_the_share_is_quiet():
    assert "front-share" not in checked(drop(a_record(), "vehicle.wheelbase_m"))[1]
