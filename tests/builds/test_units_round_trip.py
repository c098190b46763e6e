"""What is converted on its way into or out of the database comes back the same."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builds.demo import scenario
from builds.models import BuildJob
from builds.record_values import metres
from builds.records import decimal, import_record, millimetres
from builds.snapshots import take_record
from workshop.models import Customer


@given(st.integers(-30_000, 30_000))
def test_millimetres_survive_metres(length_mm: int):
    assert millimetres(metres(length_mm)) == length_mm


@given(st.decimals(0, 20_000, places=2))
def test_a_mass_survives_the_record(mass_kg: Decimal):
    assert decimal(float(mass_kg)) == mass_kg


def test_what_is_not_known_stays_unknown():
    assert metres(None) is None
    assert millimetres(None) is None
    assert decimal(None) is None


@pytest.mark.parametrize("seed", range(3))
def test_a_changed_build_goes_out_and_comes_back_the_same(db, seed: int):
    scenario.load()
    record = take_record(BuildJob.objects.get(title="River survey ute"))
    dice = random.Random(seed)
    for item in record["items"]:
        if "mass_kg" in item:
            item["mass_kg"] = dice.randint(1, 9_999) / 100
        if "x_m" in item:
            item["x_m"] = dice.randint(-5_000, 1_500) / 1000
        if "y_m" in item:
            item["y_m"] = dice.randint(-900, 900) / 1000
    for circuit in record["supply"]["circuits"]:
        circuit["run_m"] = dice.randint(5, 999) / 100
    customer = Customer.objects.all()[0]
    once = take_record(import_record(data=record, customer=customer))
    twice = take_record(import_record(data=once, customer=customer))

    assert twice == once
    # A build lists its items from front to rear, so those that moved change places.
    for exported in (record, once):
        exported["items"].sort(key=lambda item: item["key"])
    assert once == record
