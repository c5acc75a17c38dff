"""Asks git which files changed, and what they contained in a commit."""

from __future__ import annotations

import os

from msgspec import Struct

PLAIN = ("-c", "core.quotePath=false", "-c", "diff.relative=false", "-c", "diff.noprefix=false")
"""Options that return complete names from the root, whatever the user's own configuration says."""


class NoGit(Exception):
    """git cannot answer; the message is for the user."""

    def __init__(self, message: str, said: str = "") -> None:
        """said: git's own words, where it had any."""
        super().__init__(message)
        self.said = said


def ask(*words: str, folder: str = "") -> bytes:
    """Run git with these arguments.

    Args:
        *words: command and arguments.
        folder: where it runs; without one, the working directory.

    Returns:
        Its standard output.

    Raises:
        NoGit: git is not installed, or failed.
    """
    import subprocess

    try:
        done = subprocess.run(
            ["git", *PLAIN, *words], cwd=folder or None, capture_output=True, check=False
        )
    except OSError:
        why = "git is not installed, and it knows what changed"
        raise NoGit(why, why) from None
    if done.returncode:
        said = os.fsdecode(done.stderr).strip().splitlines()
        raise NoGit(f"git says: {said[0] if said else 'no reason'}", " ".join(said[:1]))
    return done.stdout


def names(answer: bytes) -> list[str]:
    """Split names that are separated by NUL.

    Args:
        answer: what git wrote with `-z`.

    Returns:
        Names as Python has file names; the empty one at the end is left out.
    """
    return [os.fsdecode(name) for name in answer.split(b"\0") if name]


def commit(ref: str, folder: str = "") -> str:
    """The full name of a commit.

    Args:
        ref: what the user calls it; `REF...` is where it and the present state diverged.
        folder: within the repository; without one, the working directory.

    Returns:
        The commit's name in hexadecimal digits.

    Raises:
        NoGit: there is no such commit, or no repository.
    """
    if ref.startswith("-"):
        raise NoGit(f"'{ref}' is not a commit")
    words = ["rev-parse", "--verify", "--end-of-options", f"{ref}^{{commit}}"]
    if ref.endswith("..."):
        words = ["merge-base", ref[:-3], "HEAD"]
    try:
        answer = ask(*words, folder=folder)
    except NoGit as error:
        if ref.endswith("...") and not error.said:
            raise NoGit(
                f"{ref[:-3]} and HEAD have no commit in common here; in a shallow clone, fetch "
                "more of the history"
            ) from None
        raise NoGit(f"{error} ({ref})") from None
    return answer.decode().strip()


def changed(ref: str, folder: str) -> list[str]:
    """What differs from a commit or is not tracked yet, deleted files included.

    Args:
        ref: the commit, as for `commit`.
        folder: the root of the repository.

    Returns:
        Absolute paths without links. A submodule that differs, also by files of its own, is given
        as its folder.

    Raises:
        NoGit: there is no such commit.
    """
    listed = ask("diff", "--name-only", "-z", "--ignore-submodules=none", "--no-renames",
               commit(ref, folder), "--", folder=folder)  # fmt: skip
    listed += ask("ls-files", "--others", "--exclude-standard", "-z", folder=folder)
    return [os.path.realpath(os.path.join(folder, name)) for name in names(listed)]


def ignored(folder: str) -> list[str]:
    """What git ignores, so that it cannot tell whether it differs.

    Args:
        folder: the root of the repository.

    Returns:
        Absolute paths without links; a folder that is ignored as a whole stands for all in it.

    Raises:
        NoGit: git cannot answer.
    """
    words = ("--others", "--ignored", "--exclude-standard", "--directory", "-z")
    listed = ask("ls-files", *words, folder=folder)
    return [os.path.realpath(os.path.join(folder, name)) for name in names(listed)]


def staged(folder: str) -> tuple[list[str], str]:
    """What the commit that is being made changes, or the range that a hook is asked about.

    Args:
        folder: the root of the repository.

    Returns:
        Absolute paths without links, deleted files included; and the commit before.

    Raises:
        NoGit: git cannot answer, or the range has no such commit.
    """
    # The hook framework names a range so, where it is no commit that is being made.
    ends = [os.environ.get(f"PRE_COMMIT_{end}_REF", "") for end in ("FROM", "TO")]
    between = [commit(one, folder) for one in ends] if all(ends) else ["--cached"]
    words = ("diff", "--name-only", "-z", "--ignore-submodules=none", "--no-renames", *between)
    listed = ask(*words, "--", folder=folder)
    before = between[0] if all(ends) else "HEAD"
    return [os.path.realpath(os.path.join(folder, name)) for name in names(listed)], before


def content_in(path: str, ref: str, folder: str) -> bytes:
    """The content of a file in a commit.

    Args:
        path: of the file, absolute.
        ref: the commit, as for `commit`.
        folder: the root of the repository.

    Returns:
        Its bytes; none where it or the commit did not exist yet.
    """
    name = os.path.relpath(path, os.path.realpath(folder)).replace(os.sep, "/")
    try:
        return ask("cat-file", "blob", f"{commit(ref, folder)}:{name}", folder=folder)
    except NoGit:
        return b""


class Blob(Struct, frozen=True):
    """A file of a commit.

    Attributes:
        path: from the root, with `/` between folders.
        digest: by which git knows its content.
        size: bytes.
    """

    path: str
    digest: str
    size: int


def files(ref: str, folder: str) -> dict[str, Blob]:
    """The plain files of a commit; links and submodules are left out.

    Args:
        ref: the commit, as for `commit`.
        folder: the root of the repository.

    Returns:
        By path from the root, with `/` between folders.

    Raises:
        NoGit: there is no such commit.
    """
    found = {}
    listed = ask("ls-tree", "-r", "-l", "-z", "--full-tree", commit(ref, folder), folder=folder)
    for line in names(listed):
        about, _, path = line.partition("\t")
        mode, kind, digest, size = about.split()
        if kind == "blob" and mode != "120000":
            found[path] = Blob(path, digest, int(size))
    return found


def content(blob: Blob, folder: str) -> bytes:
    """The content of a file of a commit.

    Args:
        blob: one of `files`.
        folder: within the repository.

    Returns:
        Its bytes.

    Raises:
        NoGit: git cannot answer.
    """
    return ask("cat-file", "blob", blob.digest, folder=folder)
