"""Where a policy's files are read from: folders, or a commit."""

from __future__ import annotations

import os

from checker.reading import bounded
from checker.run import git


class BadPolicy(Exception):
    """A policy cannot be read; the message is for the user."""


class Source:
    """Files in folders."""

    def read(self, path: str, most: int = bounded.LARGEST_FILE) -> bytes | None:
        """A file's content, None where there is no such file; raises OSError."""
        try:
            return bounded.content(path, most)
        except (FileNotFoundError, NotADirectoryError):
            return None

    def shown(self, path: str) -> str:
        """How reports name the file."""
        return os.path.relpath(path).replace(os.sep, "/")

    def pack(self, path: str, folder: str) -> str:
        """A path from which the rules can be loaded."""
        return os.path.relpath(path)


class Commit(Source):
    """Files in a commit; raises NoGit."""

    def __init__(self, ref: str, root: str) -> None:
        self.ref = ref
        self.root = root
        self.files = git.files(ref, root)

    def read(self, path: str, most: int = bounded.LARGEST_FILE) -> bytes | None:
        blob = self.files.get(self._name(path))
        if blob is None:
            return None
        if blob.size > most:
            raise OSError(f"it has more than the {most:,} bytes that it may have")
        return git.content(blob, self.root)

    def shown(self, path: str) -> str:
        return f"{self.ref}:{self._name(path)}"

    def pack(self, path: str, folder: str) -> str:
        name = self._name(path)
        own = [one for one in self.files if one == name or one.startswith(f"{name}/")]
        made = os.path.join(folder, name)
        for one in own:
            target = os.path.join(folder, one)
            os.makedirs(os.path.dirname(target), exist_ok=True)
            with open(target, "wb") as file:
                file.write(git.content(self.files[one], self.root))
        if not own:
            raise BadPolicy(f"rules: there is no '{self.shown(path)}'")
        return made

    def _name(self, path: str) -> str:
        return os.path.relpath(path, self.root).replace(os.sep, "/")


DISK = Source()
