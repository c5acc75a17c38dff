"""Asks git which files changed, and what they contained in a commit."""

from __future__ import annotations

import os

from msgspec import Struct

PLAIN = ("-c", "core.quotePath=false", "-c", "diff.relative=false", "-c", "diff.noprefix=false")
"""Options that return complete names from the root, whatever the user's own configuration says."""


class NoGit(Exception):
    """git cannot answer; the message is for the user."""


def ask(*words: str, folder: str = "") -> bytes:
    """Run git with these arguments; raises NoGit."""
    import subprocess

    try:
        done = subprocess.run(
            ["git", *PLAIN, *words], cwd=folder or None, capture_output=True, check=False
        )
    except OSError:
        raise NoGit("git is not installed, and it knows what changed") from None
    if done.returncode:
        said = os.fsdecode(done.stderr).strip().splitlines()
        raise NoGit(f"git says: {said[0] if said else 'no reason'}")
    return done.stdout


def names(answer: bytes) -> list[str]:
    """Split names that are separated by NUL."""
    return [os.fsdecode(name) for name in answer.split(b"\0") if name]


def commit(ref: str, folder: str = "") -> str:
    """The full name of a commit; `REF...` is where it and the present state diverged; raises
    NoGit.
    """
    if ref.startswith("-"):
        raise NoGit(f"'{ref}' is not a commit")
    words = ["rev-parse", "--verify", "--end-of-options", f"{ref}^{{commit}}"]
    if ref.endswith("..."):
        words = ["merge-base", ref[:-3], "HEAD"]
    try:
        answer = ask(*words, folder=folder)
    except NoGit as error:
        raise NoGit(f"{error} ({ref})") from None
    return answer.decode().strip()


def changed(ref: str, folder: str) -> list[str]:
    """What differs from a commit or is not tracked yet, as absolute paths; folder: the root.

    A submodule that differs, also by files of its own, is given as its folder; deleted files are
    included. Raises NoGit.
    """
    told = ask("diff", "--name-only", "-z", "--ignore-submodules=none", "--no-renames",
               commit(ref, folder), "--", folder=folder)  # fmt: skip
    told += ask("ls-files", "--others", "--exclude-standard", "-z", folder=folder)
    return [os.path.realpath(os.path.join(folder, name)) for name in names(told)]


def staged(folder: str) -> tuple[list[str], str]:
    """What the commit being made changes, or the range that a hook is asked about; and the commit
    before.

    As absolute paths, deleted files included. folder: the root. Raises NoGit.
    """
    # The hook framework names a range so, where it is no commit that is being made.
    ends = [os.environ.get(f"PRE_COMMIT_{end}_REF", "") for end in ("FROM", "TO")]
    between = [commit(one, folder) for one in ends] if all(ends) else ["--cached"]
    told = ask("diff", "--name-only", "-z", "--no-renames", *between, "--", folder=folder)
    before = between[0] if all(ends) else "HEAD"
    return [os.path.realpath(os.path.join(folder, name)) for name in names(told)], before


def stood(path: str, ref: str, folder: str) -> bytes:
    """The content of a file in a commit; empty where it or the commit did not exist yet."""
    name = os.path.relpath(path, os.path.realpath(folder)).replace(os.sep, "/")
    try:
        return ask("cat-file", "blob", f"{commit(ref, folder)}:{name}", folder=folder)
    except NoGit:
        return b""


class Blob(Struct, frozen=True):
    """A file of a commit."""

    path: str
    digest: str
    size: int


def files(ref: str, folder: str) -> dict[str, Blob]:
    """The plain files of a commit by their path from the root; raises NoGit."""
    found = {}
    listed = ask("ls-tree", "-r", "-l", "-z", "--full-tree", commit(ref, folder), folder=folder)
    for line in names(listed):
        about, _, path = line.partition("\t")
        mode, kind, digest, size = about.split()
        if kind == "blob" and mode != "120000":
            found[path] = Blob(path, digest, int(size))
    return found


def content(blob: Blob, folder: str) -> bytes:
    """The content of a file of a commit; raises NoGit."""
    return ask("cat-file", "blob", blob.digest, folder=folder)
