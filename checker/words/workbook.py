"""Workbooks that the program writes: texts stay texts, and equal content gives equal bytes."""

from __future__ import annotations

from functools import cache, lru_cache
from io import BytesIO
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

MOST_KNOWN = 100
"""Most parts of workbooks that are kept for workbooks with the same parts."""
SMALL = 16_384
"""Parts larger than this, in bytes, are not kept."""


@cache
def plain_sheet() -> Any:
    """A class of sheets whose formulas are written as they are.

    The library looks in each formula for a hundred functions newer than the file format, to mark
    them; that takes a millisecond, and the program's formulas have none. Texts, numbers and
    formatted empty cells are written directly, as the library would write them.
    """
    from xlsxwriter.utility import xl_rowcol_to_cell_fast
    from xlsxwriter.worksheet import (
        CellBlankTuple,
        CellNumberTuple,
        CellStringTuple,
        Worksheet,
    )

    plain_cells = (CellStringTuple, CellNumberTuple, CellBlankTuple)

    class PlainSheet(Worksheet):  # type: ignore[misc]
        def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
            del expand_future_functions
            return formula.removeprefix("=")

        # Rows and columns are always given as numbers here; the library looks at each call
        # whether a cell was named instead.
        write_string = Worksheet._write_string
        write_number = Worksheet._write_number
        write_blank = Worksheet._write_blank

        def _write_cell(self, row: int, col: int, cell: Any) -> None:
            looks = cell.format
            if looks is None or not isinstance(cell, plain_cells):
                super()._write_cell(row, col, cell)
                return
            start = f'<c r="{xl_rowcol_to_cell_fast(row, col)}" s="{looks._get_xf_index()}"'
            if isinstance(cell, CellStringTuple):
                self.fh.write(f'{start} t="s"><v>{cell.string}</v></c>')
            elif isinstance(cell, CellNumberTuple):
                self.fh.write(f"{start}><v>{cell.number:.16G}</v></c>")
            else:
                self.fh.write(f"{start}/>")

    return PlainSheet


@lru_cache(MOST_KNOWN)
def _deflated(content: bytes) -> tuple[int, bytes]:
    """A part's checksum, and the part as an archive holds it."""
    import zlib

    deflating = zlib.compressobj(wbits=-zlib.MAX_WBITS)
    return zlib.crc32(content), deflating.compress(content) + deflating.flush()


def _zipped(file: IO[bytes] | Path, parts: list[tuple[str, bytes]]) -> None:
    """Write an archive of these parts; parts that many archives have are compressed once."""
    from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

    with ZipFile(file, "w", ZIP_DEFLATED) as archive:
        assert archive.fp is not None
        for name, content in parts:
            one = ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            one.compress_type = ZIP_DEFLATED
            one.external_attr = 0o600 << 16
            small = len(content) <= SMALL
            one.CRC, deflated = (_deflated if small else _deflated.__wrapped__)(content)
            one.file_size, one.compress_size = len(content), len(deflated)
            one.header_offset = archive.fp.tell()
            archive.fp.write(one.FileHeader(False) + deflated)
            archive.filelist.append(one)
            archive.NameToInfo[name] = one
        archive.start_dir = archive.fp.tell()
        archive._didModify = True  # type: ignore[attr-defined]


@cache
def _book() -> Any:
    """A class of workbooks that makes parts which are the same in many workbooks only once."""
    import xlsxwriter
    from xlsxwriter.packager import Packager

    known: dict[tuple[object, ...], list[tuple[str, str]]] = {}

    class Parts(Packager):  # type: ignore[misc]
        def once(self, key: tuple[object, ...], write: Callable[[], None]) -> None:
            """Write a part that its key fully determines, or reuse it as it was written before."""
            if key in known:
                for name, text in known[key]:
                    self._filename(name).write(text)
                return
            before = len(self.filenames)
            write()
            if len(known) < MOST_KNOWN:
                known[key] = [(name, file.getvalue()) for file, name, _ in self.filenames[before:]]

        def notes(self) -> Iterator[str]:
            """All that comments are, and where, sheet by sheet."""
            for sheet in self.workbook.worksheets():
                yield f"{sheet.vml_data_id} {sheet.vml_shape_id}"
                yield from (str(vars(one)) for one in sheet.comments_list)

        def _write_styles_file(self) -> None:
            made = self.workbook
            looks = (one._get_format_key() for one in made.xf_formats)
            key = (made.dxf_formats == [], made.has_comments, *made.custom_colors, *looks)
            self.once(("styles", *key), super()._write_styles_file)

        def _write_vml_files(self) -> None:
            self.once(("vml", *self.notes()), super()._write_vml_files)

        def _write_comment_files(self) -> None:
            self.once(("comments", *self.notes()), super()._write_comment_files)

        def _create_package(self) -> list[Any]:
            made = super()._create_package()
            self.workbook.parts = [
                (name, file.getvalue() if is_binary else file.getvalue().encode())
                for file, name, is_binary in made
            ]
            return []

    class Book(xlsxwriter.Workbook):  # type: ignore[misc]
        parts: list[tuple[str, bytes]]
        filename: Any

        def _get_packager(self) -> Any:
            return Parts()

        def _store_workbook(self) -> None:
            file, self.filename = self.filename, BytesIO()
            super()._store_workbook()  # of no parts: they are zipped here
            self.filename = file
            _zipped(file, self.parts)

    return Book


@cache
def list_sheet() -> Any:
    """A class of sheets with a line of headings and many lines below without formats.

    Its `lines` are written directly: as the library's cells, each an object, they would take six
    times as long.
    """
    from xlsxwriter.utility import xl_col_to_name
    from xlsxwriter.worksheet import Worksheet

    class ListSheet(Worksheet):  # type: ignore[misc]
        _lines = ""
        _headings = 0
        dim_rowmax: int

        def lines(self, rows: Sequence[Sequence[str | int]]) -> None:
            """Whole numbers and texts, line by line below what was written, once."""
            shared = self.str_table._get_shared_string_index
            columns = [xl_col_to_name(n) for n in range(max(map(len, rows), default=0))]
            made = []
            self._headings = self.dim_rowmax
            for number, row in enumerate(rows, self.dim_rowmax + 2):
                made.append(f'<row r="{number}">')
                made += [
                    f'<c r="{column}{number}"><v>{value}</v></c>'
                    if isinstance(value, int)
                    else f'<c r="{column}{number}" t="s"><v>{shared(value)}</v></c>'
                    for column, value in zip(columns, row, strict=False)
                ]
                made.append("</row>")
            self._lines = "".join(made)
            if rows:
                self._check_dimensions(self.dim_rowmax + len(rows), len(columns) - 1)

        def _write_rows(self) -> None:
            last, self.dim_rowmax = self.dim_rowmax, self._headings
            super()._write_rows()
            self.dim_rowmax = last
            self.fh.write(self._lines)

    return ListSheet


def workbook(file: IO[bytes] | Path, title: str = "", **options: Any) -> Any:
    """A new workbook; the caller closes it.

    No text in it ever becomes a formula, a link or a number, whatever it starts with.

    Args:
        file: where it is written when it is closed: a path, or a binary stream.
        title: the title in its properties; empty for none.
        **options: further options of xlsxwriter.

    Returns:
        An xlsxwriter workbook, dated the same day whenever it is made.
    """
    from datetime import datetime

    made = _book()(
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
