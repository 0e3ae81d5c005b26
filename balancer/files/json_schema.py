"""The JSON Schema of the files, so that editors complete and check them."""

from typing import Any, Literal, cast

from balancer.files.format import beside_keys
from balancer.files.format.keys import CAR_SCHEMA

_SCHEMAS = {
    "car": CAR_SCHEMA,
    "readings": beside_keys.READINGS_SCHEMA,
    "parts": beside_keys.PARTS_SCHEMA,
    "lifts": beside_keys.LIFTS_SCHEMA,
    "pads": beside_keys.PADS_SCHEMA,
}


def json_schema(
    which: Literal["car", "readings", "parts", "lifts", "pads"] = "car",
) -> dict[str, Any]:
    """Give the JSON Schema of one of the files.

    Returns:
        Draft 2020-12, made by pydantic from the same tables that validate the file. Counts,
        lengths and pure numbers are bounded as they are there; other ranges depend on the units
        and stay with `balancer check`.

    References:
        JSON Schema, draft 2020-12.
    """
    from pydantic.json_schema import GenerateJsonSchema

    made = GenerateJsonSchema().generate(cast(Any, _SCHEMAS[which]))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"balancer {which} file",
        **made,
    }
