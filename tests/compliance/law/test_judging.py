"""Findings of the law: which rules run, what they freeze, what they never let pass."""

import time
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.law import (
    BuildFacts,
    ItemFacts,
    facts_of,
    judge,
    questions,
    rule_book,
)
from compliance.law.judge import NOTHING_FOUND
from compliance.law.lint import OWN_VERDICT
from compliance.record import parse_record
from tests.compliance.records import a_large_record

BOOK = rule_book()
TODAY = date(2026, 3, 2)


def an_item(key="bar", types=("bull_bar",), known=True, **facts):
    named = {f"i.{name}": value for name, value in facts.items()}
    return ItemFacts(key, key.title(), "kind", frozenset(types), known, named)


def judged(values=None, items=(), place="AU-QLD", on=TODAY, **more):
    facts = BuildFacts(values or {}, tuple(items))
    return {f.key: f for f in judge(facts, BOOK, on, place, **more)}


def test_a_broken_stop_freezes_what_it_rests_on():
    found = judged({"b.total_kg": 3260.0, "v.gvm_kg": 3200.0, "b.docs": ["DOC-WEIGH"]})
    finding = found["AU-MASS-001.AU-QLD"]
    rule = BOOK.rules["AU-MASS-001"]

    assert (finding.outcome, finding.rule_outcome, finding.blocks) == (
        "stop",
        "stop",
        True,
    )
    assert finding.facts == {"b.total_kg": 3260.0, "v.gvm_kg": 3200.0}
    assert finding.ruleset == BOOK.version
    assert finding.edition == rule.edition
    assert finding.on == "2026-03-02"
    assert finding.sentence == finding.message == rule.message
    assert finding.papers == ("DOC-WEIGH",)
    assert finding.papers_missing == ()
    assert finding.mark == "published"
    assert finding.source == f"{rule.document}, {rule.clause}"
    assert finding.reach == "Read for South Australia; applied more widely."
    assert finding.missing == ()
    assert finding.subject == "vehicle"


def test_unknown_is_never_a_pass():
    finding = judged({"b.total_kg": 3260.0})["AU-MASS-001.AU-QLD"]

    assert finding.outcome == "unknown"
    assert finding.blocks
    assert finding.missing == ("v.gvm_kg",)
    assert "GVM that counts today" in finding.sentence
    assert "We make no statement on this point." in finding.sentence
    assert finding.facts == {"b.total_kg": 3260.0, "v.gvm_kg": None}


def test_an_unknown_that_could_only_ask_for_a_paper_does_not_block():
    found = judged()

    assert found["AU-REC-001.AU-QLD"].outcome == "unknown"
    assert not found["AU-REC-001.AU-QLD"].blocks


def test_a_clear_finding_says_no_more_than_it_knows():
    finding = judged({"b.total_kg": 3000, "v.gvm_kg": 3200})["AU-MASS-001.AU-QLD"]

    assert finding.outcome == "clear"
    assert not finding.blocks
    assert finding.sentence == NOTHING_FOUND


def test_a_rule_of_items_runs_once_for_each_of_its_type():
    found = judged(
        items=[
            an_item("bar", width_mm=1930),
            an_item("second", width_mm=1800),
            an_item("winch", ("winch",), width_mm=3000),
        ],
        values={"v.width_mm": 1885},
        place="AU-SA",
    )

    assert found["AU-FPS-005.AU-SA.bar"].outcome == "stop"
    assert found["AU-FPS-005.AU-SA.bar"].subject == "bar"
    assert found["AU-FPS-005.AU-SA.bar"].label == "Bar"
    assert found["AU-FPS-005.AU-SA.second"].outcome == "clear"
    assert "AU-FPS-005.AU-SA.winch" not in found


def test_only_rules_of_the_place_run():
    rules = {f.rule for f in judged(place="AU-WA").values()}
    assert "AU-WA-CERT-001" in rules
    assert "AU-QLD-CERT-001" not in rules
    assert "AU-HVY-001" not in rules
    assert "NZ-LVV-001" not in rules
    assert "AU-HVY-001" in {f.rule for f in judged(place="AU-QLD").values()}


