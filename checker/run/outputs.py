"""Writes reports to standard output, or to files that appear whole or not at all."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator, Sequence
from types import TracebackType
from typing import IO, TYPE_CHECKING, Any, cast, overload

from checker.outcome.runs import Run, Totals
from checker.reading.design_files import root_of
from checker.reading.mistakes import Unreadable
from checker.reports import (
    Completing,
    FormatOptions,
    MultiPage,
    NotInstalled,
    WholeReport,
    Writer,
    gathers,
    writer,
)
from checker.run.writer import (
    STANDARD_OUTPUT,
    Log,
    Staged,
    Unwritable,
    folder_of,
    is_folder,
    put_all,
    refuse_overwriting,
    unwritable,
)

if TYPE_CHECKING:
    from checker.run.batch import Piece


ENDINGS = {
    ".html": "html", ".htm": "html", ".json": "json", ".csv": "csv", ".md": "markdown",
    ".sarif": "sarif", ".xml": "junit", ".parquet": "parquet", ".txt": "text",
}  # fmt: skip
"""The format for a file's ending, where no --format names another."""


def pair_up(given: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Pair formats with files.

    An --output belongs to the --format before it; one before every --format belongs to the first.
    One without any is written in the format of its ending, else as text.

    Args:
        given: option and value, in the order of the call.

    Returns:
        Format and file, in the order of the call; `-` for standard output. At least one pair.

    Raises:
        Unwritable: an output has no format left, or two reports would go to the same place.
    """
    pairs: list[list[str | None]] = []
    for option, value in given:
        if option == "format":
            if pairs and pairs[-1][0] is None:
                pairs[-1][0] = value
            else:
                pairs.append([value, None])
        elif pairs and pairs[-1][1] is None:
            pairs[-1][1] = value
        else:
            pairs.append([None, value])
    for pair in pairs:
        if pair[0] is None and pair[1] is not None:
            pair[0] = ENDINGS.get(os.path.splitext(pair[1])[1].lower())
    if len(pairs) > 1 and any(name is None for name, _ in pairs):
        raise Unwritable("--output: there are more outputs than formats; give each its --format")
    whole = [(name or "text", file or STANDARD_OUTPUT) for name, file in pairs]
    whole = whole or [("text", STANDARD_OUTPUT)]
    files = [file for _, file in whole]
    for file in files:
        if files.count(file) > 1:
            where = "standard output" if file == STANDARD_OUTPUT else f"'{file}'"
            raise Unwritable(f"--output: two reports cannot both go to {where}")
    return whole


IN_MEMORY = 1_000_000
"""Up to this many bytes of pieces are kept in memory: a call of a few designs."""


class Pieces(Sequence[bytes]):
    """Pieces for a format that needs all of them: the first in memory, the rest in a temporary
    file.
    """

    def __init__(self, beside: str) -> None:
        """Begin without any piece.

        Args:
            beside: the output, in whose folder there is most likely room for a temporary file.
        """
        self._beside = beside
        self._first: list[bytes] = []
        self._room = IN_MEMORY
        self._file: IO[bytes] | None = None
        self._ends = [0]

    def add(self, piece: Piece) -> None:
        """Keep one more piece.

        Args:
            piece: of the next design; copied.

        Raises:
            OSError: there is no room for it.
        """
        self._room -= len(piece)
        if self._room >= 0:
            self._first.append(bytes(piece))
            return
        import lz4.block

        if self._file is None:
            import tempfile

            self._file = tempfile.TemporaryFile(  # noqa: SIM115  # gone with the run
                dir=folder_of(self._beside)
            )
        packed = lz4.block.compress(piece)
        self._file.seek(self._ends[-1])  # some may have been read since
        self._file.write(packed)
        self._ends.append(self._ends[-1] + len(packed))

    def __len__(self) -> int:
        return len(self._first) + len(self._ends) - 1

    @overload
    def __getitem__(self, index: int) -> bytes: ...
    @overload
    def __getitem__(self, index: slice) -> list[bytes]: ...
    def __getitem__(self, index: int | slice) -> bytes | list[bytes]:
        """The piece, or the pieces, read back; raises OSError."""
        if isinstance(index, slice):
            return [self[number] for number in range(*index.indices(len(self)))]
        index += len(self) if index < 0 else 0
        if index < len(self._first):
            return self._first[index]
        import lz4.block

        index -= len(self._first)
        start, end = self._ends[index : index + 2]  # raises ValueError beyond the last
        assert self._file is not None
        self._file.seek(start)
        piece: bytes = lz4.block.decompress(self._file.read(end - start))
        return piece

    def __iter__(self) -> Iterator[bytes]:
        return map(self.__getitem__, range(len(self)))


class Outputs:
    """The reports of one run, while they are written."""

    def __init__(
        self,
        pairs: list[tuple[str, str]],
        guard: str = "",
        look: dict[str, Any] | None = None,
        inputs: Sequence[str] = (),
    ) -> None:
        """Open every output; nothing appears in its place yet.

        Args:
            pairs: format and file, as `pair_up` returns them.
            guard: an unpredictable word; the text report is enclosed in commands with this name, so
                that a host that reads commands in a log takes none from a design. Empty for none.
            look: options of the call about how formats look, by their names in FormatOptions.
            inputs: files that must not be overwritten.

        Raises:
            Unwritable: a format is not installed, or an output cannot be written, or would
                overwrite what must not be lost.
        """
        self.guard = guard
        self.files = [file for _, file in pairs]
        self.formats = [format_options(name, file, look or {}) for name, file in pairs]
        self.writers: list[Writer] = [writer(chosen) for chosen in self.formats]
        self.started = [False] * len(pairs)
        self.gathered: dict[int, Pieces] = {
            number: Pieces(self.files[number])
            for number, made in enumerate(self.writers)
            if gathers(made)
        }
        self.run = Run("", "")
        self.log: list[str] = []
        self.streams: list[Any] = []
        try:
            for file, made in zip(self.files, self.writers, strict=True):
                refuse_overwriting(file, inputs)
                self.streams.append(_opened(file, isinstance(made, MultiPage)))
        except Unwritable:
            self._forget()
            raise

    def __enter__(self) -> Outputs:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._forget()

    @property
    def shows_text(self) -> bool:
        """Whether the text report goes to the terminal."""
        return any(
            chosen.name == "text" and file == STANDARD_OUTPUT
            for chosen, file in zip(self.formats, self.files, strict=True)
        )

    def head(self, run: Run) -> None:
        """Write what comes before the first design.

        Args:
            run: what is known at its beginning.

        Raises:
            Unwritable: a file cannot be written.
        """
        self.run = run
        if self.guard:
            sys.stdout.buffer.write(f"::stop-commands::{self.guard}\n".encode())
        for number, made in enumerate(self.writers):
            self._write(number, made.head(run))

    def add(self, pieces: list[list[Piece]]) -> None:
        """Write the next designs.

        Args:
            pieces: for each format, in the order of `pairs`, those of the designs.

        Raises:
            Unwritable: a file cannot be written.
        """
        for number, own in enumerate(pieces):
            made = self.writers[number]
            for piece in own:
                if number in self.gathered:
                    self._keep(number, piece)
                    continue
                if not piece:
                    continue
                if self.started[number]:
                    self._write(number, made.separator)
                if isinstance(made, Completing):
                    piece = made.with_run(bytes(piece), self.run)
                self._write(number, piece)
                self.started[number] = True
            if self.files[number] == STANDARD_OUTPUT:
                self.streams[number].flush()

    def finish(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> None:
        """Write what comes after the last design, and put each file in its place.

        Args:
            run: with what is known at its end.
            totals: the counts of all designs.
            unreadable: every mistake because of which a file could not be judged.

        Raises:
            Unwritable: a file cannot be written.
        """
        self.run = run
        for number, (stream, made) in enumerate(zip(self.streams, self.writers, strict=True)):
            if number in self.gathered:
                gatherer = cast(WholeReport, made)
                if is_folder(self.files[number]) and isinstance(made, MultiPage):
                    pages = made.pages(self.run, self.gathered[number], totals, unreadable)
                    put_all(self.files[number], pages)
                    continue
                whole = gatherer.whole(self.run, self.gathered[number], totals, unreadable)
                self.log += whole.log
                # The host takes commands again for those that are meant for it, and no sooner.
                meant = self.formats[number].name == "annotations"
                if self.guard and meant and isinstance(stream, Log):
                    self._write(number, f"::{self.guard}::\n".encode())
                for part in whole.parts:
                    self._write(number, part)
            else:
                self._write(number, made.tail(run, totals, unreadable))
            self._flush(number)
        for stream in self.streams:
            if isinstance(stream, Staged):
                stream.place()

    def _keep(self, number: int, piece: Piece) -> None:
        try:
            self.gathered[number].add(piece)
        except OSError as error:
            raise unwritable(self.files[number], error) from None

    def _write(self, number: int, data: Piece) -> None:
        try:
            self.streams[number].write(data)
        except OSError as error:
            raise unwritable(self.files[number], error) from None

    def _flush(self, number: int) -> None:
        try:
            self.streams[number].flush()
        except OSError as error:
            raise unwritable(self.files[number], error) from None

    def _forget(self) -> None:
        """Remove what was not finished."""
        for stream in self.streams:
            if isinstance(stream, Staged):
                stream.forget()


def _opened(file: str, foldable: bool) -> Any:
    """What takes a report: standard output, a file being written, or nothing yet for a folder."""
    if file == STANDARD_OUTPUT:
        return Log()
    if is_folder(file) and foldable:
        return io.BytesIO()  # takes what comes before the pages, which is nothing
    return Staged(file)


def format_options(name: str, file: str, look: dict[str, Any]) -> FormatOptions:
    """A format with what it needs to know about its reader and the place of the call.

    Args:
        name: the format.
        file: where it goes; `-` for standard output.
        look: options of the call about how formats look, by their names in FormatOptions.

    Returns:
        With the folder of the call only for a format that names files from the root of the
        repository.

    Raises:
        Unwritable: a package that the format needs is not installed.
    """
    chosen = FormatOptions(name, *width_and_colour(file), **look)
    try:
        made = writer(chosen)
    except NotInstalled as missing:
        raise Unwritable(f"--format {missing}") from None
    if getattr(made, "names_from_root", False):
        folder = os.getcwd()
        chosen = chosen._replace(folder=folder, root=root_of(folder))
    return chosen


def width_and_colour(file: str) -> tuple[int, bool]:
    """How text is laid out for the reader of an output.

    Args:
        file: where it goes; `-` for standard output.

    Returns:
        The width of a line in characters (of a terminal its own, 80 where that is unknown, 100 in a
        file), and whether colours are shown.
    """
    if file != STANDARD_OUTPUT:
        return 100, False
    columns = 80
    if sys.stdout.isatty() or os.environ.get("COLUMNS"):  # else nobody knows
        from shutil import get_terminal_size

        columns = get_terminal_size((80, 24)).columns
    terminal = sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
    if os.environ.get("NO_COLOR"):
        return columns, False
    forced = os.environ.get("FORCE_COLOR", "") not in ("", "0")
    return columns, terminal or forced
