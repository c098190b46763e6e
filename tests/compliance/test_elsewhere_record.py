"""The reader and the published schema judge every single fault alike."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from compliance.record import FORMAT, VERSION, RecordError, parse_record
from compliance.record_shape import RECORD
from compliance.schema import record_schema
from compliance.shape import (
    Either,
    Facts,
    Flag,
    Many,
    Named,
    Number,
    Object,
    Shape,
    Text,
)
from tests.compliance.records import drop, put

SCHEMA = Draft202012Validator(record_schema())


def sample(shape: Shape) -> Any:
    """A sound value of a shape, with every member it may have."""
    match shape:
        case Object():
            return {name: sample(inner) for name, inner in shape.members.items()}
        case Many():
            return [sample(shape.of)]
        case Number():
            return 1 if shape.low < 1 <= shape.high else shape.high
        case Text():
            return shape.choices[0] if shape.choices else "word"
        case Either():
            return shape.words[0]
        case Named():
            return {"one": sample(shape.of)}
        case Facts():
            return {"marked": True, "text": "word", "count": 2}
        case Flag():
            return True


def everything() -> dict[str, Any]:
    """A record with every member of the shape; its links lead nowhere."""
    return {"format": FORMAT, "version": VERSION, **sample(RECORD)}


def places(value: Any, path: str = "") -> Iterator[str]:
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    for name, member in inside:
        where = f"{path}.{name}" if path else str(name)
        yield where
        if isinstance(member, dict | list):
            yield from places(member, where)


PLACES = list(places(everything()))
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 5),
    st.integers(),
    st.floats(),
    st.sampled_from(
        [0, -0.0, 1e9, 1e-9, 1e308, 2**70, "", " ", "a b", "use", "x" * 301]
    ),
    st.text(max_size=8),
    st.just([]),
    st.just({}),
    st.lists(st.integers(0, 3), max_size=2),
    st.dictionaries(st.sampled_from(["key", "mass_kg", "x_m", "odd"]), st.integers()),
)


def reader_refuses(data: Any) -> bool:
    """Whether a single value is refused; keys and links are beyond the schema."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("compliance.record.link_faults", lambda record: [])
        try:
            parse_record(data)
        except RecordError as error:
            return any("is already used by" not in said for _, said in error.faults)
    return False


def test_a_record_with_every_member_is_sound():
    assert not reader_refuses(everything())
    assert SCHEMA.is_valid(everything())
    assert len(PLACES) > 200


@given(st.sampled_from(PLACES), ODD)
def test_reader_and_schema_judge_one_odd_value_alike(place: str, value: Any):
    data = put(everything(), place, value)

    assert reader_refuses(data) == (not SCHEMA.is_valid(data))


@pytest.mark.parametrize("place", PLACES)
def test_reader_and_schema_judge_what_is_left_out_alike(place: str):
    data = drop(everything(), place)

    assert reader_refuses(data) == (not SCHEMA.is_valid(data))


@pytest.mark.parametrize(
    "place",
    [p for p in PLACES if p.rpartition(".")[2] in ("key", "label", "mass_kg")],
)
def test_reader_and_schema_refuse_a_name_beside_alike(place: str):
    data = put(everything(), f"{place.rpartition('.')[0]}.heard_of", 1)

    assert reader_refuses(data)
    assert not SCHEMA.is_valid(data)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    "place", [p for p in PLACES if p.endswith(("_kg", "_m", "_a"))]
)
def test_what_is_no_number_is_refused_wherever_it_stands(place: str, value: float):
    """JSON cannot hold these; Python's reader of JSON lets them through."""
    data = json.loads(json.dumps(put(everything(), place, value)))
    path = re.sub(r"\.(\d+)", r"[\1]", place)
    with pytest.raises(RecordError) as caught:
        parse_record(data)

    assert caught.value.faults == [(path, "is not a finite number.")]
