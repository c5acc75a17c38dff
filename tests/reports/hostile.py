"""A design whose every free text tries to break out of a report."""

from __future__ import annotations

from tests.example import changed

SCRIPT = "</style></script><script>document.title='owned'</script><img src=x onerror=alert(1)>"
QUOTES = "\\\"' onmouseover='alert(1)' x=\\\""
LONG = "Donaudampfschifffahrt" * 7
RIGHT_TO_LEFT = "مطبخ \u202eevil"

ROOM = '"<b>$x^2$</b>|`"'
"""Within a flow mapping, in quotes."""

HOSTILE = changed(
    ("name: Test House", f'name: "{SCRIPT}{QUOTES}"'),
    ("region: GB-ENG", f'region: GB-ENG, contractor: "{LONG}", designer: "{RIGHT_TO_LEFT}"'),
    ("  kitchen:", f"  {ROOM}:"),
    ("room: kitchen", f"room: {ROOM}"),
    ("H1:", '"=cmd|1 <i>":'),
    ("header: H1", 'header: "=cmd|1 <i>"'),
    ("length: 88 m", "length: 128 m"),
)
