"""The JSON of many designs, written some at a time, is that of each result alone."""

from __future__ import annotations

import pytest
from msgspec.json import decode, encode

from checker.reports import FormatOptions, json_results, writer
from checker.run.judging import check
from tests.design.designs import generate


@pytest.mark.parametrize("at_once", [1, 3, 100])
def test_however_many_are_written_at_once_each_result_is_as_it_is_alone(
    at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(json_results, "AT_ONCE", at_once)
    texts = [generate(number, 1 + number % 3) for number in range(7)]
    # One without a section that rules ask for, and one that cannot be read.
    texts[2] = texts[2].partition("pressure_tests:")[0]
    texts[4] = texts[4].replace("port: 1", "port: 0")
    files = [(f"{number}.yaml", text.encode()) for number, text in enumerate(texts)]
    designs, unreadable = check(files)
    assert [one.path for one in unreadable] == ["4.yaml"]
    assert len(designs) == 6
    json = writer(FormatOptions("json"))
    for design in [*designs, designs[0]]:  # back to one that was written before
        found = decode(json.piece(design))
        assert found["results"] == [decode(encode(result)) for result in design.results]
        computed = {
            subject: {
                name: decode(encode(one))
                for name, one in values.items()
                if one.magnitude is not None
            }
            for subject, values in design.computed.items()
        }
        assert found["computed"] == computed
