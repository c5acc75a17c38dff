"""Makes a site of plain files from the manual's pages: Sphinx with MyST, searchable without a
server.

Sphinx loads its search index as a script, so that search works from `file://` too; generators that
fetch their index cannot.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path

from checker.words.extras import needs

CONFIGURATION = """\
project = "prescreed"
author = ""
copyright = ""
extensions = ["myst_parser"]
html_theme = "alabaster"
html_theme_options = {
    "description": "The manual",
    "page_width": "1000px",
    "sidebar_includehidden": False,
    "sidebar_width": "240px",
}
html_show_copyright = False
html_show_sphinx = False
html_show_sourcelink = False
html_copy_source = False
html_show_search_summary = False  # a summary is fetched, which a browser refuses for a file
html_static_path = ["_own"]
html_sidebars = {"**": ["about.html", "searchbox.html", "navigation.html"]}
myst_heading_anchors = 3
suppress_warnings = ["myst.header", "misc.highlighting_failure"]
"""


STYLE = Path(__file__).with_name("site.css")
"""The theme loads a style sheet of this content as its last, `custom.css`."""


class NotBuilt(Exception):
    """The site could not be made; the message says why."""


def build(pages: Iterable[tuple[str, str]], source: Path, output: Path) -> list[str]:
    """Write the pages and make the site.

    Args:
        pages: each page's name and its Markdown.
        source: the folder for the pages.
        output: the folder for the site.

    Returns:
        The generator's warnings.

    Raises:
        NotBuilt: the generator is missing or fails.
    """
    try:
        from sphinx.application import Sphinx
        from sphinx.errors import SphinxError
    except ImportError:
        raise NotBuilt(f"the manual {needs('manual')}") from None
    for name, text in pages:
        file = source / f"{name}.md"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
    (source / "conf.py").write_text(CONFIGURATION, "utf-8")
    (source / "_own").mkdir(exist_ok=True)
    (source / "_own" / "custom.css").write_bytes(STYLE.read_bytes())
    warnings = io.StringIO()
    try:
        made = Sphinx(
            source,
            source,
            output,
            source / ".doctrees",
            "html",
            status=None,
            warning=warnings,
            freshenv=True,
        )
        made.build(force_all=True)
    except (SphinxError, ImportError) as error:
        raise NotBuilt(f"the manual cannot be made: {error}") from None
    return warnings.getvalue().splitlines()
