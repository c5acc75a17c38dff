"""Starting the program over a bare interpreter, in processor time: as installed, and a checkout.

python -m tests.benchmarks.startup           # builds a wheel (wants hatchling) and measures it too
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

from tests.benchmarks.measuring import designs, used

RUNS = 15
CHECKOUT = Path(__file__).parents[2]
CHECK = ("-m", "checker", "check", "house.yaml")
LIBRARIES = (
    "from checker import cli; cli._one_thread(); cli._collect_seldom(); cli._without_docstrings();"
    "cli._import_lightly(); import numpy.typing; from checker.reading import yaml_reader;"
    "yaml_reader.read(b'design: 1', json=False, first='')"
)
"""What no check can do without: the floor under its start."""
CALLS = {
    "bare interpreter": ("-c", "pass"),
    "--version": ("-m", "checker", "--version"),
    "one unchanged design, json": (*CHECK, "--format", "json"),
    "one unchanged design, text": CHECK,
    "one design, no cache, json": (*CHECK, "--format", "json", "--no-cache"),
    "import numpy, for comparison": ("-c", "import numpy"),
    "NumPy, msgspec, PyYAML, as the command imports them": ("-c", LIBRARIES),
}


def installed(folder: Path) -> Path:
    """The program out of its wheel, with bytecode, beside what is installed already."""
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    built, there = folder / "wheel", folder / "there"
    build = [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(built)]
    subprocess.run([*build, str(CHECKOUT)], check=True)
    (wheel,) = built.iterdir()
    put = [*pip, "install", "--no-deps", "--compile", "--target", str(there), str(wheel)]
    subprocess.run(put, check=True)
    return there


def main() -> None:
    """Print the ratios: medians of calls taken in turn, so that a busy moment strikes all alike."""
    with designs(1) as (path,), tempfile.TemporaryDirectory() as named:
        folder = Path(named)
        places = {"installed": installed(folder), "checkout": CHECKOUT}
        (folder / "house.yaml").write_bytes(Path(path).read_bytes())
        taken: dict[tuple[str, str], list[float]] = {}
        for number in range(RUNS + 1):
            for place, program in places.items():
                for name, words in CALLS.items():
                    cache = str(folder / f"cache of {place}")
                    seconds = used([*words], named, program, PRESCREED_CACHE=cache).seconds
                    if number:  # the first fills the cache
                        taken.setdefault((place, name), []).append(seconds)
        for place in places:
            bare = median(taken[place, "bare interpreter"])
            print(f"{place}: bare interpreter {bare * 1e3:.1f} ms = 1.0")
            for name in [*CALLS][1:]:
                print(f"  {name:<52} {median(taken[place, name]) / bare:5.1f}")


if __name__ == "__main__":
    main()
