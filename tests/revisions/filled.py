"""A form as its sender fills it in: values put into cells that are open, nothing else touched."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import escape

Values = Mapping[str, Mapping[str, float | str]]
"""By sheet and address what is filled in."""


def filled(form: bytes, values: Values) -> bytes:
    """The workbook with these values; raises AssertionError for a cell that is no empty one."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(form)) as before, zipfile.ZipFile(made, "w") as after:
        names = re.findall(r'<sheet name="([^"]+)"', before.read("xl/workbook.xml").decode())
        for item in before.namelist():
            data = before.read(item)
            found = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", item)
            if found:
                text = data.decode()
                for address, value in values.get(names[int(found[1]) - 1], {}).items():
                    cell = re.search(rf'<c r="{address}"( s="\d+")?/>', text)
                    assert cell is not None, f"{address} is no empty cell"
                    made_of = _cell(address, cell[1] or "", value)
                    text = text[: cell.start()] + made_of + text[cell.end() :]
                data = text.encode()
            after.writestr(item, data)
    return made.getvalue()


def _cell(address: str, style: str, value: float | str) -> str:
    if isinstance(value, str):
        text = f"<is><t>{escape(value)}</t></is>"
        return f'<c r="{address}"{style} t="inlineStr">{text}</c>'
    return f'<c r="{address}"{style}><v>{value}</v></c>'
