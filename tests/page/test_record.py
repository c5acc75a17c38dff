"""The page on which a phone writes down what was done on site."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("multipart")

from starlette.testclient import TestClient

from tests.cli.test_record import PLANNED, READ
from tests.page.test_app import client, dropped

__all__ = ["client"]


def posted(page: str) -> dict[str, str]:
    """The fields of the form as a browser would send them back, untouched."""
    found = {
        html.unescape(name): html.unescape(value)
        for name, value in re.findall(r'<input id="[^"]*" name="([^"]*)" value="([^"]*)"', page)
    }
    for name, inner in re.findall(r'<select id="[^"]*" name="([^"]*)">(.*?)</select>', page):
        chosen = re.search(r"<option selected>([^<]*)", inner)
        found[html.unescape(name)] = html.unescape(chosen[1]) if chosen else ""
    return found


def opened(client: TestClient, design: str = PLANNED) -> tuple[str, str]:
    job, _ = dropped(client, ("house.yaml", design.encode()))
    page = client.get(f"{job}0/record")
    assert page.status_code == 200
    return job, page.text


def test_an_untouched_form_changes_nothing(client: TestClient) -> None:
    job, page = opened(client)
    answer = client.post(f"{job}0/record", data=posted(page))
    assert answer.status_code == 200
    assert client.get(f"{answer.url.path}0/design").text == PLANNED


def test_readings_are_written_in_and_the_pour_is_judged(client: TestClient) -> None:
    job, page = opened(client)
    fields = posted(page)
    for number, (name, reading) in enumerate(READ.items()):
        assert f"readings/{number}/test" in fields, name
        fields[f"readings/{number}/test"] = "first"
        for what, text in zip(("at", "pressure", "temperature"), reading, strict=True):
            fields[f"readings/{number}/pressure_tests.readings.{what}"] = text
    fields["tests/0/pressure_tests.plant_shut"] = "yes"
    answer = client.post(f"{job}0/record", data=fields)
    assert "May the screed be poured?" in answer.text
    text = client.get(f"{answer.url.path}0/design").text
    assert "stage: laid" in text
    assert "4.02 bar" in text
    assert "plant_shut: true" in text
    assert client.get(f"{job}0/design").text == PLANNED, "what was dropped stays as it was"


def test_a_bare_number_is_in_the_unit_beside_it(client: TestClient) -> None:
    job, page = opened(client)
    fields = posted(page) | {"balance/0/balance.flow": "1,6", "balance/1/balance.flow": "1.0 l/min"}
    answer = client.post(f"{job}0/record", data=fields)
    text = client.get(f"{answer.url.path}0/design").text
    assert "flow: 1.6 l/min" in text


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"balance/0/balance.flow": "fast"}, "Read at the setter"),
        ({"seen/0/result": "as wanted"}, "without who looked"),
        ({"readings/0/pressure_tests.readings.at": "0 min"}, "name no test"),
        ({"floors/0/floors.screed.laid_on": "soon"}, "slab"),
    ],
)
def test_what_cannot_be_taken_is_told_and_the_rest_stays_filled_in(
    client: TestClient, fields: dict[str, str], told: str
) -> None:
    job, page = opened(client)
    kept = {"tests/0/pressure_tests.hold": "3 h"}
    answer = client.post(f"{job}0/record", data=posted(page) | kept | fields)
    assert answer.status_code == 400
    assert told in html.unescape(answer.text)
    assert 'value="3 h"' in answer.text


def test_every_field_has_a_label_and_names_are_text(client: TestClient) -> None:
    _, page = opened(client, PLANNED.replace("  first:\n", "  '<i>first':\n"))
    ids = re.findall(r'<(?:input|select) id="([^"]*)"', page)
    assert len(ids) > 30
    for one in ids:
        assert f'<label for="{one}">' in page
    assert len(set(ids)) == len(ids)
    assert "<i>first" not in page


def test_nothing_else_is_written(client: TestClient) -> None:
    job, page = opened(client)
    fields = posted(page) | {"plant/0/plant.supply": "90 °C", "balance/99/balance.flow": "1 l/min"}
    answer = client.post(f"{job}0/record", data=fields)
    assert client.get(f"{answer.url.path}0/design").text == PLANNED
    assert not [*Path().iterdir()]
