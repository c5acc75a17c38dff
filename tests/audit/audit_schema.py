"""Write `schemas/audit.schema.json` from the types: python -m tests.audit.audit_schema."""

from __future__ import annotations

import json

from checker.audit.records import Audit
from checker.reading.package_data import data_folder
from tests.record_schema import record_schema

FILE = data_folder("schemas") / "audit.schema.json"


def schema() -> str:
    """The JSON Schema of an audit, as the file has it."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:prescreed:schema:audit:1",
        "title": "Audit of a past job",
        "description": "What 'prescreed audit --format json' writes. Points put causes in order; "
        "they are not probabilities.",
    }
    return json.dumps(head | record_schema(Audit), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(schema(), "utf-8")
