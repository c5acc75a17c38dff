"""The manual: every page, every link, search without a server, recipes and examples that work."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import chdir
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
import yaml

from checker.cli import COMMANDS, main
from checker.manual import writing
from checker.run import rules_in_force
from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling
from tests.reports.browser import binary, browser

ROOT = Path(__file__).parents[1]
PAGES = ROOT / "checker" / "manual" / "pages"


@pytest.fixture(name="site", scope="module")
def _site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("sphinx", reason="there is no Sphinx to make the manual with")
    pytest.importorskip("myst_parser", reason="there is no MyST to make the manual with")
    folder = tmp_path_factory.mktemp("manual") / "site"
    with chdir(folder.parent):
        assert main(["manual", "--output", str(folder)]) == 0
    return folder


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value for name, value in attrs if name in ("href", "src") and value]


def _links(page: Path) -> Iterator[str]:
    links = _Links()
    links.feed(page.read_text("utf-8"))
    yield from links.found


@pytest.mark.long
def test_every_rule_and_every_command_has_its_place(site: Path) -> None:
    for rule in rules_in_force.rulebook().rules:
        text = (site / "rules" / f"{rule.id}.html").read_text("utf-8")
        assert f"<h1>{rule.id}" in text
    commands = (site / "commands.html").read_text("utf-8")
    assert all(f"usage: prescreed {name}" in commands for name in COMMANDS)
    assert "A worked calculation" in (site / "rules" / "loop-length.html").read_text("utf-8")


def test_every_link_of_the_written_pages_leads_somewhere_in_the_repository() -> None:
    written = [ROOT / "README.md", ROOT / "rules" / "README.md", *PAGES.glob("*.md")]
    links = [(page, link) for page in written
             for link in re.findall(r"\]\(([^)#\s]+)", page.read_text("utf-8"))]  # fmt: skip
    own = [(page, link) for page, link in links if not urlsplit(link).scheme]
    assert {page for page, _ in own} > {ROOT / "README.md", PAGES / "packs.md"}
    assert [(page.name, link) for page, link in own if not (page.parent / link).exists()] == []


def test_links_to_files_of_the_repository_lead_to_the_manuals_own_pages() -> None:
    linked = {link for page in PAGES.glob("*.md")
              for link in re.findall(r"\]\(\.\./\.\./\.\./([^)#]+)", page.read_text("utf-8"))}  # fmt: skip
    assert linked == set(writing.IN_THE_MANUAL)


@pytest.mark.long
def test_every_link_within_the_manual_leads_somewhere(site: Path) -> None:
    broken = []
    for page in site.rglob("*.html"):
        for link in _links(page):
            parts = urlsplit(link)
            if parts.scheme or parts.netloc or not parts.path:
                continue
            if not (page.parent / unquote(parts.path)).exists():
                broken.append(f"{page.relative_to(site)}: {link}")
    assert broken == []


@pytest.mark.long
def test_it_is_searched_from_its_files_alone(site: Path) -> None:
    if binary() is None:
        pytest.skip("there is no browser to look at the manual with")
    with browser() as chromium:
        page = chromium.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto((site / "search.html").as_uri() + "?q=screed")
        page.wait_for_selector("#search-results li")
        assert page.locator("#search-results li").count() > 3
    assert [url for url in asked if not url.startswith("file:")] == []


def test_a_folder_that_holds_something_is_left_alone(call: Calling) -> None:
    put("site/mine.txt", "mine")
    done = call("manual", "--output", "site")
    assert done.status == 2
    assert "name a new or empty folder" in done.err
    assert [path.name for path in Path("site").iterdir()] == ["mine.txt"]


def blocks(page: str, language: str) -> list[str]:
    text = (PAGES / f"{page}.md").read_text("utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.S | re.M)


@pytest.mark.parametrize("number", range(1, 4))
def test_the_librarys_examples_run(number: int) -> None:
    code = blocks("library", "python")[number]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


def test_the_pack_of_the_manual_can_be_used(call: Calling) -> None:
    rule, sources = blocks("packs", "yaml")
    put("pack/our-loop-length.yaml", rule)
    put("pack/sources.yaml", sources)
    done = call("pack-check", "pack")
    assert (done.status, done.err) == (0, "")


@pytest.mark.long
def test_the_recipes_are_yaml_and_name_a_commit(site: Path) -> None:
    recipes = [text for text in blocks("ci", "yaml") if "prescreed.git" in text]
    assert len(recipes) == 3
    for text in recipes:
        assert yaml.safe_load(text)
        assert "COMMIT" in text
    if shutil.which("git") and (ROOT / ".git").exists():
        done = subprocess.run(
            ["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
        )
        assert done.stdout.strip() in (site / "ci.html").read_text("utf-8")
