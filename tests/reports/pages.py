"""HTML reports for tests: made as the command makes them, and taken apart."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

from checker.outcome.report import DesignReport
from checker.outcome.runs import Run, Totals
from checker.reports import FormatOptions, writer
from checker.run import batch
from tests.reports.samples import whole

CHOSEN = FormatOptions("html")
RUN = Run("edition", "sha256:" + "0" * 64)
VOID = {"meta", "link", "br", "input", "img", "hr"}


def judged(*designs: tuple[str, str]) -> list[DesignReport]:
    """Reports of designs given as (path, text), with what they state."""
    files = [(path, text.encode()) for path, text in designs]
    found, unreadable = batch.check(files, with_given=True)
    assert not unreadable, unreadable
    return found


def totals(reports: list[DesignReport]) -> Totals:
    """Their counts."""
    counts = Totals()
    for report in reports:
        counts.add(report)
    return counts


def html(*designs: tuple[str, str], manual: str = "") -> str:
    """The report on designs given as (path, text), in one file."""
    made: Any = writer(CHOSEN._replace(manual=manual))
    reports = judged(*designs)
    pieces = [made.piece(report) for report in reports]
    text: bytes = whole(made, pieces, totals(reports), run=RUN).text
    return text.decode()


class Page(HTMLParser):
    """A page's elements and words; an element that is not closed is a mistake."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == [], self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag == "br":
            self.words.append(" ")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag, tag

    def handle_data(self, data: str) -> None:
        if not {"script", "style"} & {*self.open}:
            self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """The attributes of every element of this name."""
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def text(self) -> str:
        """All words, spaces made alike."""
        return " ".join("".join(self.words).split())
