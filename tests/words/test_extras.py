"""What is said where an extra is not installed: from the source's folder, never from an index."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from checker.words.extras import needs

ROOT = Path(__file__).parents[2]
PAGES = (ROOT / "README.md", *sorted((ROOT / "checker").rglob("*.md")))
CODE = tuple(sorted((ROOT / "checker").rglob("*.py")))


def named() -> set[str]:
    """The extras that messages of the program and the pages of the manual name."""
    messages = r"\bneeds\(['\"](\w+)['\"]\)|the extra '(\w+)'"
    found = {
        one for file in CODE for pair in re.findall(messages, file.read_text()) for one in pair
    }
    pages = r"\bextra `(\w+)`|pip install '\.\[(\w+)\]'"
    found |= {one for file in PAGES for pair in re.findall(pages, file.read_text()) for one in pair}
    return found - {""}


def test_what_is_named_is_an_extra_of_the_program() -> None:
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"][
        "optional-dependencies"
    ]
    assert {"page", "manual", "drawing", "parquet", "remote", "cluster", "letters"} <= named()
    assert named() <= set(extras)


def test_nothing_is_installed_from_an_index_under_the_programs_name() -> None:
    from_index = r"pip install ['\"]?prescreed\b(?! @ )"
    assert [str(file) for file in (*PAGES, *CODE) if re.search(from_index, file.read_text())] == []


def test_the_message_says_what_to_type_and_where() -> None:
    assert needs("page").startswith("needs the extra 'page': pip install '.[page]' in the folder")
