"""The reader: plain data with places out of any bytes, and every refusal in words and place."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.reading import yaml_reader
from checker.reading.bounded import LARGEST_FILE
from checker.reading.documents import (
    DEEPEST,
    TOO_DEEP,
    Mapping,
    Problem,
    Sequence,
    column_of,
    line_of,
    place_at,
)
from checker.reading.yaml_reader import read
from tests.design.designs import generate

DESIGN = generate(0, 2)


def problem(data: bytes | str, **options: Any) -> Problem:
    """The problem that the reader finds in these bytes."""
    with pytest.raises(Problem) as found:
        read(data.encode() if isinstance(data, str) else data, **options)
    assert found.value.message == str(found.value)
    return found.value


def said(data: bytes | str, **options: Any) -> tuple[int, int, str]:
    found = problem(data, **options)
    return found.line, found.column, found.message


# What is taken


@pytest.mark.parametrize(
    "typed",
    [
        "no",
        "yes",
        "on",
        "off",
        "true",
        "12:30",
        "1:30:00",
        "3.10",
        "010",
        "0x1F",
        "1e3",
        "2026-03-12",
        ".nan",
        ".inf",
        "it's",
        "a#b",
        "<<",
    ],
)
def test_a_scalar_stays_the_text_that_was_typed(typed: str) -> None:
    assert read(f"a: {typed}".encode()) == {"a": typed}
    assert read(f"a: [{typed}, 'x']".encode()) == {"a": [typed, "x"]}


@pytest.mark.parametrize("typed", ["", "~", "null", "Null", "NULL"])
def test_nothing_is_none_and_in_quotes_it_is_text(typed: str) -> None:
    assert read(f"a: {typed}".encode()) == {"a": None}
    assert read(f"a: '{typed}'".encode()) == {"a": typed}
    assert read(f'{{"a": "{typed}"}}'.encode(), json=True) == {"a": typed}


def test_every_key_and_value_has_its_place() -> None:
    root = read("a: 1\nb:\n  - x\n  - {c: é, d: y}\n".encode())
    inner = root["b"]
    assert isinstance(root, Mapping)
    assert isinstance(inner, Sequence)
    assert isinstance(inner[1], Mapping)

    def at(place: Any) -> tuple[int, int]:
        return line_of(place) - 1, column_of(place) - 1

    assert at(root.place) == (0, 0)
    assert [*map(at, root.places["a"])] == [(0, 0), (0, 3)]
    assert [*map(at, root.places["b"])] == [(1, 0), (2, 2)]
    assert [*map(at, inner.places)] == [(2, 4), (3, 4)]
    assert [*map(at, inner[1].places["d"])] == [(3, 11), (3, 14)]


@pytest.mark.parametrize("start", ["", "\ufeff", "---\n", "%YAML 1.2\n---\n", "# words\n\n"])
@pytest.mark.parametrize("end", ["", "\n", "\r\n", "\n...\n", " # words"])
def test_marks_round_the_document_change_nothing(start: str, end: str) -> None:
    assert read(f"{start}a: b{end}".encode()) == {"a": "b"}


def test_an_alias_repeats_what_its_anchor_stands_for() -> None:
    assert read(b"a: &x {b: c}\nd: *x\ne: &y z\nf: [*y, *x]\n") == {
        "a": {"b": "c"},
        "d": {"b": "c"},
        "e": "z",
        "f": ["z", {"b": "c"}],
    }


def test_an_anchor_may_be_given_anew() -> None:
    assert read(b"a: &x 1\nb: *x\nc: &x 2\nd: *x\n") == {"a": "1", "b": "1", "c": "2", "d": "2"}


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ('"é"', "é"),
        (r'"\u00e9"', "é"),
        (r'"\ud83d\ude00"', "😀"),
        (r'"\uD83D\uDE00!"', "😀!"),
        (r'"\\ud83d\\ude00"', r"\ud83d\ude00"),
        (r'"a\/b\"\\\t"', 'a/b"\\\t'),
        ("3.10", "3.10"),
        ("1E400", "1E400"),
        ("true", "true"),
        ("null", None),
        ('"null"', "null"),
        ("[1, []]", ["1", []]),
        ('{"b": {}}', {"b": {}}),
    ],
)
def test_json_reads_as_it_is_written(typed: str, value: object) -> None:
    assert read(f'{{"a":{typed}}}'.encode(), json=True) == {"a": value}
    assert read(f'\ufeff{{\n\t"a"\t:\t{typed}\r\n}}\n'.encode(), json=True) == {"a": value}


def test_a_tab_in_json_is_one_column() -> None:
    assert read(b'\t{\t"a":\t1}', json=True).places["a"][1] == place_at(0, 8)


# What is refused


@pytest.mark.parametrize("data", [b"", b"\n \n", b"# words only\n", b"---\n...\n", b"\xef\xbb\xbf"])
def test_an_empty_file(data: bytes) -> None:
    assert said(data) == (1, 1, "The file is empty; it should start with 'design: 1'.")
    assert said(data, first="edition: 2")[2].endswith("start with 'edition: 2'.")


@pytest.mark.parametrize("data", [b"", b"  \n"])
def test_an_empty_json_file(data: bytes) -> None:
    assert said(data, json=True)[2] == 'The file is empty; it should start with {"design": 1}.'


@pytest.mark.parametrize(
    ("data", "holds"), [("- a\n", "a list"), ("[]", "a list"), ("a", "a single value"), ("3", "a")]
)
def test_a_file_that_is_no_mapping(data: str, holds: str) -> None:
    assert f"mapping of keys to values, starting with 'design: 1'; it holds {holds}" in (
        problem(data).message
    )


def test_a_file_too_large() -> None:
    just = b"a: 1\n#".ljust(LARGEST_FILE, b"x")
    assert read(just) == {"a": "1"}
    assert said(just + b"x") == (
        1,
        1,
        "The file has more than the 8,388,608 bytes that a file may have. Split it.",
    )


@pytest.mark.parametrize(
    ("data", "line", "column", "byte"),
    [
        (b"\xff", 1, 1, "ff"),
        (b"a: 1\nb: \xe9", 2, 4, "e9"),
        ("a: é°".encode() + b"\x80\n", 1, 6, "80"),
        (b"\xef\xbb\xbfa: 1\nb\xff", 2, 2, "ff"),
        (b"a: \xed\xa0\x80", 1, 4, "ed"),
        (b"a: \xc3", 1, 4, "c3"),
    ],
)
def test_bytes_that_are_not_utf8(data: bytes, line: int, column: int, byte: str) -> None:
    words = f"The byte 0x{byte} is not UTF-8; save the file as UTF-8."
    assert said(data) == (line, column, words)
    assert said(data, json=True) == (line, column, words)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-be"])
def test_other_encodings(encoding: str) -> None:
    words = "The file is saved as UTF-16 or UTF-32; save it as UTF-8."
    assert said("design: 1".encode(encoding)) == (1, 1, words)


def test_a_byte_order_mark_inside() -> None:
    words = "There is a byte-order mark inside the file; delete this invisible character."
    assert said("a: 1\nbé: \ufeff2\n") == (2, 5, words)


@pytest.mark.parametrize(
    ("data", "line", "column", "code"),
    [
        ("a: 1\nb: é\x07", 2, 5, "0007"),
        ("a\x00: 1", 1, 2, "0000"),
        ("design: \x7f", 1, 9, "007F"),
        ("design: \x1b[2J", 1, 9, "001B"),
        ("design: a\uffff", 1, 10, "FFFF"),
    ],
)
def test_signs_that_cannot_be_printed(data: str, line: int, column: int, code: str) -> None:
    words = f"There is a character here that cannot be printed (U+{code}); delete it."
    assert said(data.replace("a\x00", "design\x00")) == (
        line,
        column + 5 * data.startswith("a\x00"),
        words,
    )


def test_a_message_is_one_line_that_can_be_printed() -> None:
    message = problem('"a\\e[2J\\nb": 1\n"a\\e[2J\\nb": 2').message
    assert message.startswith("The key 'a\ufffd[2J b' is here twice")


@pytest.mark.parametrize(
    ("data", "line", "column", "first"),
    [
        ("a: 1\nb: 2\na: 3\n", 3, 1, 1),
        ("a:\n  b:\n    c: 1\n    c: 1\n", 4, 5, 3),
        ("a: {b: 1, 'b': 2}\n", 1, 11, 1),
        ("a: [{b: 1, b: 2}]\n", 1, 12, 1),
        ("&x a: 1\n*x : 2\n", 2, 1, 1),
    ],
)
def test_a_key_that_stands_twice(data: str, line: int, column: int, first: int) -> None:
    found = problem(data)
    assert (found.line, found.column) == (line, column)
    assert f"is here twice, first in line {first}; keep one." in found.message


def test_a_key_that_stands_twice_in_json() -> None:
    words = "The key 'a' is here twice, first in line 1; keep one."
    assert said('{"a": 1,\n "a": 2}', json=True) == (2, 2, words)
    assert said('{"b": {"a": 1, "\\u0061": 2}}', json=True) == (1, 16, words)


def test_a_very_long_key_is_cut_in_the_words() -> None:
    key = "k" * 900
    assert said(f"{key}: 1\n{key}: 2")[2] == (
        f"The key '{'k' * 64}…' is here twice, first in line 1; keep one."
    )


@pytest.mark.parametrize("data", ["? [a]\n: 1", "{a: 1}: 2", "[a]: 1"])
def test_a_key_that_is_no_word(data: str) -> None:
    assert problem(data).message == "A key must be a plain word, not a list or a mapping."


@pytest.mark.parametrize("data", ["null: 1", "~: 1", "a: {? : 1}", "a: &x null\n*x : 1"])
def test_a_key_that_is_nothing(data: str) -> None:
    assert "an empty one, '~' or 'null' means no value" in problem(data).message


@pytest.mark.parametrize("data", ["a: &x {b: 1}\nc: {<<: *x}", "<<: {b: 1}", '{"<<": {}}'])
def test_merge_keys(data: str) -> None:
    assert problem(data).message == "Merge keys (<<) are not part of YAML 1.2; repeat the keys."


@pytest.mark.parametrize(
    ("data", "line", "column", "tag"),
    [
        ("a: !!python/object:os.system x", 1, 4, "!!python/object:os.system"),
        ("a: 1\nb: !!str 3", 2, 4, "!!str"),
        ("a: ! x", 1, 4, "!"),
        ("a: !own [1]", 1, 4, "!own"),
        ("a: !!map {}", 1, 4, "!!map"),
        ("!!set {a}", 1, 1, "!!set"),
        ("a: !<tag:invented,2026:x> y", 1, 4, "tag:invented,2026:x"),
    ],
)
def test_tags(data: str, line: int, column: int, tag: str) -> None:
    words = f"The tag '{tag}' is not allowed; write the plain value without it."
    assert said(data) == (line, column, words)


def test_a_second_document() -> None:
    words = "A second document starts here; write one a file."
    assert said("a: 1\n---\nb: 2\n") == (2, 1, words)
    assert said("---\n---\na: 1\n") == (2, 1, words)


@pytest.mark.parametrize(
    ("data", "line", "column", "name"),
    [
        ("a: *x", 1, 4, "x"),
        ("a: *x\nb: &x 1", 1, 4, "x"),
        ("a: &x {b: *x}", 1, 11, "x"),
        ("&x a: &y [1, [*y]]", 1, 15, "y"),
        ("a: &x 1\nb: &x [*x]", 2, 8, "x"),
    ],
)
def test_an_alias_of_nothing_complete(data: str, line: int, column: int, name: str) -> None:
    words = f"'*{name}' repeats a '&{name}' that is not complete before it; write the value itself."
    assert said(data) == (line, column, words)


def test_aliases_that_grow_without_end() -> None:
    bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
        f"a{level}: &a{level} [{', '.join([f'*a{level - 1}'] * 10)}]\n" for level in range(1, 10)
    )
    line, _, words = said(bomb)
    assert line == 6
    assert words == (
        "With every alias (*) written out the file holds more than the 500,000 values that it may; "
        "repeat less by aliases."
    )


def test_more_values_than_a_design_can_have(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted to a lower limit, which is quicker; the text about aliases has the limit itself."""
    most = 5_000
    monkeypatch.setattr(yaml_reader, "MOST_VALUES", most)
    fits = b"a: [" + b"1," * (most - 3) + b"]"  # besides: the mapping, its key, the list
    assert len(read(fits)["a"]) == most - 3
    assert f"more than the {most:,} values" in problem(fits[:-1] + b"1]").message


