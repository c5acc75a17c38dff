"""The page as a web application: what it takes, what it refuses, what it gives away."""

from __future__ import annotations

import io
import os
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("starlette")
pytest.importorskip("multipart")

from starlette.testclient import TestClient

from checker.forms.declaring import house
from checker.forms.writing import workbook
from checker.page import jobs, unpacking
from checker.page.app import app
from tests.cli.test_sheets import MAP, SCHEDULE
from tests.example import DESIGN

TOKEN = "token"
BASE = f"/{TOKEN}/"
FULL = DESIGN.encode()


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A browser of this computer, in an empty folder that must stay empty."""
    monkeypatch.chdir(tmp_path)
    with TestClient(
        app(TOKEN), base_url="http://127.0.0.1:1234", raise_server_exceptions=False
    ) as made:
        yield made
    assert os.listdir(tmp_path) == []


def form() -> bytes:
    made = io.BytesIO()
    workbook(made, house(), house().example)
    return made.getvalue()


def zipped(**files: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return made.getvalue()


def dropped(client: TestClient, *files: tuple[str, bytes]) -> tuple[str, str]:
    """The address of the job, and its page."""
    answer = client.post(f"{BASE}read", files=[("files", one) for one in files])
    return answer.url.path, answer.text


def test_a_form_a_design_and_a_zip_become_reports(client: TestClient) -> None:
    address, text = dropped(
        client, ("a.xlsx", form()), ("b.yaml", FULL), ("c.zip", zipped(**{"in/d.yaml": FULL}))
    )
    assert re.findall(r"<bdi>(\S+\.(?:xlsx|yaml))</bdi></p>", text) == [
        "a.xlsx",
        "b.yaml",
        "in/d.yaml",
    ]
    for number, what, words in (
        (0, "report", "Example house"), (0, "site-sheet", "H1"), (0, "letter", "Invented Contractor"),
        (1, "report", "loops.L1"),
    ):  # fmt: skip
        answer = client.get(f"{address}{number}/{what}")
        assert answer.status_code == 200, what
        assert words in answer.text
    design = client.get(f"{address}1/design")
    assert design.content == FULL
    assert "b.yaml" in design.headers["content-disposition"]
    copy = client.get(f"{address}sheet/0")
    assert copy.content.startswith(b"PK")
    assert "a-marked.xlsx" in copy.headers["content-disposition"]


def test_the_page_brings_the_form_and_takes_it_back(client: TestClient) -> None:
    taken = client.get(f"{BASE}new")
    assert "house.xlsx" in taken.headers["content-disposition"]
    _, text = dropped(client, ("house.xlsx", taken.content))
    assert "UNPROVEN" in text


def test_a_changed_value_is_judged_by_the_same_engine(client: TestClient) -> None:
    address, _ = dropped(client, ("b.yaml", FULL))
    answer = client.get(f"{address}0/change", params={"path": "loops.L1.length", "value": "300 m"})
    assert "<h3>New</h3>" in answer.text
    assert "Loop longer than its pipe can feed" in answer.text
    more = client.get(
        f"{address}0/change",
        params={"with": "loops.L1.length=300 m", "path": "loops.L1.length", "value": "88 m"},
    )
    assert "No finding changes." in more.text
    wrong = client.get(f"{address}0/change", params={"path": "loops.L1.length", "value": "long"})
    assert "That cannot be" in wrong.text
    assert "Traceback" not in wrong.text


def test_a_foreign_sheet_is_answered_with_a_map_to_read_through(client: TestClient) -> None:
    address, text = dropped(client, ("mill-12.csv", SCHEDULE.encode()))
    assert "field: loops.length" in text
    read = client.post(f"{address}map", data={"sheet": "mill-12.csv", "map": MAP})
    assert "55x" in read.text  # the cell that cannot be read
    assert 'class="card unproven"' in read.text
    bad = client.post(f"{address}map", data={"sheet": "mill-12.csv", "map": "map: 2\n"})
    assert "mill-12.map.yaml:1:6" in bad.text
    both, _ = dropped(client, ("mill-12.csv", SCHEDULE.encode()), ("mill.map.yaml", MAP.encode()))
    assert client.get(f"{both}sheet/0").status_code == 200


def test_what_is_no_design_is_said_in_words(client: TestClient) -> None:
    for name, data, words in (
        ("a.pdf", b"%PDF", "neither a design nor a sheet"),
        ("a.yaml", b"design: 1\nplant: {supply: 45}\n", "45 has no unit"),
        ("a.xlsx", b"PK\x03\x04broken", "damaged"),
        ("a.yaml", b"name: x\n", "no design"),
        ("a.zip", b"PK\x03\x04broken", "damaged or locked"),
        ("<b>.yaml", b"\xff\xfe", "UTF-16"),
    ):
        _, text = dropped(client, (name, data))
        assert words in text, name
        assert "<b>.yaml" not in text
        assert "Traceback" not in text
    answer = client.post(f"{BASE}read", data={"x": "y"})
    assert answer.status_code == 400


def test_a_zip_that_unpacks_to_too_much_is_refused(client: TestClient) -> None:
    _, text = dropped(client, ("a.zip", zipped(**{"big.csv": b"0" * (unpacking.LARGEST + 1)})))
    assert "unpacks to more than 64 MB" in text
    many = zipped(**{f"{n}.yaml": b"" for n in range(unpacking.MOST_FILES + 1)})
    assert "301 files; at most 300 are allowed" in dropped(client, ("a.zip", many))[1]


def test_more_bytes_than_can_be_meant_are_refused(client: TestClient) -> None:
    answer = client.post(
        f"{BASE}read", content=b"", headers={"content-length": str(unpacking.LARGEST + 1)}
    )
    assert answer.status_code == 413
    assert "Drop fewer" in answer.text


def test_what_a_design_names_is_not_looked_for_on_the_disk(
    client: TestClient, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path_factory.mktemp("elsewhere")
    (folder / "secret.dxf").write_text("0\nEOF\n")
    (folder / "secret.map.yaml").write_text("drawing: 1\n")
    (folder / "b.answers.yaml").write_text("not: answers\n")
    monkeypatch.chdir(folder)
    text = FULL + b"plan: {drawing: secret.dxf, map: secret.map.yaml}\n"
    _, said = dropped(client, ("b.yaml", text))
    assert "No such file" in said or "cannot be read" in said
    _, said = dropped(client, ("b.yaml", FULL))
    assert "not: answers" not in said
    assert "answers" not in said
    monkeypatch.undo()


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "evil.invalid"},
        {"host": "127.0.0.1.evil.invalid:1234"},
        {"origin": "http://evil.invalid"},
        {"sec-fetch-site": "cross-site"},
    ],
)
def test_only_this_computer_is_answered(client: TestClient, headers: dict[str, str]) -> None:
    assert client.get(BASE, headers=headers).status_code == 403
    assert client.post(f"{BASE}read", headers=headers).status_code == 403


def test_nothing_stands_outside_the_token_and_nothing_is_loaded_from_elsewhere(
    client: TestClient,
) -> None:
    assert client.get("/").status_code == 404
    assert client.get("/other/").status_code == 404
    assert client.get(f"{BASE}gone/").status_code == 400
    answer = client.get(BASE)
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "default-src 'none'" in answer.text
    assert not re.search(r'(?:src|href)="https?:', answer.text)


def test_old_uploads_are_let_go_of(client: TestClient) -> None:
    first, _ = dropped(client, ("b.yaml", b"design: 1\n"))
    for _ in range(jobs.MOST_JOBS):
        dropped(client, ("b.yaml", b"design: 1\n"))
    answer = client.get(first)
    assert answer.status_code == 400
    assert "Drop it again" in answer.text


def test_a_design_without_a_loop_gets_no_site_sheet(client: TestClient) -> None:
    job, _ = dropped(client, ("house.yaml", b"design: 1\n"))
    answer = client.get(f"{job}0/site-sheet")
    assert answer.status_code == 409
    assert "the design has no loop to lay or set" in answer.text


def test_a_form_for_what_is_missing_is_put_into_its_design(client: TestClient) -> None:
    from checker.revisions.letters.wording import english
    from checker.revisions.missing import PLAIN, Asking, form_for
    from checker.revisions.revision import read
    from checker.revisions.rounds import content_digest
    from tests.revisions.filled import filled

    text = FULL.replace(b"    edge_strip: 8 mm\n", b"").replace(
        b"    pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}\n", b""
    )
    (sent,), _ = read([("a.yaml", text)])
    asking = Asking(3, "not named", "Test House", content_digest(sent))
    asked = form_for(sent, asking, PLAIN, english())
    assert asked is not None
    made = io.BytesIO()
    workbook(made, *asked[:2])
    curve = {"C6": 0, "D6": 60, "C7": 40, "D7": 10}
    answers = filled(made.getvalue(), {"Floors": {"C6": 8}, "Pump curves": curve})
    address, page = dropped(client, ("a.yaml", text), ("back.xlsx", answers))
    assert "form 3 for what is missing in" in page
    assert "2 answers are put into" in page
    design = client.get(f"{address}0/design").text
    assert "edge_strip: 8 mm" in design
    assert "[[0 l/min, 60 kPa], [40 l/min, 10 kPa]]" in design
    # Alone, or with another design, it is told what it is and what to do.
    for other in ((), (("b.yaml", FULL.replace(b"Test House", b"Other")),)):
        _, page = dropped(client, ("back.xlsx", answers), *other)
        assert "Drop that design together with it" in page
        assert "None of what was dropped" not in page
