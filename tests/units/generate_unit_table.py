"""Write checker/units/table.py again, its factors worked out by pint in exact fractions.

To take another unit: add its row to the table with 0.0 for both factors, then run
`python tests/units/generate_unit_table.py`. With --check nothing is written, and the exit status
is 1 where the file is not what would be written.
"""

import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pint

from checker.units.table import ROWS

TABLE = Path(__file__).parents[2] / "checker" / "units" / "table.py"

OPENING = '''"""The unit spellings that are known without asking pint, with their factors.

Written by tests/units/generate_unit_table.py, the factors by pint, so that a unit that is here
costs no import of pint. A spelling also takes what means the same once the signs are made
alike (checker.units): "m²" takes "m2" and "m^2", "°C" takes "degC".
"""

ROWS: tuple[tuple[str, str, float, float, tuple[str, ...]], ...] = (
    # kind, unit in pint's words, scale, offset, spellings: the first is the one shown.
    # SI value = number * scale + offset. A gallon is the US liquid gallon.
'''


def factors(registry: pint.UnitRegistry[Fraction], kind: str, unit: str) -> tuple[float, float]:
    """Scale and offset to SI base units, or to °C for a temperature, each rounded once."""
    si = "degC" if kind == "temperature" else registry.Quantity(Fraction(1), unit).to_base_units().u
    zero, one = (registry.Quantity(Fraction(x), unit).to(si).magnitude for x in (0, 1))
    return float(one - zero), float(zero)


def table() -> str:
    """The text of the module, with the factors of every row worked out again."""
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    rows = [
        (kind, unit, *factors(registry, kind, unit), spellings)
        for kind, unit, _, _, spellings in ROWS
    ]
    text = OPENING + "".join(f"    {row!r},\n" for row in rows) + ")\n"
    formatter = [sys.executable, "-m", "ruff", "format", "--stdin-filename", str(TABLE), "-"]
    done = subprocess.run(formatter, input=text, capture_output=True, text=True, check=True)
    return done.stdout


if __name__ == "__main__":
    if "--check" in sys.argv:
        sys.exit(table() != TABLE.read_text(encoding="utf-8"))
    TABLE.write_text(table(), encoding="utf-8")