def test_nesting() -> None:
    deepest = DEEPEST
    words = TOO_DEEP.format(deepest)
    inside = deepest - 1  # the mapping round it is the first level
    assert "a" in read(f"a: {'[' * inside}{']' * inside}".encode())
    assert said(f"a: {'[' * (inside + 1)}{']' * (inside + 1)}") == (1, 4 + inside, words)
    assert "nested deeper than 20 levels" in problem("[" * 100_000).message
    assert said("[" * 100_000, json=True)[2] == words
    assert said('{"a":' * 21 + "1" + "}" * 21, json=True)[2] == words


@pytest.mark.parametrize(("opened", "closed"), [("[", "]"), ("{k: ", "}")])
def test_nesting_is_counted_through_aliases(opened: str, closed: str) -> None:
    inside = DEEPEST - 1
    deep = f"a: &a {opened * 3}1{closed * 3}\nb: {opened * (inside - 3)}*a"
    assert len(read(f"{deep}{closed * (inside - 3)}".encode())) == 2
    assert problem(deep.replace("*a", f"{opened}*a")).line == 2
    chain = [f"a0: &a0 {opened}1{closed}"]
    chain += [f"a{n}: &a{n} {opened}*a{n - 1} {closed}" for n in range(1, inside + 1)]
    assert len(read("\n".join(chain[:-1]).encode())) == inside
    assert said("\n".join(chain)) == (
        inside + 1,
        len(f"a{inside}: &a{inside} {opened}") + 1,
        TOO_DEEP.format(inside + 1),
    )


