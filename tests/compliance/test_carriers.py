"""What racks, slides and trays may themselves carry, and what is on the roof."""

import pytest

from compliance.load_checks import check_load
from compliance.record import RecordError, parse_record
from tests.compliance.records import a_record, drop, put


def checked(data):
    answer, findings = check_load(parse_record(data))
    return answer, {f.key: f for f in findings}


def racked():
    """A rack on the roof with a water tank on it, a tent, and a bag of luggage."""
    data = a_record()
    rows = {
        "rack": {"mass_kg": 30, "carrier_limit_kg": 100, "zone": "roof"},
        "tray": {"mass_kg": 8, "carried_by": "rack", "carrier_limit_kg": 60},
        "tent": {"mass_kg": 25, "carried_by": "tray", "mass_half_width_kg": 3},
    }
    for key, row in rows.items():
        full = {"key": key, "label": key.title(), "kind": key, "zone": "cargo", **row}
        data["items"].append({"x_m": -1.5, "y_m": 0, **full})
    put(data, "items.1.carried_by", "rack")
    put(data, "items.1.x_m", -1.5)
    data["use"]["luggage"].append({"mass_kg": 10, "x_m": -1.5, "carried_by": "tray"})
    put(data, "vehicle.ratings.roof_kg", 150)
    return data


def test_everything_that_stands_on_it_counts_its_own_mass_does_not():
    answer, findings = checked(racked())
    assert answer["carriers"]["rack"] == {
        "carried_kg": 8 + 25 + 12 + 40 + 10,
        "limit_kg": 100,
        "verdict": "within",
        "carried_u_kg": pytest.approx(2 * 3 / 3**0.5),
    }
    assert answer["carriers"]["tray"]["carried_kg"] == 35
    finding = findings["carrier.rack"]
    assert (finding.subject, finding.value) == ("rack", 95)
    assert sum(step.value for step in finding.working[:-1]) == 95


def test_a_carrier_over_its_own_rating_stops():
    finding = checked(put(racked(), "items.3.carrier_limit_kg", 80))[1]["carrier.rack"]
    assert (finding.verdict, finding.severity) == ("over", "stop")
    assert "less in Water tank" in finding.would_clear


def test_a_mass_that_is_missing_is_asked_for():
    data = drop(racked(), "items.5.mass_kg")
    answer, findings = checked(data)
    assert "weigh Tent" in findings["carrier.rack"].sentence
    assert answer["carriers"]["rack"]["carried_kg"] is None
    assert answer["carriers"]["tray"]["verdict"] == "unknown"


def test_a_carrier_without_a_rating_is_asked_about():
    finding = checked(drop(racked(), "items.3.carrier_limit_kg"))[1]["carrier.rack"]
    assert finding.verdict == "unknown"
    assert "look up what Rack may itself carry" in finding.sentence


def test_an_empty_carrier_is_within():
    data = put(a_record(), "items.0.carrier_limit_kg", 40)
    answer, findings = checked(data)
    assert answer["carriers"] == {
        "front-bar": {"carried_kg": 0, "limit_kg": 40, "verdict": "within"}
    }
    assert findings["carrier.front-bar"].severity == "clear"


def test_a_carrier_in_the_trailer_is_checked_too():
    data = racked()
    for index in (1, 3, 4, 5):
        put(data, f"items.{index}.zone", "trailer")
    answer, _ = checked(data)
    # The tank's content is in the trailer's own mass, the luggage is on the tray.
    assert answer["carriers"]["rack"]["carried_kg"] == 8 + 25 + 12 + 40 + 10
    assert answer["scenarios"]["use"]["roof_kg"] == 0


def test_the_roof_holds_rack_load_luggage_and_water():
    data = racked()
    put(data, "use.luggage.0.zone", "roof")
    answer, findings = checked(data)
    assert answer["scenarios"]["use"]["roof_kg"] == 30 + 95 + 60
    assert answer["scenarios"]["empty"]["roof_kg"] == 30 + 55 + 60
    assert answer["worst"]["roof"]["value_kg"] == 185
    finding = findings["roof"]
    assert finding.verdict == "over"
    assert sum(step.value for step in finding.working[:-1]) == 185


def test_luggage_alone_makes_a_roof_load():
    data = put(a_record(), "use.luggage.0.zone", "roof")
    answer, findings = checked(data)
    assert answer["scenarios"]["use"]["roof_kg"] == 60
    assert findings["roof"].verdict == "within"
    assert "roof" not in checked(a_record())[1]


def test_luggage_stands_on_what_there_is():
    with pytest.raises(RecordError) as caught:
        parse_record(put(a_record(), "use.luggage.0.carried_by", "shelf"))
    assert caught.value.faults == [
        ("use.luggage[0].carried_by", "'shelf' is not an item.")
    ]
