"""Workbooks that the program writes: texts stay texts, and equal content gives equal bytes."""

from __future__ import annotations

from functools import cache
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path


@cache
def plain_sheet() -> Any:
    """A sheet whose formulas stand as they are written.

    The library looks in each for a hundred functions newer than the format of the file, to mark
    them: a millisecond for a formula of ours, which has none of them.
    """
    from xlsxwriter.worksheet import Worksheet

    class PlainSheet(Worksheet):  # type: ignore[misc]
        def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
            del expand_future_functions
            return formula.removeprefix("=")

    return PlainSheet


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
