"""A datum less can make nothing sounder: every datum of a design for each rule's fault left out."""

from __future__ import annotations

from functools import cache

import pytest

from tests.published.test_less_data import data_of, faulty, passes_made
from tests.published.test_metamorphic import Way
from tests.rulebook.test_rules_on_designs import FAULTS

TOGETHER = 15
"""Designs whose data are left out in one batch: more than a thousand designs."""


@cache
def _passes_of(batch: int) -> list[list[tuple[Way, str, str]]]:
    taken = FAULTS[batch * TOGETHER : (batch + 1) * TOGETHER]
    designs = [faulty(changes) for *_, changes in taken]
    return passes_made([(design, data_of(design)) for design in designs])


@pytest.mark.parametrize("number", range(len(FAULTS)), ids=[fault[0] for fault in FAULTS])
def test_a_datum_less_never_makes_a_pass(number: int) -> None:
    assert _passes_of(number // TOGETHER)[number % TOGETHER] == []
