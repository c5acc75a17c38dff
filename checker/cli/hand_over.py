"""`prescreed hand-over DESIGN`: the papers that stay with the house."""

from __future__ import annotations

import argparse
from pathlib import PurePath

from checker.outcome.report import DesignReport
from checker.outcome.runs import RuleSet
from checker.run import session
from checker.run.telling import Parser, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, put_all, refuse_overwriting
from checker.words.extras import needs


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed hand-over",
        description="Make the papers that stay with the house: what was designed, laid, "
        "tested and balanced, and how it was judged; two pages in plain words "
        "for the owner; the design's file, and the rules and settings used. "
        "What is missing or breaks a limit is printed too.",
        epilog="Exit status: 0 made, whatever the verdict; 2 the call or the design could not be "
        "read; 3 the program failed on it.",
    )
    made.add_argument("design", metavar="DESIGN", help="a design, or - for standard input")
    made.add_argument(
        "--output",
        dest="file",
        required=True,
        metavar="FOLDER|PAGE.html|PAPER.pdf",
        help="a folder for all papers, one page, or one PDF (needs the extra 'pdf')",
    )
    session.basis_options(made)
    return made


def run(words: list[str]) -> int:
    """Make the pack; returns the exit status."""
    return session.answered(
        lambda: _made(session.open_run(parser(), words, paths=lambda given: [given.design]))
    )


def _made(opened: session.Session) -> int:
    from checker.run import batch

    arguments = opened.options.values
    refuse_overwriting(arguments.file, opened.inputs)
    design, status = opened.one_design(arguments.design)
    if design is not None:
        (path,) = opened.files
        run = RuleSet(opened.heads.edition, opened.heads.digest)
        _write(design, run, batch.content_of(path), arguments.file)
    return status


def _write(design: DesignReport, run: RuleSet, content: bytes, file: str) -> None:
    from checker.site import hand_over

    pack = hand_over.pack(design, run, content)
    match PurePath(file).suffix.lower():
        case ".pdf":
            try:
                put(hand_over.pdf(pack, content), file)
            except (ImportError, OSError) as missing:
                raise Unwritable(
                    f"a PDF {needs('pdf')}, and its libraries ({missing}). Or write a page (.html) "
                    "and print it from a browser."
                ) from None
        case ".html" | ".htm":
            put(hand_over.page(pack, content), file)
        case _ if file == STANDARD_OUTPUT:
            put(hand_over.page(pack, content), file)
        case _:
            put_all(file, hand_over.files(pack, content))
    if not pack.is_ready:
        tell(f"{design.path}: not ready to be handed over. {pack.why_not}")
