"""The JSON Schema of the files, so that editors complete and check them."""

from __future__ import annotations

from typing import Any, Literal, cast

from balancer.keys import CAR_SCHEMA, READINGS_SCHEMA


def json_schema(which: Literal["car", "readings"] = "car") -> dict[str, Any]:
    """Give the JSON Schema of the car file or the readings file.

    Parameters
    ----------
    which : str
        `car` or `readings`.

    Returns
    -------
    dict
        Draft 2020-12, made by pydantic from the same tables that validate the file. Ranges depend
        on the units and stay with `balancer check`.

    References
    ----------
    JSON Schema, draft 2020-12.

    Examples
    --------
    >>> json_schema()["properties"]["wheelbase"]["type"]
    'number'
    """
    from pydantic.json_schema import GenerateJsonSchema

    core = CAR_SCHEMA if which == "car" else READINGS_SCHEMA
    made = GenerateJsonSchema().generate(cast(Any, core))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"balancer {which} file",
        **made,
    }
