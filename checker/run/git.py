"""What the repository knows: which files changed, and what stood in a commit."""

from __future__ import annotations

import os

from msgspec import Struct

PLAIN = ("-c", "core.quotePath=false", "-c", "diff.relative=false", "-c", "diff.noprefix=false")
"""Whatever the user's own configuration says, names come whole and from the root."""


class NoGit(Exception):
    """git cannot answer, in words for the person."""


def ask(*words: str, folder: str = "") -> bytes:
    """What git answers; raises NoGit."""
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
    """Names with NUL between."""
    return [os.fsdecode(name) for name in answer.split(b"\0") if name]


def commit(ref: str, folder: str = "") -> str:
    """The commit of a name, in full; `REF...` is where it and the present parted. Raises NoGit."""
    if ref.startswith("-"):
        raise NoGit(f"'{ref}' is no commit")
    words = ["rev-parse", "--verify", "--end-of-options", f"{ref}^{{commit}}"]
    if ref.endswith("..."):
        words = ["merge-base", ref[:-3], "HEAD"]
    try:
        answer = ask(*words, folder=folder)
    except NoGit as error:
        raise NoGit(f"{error} ({ref})") from None
    return answer.decode().strip()


def changed(ref: str, folder: str) -> list[str]:
    """What differs from a commit or is not known yet, as absolute paths; folder: the root.

    A submodule that differs, also by files of its own, stands there as its folder; what is gone
    is named too. Raises NoGit.
    """
    told = ask("diff", "--name-only", "-z", "--ignore-submodules=none", "--no-renames",
               commit(ref, folder), "--", folder=folder)  # fmt: skip
    told += ask("ls-files", "--others", "--exclude-standard", "-z", folder=folder)
    return [os.path.realpath(os.path.join(folder, name)) for name in names(told)]


def staged(folder: str) -> tuple[list[str], str]:
    """What the commit that is being made changes, or the range that a hook is asked about.

    As absolute paths, with what is gone; and the commit before. folder: the root. Raises NoGit.
    """
    # The hook framework names a range so, where it is no commit that is being made.
    ends = [os.environ.get(f"PRE_COMMIT_{end}_REF", "") for end in ("FROM", "TO")]
    between = [commit(one, folder) for one in ends] if all(ends) else ["--cached"]
    told = ask("diff", "--name-only", "-z", "--no-renames", *between, "--", folder=folder)
    before = between[0] if all(ends) else "HEAD"
    return [os.path.realpath(os.path.join(folder, name)) for name in names(told)], before


def stood(path: str, ref: str, folder: str) -> bytes:
    """What a file held in a commit; nothing where it or the commit was not there yet."""
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
    """What a file of a commit holds; raises NoGit."""
    return ask("cat-file", "blob", blob.digest, folder=folder)
