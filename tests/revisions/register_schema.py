"""Writes `schemas/register.schema.json` from the records that the register is made of."""

from __future__ import annotations

import json
import sys
from typing import Any

import msgspec

from checker.revisions.register import VERSION, Register


def schema() -> dict[str, Any]:
    """The schema of a register file."""
    made = msgspec.json.schema(Register)
    kinds = made["$defs"]
    whole = kinds.pop("Register")
    whole["properties"]["register"] = {"const": VERSION, "description": "Version of this format."}
    for kind in (whole, *kinds.values()):
        kind["additionalProperties"] = False
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:prescreed:schema:register:{VERSION}",
        **whole,
        "title": "prescreed register",
        "required": ["register", "last_number", "submissions", "points", "accepted", "queries"],
        "$defs": kinds,
    }


if __name__ == "__main__":
    sys.stdout.write(json.dumps(schema(), indent=2, ensure_ascii=False) + "\n")
