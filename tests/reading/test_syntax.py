"""Slips in YAML and JSON: each is named with its place and what to write instead."""

from __future__ import annotations

import pytest

from tests.reading.test_yaml_reader import problem, said


@pytest.mark.parametrize(
    ("data", "line", "column", "words"),
    [
        ("a:\n\tb: 1\n", 2, 1, "there is a tab here; indent with spaces"),
        ("a: @b\n", 1, 4, "no value starts with '@'; put a text that does in quotes"),
        ("a: `b`\n", 1, 4, "no value starts with '`'; put a text that does in quotes"),
        ("a: 1\nb: Row: 3\n", 2, 7, "': ' is not allowed here; put a text"),
        ("a:\n  b: 1\n c: 2\n", 3, 2, "a key is expected here; look at the indent"),
        ("a: 1\nb: {c: 1\n", 2, 4, "the bracket that opens here is not closed"),
        ("a: 1\nb: {c: 1", 2, 4, "the bracket that opens here is not closed"),
        (
            "a: [\n{c: 1\nd: 2]",
            3,
            2,
            "a comma is missing here, or the bracket that closes '{' in line 2;",
        ),
        (
            "a: [c, {d: e]\n",
            1,
            13,
            "a comma is missing here, or the bracket that closes '{' in line 1;",
        ),
        (
            "a: {b: c: d}\n",
            1,
            9,
            "a comma is missing here, or the bracket that closes '{' in line 1;",
        ),
        ("a: 1\nb: 'c\nd: 2\n", 2, 4, "the quote that opens here is not closed"),
        ('a: "c\n', 1, 4, "the quote that opens here is not closed"),
        ("a: 1\nb\nc: 2\n", 3, 1, "the key here or on the line above has no ': ' behind it"),
        (r'a: "\ud83d"', 1, 7, "the escape here is half a character"),
        (r'a: "\q"', 1, 5, "a backslash in double quotes starts an escape; write two"),
    ],
)
def test_slips_in_yaml(data: str, line: int, column: int, words: str) -> None:
    found = problem(data)
    assert (found.line, found.column) == (line, column)
    assert found.message.startswith(f"The file cannot be read: {words}")


@pytest.mark.parametrize(
    ("data", "line", "column", "words"),
    [
        ('{"a": 1,}', 1, 8, "the comma before a closing bracket must go"),
        ('{"a": [1,\n 2,\n ]}', 2, 3, "the comma before a closing bracket must go"),
        ('{"a": 1 "b": 2}', 1, 9, "a comma is missing here"),
        ('{"a": 45 °C}', 1, 10, "a comma is missing here; or a value is not in double quotes"),
        ('{"a" 1}', 1, 6, "a colon is missing here"),
        ('{"a": }', 1, 7, "a value is missing here"),
        ('{"a": no}', 1, 7, "a value is missing here"),
        ("{'a': 1}", 1, 2, "a key in double quotes is expected here"),
        ('{"a": 1, // words\n}', 1, 10, "a key in double quotes is expected here"),
        ('{"a": "b}', 1, 7, "the quote that opens here is not closed"),
        ('{"a": "b\tc"}', 1, 9, "there is a line end or a tab inside double quotes"),
        ('{"a": 1}\n{"b": 2}', 2, 1, "there is something after the end of the design"),
        ("design: 1", 1, 1, "a value is missing here"),
    ],
)
def test_slips_in_json(data: str, line: int, column: int, words: str) -> None:
    found = problem(data, json=True)
    assert (found.line, found.column) == (line, column)
    assert found.message.startswith(f"This is not JSON: {words}")


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity"])
def test_numbers_that_are_none_in_json(word: str) -> None:
    words = f"{word} is not a value that JSON knows; write the value, or leave the key out."
    assert said(f'{{"{word}": "{word}",\n "a": {word}}}', json=True) == (2, 7, words)


@pytest.mark.parametrize("half", [r"\ud83d", r"\ude00", r"\\\ud83d", r"\\ud83d\ude00"])
def test_half_a_character_in_json(half: str) -> None:
    assert "half a character" in problem(f'{{"a": "{half}"}}', json=True).message
