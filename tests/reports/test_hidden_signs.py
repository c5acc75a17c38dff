"""No format that a person reads lets a design's hidden signs steer what is read."""

from __future__ import annotations

import pytest

from tests.reports.samples import design, gathered, result

HIDDEN = ["\u202e", "\u2066", "\u200f", "\u001b", "\u0000", "\ufeff"]
"""Overrides of the direction, control characters, and a mark of no width."""


@pytest.mark.parametrize("name", ["text", "markdown", "csv", "junit", "job-summary"])
@pytest.mark.parametrize("sign", HIDDEN)
def test_a_hidden_sign_is_shown_as_one(name: str, sign: str) -> None:
    made = design(result(f"loops.A{sign}B", message=f"It is{sign}long."))
    made.name = f"Test{sign}House"
    text = gathered(name, made).text.decode("utf-8-sig")
    assert sign not in text
    assert text.count("\ufffd") >= 2
