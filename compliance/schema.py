"""The JSON Schema of the open build record, made from the shape the reader uses.

``python -m compliance.schema`` writes ``build_record.schema.json`` anew; a test holds
the two together.
"""

import json
from pathlib import Path
from typing import Any

from compliance.record import FORMAT, VERSION
from compliance.record_shape import RECORD
from compliance.shape import (
    Either,
    Flag,
    Many,
    Named,
    Number,
    Object,
    Shape,
    Text,
)

FILE = Path(__file__).parent / "build_record.schema.json"

UNPRINTABLE = "[\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f\\ud800-\\udfff]"


def record_schema() -> dict[str, Any]:
    """
    Give the JSON Schema, draft 2020-12, of a build record.

    Returns
    -------
    dict
        It refuses what single values show: unknown names, types, bounds. Links between
        parts (a key used twice, a circuit that leads nowhere or round, a load on two
        circuits) are beyond it and are found by ``parse_record`` alone.
    """
    body = _schema(RECORD)
    body["properties"] = {
        "format": {"const": FORMAT},
        "version": {"const": VERSION},
        **body["properties"],
    }
    body["required"] = ["format", "version", *body["required"]]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Build record",
        "description": "What a build is: kg, m, l, A, V, W and mm2 as the names say; x "
        "forward, y left, z up from the ground below the front axle. A value that is "
        "not known is left out or null, never 0.",
        **body,
    }


def _schema(shape: Shape) -> dict[str, Any]:
    if isinstance(shape, Object):
        return {
            "type": "object",
            "additionalProperties": False,
            "required": list(shape.required),
            "properties": {
                name: _member(inner, name in shape.required)
                for name, inner in shape.members.items()
            },
        }
    if isinstance(shape, Many):
        return {"type": "array", "maxItems": shape.most, "items": _schema(shape.of)}
    if isinstance(shape, Number):
        return _number(shape)
    if isinstance(shape, Text):
        return _text(shape)
    if isinstance(shape, Flag):
        return {"type": "boolean"}
    if isinstance(shape, Either):
        return {"anyOf": [_number(shape.number), {"enum": list(shape.words)}]}
    names = {"not": {"pattern": UNPRINTABLE}}
    if isinstance(shape, Named):
        values: dict[str, Any] = {"anyOf": [_number(shape.of), {"type": "null"}]}
    else:
        values = {
            "type": ["string", "number", "boolean", "null"],
            "minimum": -1e9,
            "maximum": 1e9,
            "maxLength": 2_000,
            "not": {"type": "string", "pattern": UNPRINTABLE},
        }
    return {
        "type": "object",
        "propertyNames": names,
        "additionalProperties": values,
    }


def _member(shape: Shape, required: bool) -> dict[str, Any]:
    schema = _schema(shape)
    if required:
        return schema
    return {"anyOf": [schema, {"type": "null"}]}


def _number(shape: Number) -> dict[str, Any]:
    low = "exclusiveMinimum" if shape.above else "minimum"
    kind = "integer" if shape.whole else "number"
    return {"type": kind, low: shape.low, "maximum": shape.high}


def _text(shape: Text) -> dict[str, Any]:
    if shape.choices:
        return {"enum": list(shape.choices)}
    refused = f"{UNPRINTABLE}|\\s" if shape.key else UNPRINTABLE
    return {
        "type": "string",
        "minLength": 1 if shape.key else 0,
        "maxLength": shape.longest,
        "not": {"pattern": refused},
    }


def schema_text() -> str:
    """Give the schema as the text of its file."""
    return json.dumps(record_schema(), indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":  # pragma: no cover
    FILE.write_text(schema_text(), encoding="utf-8")
