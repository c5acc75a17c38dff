"""Writes the JSON of a batch's results all at once.

A design has some 260 results in few ways, so those of a batch are written together: each way's
members once, with placeholders for what differs, which are filled from the columns. This is a
module of its own, so that a design whose report is cached needs no NumPy.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from itertools import repeat
from typing import Any
from weakref import WeakKeyDictionary

from msgspec import UNSET
from msgspec.json import encode
from msgspec.structs import astuple

from checker.outcome.columns import Batch, Computed, Findings, OfDesign, ToldLimit, Way
from checker.outcome.phrasing import NO_LIMIT, Bound, Phrase
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.reading.documents import column_of, line_of


def written(design: DesignReport) -> tuple[list[bytes], list[bytes]]:
    """The results of a design, and the computed values of each of its subjects."""
    found = design.found
    if not isinstance(found, OfDesign):
        return list(map(encode, design.results)), []
    whole = _BATCHES.get(found.batch)
    if whole is None:
        whole = _BATCHES[found.batch] = _Written(found.batch)
    results = whole.results(found.number)
    for place, notes in design.notes.items():
        added = encode(notes)
        if added != b"{}":
            results[place] = results[place][:-1] + b"," + added[1:]
    return results, whole.computed(found.number)


class _Written:
    """All results and computed values of a batch."""

    def __init__(self, batch: Batch) -> None:
        heads: dict[tuple[int, bytes], list[bytes]] = {}
        texts: list[bytes] = []
        for one in batch.findings:
            texts += _findings(one, heads) if isinstance(one, Findings) else _records(one)
        self._results = batch.in_order(texts)
        self._ends = batch.ends
        self._computed = [(one.subjects, _computed(one)) for one in batch.computed]

    def results(self, design: int) -> list[bytes]:
        return [*self._results[self._ends[design] : self._ends[design + 1]]]

    def computed(self, design: int) -> list[bytes]:
        return [
            text
            for subjects, texts in self._computed
            for text in texts[slice(*subjects.ends_of(design))]
        ]


_BATCHES: WeakKeyDictionary[Batch, _Written] = WeakKeyDictionary()
"""The texts of the batches that are still in memory."""


Parts = list[bytes | list[bytes]]
"""A text in parts: what is the same in all rows, and columns of what differs."""


def _joined(texts: Iterable[Parts], between: bytes = b"") -> Parts:
    found: Parts = []
    for number, parts in enumerate(texts):
        if number and between:
            found.append(between)
        found += parts
    return found


def _constant(value: Any) -> Parts:
    return [encode(value)]


def _object(members: dict[str, Parts | None]) -> Parts:
    """An object of the members that are not None."""
    found: Parts = []
    for name, text in members.items():
        if text is not None:
            found += (b'%b"%b":' % (b"," if found else b"{", name.encode()), *text)
    return [*found, b"}"] if found else [b"{}"]


def _measure(column: list[bytes], unit: str) -> Parts:
    return _object({"magnitude": [column], "unit": _constant(unit)})


def _filled(parts: Parts, rows: list[int]) -> Iterable[bytes]:
    """The text of each of these rows."""
    columns: list[Iterable[bytes]] = []
    run: list[bytes] = []
    for part in (*parts, []):
        if isinstance(part, bytes):
            run.append(part)
            continue
        if run:
            columns.append(repeat(b"".join(run)))
            run = []
        if part:
            columns.append([part[row] for row in rows])
    # Joining is twice as quick as filling a template.
    return map(b"".join, zip(*columns, strict=False))


def _records(results: Any) -> list[bytes]:
    return [encode(results.result(row)) for row in range(len(results.patterns))]


def _findings(findings: Findings, heads: dict[tuple[int, bytes], list[bytes]]) -> list[bytes]:
    """The results of one rule; heads: the beginnings of results at a place, shared with other
    rules.
    """
    subjects, places = findings.subjects, findings.places
    key = (id(subjects), places.tobytes())
    begin = heads.get(key)
    if begin is None:
        own = zip(map(encode, subjects.names), subjects.fingerprints, strict=True)
        if subjects.cells:
            at = [subjects.located(row, place) for row, place in enumerate(places.tolist())]
            begin = heads[key] = [
                b'{"line":%d,"column":%d,%b"subject":%b,"fingerprint":"%b'
                % (line, column, b'"cell":%b,' % encode(cell) if cell else b"", name, mark.encode())
                for (line, column, cell), (name, mark) in zip(at, own, strict=True)
            ]
        else:
            places_of = zip(line_of(places).tolist(), column_of(places).tolist(), strict=True)
            begin = heads[key] = [
                b'{"line":%d,"column":%d,"subject":%b,"fingerprint":"%b'
                % (line, column, name, mark.encode())
                for (line, column), (name, mark) in zip(places_of, own, strict=True)
            ]
    gaps = _Gaps(findings)
    texts = [b""] * len(findings.ways)
    rows_of: dict[Way, list[int]] = {}
    for row, way in enumerate(findings.ways):
        rows_of.setdefault(way, []).append(row)
    for way, rows in rows_of.items():
        written = _filled([begin, *gaps.way(way, rows)], rows)
        if len(rows) == len(texts):
            texts = [*written]
            continue
        for row, text in zip(rows, written, strict=True):
            texts[row] = text
    for row, result in findings.instead.items():
        texts[row] = encode(result)
    return texts


_OWN = ("line", "column", "subject", "fingerprint")
"""The members that a result begins with."""
_MEMBERS = Result.__struct_fields__[len(_OWN) : -1]
"""What follows, but for the fingerprint's last part."""


