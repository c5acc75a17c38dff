"""The form filled in by a real spreadsheet program, and read back."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import pytest

from checker.forms.declaring import house
from checker.forms.designs import assembled, form_in
from checker.forms.writing import workbook
from checker.intake.reading import opened

OFFICE = shutil.which("soffice")
SYSTEM = "/usr/bin/python3"
"""The Python that has the program's own bridge (python3-uno); ours has it nowhere."""

FILL = """
import sys, time, subprocess, uno
from com.sun.star.beans import PropertyValue
source, targets, profile = sys.argv[1], sys.argv[2:4], sys.argv[4]
served = subprocess.Popen(['soffice', '--headless', '--norestore', f'-env:UserInstallation=file://{profile}',
    f'--accept=pipe,name={profile.strip("/").replace("/", "")};urp;'], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
try:
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext('com.sun.star.bridge.UnoUrlResolver', local)
    for _ in range(120):
        try:
            there = resolver.resolve(f'uno:pipe,name={profile.strip("/").replace("/", "")};urp;StarOffice.ComponentContext')
            break
        except Exception:
            time.sleep(0.5)
    desktop = there.ServiceManager.createInstanceWithContext('com.sun.star.frame.Desktop', there)
    hidden = PropertyValue(); hidden.Name, hidden.Value = 'Hidden', True
    book = desktop.loadComponentFromURL(f'file://{source}', '_blank', 0, (hidden,))
    loops = book.Sheets.getByName('Rooms and loops')
    def cell(address): return loops.getCellRangeByName(address)
    cell('M5').String = 'ft'
    for address, value in (('B6', 'kitchen'), ('C6', 'kitchen'), ('F6', 650), ('I6', 'H1'), ('J6', 1), ('K6', 12), ('M6', 289),
                           ('B7', 'hall'), ('J7', 1), ('K7', 12), ('L7', 150), ('M7', '88,5 m')):
        if isinstance(value, str): cell(address).String = value
        else: cell(address).Value = value
    house = book.Sheets.getByName('House')
    house.getCellRangeByName('C53').Value = 4
    house.getCellRangeByName('C5').String = 'Mill Row 1'
    house.getCellRangeByName('C16').Value = 42
    # The first loop's spacing and the second's header are those of every loop.
    house.getCellRangeByName('C67').String = 'H1'
    house.getCellRangeByName('B70').String = 'cm'
    house.getCellRangeByName('C70').Value = 15
    book.calculateAll()
    first = cell('V6').String
    cell('M6').Value = 700
    book.calculateAll()
    print(first, '|', cell('V7').String, '|', cell('V6').String)
    cell('M6').Value = 289
    for target, kind in zip(targets, ('Calc MS Excel 2007 XML', 'calc8')):
        how = PropertyValue(); how.Name, how.Value = 'FilterName', kind
        book.storeToURL(f'file://{target}', (how,))
    book.close(True)
    try: desktop.terminate()
    except Exception: pass
finally:
    served.terminate()
    served.wait(30)
"""


@pytest.mark.long
@pytest.mark.skipif(
    OFFICE is None
    or subprocess.run([SYSTEM, "-c", "import uno"], capture_output=True).returncode != 0,
    reason="there is no spreadsheet program here that a script can fill a form in with",
)
def test_what_a_person_fills_in_comes_back(tmp_path: Path) -> None:
    made = io.BytesIO()
    workbook(made, house())
    source = tmp_path / "house.xlsx"
    source.write_bytes(made.getvalue())
    targets = [tmp_path / "filled.xlsx", tmp_path / "filled.ods"]
    script = tmp_path / "fill.py"
    script.write_text(FILL, "utf-8")
    done = subprocess.run(
        [SYSTEM, str(script), str(source), *map(str, targets), str(tmp_path / "profile")],
        capture_output=True, text=True, timeout=180,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    # What the workbook itself says: one port is taken twice, and 700 ft is no length for 12 m².
    first, second, far = (one.strip() for one in done.stdout.split("|"))
    assert first == second == "the port is taken twice."
    assert far == f"{first} the length is far from area over spacing and feeds."
    for target in targets:
        book = opened(str(target))
        form = form_in(book)
        assert form is not None, target
        read = assembled(book, form)
        assert [str(one) for one in read.refused] == []
        assert read.tree["project"] == {"name": "Mill Row 1"}
        assert read.tree["plant"] == {"supply": "42 °C"}
        assert read.tree["loops"]["L1"]["length"] == "289 ft"
        assert read.tree["loops"]["L2"]["length"] == "88.5 m"
        assert read.tree["loops"]["L2"]["room"] == "hall"
        assert str(read.cells["loops", "L1", "length"]) == "Rooms and loops M6"