def test_only_rules_in_force_that_day_run():
    lithium = [an_item("aux", ("lithium_battery",))]

    assert "AU-ELE-004.AU-QLD.aux" in judged(items=lithium, on=date(2023, 11, 18))
    assert "AU-ELE-004.AU-QLD.aux" not in judged(items=lithium, on=date(2023, 11, 17))


def test_a_second_place_is_judged_beside_the_first():
    lift = {
        "b.suspension_change_mm": 50.0,
        "b.body_lift_mm": 0.0,
        "b.tyre_dia_mm": 800.0,
        "v.oe_tyre_dia_max_mm": 775.0,
    }
    kit = [an_item("kit", ("suspension_kit",))]
    found = judged(lift, kit, "AU-QLD", second="AU-WA")

    assert found["AU-SUS-003.AU-QLD"].outcome == "clear"
    assert found["AU-SUS-003.AU-QLD"].figures == {"p.combined": (75.0, "AU-QLD")}
    assert found["AU-SUS-003.AU-QLD"].reach == ""
    west = found["AU-SUS-003.AU-WA"]
    assert west.outcome == "certificate"
    assert west.figures == {"p.combined": (50.0, "AU")}
    assert "50 mm is the general figure" in west.reach
    assert "none was read for Western Australia" in west.reach
    same = judged(lift, kit, "AU-QLD", second="AU-QLD")
    assert same.keys() == judged(lift, kit, "AU-QLD").keys()


def test_a_date_figure_of_another_place_is_told():
    bar = [an_item(as4876_marked=False)]
    values = {"v.build_date": "2014-01-01", "v.gvm_kg": 3000}
    found = judged(values, bar, "AU-QLD")["AU-FPS-001.AU-QLD.bar"]

    assert found.outcome == "stop"
    assert "2013-07-01 is the general figure" in found.reach
    assert "general" not in judged(values, bar, "AU-SA")["AU-FPS-001.AU-SA.bar"].reach


def test_a_certificate_settles_what_needs_one():
    lift = {"b.suspension_change_mm": 60.0}
    kit = [an_item("kit", ("suspension_kit",))]
    before = judged(lift | {"b.docs": []}, kit)["AU-SUS-001.AU-QLD"]
    after = judged(lift | {"b.docs": ["DOC-MODCERT"]}, kit)["AU-SUS-001.AU-QLD"]

    assert (before.outcome, before.blocks) == ("certificate", True)
    assert (after.outcome, after.blocks) == ("certificate", False)
    assert after.papers_missing == ("DOC-ALIGN",)


def test_a_certificate_on_file_does_not_hide_that_one_was_needed():
    upgrade = [an_item("kit", ("gvm_upgrade",))]
    values = {"v.first_provided": True, "b.docs": ["DOC-MODCERT"]}
    found = judged(values, upgrade)

    assert found["AU-GVM-002.AU-QLD.kit"].outcome == "clear"
    plate = found["AU-QLD-CERT-001.AU-QLD"]
    assert plate.outcome == "stop"
    assert plate.papers_missing == ("DOC-MODPLATE",)
    assert plate.facts["b.needs_certificate"] is True


def test_whether_a_certificate_is_needed_stays_open_with_the_facts():
    kit = [an_item("kit", ("suspension_kit",))]

    found = judged({"b.docs": []}, kit)["AU-QLD-CERT-001.AU-QLD"]
    assert found.outcome == "unknown"
    assert found.missing == ("b.needs_certificate",)
    assert judged({"b.docs": []})["AU-QLD-CERT-001.AU-QLD"].outcome == "clear"


CALM = {
    "b.total_kg": 3000,
    "v.gvm_kg": 3200,
    "b.front_axle_kg": 1,
    "v.front_axle_limit_kg": 2,
    "b.rear_axle_kg": 1,
    "v.rear_axle_limit_kg": 2,
    "v.gvm_source": "RAV",
    "b.max_cable_support_spacing_mm": 400,
    "b.unprotected_edges": False,
    "b.uninsulated_joints": False,
    "b.tapped_safety_circuit": False,
    "b.is_modification": False,
    "v.prior_modifications": False,
    "b.retention_years": 7,
    "b.docs": ["DOC-RELEASE"],
}


