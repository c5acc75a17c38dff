"""Workbooks that the program writes: texts stay texts, and equal content gives equal bytes."""

from __future__ import annotations

from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path


def workbook(file: IO[bytes] | Path, title: str = "", **options: Any) -> Any:
    """A new workbook; the caller closes it.

    No text in it ever becomes a formula, a link or a number, whatever it starts with. options: more
    of xlsxwriter's own.
    """
    from datetime import datetime

    import xlsxwriter

    made = xlsxwriter.Workbook(
        file,
        {
            "in_memory": True,
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            **options,
        },
    )
    made.set_properties({"created": datetime(2000, 1, 1), **({"title": title} if title else {})})
    return made
