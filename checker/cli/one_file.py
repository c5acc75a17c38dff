"""A report that is one file, or goes to standard output; a file appears whole or not at all."""

from __future__ import annotations

import sys

from checker.cli.outputs import STANDARD_OUTPUT, Unwritable, _opened, _put


def write(file: str, content: bytes) -> None:
    """Write the whole content; raises Unwritable."""
    stream = _opened(file, False)
    stream.write(content)
    stream.flush()
    if file == STANDARD_OUTPUT or stream is sys.stdout.buffer:
        return
    stream.close()
    try:
        _put(stream.name, file)
    except OSError as error:
        raise Unwritable(f"'{file}' cannot be written: {error.strerror}") from None
