"""What each stage asks of every sound example, as a table: `python -m tests.outcome.stages_table`.

An example that has a plan beside it is read from its file, as any design is.
"""

from __future__ import annotations

import re
from pathlib import Path

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING
from checker.rulebook.model import STAGES
from checker.run.batch import check

FOLDER = Path(__file__).parents[2] / "example_designs"
TABLE = Path(__file__).parent / "STAGES.md"
FAULTY = ("mistakes", "leak", "let-off", "damp", "misset")
"""What the names of examples with faults say."""
STAGE = re.compile(r"(?<=stage: )\w+")

HEAD = """\
# What each stage asks of every sound example

Written by `python -m tests.outcome.stages_table > tests/outcome/STAGES.md`: change the examples, not
this. Each example is judged as if it were at each stage: how many of the rules that its stage asks
were judged, and what a critical or major one of them still wants. **Bold** is the stage it is in.

"""


def sound() -> list[Path]:
    """The examples without a fault, each by its path."""
    found = [*FOLDER.glob("*.yaml"), *FOLDER.glob("*.json"), *FOLDER.glob("stages/*.yaml")]
    return sorted(path for path in found if not any(word in path.name for word in FAULTY))


def at_stages(path: Path) -> list[DesignReport]:
    """An example as it is judged at each stage."""
    text = path.read_text("utf-8")
    key = '"stage": "' if path.suffix == ".json" else "stage: "
    own = text.index(key) + len(key)
    end = re.compile(r"\w+").match(text, own)
    assert end is not None
    files = [(stage, (text[:own] + stage + text[end.end() :]).encode()) for stage in STAGES]
    found, unreadable = check(files)
    assert not unreadable
    by_stage = {one.path: one for one in found}
    return [by_stage[stage] for stage in STAGES]


def own_stage(path: Path) -> str:
    """The stage that an example states."""
    found = re.search(r'stage"?: "?(\w+)', path.read_text("utf-8"))
    return found[1] if found else STAGES[0]


def cell(found: DesignReport) -> str:
    """A verdict, how many rules were judged, and what is wanted."""
    told = f"{found.verdict}, {found.judged.done} of {found.judged.of}"
    wanted = [one.field for one in found.questions if one.severity in HOLDING]
    looks = [
        one.rule
        for one in found.results_of("review")
        if one.severity == "critical" and not one.due and not one.answer
    ]
    fails = [one.rule for one in found.results_of("fail") if one.severity in HOLDING]
    missing = [*dict.fromkeys([*fails, *wanted, *looks])]
    return f"{told}: {', '.join(missing)}" if missing else told


def table() -> str:
    """The whole page."""
    lines = [f"| example | {' | '.join(STAGES)} |", "|---" * (len(STAGES) + 1) + "|"]
    for path in sound():
        own = own_stage(path)
        cells = [
            f"**{cell(found)}**" if stage == own else cell(found)
            for stage, found in zip(STAGES, at_stages(path), strict=True)
        ]
        lines.append(f"| {path.relative_to(FOLDER)} | {' | '.join(cells)} |")
    return HEAD + "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(table(), end="")