def test_the_gate_opens_when_nothing_is_left():
    found = judged(CALM)

    assert found["AU-REL-001.AU-QLD"].outcome == "clear"
    assert not any(f.blocks for f in found.values())


def test_the_gate_counts_stops_unknowns_and_certificates():
    stopped = judged(CALM | {"b.total_kg": 3300})
    assert stopped["AU-REL-001.AU-QLD"].outcome == "stop"
    assert stopped["AU-REL-001.AU-QLD"].facts["b.open_stop_findings"] == 1

    open_ = judged({k: v for k, v in CALM.items() if k != "b.total_kg"})
    assert open_["AU-REL-001.AU-QLD"].outcome == "unknown"
    assert open_["AU-QLD-DEF-001.AU-QLD"].outcome == "unknown"

    kit = [an_item("kit", ("spring_block",))]
    lifted = CALM | {
        "b.suspension_change_mm": 60,
        "b.body_lift_mm": 0,
        "b.tyre_dia_mm": 775,
        "v.oe_tyre_dia_max_mm": 775,
        "b.bump_travel_ratio": 1,
        "b.rebound_travel_ratio": 1,
    }
    # In Tasmania no rule of the state turns a missing certificate into a stop.
    held = judged(lifted, kit, "AU-TAS")["AU-REL-001.AU-TAS"]
    assert held.facts["b.open_certify_findings"] == 2
    assert held.outcome == "unknown"
    assert held.missing == ("b.owner_moved_under_permit",)
    moved = judged(lifted | {"b.owner_moved_under_permit": True}, kit, "AU-TAS")
    assert moved["AU-REL-001.AU-TAS"].outcome == "clear"


def test_without_a_trailer_its_rules_say_nothing():
    bar = [an_item("tow-bar", ("towbar",))]
    trailer = "AU-TOW-003.AU-QLD"

    asked = judged(items=bar)[trailer]
    assert asked.outcome == "unknown"
    assert asked.missing == ("b.trailer_towed",)
    assert trailer not in judged({"b.trailer_towed": False}, bar)
    assert judged({"b.trailer_towed": True}, bar)[trailer].missing == (
        "t.has_brakes",
        "t.loaded_kg",
    )


def test_a_place_without_rules_says_so():
    for place in ("", "CA", "CA-ON"):
        found = judged(place=place)
        assert list(found) == [f"LAW-PLACE.{place}"]
        notice = found[f"LAW-PLACE.{place}"]
        assert notice.outcome == "check"
        assert "Ask the registering authority" in notice.sentence


def test_a_state_left_open_is_asked_for():
    for place in ("AU", "AU-XX"):
        notice = judged(place=place)[f"LAW-PLACE.{place}"]
        assert "Say where the vehicle is registered: AU-ACT, AU-NSW" in notice.sentence
    assert "LAW-PLACE.AU-TAS" not in judged(place="AU-TAS")
    assert "LAW-PLACE.NZ" not in judged(place="NZ")
    assert "LAW-PLACE.EU-DE" not in judged(place="EU-DE")


def test_an_item_no_rule_knows_is_told():
    found = judged(items=[an_item("pot", (), known=False)])["LAW-KIND.AU-QLD.pot"]

    assert found.outcome == "check"
    assert found.subject == "pot"
    assert "Somebody must look" in found.sentence


def test_a_confirmed_check_goes_with_the_finding():
    values = {"b.total_kg": 3260, "v.gvm_kg": 3200}
    confirmed = {"AU-MASS-001": date(2026, 2, 1)}

    assert judged(values)["AU-MASS-001.AU-QLD"].checked_on is None
    found = judged(values, checked=confirmed)["AU-MASS-001.AU-QLD"]
    assert found.checked_on == "2026-02-01"


def test_findings_come_gravest_first_and_the_same_every_time():
    facts = BuildFacts({"b.total_kg": 3260, "v.gvm_kg": 3200, "b.docs": []})
    found = judge(facts, BOOK, TODAY, "AU-QLD")

    assert found == judge(facts, BOOK, TODAY, "AU-QLD")
    assert found[0].outcome == "stop"
    assert [f.outcome for f in found] == sorted(
        (f.outcome for f in found),
        key=["stop", "certificate", "unknown", "check", "clear"].index,
    )


