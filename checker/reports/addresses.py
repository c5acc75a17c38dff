"""The path of a design in its repository, as code hosts name files."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING
from urllib.parse import quote

from checker.reading.addresses import is_remote
from checker.reading.design_files import root_of

if TYPE_CHECKING:
    from checker.reports import FormatOptions


class Addresses:
    """Paths as code hosts name them, for one call.

    The folder of the call and the root of its repository come with the format, so that a worker in
    another folder names files in the same way.
    """

    def __init__(self, chosen: FormatOptions) -> None:
        self.folder = chosen.folder or os.getcwd()
        self.root = chosen.root or root_of(self.folder)

    def of(self, path: str) -> str:
        """The file's path from the root of its repository, with forward slashes.

        A symbolic link is followed where it stays inside, because hosts show no file at a link.

        Args:
            path: of the file, from the folder of the call; or an address (`https://…`).

        Returns:
            The path; for a file outside the repository of the call, from the root of its own. An
            address stays as it is.
        """
        if is_remote(path):
            return path
        whole = os.path.normpath(os.path.join(self.folder, path))
        root = self.root
        if not _inside(whole, root):
            root = root_of(os.path.dirname(whole))
        real, real_root = os.path.realpath(whole), os.path.realpath(root)
        if _inside(real, real_root):
            whole, root = real, real_root
        return os.path.relpath(whole, root).replace(os.sep, "/")

    def uri(self, path: str) -> str:
        """The file's path as a URI reference (RFC 3986).

        Args:
            path: as in `of`.

        Returns:
            What `of` returns with everything escaped; relative for a file.
        """
        return quote(self.of(path), safe=":/?=&%" if is_remote(path) else "/")


def _inside(path: str, folder: str) -> bool:
    return path.startswith(folder.rstrip(os.sep) + os.sep)
