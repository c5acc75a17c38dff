"""Complaints, causes, signs and measurements, read from `rules/complaints.yaml`."""

from __future__ import annotations

import re
from collections.abc import Container
from functools import cache
from typing import Any

import msgspec
from msgspec import Struct, field

from checker import units
from checker.reading import yaml_reader
from checker.reading.package_data import data_folder

FILE = "complaints.yaml"

WEIGHTS = {"strong": 3.0, "fair": 1.5, "weak": 0.5}
"""Points for a piece of evidence that is fully there; our convention."""
USUAL = {"common": 1.0, "occasional": 0.0, "rare": -1.0}
"""Points for how common a cause is; our convention."""


class Complaint(Struct, frozen=True):
    """Something that people complain about.

    Attributes:
        title: in words.
        words: what people say for it.
        subject: the section of a design that it is about.
    """

    title: str
    words: tuple[str, ...]
    subject: str


class Measurement(Struct, frozen=True):
    """Something to measure or look up.

    Attributes:
        what: to do, in words.
        minutes: that it takes on site.
        caution: the name of a caution; empty where nothing can hurt.
        tools: everything that it needs; "or" between several tools means that one of them is
            enough.
    """

    what: str
    minutes: int
    caution: str = ""
    tools: tuple[str, ...] = ()

    def lacking(self, tools: Container[str]) -> tuple[str, ...]:
        """List the tools that a measurement needs and that somebody does not have.

        Args:
            tools: those that are at hand.

        Returns:
            The needed tools as the file names them ('a or b' where one of them is enough); empty
            where all are at hand.
        """
        return tuple(one for one in self.tools if not any(t in tools for t in one.split(" or ")))


class Sign(Struct, frozen=True):
    """Something that readings or figures can show.

    Attributes:
        title: in words.
        subject: whose sign it is, in the singular ('loop').
        unit: of `least` and `full` in the file.
        least: up to this value it is absent, SI.
        full: from this value on it is fully there, SI.
        measure: the measurement that shows it, or `papers`.
    """

    title: str
    subject: str
    unit: str
    least: float
    full: float
    measure: str


class Evidence(Struct, frozen=True):
    """A rule or a sign that is evidence for or against a cause.

    Attributes:
        weight: a key of WEIGHTS.
        rule: its id; empty for a sign.
        sign: its id; empty for a rule.
        under: the complaints under which it is evidence; all where none is named.
        decides: whether its cause is not called supported before this is read, for without it
            another cause reads the same.
    """

    weight: str
    rule: str = ""
    sign: str = ""
    under: tuple[str, ...] = ()
    decides: bool = False

    def counts(self, complaint: str) -> bool:
        """Whether the evidence counts under a complaint.

        Args:
            complaint: its id; empty for any complaint.

        Returns:
            True also for evidence that is not tied to certain complaints.
        """
        return not (complaint and self.under) or complaint in self.under

    @property
    def points(self) -> float:
        """The points that it gives where it is fully there."""
        return WEIGHTS[self.weight]


class Cause(Struct, frozen=True):
    """Something that can be behind a complaint.

    Attributes:
        title: in words.
        of: how common it is (a key of USUAL), by the id of each complaint that it can be behind.
        mechanism: how it leads to the complaint.
        supporting: evidence for it; `for` in the file.
        against: evidence against it.
        next: the measurements that confirm it.
        source: the id of the source that it was taken from.
    """

    title: str
    of: dict[str, str]
    mechanism: str
    supporting: tuple[Evidence, ...] = field(name="for")
    against: tuple[Evidence, ...]
    next: tuple[str, ...]
    source: str

    def rules(self) -> set[str]:
        """The rules whose findings are evidence for it."""
        return {piece.rule for piece in self.supporting if piece.rule}


class Complaints(Struct, frozen=True):
    """The whole file."""

    trouble: dict[str, Complaint]
    tools: dict[str, str]
    measurements: dict[str, Measurement]
    signs: dict[str, Sign]
    causes: dict[str, Cause]

    def named(self, text: str) -> str | None:
        """Find a complaint by its id or in a person's words.

        A text means a complaint where it contains all words of one of its sayings. Where several
        fit, the longest saying wins.

        Args:
            text: what was typed; capitals do not matter, but for ids.

        Returns:
            The complaint's id; None where none is meant, or two fit equally well.
        """
        if text.strip() in self.trouble:
            return text.strip()
        said = _telling(text)
        found: dict[int, dict[str, None]] = {}
        for name, trouble in self.trouble.items():
            for words in (name, trouble.title, *trouble.words):
                known = _telling(words)
                if known and known <= said:
                    found.setdefault(len(known), {})[name] = None
        best = found[max(found)] if found else {}
        return next(iter(best)) if len(best) == 1 else None

    def causes_of(self, complaint: str) -> dict[str, Cause]:
        """List the causes that can be behind a complaint.

        Args:
            complaint: its id.

        Returns:
            The causes by id, in the file's order.
        """
        return {name: cause for name, cause in self.causes.items() if complaint in cause.of}


_LITTLE = frozenset(
    [
        "a",
        "an",
        "and",
        "at",
        "be",
        "by",
        "does",
        "for",
        "i",
        "in",
        "is",
        "it",
        "its",
        "my",
        "of",
        "our",
        "the",
        "there",
        "to",
        "we",
        "with",
    ]
)
"""Words that do not distinguish one complaint from another."""


def _telling(text: str) -> frozenset[str]:
    """The distinguishing words of a saying, in small letters."""
    words = re.findall(r"[^\W_]+", text.casefold())
    return frozenset(words) - _LITTLE


@cache
def complaints() -> Complaints:
    """All complaints that the program knows; tests check the file against its schema and its
    names.
    """
    data = (data_folder("rules") / FILE).read_bytes()
    document = yaml_reader.read(data, first="complaints: 1")
    signs = {name: _sign(node) for name, node in document["signs"].items()}
    plain = {key: document[key] for key in ("trouble", "tools", "measurements", "causes")}
    known = msgspec.convert({**plain, "signs": {}}, Complaints, strict=False)
    return msgspec.structs.replace(known, signs=signs)


def _sign(node: dict[str, Any]) -> Sign:
    unit = node["from"].split(" ", 1)[1]
    kind = units.kind_of(unit)
    least, full = (units.parse(node[key], kind) for key in ("from", "full"))
    return Sign(node["title"], node["subject"], unit, least, full, node["measure"])
