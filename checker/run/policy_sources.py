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
        """A file's content.

        Args:
            path: absolute, or from the working directory.
            most: the bytes that it may have.

        Returns:
            None where there is no such file.

        Raises:
            OSError: it cannot be read, or is larger.
        """
        try:
            return bounded.content(path, most)
        except (FileNotFoundError, NotADirectoryError):
            return None

    def shown(self, path: str) -> str:
        """How reports name a file.

        Args:
            path: absolute, or from the working directory.

        Returns:
            From the working directory, with `/` between folders.
        """
        return os.path.relpath(path).replace(os.sep, "/")

    def pack(self, path: str, folder: str) -> str:
        """A path from which a firm's rules can be loaded.

        Args:
            path: of a folder or file of rules, absolute or from the working directory.
            folder: where files may be put that are not on the disk; removed by the caller.

        Returns:
            From the working directory, or in that folder.
        """
        return os.path.relpath(path)


class Commit(Source):
    """Files in a commit; raises NoGit."""

    def __init__(self, ref: str, root: str) -> None:
        """List the files of the commit.

        Args:
            ref: the commit, as for `git.commit`.
            root: the root of the repository, absolute.

        Raises:
            NoGit: there is no such commit.
        """
        self.ref = ref
        self.root = root
        self.files = git.files(ref, root)

    def read(self, path: str, most: int = bounded.LARGEST_FILE) -> bytes | None:
        """A file's content in the commit.

        Args:
            path: as for `Source.read`.
            most: the bytes that it may have.

        Returns:
            None where the commit has no such file.

        Raises:
            OSError: it is larger.
            NoGit: git cannot answer.
        """
        blob = self.files.get(self._name(path))
        if blob is None:
            return None
        if blob.size > most:
            raise bounded.too_large(most)
        return git.content(blob, self.root)

    def shown(self, path: str) -> str:
        """The commit as the user calls it, and the path from the root.

        Args:
            path: as for `Source.shown`.

        Returns:
            Such as `main:prescreed.yaml`.
        """
        return f"{self.ref}:{self._name(path)}"

    def pack(self, path: str, folder: str) -> str:
        """Write the rules of the commit into a folder.

        Args:
            path: of a folder or file of rules, absolute or from the working directory.
            folder: where they are put, under the same path as from the root.

        Returns:
            The path in that folder.

        Raises:
            BadPolicy: the commit has no such rules.
            NoGit: git cannot answer.
        """
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
