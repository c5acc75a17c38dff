"""The page in a real browser: drop, change, take away; without script, on a phone, by keyboard."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")
pytest.importorskip("playwright")

from tests.example import DESIGN
from tests.reports.browser import binary, browser

if binary() is None:
    pytest.skip("there is no Chromium here", allow_module_level=True)

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The page, served by the command itself in an empty folder that stays empty."""
    folder = tmp_path_factory.mktemp("empty")
    root = Path(__file__).parents[2]
    served = subprocess.Popen(
        [sys.executable, "-m", "checker", "open", "--no-browser"],
        cwd=folder, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(root)},
    )  # fmt: skip
    assert served.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+/\S+/", served.stdout.readline())
    assert found
    try:
        yield found[0]
    finally:
        served.send_signal(signal.SIGINT)
        assert served.wait(20) in (0, 130)
        assert list(folder.iterdir()) == []


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    with browser() as made:
        yield made


def put(folder: Path, name: str, text: str | bytes) -> str:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return str(path)


def check(page: Any, *files: str) -> None:
    page.set_input_files("#files", list(files))
    page.click("button[type=submit]")
    page.wait_for_selector("h1")


def axe(page: Any) -> list[str]:
    """What axe finds of WCAG 2.2 A and AA and of good practice."""
    spec = find_spec("axe_core_python")
    if spec is None or spec.origin is None:
        pytest.skip("axe is not installed")
    page.evaluate((Path(spec.origin).parent / "axe.min.js").read_text("utf-8"))
    found = page.evaluate("async () => await axe.run()")
    return [
        f"{one['id']}: {json.dumps([node['html'][:120] for node in one['nodes'][:3]])}"
        for one in found["violations"]
    ]


def test_drop_change_and_take_away(address: str, chromium: Any, tmp_path: Path) -> None:
    page = chromium.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda one: errors.append(one.text) if one.type == "error" else None)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    assert axe(page) == []
    check(page, put(tmp_path, "house.yaml", DESIGN))
    assert "house.yaml" in page.inner_text("main")
    assert axe(page) == []
    page.click("text=Change a value")
    page.select_option("#path", "loops.L1.length")
    page.fill("#value", "300 m")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Loop longer than its pipe can feed")
    assert axe(page) == []
    page.go_back()
    page.go_back()
    with page.expect_download() as download:
        page.click("text=Design file")
    assert Path(download.value.path()).read_text("utf-8") == DESIGN
    page.click("text=Report with pictures")
    page.wait_for_selector("svg")
    assert errors == []
    assert all(url.startswith((address.split("/", 3)[0], "data:")) for url in asked)
    assert {url.split("/")[2] for url in asked if url.startswith("http")} == {address.split("/")[2]}
    page.close()


def test_a_visit_is_written_down_on_a_phone(address: str, chromium: Any, tmp_path: Path) -> None:
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(address)
    check(page, put(tmp_path, "house.yaml", DESIGN))
    page.click("text=Visit after a complaint")
    page.wait_for_selector("form")
    assert axe(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    for folded in page.query_selector_all("details:not([open]) > summary"):
        folded.click()
    page.fill("[name='visit/0/on']", "2027-01-15")
    page.fill("[name='loops/0/loops.flow']", "1.4")
    with page.expect_download() as download:
        page.click("main form button[type=submit]")
    written = Path(download.value.path()).read_text("utf-8")
    assert "2027-01-15" in written
    assert "1.4" in written
    page.close()


def test_files_are_dropped_on_the_field(address: str, chromium: Any) -> None:
    page = chromium.new_page()
    page.goto(address)
    page.evaluate(
        """(text) => {
            const transfer = new DataTransfer();
            transfer.items.add(new File([text], "dropped.yaml"));
            document.querySelector(".drop").dispatchEvent(
                new DragEvent("drop", {dataTransfer: transfer, bubbles: true, cancelable: true}));
        }""",
        DESIGN,
    )
    page.wait_for_selector("text=dropped.yaml")
    page.close()


def test_without_script_and_by_keyboard_alone(address: str, chromium: Any, tmp_path: Path) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    page.keyboard.press("Tab")
    assert page.locator(":focus").inner_text() == "Skip to the content"
    page.set_input_files("#files", [put(tmp_path, "house.yaml", DESIGN)])
    page.focus("button[type=submit]")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Report with pictures")
    page.focus("text=Change a value")
    page.keyboard.press("Enter")
    page.wait_for_selector("#value")
    page.fill("#value", "44 °C")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Tried")
    context.close()


def test_on_a_phone_nothing_runs_over_the_side(address: str, chromium: Any, tmp_path: Path) -> None:
    context = chromium.new_context(viewport={"width": 360, "height": 740}, is_mobile=True)
    page = context.new_page()
    page.goto(address)
    files = [put(tmp_path, "a-very-long-name-of-a-house-that-somebody-sent-at-last.yaml", DESIGN),
             put(tmp_path, "loops.csv", "Loop;Room;Length [m]\nL1;hall;88\n")]  # fmt: skip
    check(page, *files)
    page.wait_for_selector("textarea")
    for _ in range(2):
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 360
        page.click("text=Change a value")
        page.wait_for_selector("#value")
    context.close()


def test_two_tabs_do_not_meet(address: str, chromium: Any, tmp_path: Path) -> None:
    first, second = chromium.new_page(), chromium.new_page()
    for page, name in ((first, "one.yaml"), (second, "two.yaml")):
        page.goto(address)
        check(page, put(tmp_path, name, DESIGN))
    first.reload()
    assert "one.yaml" in first.inner_text("main")
    assert "two.yaml" not in first.inner_text("main")
    assert "two.yaml" in second.inner_text("main")
    first.close()
    second.close()


def test_wrong_and_large_files_are_answered(address: str, chromium: Any, tmp_path: Path) -> None:
    page = chromium.new_page()
    page.goto(address)
    check(page, put(tmp_path, "photo.png", b"\x89PNG\r\n\x1a\n"))
    assert "neither a design nor a sheet" in page.inner_text("main").replace("\n", " ") or (
        "None of what was dropped" in page.inner_text("main")
    )
    row = b"L1;hall;88;" + b"x" * 989 + b"\n"
    page.goto(address)
    check(page, put(tmp_path, "large.csv", b"Loop;Room;Length [m];Note\n" + row * 30_000))
    said = page.inner_text("main")
    assert "may have" in said
    page.goto(address)
    check(page, put(tmp_path, "huge.csv", b"0" * (70 * 1024 * 1024)))
    assert "Drop fewer" in page.inner_text("main")
    page.close()


def test_in_the_dark_the_colours_hold(address: str, chromium: Any, tmp_path: Path) -> None:
    context = chromium.new_context(color_scheme="dark")
    page = context.new_page()
    page.goto(address)
    check(page, put(tmp_path, "house.yaml", DESIGN), put(tmp_path, "bad.yaml", "design: 1\nx: 1\n"))
    assert axe(page) == []
    context.close()
