"""Fills in the page's templates; each answer carries its own style and script."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from pathlib import Path
from typing import Any

from starlette.responses import HTMLResponse

from checker.page.unpacking import LARGEST, MOST_FILES
from checker.words.templates import templates


@cache
def _environment() -> Any:
    made = templates("checker.page")
    folder = Path(__file__).parent / "templates"
    script = (folder / "page.js").read_text("utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    made.globals.update(
        style=(folder / "page.css").read_text("utf-8"), script=script, digest=digest,
        largest=LARGEST // 2**20, most=MOST_FILES,
    )  # fmt: skip
    return made


def shown(template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page made from a template.

    Args:
        template: its file among the page's templates.
        status: of HTTP.
        **values: what the template shows; all that it names must be there.

    Returns:
        The answer.
    """
    return HTMLResponse(_environment().get_template(template).render(**values), status)


def said(status: int, words: str, back: str = "") -> HTMLResponse:
    """A page that says why a request was not taken.

    Args:
        status: of HTTP.
        words: the reason, and what to do instead.
        back: the address of a link back; empty for none.

    Returns:
        The answer.
    """
    return shown("said.html", status, words=words, back=back, title="Not taken")