def test_a_key_that_would_be_a_level_too_deep() -> None:
    def within(lists: int) -> str:
        return problem(f"k: {'[' * lists}{{[a]: 1}}{']' * lists}").message

    most = DEEPEST - 2  # besides, the mappings around and within
    assert within(most - 1) == "A key must be a plain word, not a list or a mapping."
    assert within(most) == TOO_DEEP.format(DEEPEST)


def test_levels_beside_a_deep_one_are_not_added_to_it() -> None:
    most = DEEPEST - 2  # the mapping round it, and the list that repeats
    text = f"a: &deep {'[' * most}{']' * most}\nb: &flat [1, *deep]\nc: [*flat]"
    assert said(text)[0] == 3
    assert len(read(text.replace("[1, *deep]", "[1, 2]").encode())) == 3


def test_anchors_around_one_another_are_counted_once_each() -> None:
    width = 1_000
    inner = ", ".join(["*wide"] * 480)
    outer = "".join(f"&o{n} [" for n in range(16))
    text = f"a: &wide [{', '.join(['x'] * width)}]\nb: {outer}{inner}{']' * 16}\n"
    assert len(read(text.encode())["a"]) == width
    assert "more than" in problem(text.replace("b:", f"c: [{inner}]\nb:")).message


# Any bytes at all


