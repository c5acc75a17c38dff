"""The place in its file of a part of a value."""

from __future__ import annotations

import re

from checker.reading.documents import Place, column_of, line_of, place_at


def place_within(data: bytes, place: Place, text: str, start: int) -> Place:
    """The place of a character of a value in its file.

    It is found by the words before it, because a folded text has the same words in the same order.

    Args:
        data: the file's bytes.
        place: the place of the value.
        text: the value as it is read, with line ends folded.
        start: the index of the character in it.

    Returns:
        The place of the value itself where the file has fewer words than that.
    """
    before = len(re.findall(r"\S+", text[:start]))
    inner = start - len(text[:start].rstrip()) == 0 and start > 0 and not text[start - 1].isspace()
    source = data.decode("utf-8", "replace").removeprefix("\ufeff").split("\n")
    line, column = int(line_of(place)) - 1, int(column_of(place)) - 1
    rest = "\n".join([source[line][column:], *source[line + 1 :]])
    quoted = rest[:1] in ("'", '"')
    block = rest[:1] in ("|", ">")
    words = [*re.finditer(r"\S+", rest[1:] if quoted else rest)]
    number = before + block - inner
    if number >= len(words):
        return place
    word = words[number]
    at = word.start() + quoted
    if inner:
        own = re.search(r"\S*\Z", text[:start])
        at += len(own[0]) if own else 0
    done = rest[:at]
    lines = done.count("\n")
    last = at - (done.rfind("\n") + 1)
    return place_at(line + lines, last + (column if lines == 0 else 0))
