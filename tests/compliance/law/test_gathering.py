"""Facts that a build's record and the core's answer hold for the rules."""

import pytest

from compliance.assess import assess
from compliance.law import facts_of, rule_book
from compliance.record import parse_record
from tests.compliance.records import a_record, drop

REGISTRY = rule_book().registry


def gathered(record, answers=None):
    read = parse_record(record)
    return facts_of(read, assess(read), REGISTRY, answers)


def items_of(record):
    return {item.key: item for item in gathered(record).items}


def an_item(**more):
    part = {"key": "part", "label": "Part", "kind": "winch", "zone": "front"}
    return part | {"switch": {"kind": "none"}} | more


def with_item(**more):
    record = a_record()
    record["items"].append(an_item(**more))
    return record


def test_vehicle_trailer_and_loads():
    values = gathered(a_record()).values

    assert values["v.wheelbase_mm"] == pytest.approx(3200)
    assert values["v.category"] == "NA"
    assert values["v.gvm_kg"] == values["v.plate_gvm_kg"] == 3200
    assert values["v.front_axle_limit_kg"] == 1480
    assert values["v.btc_kg"] == 3500
    assert values["v.btc_stated"] is True
    assert values["v.seats_before"] == 2
    assert values["b.passengers_kg"] == 80
    assert values["b.trailer_towed"] is True
    assert values["t.loaded_kg"] == 2400
    assert values["t.atm_kg"] == 2800
    # 2120 kg on the scale, 79 kg of parts less 14 kg taken off, 40 kg of water,
    # two people, luggage, and the ball.
    assert values["b.total_kg"] == pytest.approx(2120 + 65 + 40 + 160 + 60 + 240)
    assert values["b.added_mass_kg"] == pytest.approx(65)
    assert values["b.optional_equipment_kg"] == pytest.approx(79)
    assert values["b.gvm_used_kg"] == 3200
    assert values["b.front_bar_fitted"] is True
    assert values["b.windscreen_replaced"] is False
    assert values["b.tyre_size_changed"] is False


def test_what_is_not_recorded_is_not_a_fact():
    record = {"format": "build-record", "version": 1, "vehicle": {"label": ""}}
    values = gathered(record).values

    assert "v.gvm_kg" not in values
    assert "v.btc_stated" not in values
    assert "v.seats_before" not in values
    assert "b.trailer_towed" not in values
    assert "b.total_kg" not in values
    assert "b.passengers_kg" not in values
    assert "b.rack_mass_kg" not in values


def test_a_mass_that_is_missing_leaves_the_sum_open():
    values = gathered(drop(a_record(), "items.0.mass_kg")).values

    assert "b.added_mass_kg" not in values


def test_a_raised_rating_counts_with_its_paper_and_the_plate_stays():
    raised = with_item(
        kind="suspension-kit",
        raises={"gvm_kg": 3500, "gcm_kg": 6500, "braked_towing_kg": 3600},
    )
    values = gathered(raised).values
    item = items_of(raised)["part"]

    assert values["v.gvm_kg"] == values["v.plate_gvm_kg"] == 3200
    assert values["b.new_gvm_kg"] == 3500
    assert item.types == {"suspension_kit", "gvm_upgrade", "gcm_upgrade", "btc_upgrade"}
    assert item.values["i.new_gcm_kg"] == 6500
    assert item.values["i.new_btc_kg"] == 3600
    raised["items"][-1]["raises"]["evidence"] = "certificate 7"
    values = gathered(raised).values
    assert (values["v.gvm_kg"], values["v.plate_gvm_kg"]) == (3500, 3200)


def test_a_lowered_rating_is_no_upgrade():
    lowered = with_item(kind="wheels-tyres", raises={"gvm_kg": 3000})

    assert items_of(lowered)["part"].types == {"tyre", "wheel"}
    same = with_item(kind="wheels-tyres", raises={"gvm_kg": 3200})
    assert items_of(same)["part"].types == {"tyre", "wheel"}
    assert items_of(drop(lowered, "vehicle.ratings.gvm_kg"))["part"].types == {
        "tyre",
        "wheel",
        "gvm_upgrade",
    }


def test_running_order_is_taken_from_its_own_base_only():
    record = a_record()
    record["vehicle"]["base"] = {"definition": "running-order", "mass_kg": 2150}

    assert gathered(record).values["b.mass_in_running_order_kg"] == 2150
    assert "b.mass_in_running_order_kg" not in gathered(a_record()).values


def test_answers_fill_what_is_open_and_do_not_override_the_core():
    answers = {
        "b.plate_height_mm": 700,
        "b.total_kg": 1,
        "b.docs": ["DOC-WEIGH"],
        "b.no_such_fact": 3,
        "v.has_airbags": "yes",
        "v.build_date": "2021-03-01",
    }
    values = gathered(a_record(), answers).values

    assert values["b.plate_height_mm"] == 700
    assert values["b.total_kg"] > 2000
    assert values["b.docs"] == ("DOC-WEIGH",)
    assert values["v.build_date"] == "2021-03-01"
    assert "b.no_such_fact" not in values
    assert "v.has_airbags" not in values


