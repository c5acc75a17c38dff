"""The index of the rules that lies beside them, made of the rule files.

python -m tests.rulebook.rules_index > rules/README.md
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

import checker.quantities  # noqa: F401  # registers what rules may name
from checker.compute.meanings import Names
from checker.rulebook import catalogue
from checker.rulebook.book import Rulebook
from checker.rulebook.loading import load


def lines(book: Rulebook) -> Iterator[str]:
    """The index, line by line."""
    first, _, _, *table = catalogue.index(
        book, lambda rule: PurePosixPath(rule.path).relative_to("rules").as_posix()
    )
    yield first
    yield ""
    yield (
        f"Edition {book.edition}, {len(book.rules)} rules; [what changed](CHANGES.md). A rule is a "
        "file: its value, its limits with their sources, why, what to do, and examples that run as "
        "tests. `prescreed rules ID` tells one in full, `prescreed rules WORD` finds one, and "
        "`prescreed manual` makes a page of each, with a worked calculation. What the documents "
        "ask for, clause by clause, is in [coverage.yaml](coverage.yaml); the documents "
        "themselves in [sources.yaml](sources.yaml)."
    )
    yield from table
    yield from ("", "## Codes")
    yield from catalogue.codes(book)
    yield from catalogue.known(book)


if __name__ == "__main__":
    print("\n".join(lines(load(Names()))))