def test_a_question_is_asked_once_with_why_and_where():
    lamps = [an_item("lamps", ("driving_lamp",)), an_item("bar")]
    facts = BuildFacts({}, tuple(lamps))
    found = judge(facts, BOOK, TODAY, "AU-QLD", "AU-SA")
    asked = questions(found, BOOK.registry)
    by_name = {(q.subject, q.fact.name): q for q in asked}

    assert len(by_name) == len(asked)
    count = by_name["vehicle", "b.additional_driving_lamps"]
    assert len(count.why) == 2
    assert count.blocks
    assert count.fact.place == "job card"
    width = by_name["bar", "i.width_mm"]
    assert width.words == "Width of the part with its fittings (mm)"
    assert width.label == "Bar"
    assert by_name["vehicle", "v.build_date"].fact.place == "booking"
    assert ("vehicle", "b.needs_certificate") not in by_name
    assert [q.blocks for q in asked] == sorted((q.blocks for q in asked), reverse=True)
    years = by_name["vehicle", "b.retention_years"]
    assert years.words.endswith("(years)")
    lock = by_name["lamps", "i.off_when_main_beam_off"]
    assert lock.words == "Is it dead while main beam is off?"


def test_judging_sixty_items_takes_a_few_milliseconds():
    record = a_large_record(60)
    kinds = sorted(BOOK.registry.kinds)
    for number, item in enumerate(record["items"]):
        item["kind"] = kinds[number * 7 % len(kinds)]
    facts = facts_of(parse_record(record), {}, BOOK.registry, {"b.docs": []})

    def once():
        start = time.perf_counter()
        judge(facts, BOOK, TODAY, "AU-QLD")
        return time.perf_counter() - start

    assert min(once() for _ in range(10)) < 0.010


@pytest.mark.parametrize("place", BOOK.registry.jurisdictions)
def test_no_sentence_pronounces_the_vehicle_fit(place):
    items = [an_item(t, (t,)) for r in BOOK.rules.values() for t in sorted(r.trigger)]
    for finding in judged(items=items, place=place).values():
        for words in (finding.sentence, finding.message, finding.title):
            assert not OWN_VERDICT.search(words), finding.key


ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=3),
    st.lists(st.lists(st.integers(), max_size=1), max_size=2),
)
NAMES = st.sampled_from(sorted(BOOK.registry.facts))


@given(st.dictionaries(NAMES, ANYTHING, max_size=30), st.text(max_size=6))
@settings(max_examples=50)
def test_no_facts_and_no_place_make_judging_fail(values, place):
    types = {t for rule in BOOK.rules.values() for t in rule.trigger}
    items = [ItemFacts("all", "All", "all", frozenset(types), True, values)]
    for where in (place, "AU-NSW"):
        found = judged(values, items, where)
        assert found


def test_more_items_of_a_build_never_clear_its_gate():
    lamps = [an_item("lamps", ("driving_lamp",))]

    assert judged(CALM)["AU-REL-001.AU-QLD"].outcome == "clear"
    assert judged(CALM, lamps)["AU-REL-001.AU-QLD"].outcome == "unknown"


def test_an_unknown_that_could_need_a_certificate_blocks():
    kit = [an_item("kit", ("suspension_kit",))]
    found = judged({"b.docs": ["DOC-MODCERT", "DOC-ALIGN"]}, kit)

    assert found["AU-SUS-001.AU-QLD"].outcome == "unknown"
    assert found["AU-SUS-001.AU-QLD"].blocks


def test_a_general_figure_read_in_that_very_place_needs_no_asking():
    wheels = [an_item("wheels", ("wheel",))]

    assert judged({}, wheels, "AU-WA")["AU-TRK-001.AU-WA"].reach == ""
    asked = judged({}, wheels, "AU-VIC")["AU-TRK-001.AU-VIC"].reach
    assert "25 mm is the general figure" in asked
