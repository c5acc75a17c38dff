"""Writes `schemas/register.schema.json` and `overview.schema.json` from the records they hold."""

from __future__ import annotations

import json
import sys
from typing import Any

from msgspec import Struct

from checker.revisions import overview
from checker.revisions.overview import Overview
from checker.revisions.register import VERSION, Register
from tests.record_schema import record_schema


def schema(kind: type[Struct] = Register, version: int = VERSION) -> dict[str, Any]:
    """The schema of a file that holds one such record."""
    name = kind.__name__.lower()
    made = record_schema(kind)
    kinds = made["$defs"]
    whole = kinds.pop(kind.__name__)
    whole["properties"][name] = {"const": version, "description": "Version of this format."}
    for one in (whole, *kinds.values()):
        one["additionalProperties"] = False
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:prescreed:schema:{name}:{version}",
        **whole,
        "title": f"prescreed {name}",
        "required": list(whole["properties"]),
        "$defs": kinds,
    }


def overview_schema() -> dict[str, Any]:
    """The schema of an overview."""
    return schema(Overview, overview.VERSION)


if __name__ == "__main__":
    made = overview_schema() if sys.argv[1:] == ["overview"] else schema()
    sys.stdout.write(json.dumps(made, indent=2, ensure_ascii=False) + "\n")
