"""The picture of a page that README shows, made again in the Chromium that is installed.

python -m tests.reports.picture
"""

from __future__ import annotations

from tests.reports.browser import browser
from tests.reports.golden import EXAMPLES
from tests.reports.pages import html

PICTURE = EXAMPLES / "page-of-orchard-row-3.png"
WIDTH, HEIGHT = 1100, 800


def main() -> None:
    """Write it."""
    design = EXAMPLES / "orchard-row-3-eight-mistakes.yaml"
    page = html((f"example_designs/{design.name}", design.read_text("utf-8")))
    with browser() as opened:
        view = opened.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        view.set_content(page)
        view.screenshot(path=str(PICTURE), clip={"x": 0, "y": 0, "width": WIDTH, "height": HEIGHT})


if __name__ == "__main__":
    main()
