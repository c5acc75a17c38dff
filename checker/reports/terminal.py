"""A page on a terminal: wrapped lines, some in colour."""

from __future__ import annotations

import io
import re
import textwrap
from typing import TYPE_CHECKING

from checker.words import visible

if TYPE_CHECKING:
    from rich.console import Console

INDENT = 13
"""Columns of the words at the beginning of a line."""
WIDEST = 110
"""Longest lines; longer ones are hard to read."""

_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=[^\s\d;,.(])")


class Page:
    """Lines with a limited number of columns."""

    def __init__(self, width: int, colour: bool) -> None:
        self.width = width
        self.stream = io.StringIO()
        self.console = _console(self.stream) if colour else None

    def _print(self, *parts: tuple[str, str]) -> None:
        """One line of these texts, each with its style."""
        shown = [(visible(text), style) for text, style in parts]
        whole = "".join(text for text, _ in shown)
        if self.console is None or visible(whole) != whole:
            # Parts that are nothing alone may make a command together.
            self.stream.write(visible(whole) + "\n")
            return
        from rich.text import Text

        self.console.print(Text.assemble(*shown))

    def line(self, text: str, style: str = "") -> None:
        """Add one line, however long it is.

        Args:
            text: the line; characters that control a terminal are replaced.
            style: as rich names it, such as `bold red`; empty for none.
        """
        self._print((text, style))

    def parts(self, *parts: tuple[str, str]) -> None:
        """Add one line of several styles.

        Args:
            *parts: at least two texts, each with its style. Where they are too long for the page,
                the last one is wrapped on lines below the others.
        """
        whole = "".join(text for text, _ in parts)
        if len(whole) <= self.width:
            self._print(*parts)
            return
        *heads, (last, style) = parts
        head = "".join(text for text, _ in heads)
        if len(head.rstrip()) <= self.width:
            *before, (text, own) = heads
            self._print(*before, (text.rstrip(), own))
        else:
            self.wrapped(head[len(heads[0][0]) :], first=heads[0][0], style=heads[-1][1])
        self.wrapped(last, style=style)

    def wrapped(
        self, text: str, first: str = " " * INDENT, more: str = "", style: str = ""
    ) -> None:
        """Add a paragraph; a number is never separated from its unit.

        Args:
            text: the paragraph, without line ends.
            first: what the first line begins with; the others are indented as far.
            more: what the others begin with besides.
            style: of all lines, as rich names it.
        """
        glued = _NUMBER_AND_UNIT.sub("\u00a0", visible(text))
        lines = textwrap.wrap(
            glued,
            self.width,
            initial_indent=first,
            subsequent_indent=" " * len(first) + more,
            break_long_words=True,
            break_on_hyphens=False,
        )
        for line in lines:
            self.line(line.replace("\u00a0", " "), style=style)

    def gap(self) -> None:
        """An empty line, unless the last one is empty."""
        written = self.stream.getvalue()
        if written and not written.endswith("\n\n"):
            self.line("")

    def bytes(self) -> bytes:
        """The whole page, as UTF-8."""
        return self.stream.getvalue().encode()


def _console(stream: io.StringIO) -> Console:
    """What turns styles into a terminal's colours; lines are wrapped before."""
    from rich.console import Console

    return Console(
        file=stream,
        width=10_000,
        force_terminal=True,
        color_system="standard",
        highlight=False,
        markup=False,
        emoji=False,
        soft_wrap=True,
    )
