"""Full check of 1,000 designs of 8 loops over the plain YAML loader on the same files.

python -m tests.benchmarks.full_check
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryFile

import yaml

from checker.design.tables import Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.findings import judge
from checker.reading import yaml_reader
from checker.reports import FormatOptions, writer
from checker.run import batch, rules_in_force
from tests.benchmarks.measuring import designs, in_turn

COUNT = 1_000
ROUNDS = 7


def main() -> None:
    """Print the ratios, and where the time of one process goes."""
    plan = batch.Plan(formats=(FormatOptions("json"),))
    book = rules_in_force.rulebook()
    json = writer(FormatOptions("json"))
    with designs(COUNT) as paths:
        size = sum(Path(path).stat().st_size for path in paths) / COUNT

        def plain() -> None:
            for path in paths:
                yaml.load(Path(path).read_bytes(), Loader=yaml.CSafeLoader)

        def events() -> None:
            for path in paths:
                for _ in yaml.parse(Path(path).read_bytes(), Loader=yaml.CSafeLoader):
                    pass

        def read() -> None:
            for path in paths:
                yaml_reader.read(Path(path).read_bytes())

        def filled(part: list[str]) -> Tables:
            tables = Tables(keep=False)
            for path in part:
                tables.add(path, Path(path).read_bytes())
            return tables

        def fill() -> None:
            for part in batch.chunks(paths):
                filled(part)

        def judged() -> None:
            for part in batch.chunks(paths):
                judge(filled(part), book, JudgingOptions())

        def whole(jobs: int) -> None:
            for checked in batch.run(paths, plan, jobs):
                assert checked.pieces

        def written(jobs: int) -> None:
            with TemporaryFile() as report:
                for checked in batch.run(paths, plan, jobs):
                    report.writelines(checked.pieces[0])

        taken = in_turn(
            {
                "plain": plain,
                "the same without the collector": uncollected(plain),
                "libyaml's events alone": uncollected(events),
                "read, with places": uncollected(read),
                "… and validated, in tables": uncollected(fill),
                "… and computed and judged": uncollected(judged),
                "full check, one process": lambda: whole(1),
                "full check, two processes": lambda: whole(2),
                "one process, report in a file": lambda: written(1),
                "two processes, report in a file": lambda: written(2),
            },
            ROUNDS,
        )
    reference = taken.pop("plain")
    found = judge(filled_once(), book, JudgingOptions())[0]
    print(f"{COUNT} designs of 8 loops, {size / 1000:.1f} kB each, {len(book.rules)} rules, ")
    print(f"{len(found.results)} results and {len(json.piece(found)) / 1000:.0f} kB of JSON each")
    print(f"plain yaml.load, libyaml's loader: {reference / COUNT * 1e3:.2f} ms a design = 1.00")
    for name, own in taken.items():
        print(f"{name:<32} {own / reference:6.2f}")


def uncollected(work: Callable[[], None]) -> Callable[[], None]:
    """The work without Python's garbage collector; a full check collects between chunks only."""

    def done() -> None:
        gc.disable()
        try:
            work()
        finally:
            gc.enable()

    return done


def filled_once() -> Tables:
    """One design in tables."""
    with designs(1) as paths:
        tables = Tables()
        tables.add(paths[0], Path(paths[0]).read_bytes())
        return tables


if __name__ == "__main__":
    main()
