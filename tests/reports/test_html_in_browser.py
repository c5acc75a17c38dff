"""The HTML report as a browser shows it: nothing fetched, nothing complained of, nothing cut off."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from checker.cli import main
from checker.reports.site_sheet import page as sheet_page
from tests.example import DESIGN
from tests.reports.browser import binary, browser
from tests.reports.golden import site_sheet
from tests.reports.hostile import HOSTILE
from tests.reports.pages import html
from tests.reports.test_html import INSTALLED, MISTAKES

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(
        binary() is None, reason="no Chromium is installed; the page cannot be looked at"
    ),
]

PAGES = {
    "one": [("mistakes.yaml", MISTAKES)],
    "several": [("a.yaml", MISTAKES), ("b.yaml", INSTALLED), ("c.yaml", DESIGN)],
    "hostile": [("<script>.yaml", HOSTILE), ("b.yaml", HOSTILE)],
}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as made:
        yield made


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    made = {}
    for name, designs in PAGES.items():
        made[name] = folder / f"{name}.html"
        made[name].write_text(html(*designs), "utf-8")
    (folder / "hostile.yaml").write_text(HOSTILE, "utf-8")
    made["sheet"] = folder / "sheet.html"
    sheets = site_sheet(str(folder / "hostile.yaml"))
    made["sheet"].write_bytes(b"".join(sheet_page(sheets)))
    return made


def opened(chromium: Browser, file: Path, width: int, scheme: str) -> tuple[Page, list[str]]:
    """The page, and whatever it said on the console or asked of the network."""
    context = chromium.new_context(
        viewport={"width": width, "height": 800},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page = context.new_page()
    heard: list[str] = []
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("dialog", lambda dialog: heard.append(dialog.message))
    page.on("request", lambda request: heard.append(request.url))
    page.goto(file.as_uri())
    heard.remove(file.as_uri())
    return page, heard


@pytest.mark.parametrize("name", [*PAGES, "sheet"])
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_nothing_is_fetched_said_or_wider_than_the_screen(
    chromium: Browser, files: dict[str, Path], name: str, width: int, scheme: str
) -> None:
    page, heard = opened(chromium, files[name], width, scheme)
    assert heard == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert "owned" not in page.title().split("document.title")[0]
    page.context.close()


def test_the_overview_sorts_and_filters(chromium: Browser, files: dict[str, Path]) -> None:
    page, heard = opened(chromium, files["several"], 1280, "light")
    first = "#designs tbody tr:first-child a"
    page.get_by_role("button", name="Design").click()
    assert page.inner_text(first) == "Orchard Row 3"
    page.get_by_role("button", name="Design").click()
    assert page.inner_text(first) == "Test House"
    page.get_by_role("button", name="Fails").click()
    assert page.inner_text(first) == "Orchard Row 3"
    fails = page.locator("#designs thead th", has_text="Fails")
    shown = (
        "getComputedStyle(document.querySelector('th[aria-sort=\"%s\"] button'), '::after').content"
    )
    # The greatest count stands first, so the counts descend.
    assert fails.get_attribute("aria-sort") == "descending"
    assert "▼" in page.evaluate(shown % "descending")
    page.get_by_role("button", name="Fails").click()
    assert fails.get_attribute("aria-sort") == "ascending"
    assert "▲" in page.evaluate(shown % "ascending")
    assert "↕" in page.evaluate(shown % "none")
    assert "Click a heading to sort by it" in page.inner_text(".overview")
    assert page.inner_text("output") == "3 of 3 shown"
    page.select_option("select[name=verdict]", "hold")
    assert page.inner_text("output") == "1 of 3 shown"
    page.select_option("select[name=verdict]", "")
    page.fill("input[name=name]", "row 4")
    assert page.inner_text("output") == "1 of 3 shown"
    page.fill("input[name=name]", "")
    page.select_option("select[name=rule]", "loop-length")
    assert page.inner_text("output") == "1 of 3 shown"
    assert heard == []
    page.context.close()


def crowded(loops: int) -> str:
    """An invented house of so many loops, twelve a header, with short and long names."""
    text = DESIGN[: DESIGN.index("rooms:")]
    names = [f"L{n}" if n % 5 else f"Wohnzimmer MIT GALERIE am Garten {n}" for n in range(loops)]
    headers = range(1, loops // 12 + 2)
    parts = ["rooms:"]
    parts += [
        f"  room of {name}: {{use: living, temperature: 20 °C, area: 14 m², heat_load: {500 + 37 * n % 400} W, covering: {{material: tile, resistance: 0.0{n % 9 + 1} m²·K/W}}}}"
        for n, name in enumerate(names)
    ]
    parts.append("headers:")
    parts += [
        f"  H{n}: {{ports: 12, bore: 25 mm, own_loss: 8 kPa, pump: {{curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}}}}"
        for n in headers
    ]
    parts.append("loops:")
    parts += [
        f"  {name}: {{header: H{n // 12 + 1}, port: {n % 12 + 1}, room: room of {name}, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: {6 + n % 9} m², length: {50 + 13 * n % 70} m, feeds: 8 m}}"
        for n, name in enumerate(names)
    ]
    return "\n".join([text + parts[0], *parts[1:], DESIGN[DESIGN.index("pressure_tests:") :]])


IN_ONE_ANOTHER = """() => {
  const amiss = [];
  for (const chart of document.querySelectorAll('svg.chart')) {
    const frame = chart.getBoundingClientRect();
    const texts = [...chart.querySelectorAll('text')].map(t => [t, t.getBoundingClientRect()]);
    texts.forEach(([text, box], place) => {
      if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.bottom > frame.bottom + 1)
        amiss.push('out: ' + text.textContent);
      for (const [other, its] of texts.slice(place + 1)) {
        // Letters have some air above and below them within their boxes.
        const high = Math.min(box.bottom, its.bottom) - Math.max(box.top, its.top);
        if (Math.min(box.right, its.right) > Math.max(box.left, its.left)
            && high > 0.3 * Math.min(box.height, its.height))
          amiss.push(text.textContent + ' / ' + other.textContent);
      }
    });
  }
  return amiss;
}"""


@pytest.mark.parametrize("loops", [3, 8, 100])
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark"), (794, "print")])
def test_no_words_of_a_chart_run_into_others(
    chromium: Browser, tmp_path: Path, loops: int, width: int, scheme: str
) -> None:
    file = tmp_path / "house.html"
    file.write_text(html(("house.yaml", crowded(loops))), "utf-8")
    page, heard = opened(chromium, file, width, scheme)
    if scheme == "print":
        page.emulate_media(media="print")
    page.add_style_tag(content=".design { content-visibility: visible !important; }")
    assert page.locator("svg.chart").count() >= 6
    assert page.evaluate(IN_ONE_ANOTHER) == []
    assert heard == []
    page.context.close()


JOBS = Path(__file__).parents[2] / "example_designs/past_jobs"


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_no_words_of_an_audit_run_into_others(
    chromium: Browser, tmp_path: Path, width: int, scheme: str
) -> None:
    file = tmp_path / "audit.html"
    call = ["audit", str(JOBS / "lantern-way-2-cold-bathroom"), "--complaint", "cold-room"]
    assert main([*call, "--format", "html", "--output", str(file)]) == 0
    page, heard = opened(chromium, file, width, scheme)
    assert page.locator("svg.chart").count() >= 6
    assert page.evaluate(IN_ONE_ANOTHER) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert heard == []
    page.context.close()


def test_letters_of_charts_are_readable_on_a_phone(
    chromium: Browser, files: dict[str, Path]
) -> None:
    page, _ = opened(chromium, files["one"], 390, "light")
    scale = page.evaluate(
        "() => { const c = document.querySelector('svg.chart');"
        " return c.getBoundingClientRect().width / c.viewBox.baseVal.width; }"
    )
    size = page.evaluate(
        "parseFloat(getComputedStyle(document.querySelector('svg.chart text')).fontSize)"
    )
    assert scale * size >= 11  # pixels; common practice, no source
    page.context.close()


def test_printing_a_hundred_loops_makes_no_huge_file(chromium: Browser, tmp_path: Path) -> None:
    file = tmp_path / "house.html"
    file.write_text(html(("house.yaml", crowded(100))), "utf-8")
    page, _ = opened(chromium, file, 1280, "light")
    # A pattern or a picture of points in a chart makes tens of megabytes of it.
    assert len(page.pdf(format="A4", print_background=True)) < 3_000_000
    page.context.close()


def contrast(first: tuple[float, ...], second: tuple[float, ...]) -> float:
    """Contrast of two colours, WCAG 2.1 (2018), definitions of contrast ratio and luminance."""

    def luminance(colour: tuple[float, ...]) -> float:
        parts = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_colour_of_letters_stands_out(
    chromium: Browser, files: dict[str, Path], scheme: str
) -> None:
    page, _ = opened(chromium, files["one"], 1280, scheme)
    names = ["paper", "card", "wash", "ink", "muted", "bad", "minor", "open", "review", "fine"]
    found = page.evaluate(
        "names => names.map(n => getComputedStyle(document.documentElement)"
        ".getPropertyValue('--' + n).trim())",
        names,
    )
    colours = {
        name: tuple(int(text[at : at + 2], 16) / 255 for at in (1, 3, 5))
        for name, text in zip(names, found, strict=True)
    }
    for letters in names[3:]:
        for ground in ("paper", "card", "wash"):
            # WCAG 2.1 (2018), success criterion 1.4.3: 4.5 to 1.
            assert contrast(colours[letters], colours[ground]) >= 4.5, (letters, ground)
    page.context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints(chromium: Browser, files: dict[str, Path], paper: str) -> None:
    page, heard = opened(chromium, files["one"], 1280, "dark")
    printed = page.pdf(format=paper)
    assert printed.startswith(b"%PDF")
    # A page broken after every card would make many more.
    assert 3 <= printed.count(b"/Type /Page\n") <= 8
    assert heard == []
    page.context.close()


def test_the_keyboard_reaches_what_can_be_used(chromium: Browser, files: dict[str, Path]) -> None:
    page, _ = opened(chromium, files["several"], 1280, "light")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    reached = set()
    for _ in range(12):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.tagName"))
    assert {"INPUT", "SELECT", "BUTTON"} <= reached
    page.context.close()
