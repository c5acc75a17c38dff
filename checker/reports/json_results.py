"""Writes the JSON of a batch's results, many designs at a time.

A design has some 430 results in few ways, so those of many designs are written together: each
way's members once, with placeholders for what differs, which are filled from the columns. This is
a module of its own, so that a design whose report is cached needs no NumPy.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from functools import partial
from itertools import repeat
from operator import itemgetter
from typing import Any
from weakref import WeakKeyDictionary

from msgspec import UNSET
from msgspec.json import encode
from msgspec.structs import astuple

from checker.outcome.batches import Batch, Computed, OfDesign
from checker.outcome.columns import Findings, StatedLimit, Subjects, Way
from checker.outcome.phrasing import NO_LIMIT, Bound, Phrase, Shown
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.reading.documents import column_of, line_of

AT_ONCE = 100
"""Designs whose results are written together: enough for the columns to pay, few enough that the
memory of the last ones is used again."""


def written(design: DesignReport) -> tuple[list[bytes], list[bytes]]:
    """The results of a design, and the computed values of each of its subjects.

    Those of the designs that were judged together with it are written at once; asking for the
    designs of a batch in their order costs least.

    Args:
        design: its report.

    Returns:
        A JSON object for each result, in file order, with notes; and a JSON member for each subject
        with computed values. Results that are not held in columns have no computed values. Both
        lists are new.
    """
    found = design.found
    if not isinstance(found, OfDesign):
        return list(map(encode, design.results)), []
    whole = _BATCHES.get(found.batch)
    if whole is None:
        whole = _BATCHES[found.batch] = _Written(found.batch)
    results, computed = whole.of(found.number)
    for place, notes in design.notes.items():
        added = encode(notes)
        if added != b"{}":
            results[place] = results[place][:-1] + b"," + added[1:]
    return results, computed


class _Written:
    """The results and computed values of a batch, written for some designs at a time."""

    def __init__(self, batch: Batch) -> None:
        self._batch = batch.order, batch.ends, batch.starts, batch.computed
        heads: dict[tuple[int, bytes], _Heads] = {}
        self._findings = [
            _Rule(one, heads) if isinstance(one, Findings) else _Records(one)
            for one in batch.findings
        ]
        self._texts = [b""] * batch.starts[-1]
        self._first = self._last = 0
        self._results: tuple[bytes, ...] = ()
        self._computed: list[tuple[Subjects, int, list[bytes]]] = []

    def of(self, design: int) -> tuple[list[bytes], list[bytes]]:
        """A design's results, and the computed values of each of its subjects."""
        if not self._first <= design < self._last:
            self._write(design // AT_ONCE * AT_ONCE)
        _, ends, *_ = self._batch
        before = ends[self._first]
        results = self._results[ends[design] - before : ends[design + 1] - before]
        computed = []
        for subjects, shift, texts in self._computed:
            start, end = subjects.ends_of(design)
            computed += texts[start - shift : end - shift]
        return [*results], computed

    def _write(self, first: int) -> None:
        order, ends, starts, computed = self._batch
        self._results, self._computed = (), []
        self._first, self._last = first, min(first + AT_ONCE, len(ends) - 1)
        for one, start in zip(self._findings, starts, strict=False):
            own = one.rows(self._first, self._last)
            self._texts[start + own.start : start + own.stop] = one.texts(own)
        some = order[ends[self._first] : ends[self._last]]
        # The quickest way to so many; one more, so that it is always a tuple.
        self._results = itemgetter(*some, 0)(self._texts) if some else ()
        for one, start in zip(self._findings, starts, strict=False):
            own = one.rows(self._first, self._last)
            self._texts[start + own.start : start + own.stop] = [b""] * len(own)
        for each in computed:
            own = _rows(each.subjects, self._first, self._last)
            self._computed.append((each.subjects, own.start, _computed(each, own)))


_BATCHES: WeakKeyDictionary[Batch, _Written] = WeakKeyDictionary()
"""The texts of the batches that are still in memory."""


def _rows(subjects: Subjects, first: int, last: int) -> range:
    """The rows of these designs."""
    of = subjects.design_rows
    return range(bisect_left(of, first), bisect_left(of, last))


class _Records:
    """Results that are records already."""

    def __init__(self, results: Any) -> None:
        self._results = results
        self._texts: list[bytes] = []

    def rows(self, first: int, last: int) -> range:
        """All, whatever the designs: they are few."""
        return range(len(self._results.patterns))

    def texts(self, rows: range) -> list[bytes]:
        """Each of them."""
        self._texts = self._texts or [encode(self._results.result(row)) for row in rows]
        return self._texts


class _Column:
    """What differs from row to row: the texts of some rows, made when they are asked for."""

    def __init__(self, make: Callable[[list[Any]], list[bytes]], source: list[Any]) -> None:
        self._make, self._source = make, source
        self._rows = range(0)
        self._texts: list[bytes] = []

    def of(self, rows: range) -> list[bytes]:
        """The text of each of these rows."""
        if self._rows != rows:
            self._rows, self._texts = rows, self._make(self._source[rows.start : rows.stop])
        return self._texts


Parts = list[bytes | _Column]
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


def _measure(column: _Column, unit: str) -> Parts:
    return _object({"magnitude": [column], "unit": _constant(unit)})


def _merged(parts: Parts) -> Parts:
    """The same with what is the same in all rows in as few parts as can be."""
    found: Parts = []
    for part in parts:
        if found and isinstance(part, bytes) and isinstance(found[-1], bytes):
            found[-1] += part
        else:
            found.append(part)
    return found


def _filled(parts: Parts, rows: range, some: Rows) -> Iterable[bytes]:
    """The text of some of these rows."""
    columns: list[Iterable[bytes]] = []
    start, whole = rows.start, len(some) == len(rows)
    for part in parts:
        if isinstance(part, bytes):
            columns.append(repeat(part))
        elif whole:
            columns.append(part.of(rows))
        else:
            column = part.of(rows)
            columns.append([column[row - start] for row in some])
    # Joining is twice as quick as filling a template.
    return map(b"".join, zip(*columns, strict=False))


class _Heads(_Column):
    """The beginnings of results that have a place: line, column, subject and fingerprint."""

    def __init__(self, subjects: Subjects, places: Any) -> None:
        super().__init__(list, [])
        self._subjects, self._places = subjects, places

    def of(self, rows: range) -> list[bytes]:
        """The beginning of each of these rows."""
        if self._rows != rows:
            self._rows, self._texts = rows, self._begun(rows)
        return self._texts

    def _begun(self, rows: range) -> list[bytes]:
        subjects, places = self._subjects, self._places[rows.start : rows.stop]
        if not rows:
            return []
        if subjects.cells:
            at = [subjects.located(row, place) for row, place in zip(rows, places, strict=True)]
            lines, columns, cells = ([*own] for own in zip(*at, strict=True))
            beside = [b'"cell":%b,' % encode(cell) if cell else b"" for cell in cells]
        else:
            lines, columns = line_of(places).tolist(), column_of(places).tolist()
            beside = repeat(b"")  # type: ignore[assignment]  # of none
        parts = (
            repeat(b'{"line":'),
            numbers(lines),
            repeat(b',"column":'),
            numbers(columns),
            repeat(b","),
            beside,
            _named(subjects, rows),
        )
        return list(map(b"".join, zip(*parts, strict=False)))


def _named(subjects: Subjects, rows: range) -> list[bytes]:
    """Each of these subjects with its fingerprint, up to where the rule's follows."""
    known = _NAMED.get(subjects)
    if known is None or known[0] != rows:
        names = subjects.names[rows.start : rows.stop]
        marks = subjects.fingerprints[rows.start : rows.stop]
        texts = [
            b'"subject":%b,"fingerprint":"%b' % (encode(name), mark.encode())
            for name, mark in zip(names, marks, strict=True)
        ]
        known = _NAMED[subjects] = rows, texts
    return known[1]


_NAMED: WeakKeyDictionary[Subjects, tuple[range, list[bytes]]] = WeakKeyDictionary()
"""The names of rows, by table, as they were used last."""


Rows = range | list[int]
"""Rows in their order."""


def _by_way(ways: list[Way]) -> dict[Way, Rows]:
    """The rows that came out in each way."""
    distinct = {*ways}
    if len(distinct) == 1:
        return {ways[0]: range(len(ways))}
    found: dict[Way, list[int]] = {way: [] for way in dict.fromkeys(ways)}
    for row, way in enumerate(ways):
        found[way].append(row)
    return {**found}


_OWN = ("line", "column", "subject", "fingerprint")
"""The members that a result begins with."""
_MEMBERS = Result.__struct_fields__[len(_OWN) : -1]
"""What follows, but for the fingerprint's last part."""


class _Rule:
    """The results of one rule."""

    def __init__(self, findings: Findings, heads: dict[tuple[int, bytes], _Heads]) -> None:
        """heads: the beginnings of results that have a place, shared with other rules."""
        self.findings = findings
        subjects, places = findings.subjects, findings.places
        key = (id(subjects), places.tobytes())
        self._begin = heads.setdefault(key, _Heads(subjects, places))
        self._margins = _Column(numbers, findings.margins)
        self._words = _Column(_inner, findings.words)
        self._values: _Column | None = None
        self._bounds: dict[Bound, tuple[_Column, _Column]] = {}
        self._rows_of = _by_way(findings.ways)
        self._parts: dict[Way, Parts] = {}

    def rows(self, first: int, last: int) -> range:
        """The rows of these designs."""
        return _rows(self.findings.subjects, first, last)

    def texts(self, rows: range) -> list[bytes]:
        """The result of each of these rows."""
        texts = [b""] * len(rows)
        for way, all_rows in self._rows_of.items():
            some = all_rows[bisect_left(all_rows, rows.start) : bisect_left(all_rows, rows.stop)]
            if not some:
                continue
            parts = self._parts.get(way)
            if parts is None:
                parts = self._parts[way] = _merged([self._begin, *self._way(way, all_rows)])
            written = _filled(parts, rows, some)
            if len(some) == len(rows):
                texts = [*written]
                continue
            for row, text in zip(some, written, strict=True):
                texts[row - rows.start] = text
        for row, result in self.findings.instead.items():
            if row in rows:
                texts[row - rows.start] = encode(result)
        return texts

    def _way(self, way: Way, rows: Rows) -> Parts:
        """The results of the way's rows, after the members that each begins with."""
        findings, common, row = self.findings, way.common, rows[0]
        words: str | None = (first := findings.words[row])
        said = (
            findings.words
            if len(rows) == len(findings.words)
            else [findings.words[other] for other in rows]
        )
        if said.count(first) < len(said):
            words = None
        own = zip(_MEMBERS, astuple(common)[len(_OWN) : -1], strict=True)
        members: dict[str, Parts | None] = {
            name: None if value is UNSET else [encode(value)] for name, value in own
        }
        if way.shown is not None:
            members["value"] = self._value(way)
        if findings.margins[row] == findings.margins[row]:
            members["margin"] = _measure(self._margins, findings.margin_unit)
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
        shown = way.shown
        assert shown is not None
        if self._values is None:
            make = numbers if shown.plain else partial(_spoken, shown)
            self._values = _Column(make, self.findings.values)
        return _measure(self._values, shown.unit) if shown.plain else [self._values]

    def _phrase(self, phrase: Phrase, words: str | None) -> Parts:
        """The phrase as a text; words: those in its placeholder, where all rows have the same."""
        parts: Parts = []
        for part in phrase:
            if isinstance(part, Bound):
                parts.append(self._bound(part)[1])
            elif part is None and words is None:
                parts.append(self._words)
            else:
                parts += _inner([(words if part is None else part) or ""])
        return [b'"', *parts, b'"']

    def _limit(self, stated: StatedLimit) -> Parts | None:
        known = [bound for bound in stated.bounds if bound != NO_LIMIT]
        if not any(isinstance(bound, Bound) for bound in known):
            limit = stated.at(0)
            return None if limit is UNSET else _constant(limit)
        each = [
            _measure(self._bound(bound)[0], stated.shown.unit)
            if isinstance(bound, Bound)
            else _constant(stated.shown.measured(bound))
            for bound in known
        ]
        if stated.comparison != "between":
            return _object({stated.comparison: each[0]})
        if len(each) < 2:
            return None
        return _object({"between": [b"[", *_joined(each, b","), b"]"]})

    def _bound(self, bound: Bound) -> tuple[_Column, _Column]:
        found = self._bounds.get(bound)
        if found is None:
            found = self._bounds[bound] = (
                _Column(numbers, bound.numbers),
                _Column(_inner, bound.words),
            )
        return found


def _spoken(shown: Shown, values: list[float]) -> list[bytes]:
    """Values that are no plain measures, as JSON has them; empty where one is missing."""
    texts = {one: encode(shown.value(one)) for one in {*values} if one == one}
    return [texts.get(one, b"") for one in values]


def _computed(one: Computed, rows: range) -> list[bytes]:
    """The computed values of these rows, behind the subject; those not determined left out."""
    columns = []
    for (name, unit), values in zip(one.units.items(), one.numbers, strict=True):
        head, tail = encode(name) + b':{"magnitude":', b',"unit":' + encode(unit) + b"},"
        texts = numbers(values[rows.start : rows.stop])
        columns.append([head + text + tail if text else b"" for text in texts])
    joined = map(b"".join, zip(*columns, strict=True)) if columns else repeat(b"")
    return [
        encode(name) + b":{" + row[:-1] + b"}"
        for name, row in zip(one.subjects.names[rows.start : rows.stop], joined, strict=False)
    ]


def numbers(values: list[float]) -> list[bytes]:
    """Numbers as JSON, all at once.

    Args:
        values: `(n,)`.

    Returns:
        `n` texts; empty where a value is not finite.
    """
    return encode(values)[1:-1].replace(b"null", b"").split(b",") if values else []


def _inner(texts: list[str]) -> list[bytes]:
    """Texts as JSON without their quotation marks, all at once."""
    # Within a text a quote has a backslash before it, so this parts texts only.
    return encode(texts)[2:-2].split(b'","') if texts else []
