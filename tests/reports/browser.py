"""A Chromium that is there, for tests that must see a page as its reader does."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NAMES = ("chromium", "chromium-browser", "google-chrome")


def binary() -> str | None:
    """Where Chromium is, None where there is none."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@contextmanager
def browser() -> Iterator[Browser]:
    """The browser, started for as long as it is needed."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # Containers that tests run in have no room for the browser's own sandbox.
        made = playwright.chromium.launch(executable_path=binary(), args=["--no-sandbox"])
        try:
            yield made
        finally:
            made.close()
