"""Explains syntax errors of a file in plain words, and checks JSON by its own grammar."""

from __future__ import annotations

from typing import Any

from checker.reading.documents import DEEPEST, TOO_DEEP, Problem, place_at, place_of, place_of_mark


def strict_json(text: str) -> str:
    """Check a text with JSON's own parser.

    Args:
        text: the whole file.

    Returns:
        A form that YAML reads in the same way, every value in the same place.

    Raises:
        Problem: it is not JSON.
    """
    import json
    import re

    def refuse(word: str) -> None:
        tokens = re.finditer(r'"(?:[^"\\]|\\.)*"|-?Infinity|NaN', text)
        offset = next(token.start() for token in tokens if token[0] == word)
        raise Problem(
            f"{word} is not a value that JSON knows; write the value, or leave the key out.",
            place_of(text, offset),
        )

    if not text.strip():
        raise Problem('The file is empty; it should start with {"design": 1}.')
    try:
        json.loads(text, parse_constant=refuse, parse_int=str, parse_float=str)
    except json.JSONDecodeError as error:
        raise _json_problem(error.msg, text, error.pos) from None
    except RecursionError:
        raise Problem(TOO_DEEP.format(DEEPEST)) from None
    # YAML takes some signs of JSON only as escapes, and some for the end of a line.
    text = re.sub("[\x7f-\x9f\u2028\u2029\ufffe\uffff]", lambda m: f"\\u{ord(m[0]):04x}", text)
    # The two halves of a character outside the basic plane are one escape in YAML.
    escape = re.compile(r"\\(?:u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})|.)")

    def joined(match: re.Match[str]) -> str:
        if match[1] is None:
            return match[0]
        return (
            f"\\U{0x10000 + ((int(match[1], 16) - 0xD800) << 10) + int(match[2], 16) - 0xDC00:08x}"
        )

    if "\\u" in text:
        text = escape.sub(joined, text)
    # JSON indents with tabs where YAML does not; between tokens a tab is one column either way.
    return text.replace("\t", " ")


_JSON_WORDS = {
    "Expecting ',' delimiter": "a comma is missing here; or a value is not in double quotes, "
    'as "45 °C" is',
    "Expecting ':' delimiter": "a colon is missing here",
    "Expecting value": 'a value is missing here; a text needs double quotes, such as "45 °C"',
    "Expecting property name enclosed in double quotes": "a key in double quotes is expected here; "
    "JSON has no other quotes and no comments",
    "Unterminated string starting at": "the quote that opens here is not closed",
    "Invalid control character at": "there is a line end or a tab inside double quotes",
    "Extra data": "there is something after the end of the design",
}


def _json_problem(said: str, text: str, offset: int) -> Problem:
    before = text[: offset + 1].rstrip("}] \t\r\n")
    if before.endswith(",") and text[len(before) :].lstrip()[:1] in ("}", "]"):
        place = place_of(text, len(before) - 1)
        return Problem("This is not JSON: the comma before a closing bracket must go.", place)
    return Problem(
        f"This is not JSON: {_JSON_WORDS.get(said, said)}.", place_of(text, min(offset, len(text)))
    )


_SYNTAX_WORDS = {
    "mapping values are not allowed": "': ' is not allowed here; put a text with ': ' in it in "
    "quotes, and give the keys of one level the same indent",
    "found unexpected end of stream": "the quote that opens here is not closed",
    "did not find expected key": "a key is expected here; look at the indent, quotes and brackets "
    "of this line and the line above",
    "did not find expected node content": "a value is expected here; look at the quotes, commas "
    "and brackets of this line and the line above",
    "could not find expected ':'": "the key here or on the line above has no ': ' behind it",
    "unknown escape character": "a backslash in double quotes starts an escape; write two for "
    "the backslash itself",
    "maximum nesting depth": f"it is nested deeper than {DEEPEST} levels",
    "invalid Unicode character escape": "the escape here is half a character; write the "
    "character itself",
}


def syntax_problem(error: Any, text: str) -> Problem:
    """What is wrong with the syntax of a text, in plain words.

    Args:
        error: the parser's.
        text: the whole file.

    Returns:
        To be raised by the caller, with the place where a correction is most likely needed.
    """
    import re

    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    if mark is None:
        stray = re.search(
            "[^\t\n\r -~\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|\ufeff", text
        )
        if stray is None:
            return Problem(f"The file cannot be read: {said}.")
        return Problem(
            f"There is a character here that cannot be printed (U+{ord(stray[0]):04X}); delete it.",
            place_of(text, stray.start()),
        )
    words = next((own for its, own in _SYNTAX_WORDS.items() if its in said), said)
    start = getattr(error, "context_mark", None) or mark
    if "end of stream" in said:
        mark = start
    elif "expected ','" in said and not text[mark.index :].strip():
        mark, words = start, "the bracket that opens here is not closed"
    elif "expected ','" in said:
        words = (
            "a comma is missing here, or the bracket that closes "
            f"'{text[start.index]}' in line {start.line + 1}; a text with "
            "a comma, ': ' or a bracket in it needs quotes"
        )
    elif "cannot start any token" in said:
        sign = text[mark.index : mark.index + 1]
        if sign == "\t":
            words = "there is a tab here; indent with spaces"
        else:
            words = f"no value starts with '{sign}'; put a text that does in quotes"
    words = f"The file cannot be read: {words}."
    lines = re.split("\r\n|[\n\r\x85\u2028\u2029]", text)
    if mark.line >= len(lines):  # libyaml may point past the end
        return Problem(words, place_at(len(lines) - 1, len(lines[-1])))
    return Problem(words, place_of_mark(mark))
