"""The page on which a phone writes down a visit after a complaint."""

from __future__ import annotations

import pytest

pytest.importorskip("starlette")
pytest.importorskip("multipart")

from starlette.testclient import TestClient

from checker.audit import readings
from tests.example import DESIGN
from tests.page.test_app import client, dropped
from tests.page.test_record import posted

__all__ = ["client"]


def test_a_visit_is_filled_in_and_comes_back_as_readings(client: TestClient) -> None:
    job, _ = dropped(client, ("house.yaml", DESIGN.encode()))
    page = client.get(f"{job}0/visit")
    assert page.status_code == 200
    assert "decides on: " in page.text
    fields = posted(page.text)
    fields["visit/0/on"] = "2027-01-15"
    fields["loops/0/loops.flow"] = "1.4"
    fields["loops/0/loops.supply"] = "100 °F"
    fields["rooms/0/rooms.notes"] = "cold along the window"
    taken = client.post(f"{job}0/visit", data=fields)
    assert "visit.readings.yaml" in taken.headers["content-disposition"]
    found = readings.read("visit.readings.yaml", taken.content)
    (on,) = found.visits
    assert found.of("loops.L1", "flow")[on] == pytest.approx(1.4 / 6e4)
    assert found.of("loops.L1", "supply")[on] == pytest.approx(68 / 1.8)
    assert [words for _, _, words in found.notes] == ["cold along the window"]


def test_what_cannot_be_is_told_and_the_rest_stays(client: TestClient) -> None:
    job, _ = dropped(client, ("house.yaml", DESIGN.encode()))
    fields = posted(client.get(f"{job}0/visit").text)
    fields |= {"loops/0/loops.flow": "1.4", "loops/0/loops.supply": "much"}
    answer = client.post(f"{job}0/visit", data=fields)
    assert answer.status_code == 400
    assert "much" in answer.text
    assert posted(answer.text)["loops/0/loops.flow"] == "1.4"
    fields["loops/0/loops.supply"] = ""
    answer = client.post(f"{job}0/visit", data=fields)
    assert answer.status_code == 400
    assert "&#39;on&#39; is missing" in answer.text
