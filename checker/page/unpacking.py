"""Opens what was dropped, in memory and within limits: files, and zips of files."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterable, Iterator

LARGEST = 64 * 1024 * 1024
"""Largest upload, and largest unpacked content of a zip in it, in bytes."""
MOST_FILES = 300
"""Most files of an upload, those in its zips included."""
HIDDEN = ("__MACOSX/", ".")
"""How the names of files and folders begin that some systems add to a zip."""


class Refused(Exception):
    """An upload is not accepted; the message is for the user."""


def unpacked(dropped: Iterable[tuple[str, bytes]]) -> Iterator[tuple[str, bytes]]:
    """The dropped files, zips opened.

    Args:
        dropped: name and content of each file, as the browser sent them.

    Returns:
        Name and content of each file, one by one; names have no drive and no folder above. Hidden
        files in a zip are left out.

    Raises:
        Refused: they are too many or too large, or a zip is damaged or locked.
    """
    count = total = 0
    for name, data in dropped:
        inner = _of_zip(name, data) if name.lower().endswith(".zip") else [(name, data)]
        for own, content in inner:
            count, total = count + 1, total + len(content)
            if count > MOST_FILES or total > LARGEST:
                raise Refused(
                    f"That is more than the {MOST_FILES} files or {LARGEST // 2**20} MB that are "
                    "taken at once. Drop fewer."
                )
            yield _plain(own), content


def _of_zip(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    left = LARGEST
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = [p for p in archive.infolist() if not p.is_dir()]
            if len(parts) > MOST_FILES:
                raise Refused(
                    f"'{name}' holds {len(parts):,} files; at most {MOST_FILES} are allowed."
                )
            for part in parts:
                if any(step.startswith(HIDDEN) for step in part.filename.split("/")):
                    continue
                with archive.open(part) as stream:
                    content = stream.read(left + 1)
                left -= len(content)
                if left < 0:
                    raise Refused(f"'{name}' unpacks to more than {LARGEST // 2**20} MB.")
                yield part.filename, content
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError):
        raise Refused(f"'{name}' is damaged or locked, and was not opened.") from None


def _plain(name: str) -> str:
    """A file name without drives, folders above, or invisible characters."""
    steps = [s for s in name.replace("\\", "/").split("/") if s not in ("", ".", "..")]
    text = "/".join(steps)[-200:] or "file"
    return "".join(sign if sign.isprintable() and sign != ":" else "_" for sign in text)