class _Gaps:
    """The values of one rule's placeholders."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.margins = numbers(findings.margins)
        self.values: list[bytes] = []
        self._bounds: dict[Bound, tuple[list[bytes], list[bytes]]] = {}

    @cached_property
    def words(self) -> list[bytes]:
        return _inner(self.findings.words)

    def way(self, way: Way, rows: list[int]) -> Parts:
        """The results of the way's rows, after the members that each begins with."""
        findings, common, row = self.findings, way.common, rows[0]
        words: str | None = findings.words[row]
        if any(findings.words[other] != words for other in rows):
            words = None
        own = zip(_MEMBERS, astuple(common)[len(_OWN) : -1], strict=True)
        members: dict[str, Parts | None] = {
            name: None if value is UNSET else [encode(value)] for name, value in own
        }
        if way.shown is not None:
            members["value"] = self._value(way)
        if findings.margins[row] == findings.margins[row]:
            members["margin"] = _measure(self.margins, findings.margin_unit)
        members["message"] = self._phrase(way.message, words)
        if way.missing:
            members["missing"] = self._phrase((None,), words)
        if way.limit is not None:
            members["limit"] = self._limit(way.limit)
        if way.also:
            others = [
                _object(
                    {
                        "kind": _constant(one.judged.kind),
                        "severity": _constant(one.judged.severity),
                        "source": _constant(one.judged.source),
                        "message": self._phrase(one.message, words),
                        "limit": self._limit(one.limit),
                    }
                )
                for one in way.also
            ]
            members["also"] = [b"[", *_joined(others, b","), b"]"]
        begin, *rest = _object(members)
        assert isinstance(begin, bytes)
        return [b'%b",%b' % (common.fingerprint.encode(), begin[1:]), *rest]

    def _value(self, way: Way) -> Parts:
        shown, values = way.shown, self.findings.values
        assert shown is not None
        if shown.plain:
            self.values = self.values or numbers(values)
            return _measure(self.values, shown.unit)
        if not self.values:
            texts = {one: encode(shown.value(one)) for one in {*values} if one == one}
            self.values = [texts.get(one, b"") for one in values]
        return [self.values]

    def _phrase(self, phrase: Phrase, words: str | None) -> Parts:
        """The phrase as a text; words: those in its placeholder, where all rows have the same."""
        parts: Parts = []
        for part in phrase:
            if isinstance(part, Bound):
                parts.append(self._bound(part)[1])
            elif part is None and words is None:
                parts.append(self.words)
            else:
                parts += _inner([(words if part is None else part) or ""])
        return [b'"', *parts, b'"']

    def _limit(self, told: ToldLimit) -> Parts | None:
        known = [bound for bound in told.bounds if bound != NO_LIMIT]
        if not any(isinstance(bound, Bound) for bound in known):
            limit = told.at(0)
            return None if limit is UNSET else _constant(limit)
        each = [
            _measure(self._bound(bound)[0], told.shown.unit)
            if isinstance(bound, Bound)
            else _constant(told.shown.measured(bound))
            for bound in known
        ]
        if told.comparison != "between":
            return _object({told.comparison: each[0]})
        if len(each) < 2:
            return None
        return _object({"between": [b"[", *_joined(each, b","), b"]"]})

    def _bound(self, bound: Bound) -> tuple[list[bytes], list[bytes]]:
        found = self._bounds.get(bound)
        if found is None:
            found = self._bounds[bound] = numbers(bound.numbers), _inner(bound.words)
        return found


def _computed(one: Computed) -> list[bytes]:
    """The computed values of each row, after its subject; missing values are left out."""
    columns = []
    for (name, unit), values in zip(one.units.items(), one.numbers, strict=True):
        head, tail = encode(name) + b':{"magnitude":', b',"unit":' + encode(unit) + b"},"
        columns.append([head + text + tail if text else b"" for text in numbers(values)])
    rows = map(b"".join, zip(*columns, strict=True)) if columns else repeat(b"")
    return [
        encode(name) + b":{" + row[:-1] + b"}"
        for name, row in zip(one.subjects.names, rows, strict=False)
    ]


def numbers(values: list[float]) -> list[bytes]:
    """Numbers as JSON, all at once; empty texts where one is missing."""
    return encode(values)[1:-1].replace(b"null", b"").split(b",") if values else []


def _inner(texts: list[str]) -> list[bytes]:
    """Texts as JSON without their quotation marks, all at once."""
    # Within a text a quote has a backslash before it, so this parts texts only.
    return encode(texts)[2:-2].split(b'","') if texts else []
