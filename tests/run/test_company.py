"""A design comes out the same to the last digit, alone and in any company."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from typing import Any

import pytest

from checker.reading import yaml_reader
from checker.run.batch import check
from tests.design.designs import generate
from tests.example import DESIGN, as_json

Files = list[tuple[str, bytes]]


def lacking(document: Any) -> Iterator[Any]:
    """The document without each of its values and parts in turn."""
    for key, member in list(document.items() if isinstance(document, dict) else []):
        if key == "design":
            continue
        rest = copy.deepcopy(dict(document))
        del rest[key]
        yield rest
        for less in lacking(member):
            yield {**document, key: less}


def written(files: Files) -> dict[str, bytes]:
    designs, _ = check(files)
    return {design.path: as_json(design) for design in designs}


def in_company(files: Files) -> None:
    """Each file alone comes out as with all others, and as in chunks of a few."""
    random.Random(1).shuffle(files)
    alone: dict[str, bytes] = {}
    for file in files:
        alone |= written([file])
    assert len(alone) > len(files) / 2
    for size in (7, len(files)):
        for start in range(0, len(files), size):
            for path, text in written(files[start : start + size]).items():
                assert text == alone[path], path


@pytest.mark.long
def test_invented_designs() -> None:
    files = [(f"{number}.yaml", generate(number, loops=5).encode()) for number in range(40)]
    in_company(files)


@pytest.mark.long
def test_designs_that_lack_one_value_each() -> None:
    """Among them every condition that a limit asks for, missing in one design alone."""
    document = yaml_reader.read(DESIGN.encode())
    files = [
        (f"{number}.json", json.dumps(without, ensure_ascii=False).encode())
        for number, without in enumerate(lacking(document))
    ]
    assert len(files) > 90
    in_company([*files, ("whole.yaml", DESIGN.encode())])