def test_a_battery_is_typed_by_its_chemistry():
    record = with_item(key="aux", kind="aux-battery", zone="cargo")
    lithium = items_of(record)["aux"]
    assert lithium.types == {"aux_battery", "lithium_battery"}
    assert lithium.values["i.chemistry"] == "lfp"
    record["supply"]["batteries"][0]["chemistry"] = "agm"
    assert items_of(record)["aux"].types == {"aux_battery"}
    # Of a battery nobody described either could be true, so both are asked.
    unknown = with_item(kind="aux-battery")
    assert items_of(unknown)["part"].types == {"aux_battery", "lithium_battery"}


def test_the_longest_unfused_cable_of_a_battery():
    record = with_item(key="aux", kind="aux-battery", zone="cargo")
    assert "i.fuse_distance_mm" not in items_of(record)["aux"].values
    record["supply"]["circuits"][0]["fuse_to_source_m"] = 0.15
    assert items_of(record)["aux"].values["i.fuse_distance_mm"] == pytest.approx(150)
    second = {"key": "b2", "from": "aux", "fuse_to_source_m": 0.3}
    record["supply"]["circuits"].append(second)
    assert items_of(record)["aux"].values["i.fuse_distance_mm"] == pytest.approx(300)
    del second["fuse_to_source_m"]
    assert "i.fuse_distance_mm" not in items_of(record)["aux"].values


def test_facts_of_an_item_come_by_name_and_strangers_are_told():
    facts = {"as4876_marked": True, "width_mm": "wide", "shade": "dark"}
    item = items_of(with_item(kind="front-bar", facts=facts))["part"]

    assert item.values["i.as4876_marked"] is True
    assert "i.width_mm" not in item.values
    assert item.unread == ("shade",)


def test_laden_mass_takes_the_tank_and_what_may_be_carried():
    tank = {"fluid": "diesel", "capacity_l": 100, "density_kg_per_l": 0.8}

    def laden(**more):
        return items_of(with_item(mass_kg=10, **more))["part"].values.get(
            "i.laden_mass_kg"
        )

    assert laden(kind="long-range-tank", tank=tank) == pytest.approx(90)
    assert items_of(a_record())["water"].values["i.laden_mass_kg"] == 52
    assert laden(kind="drawers") is None
    assert laden(kind="drawers", carrier_limit_kg=80) == 90


def test_where_it_sits_is_suggested_and_may_be_corrected():
    assert items_of(with_item(zone="under-bonnet"))["part"].values["i.location"] == (
        "under_bonnet"
    )
    corrected = with_item(zone="under-bonnet", facts={"location": "tray_box"})
    assert items_of(corrected)["part"].values["i.location"] == "tray_box"
    assert "i.location" not in items_of(with_item(zone="cabin"))["part"].values


def test_what_it_is_mounted_on():
    def mount(**more):
        return items_of(with_item(kind="light-bar", **more))["part"].values.get(
            "i.mounted_on"
        )

    assert mount(carried_by="front-bar") == "bull_bar"
    assert mount(carried_by="water") is None
    assert mount(zone="roof") == "roof"
    assert mount() is None
    stranger = with_item(kind="light-bar", carried_by="odd")
    stranger["items"].append(an_item(key="odd", kind="teapot"))
    assert "i.mounted_on" not in items_of(stranger)["part"].values


def test_racks():
    rack = {"kind": "roof-rack", "zone": "roof", "mass_kg": 28}
    values = gathered(with_item(**rack)).values
    assert values["b.rack_mass_kg"] == 28
    assert "b.rack_limit_kg" not in values
    values = gathered(with_item(**rack, carrier_limit_kg=120)).values
    assert values["b.rack_limit_kg"] == 120


def test_a_kind_nobody_knows_leaves_open_what_is_fitted():
    record = with_item(kind="teapot")
    values = gathered(record, {"v.prior_modifications": False}).values

    assert not items_of(record)["part"].known
    assert items_of(record)["part"].types == frozenset()
    assert values["b.front_bar_fitted"] is True
    assert "b.windscreen_replaced" not in values
    assert "b.suspension_change_mm" not in values


def test_changed_wheels_leave_the_tyre_size_open():
    assert "b.tyre_size_changed" not in gathered(with_item(kind="wheels-tyres")).values
    assert gathered(with_item(kind="windscreen")).values["b.windscreen_replaced"]


def test_of_an_unmodified_vehicle_the_items_decide():
    record = a_record()
    prior = {"v.prior_modifications": False}

    assert "b.suspension_change_mm" not in gathered(record).values
    values = gathered(record, prior).values
    assert values["b.suspension_change_mm"] == 0
    assert values["b.body_lift_mm"] == 0
    assert "b.additional_driving_lamps" not in values
    record["items"][2]["facts"] = {"counted_as": 2}
    assert gathered(record, prior).values["b.additional_driving_lamps"] == 2
    measured = gathered(record, prior | {"b.suspension_change_mm": 5}).values
    assert measured["b.suspension_change_mm"] == 5
    lifted = gathered(with_item(kind="suspension-kit"), prior).values
    assert "b.suspension_change_mm" not in lifted
    raised = gathered(with_item(kind="body-lift"), prior).values
    assert "b.body_lift_mm" not in raised