@st.composite
def mutated(draw: st.DrawFn, source: bytes) -> bytes:
    """A real design with some stretches cut out, repeated or replaced."""
    data = bytearray(source)
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = draw(st.integers(start, min(start + 40, len(data))))
        data[start:end] = draw(
            st.one_of(
                st.binary(max_size=8),
                st.sampled_from([b"{", b"}", b"[", b"]", b"\n", b"\t", b"'", b'"', b"&a ", b"*a"]),
                st.just(bytes(data[start:end]) * 2),
            )
        )
    return bytes(data)


AS_JSON = json.dumps(read(DESIGN.encode()), ensure_ascii=False).encode()


def outcome(data: bytes, as_json: bool) -> Mapping | Problem:
    try:
        return read(data, json=as_json)
    except Problem as found:
        return found


@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)), st.booleans())
def test_any_bytes_are_read_or_refused(data: bytes, as_json: bool) -> None:
    found = outcome(data, as_json)
    if isinstance(found, Problem):
        assert found.line >= 1
        assert found.column >= 1
        assert found.message.isprintable()
    else:
        assert all(isinstance(key, str) for key in found)


@given(st.one_of(mutated(DESIGN.encode()), mutated(AS_JSON)), st.booleans())
def test_a_damaged_design_is_read_or_refused(data: bytes, as_json: bool) -> None:
    found = outcome(data, as_json)
    if isinstance(found, Problem):
        assert found.line <= data.count(b"\n") + data.count(b"\r") + 1
        assert found.message.isprintable()
    else:
        assert found.keys() == found.places.keys()


WORDS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\ufeff"), max_size=30)


@given(st.dictionaries(WORDS.filter(lambda word: word != "<<"), WORDS, max_size=5))
def test_any_text_in_json_comes_back(texts: dict[str, str]) -> None:
    assert read(json.dumps(texts).encode(), json=True) == texts
    assert read(json.dumps(texts, ensure_ascii=False, indent=1).encode(), json=True) == texts
