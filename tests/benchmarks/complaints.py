"""How often the planted cause of a complaint is ranked first, and among the first three.

python -m tests.benchmarks.complaints [JOBS [SEED]]

Beside it stands a plain ordering by severity: a job's findings about the subject, gravest first,
each taken as the causes that it can speak for.

The readings are made by the program's own model, so this checks consistency; `past_jobs` has
readings of another.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from dataclasses import dataclass, field

from checker.audit import complaints, jobs, on_site, ranking
from checker.audit.complaints import Cause
from checker.audit.papers import JudgedDesign
from checker.outcome.results import SEVERITIES
from tests.audit.simulated import Simulated, simulate


@dataclass
class Score:
    """Where the planted causes stood."""

    places: list[int] = field(default_factory=list)

    def within(self, first: int) -> float:
        """The share that stood among the first so many."""
        return sum(place < first for place in self.places) / len(self.places)


@dataclass
class Scores:
    """Both orderings, over all jobs and by complaint and cause; and what was ranked first."""

    ranked: Score = field(default_factory=Score)
    by_severity: Score = field(default_factory=Score)
    of: dict[tuple[str, str], tuple[Score, Score]] = field(
        default_factory=lambda: defaultdict(lambda: (Score(), Score()))
    )
    mistaken: Counter[tuple[str, str, str]] = field(default_factory=Counter)


def by_severity(paper: JudgedDesign, causes: dict[str, Cause], about: set[str]) -> list[str]:
    """The causes in the order of their gravest finding, as a plain list of findings would give.

    Findings of equal severity are in file order, as a report has them; causes without a finding
    come last, in the order given.
    """
    fails = [r for r in paper.results if r.kind == "fail" and r.subject in about]
    fails.sort(key=lambda result: SEVERITIES.index(result.severity))
    place: dict[str, int] = {}
    for number, result in enumerate(fails):
        for name, cause in causes.items():
            if result.rule in cause.rules():
                place.setdefault(name, number)
    return sorted(causes, key=lambda name: place.get(name, len(fails)))


def job_of(simulated: Simulated) -> jobs.Job:
    """The job, read from its files."""
    designs = [(n, t.encode()) for n, t in simulated.files.items() if not n.endswith(jobs.READINGS)]
    readings = ("site.readings.yaml", simulated.files["site.readings.yaml"].encode())
    return jobs.from_texts(simulated.name, designs, readings)


def score(count: int, seed: int = 0) -> Scores:
    """Rank the causes of so many jobs."""
    known = complaints.complaints()
    scores = Scores()
    for number in range(count):
        simulated = simulate(number, seed)
        site = on_site.Site(job_of(simulated))
        ranked = ranking.rank(site, known, simulated.complaint, simulated.subject)
        order = [cause.id for cause in ranked]
        causes = known.causes_of(simulated.complaint)
        plain = by_severity(site.paper, causes, site.paper.related(simulated.subject))
        mine, other = scores.of[(simulated.complaint, simulated.cause)]
        for score_, names in ((scores.ranked, order), (mine, order)):
            score_.places.append(names.index(simulated.cause))
        for score_ in (scores.by_severity, other):
            score_.places.append(plain.index(simulated.cause))
        if order[0] != simulated.cause:
            scores.mistaken[(simulated.complaint, simulated.cause, order[0])] += 1
    return scores


def main(count: int, seed: int) -> None:
    """Print the shares."""
    scores = score(count, seed)
    print(
        f"{'complaint':18}{'planted cause':26}{'jobs':>5} | first {'in 3':>6} | by severity: first {'in 3':>6}"
    )
    for (complaint, cause), (mine, other) in sorted(scores.of.items()):
        print(
            f"{complaint:18}{cause:26}{len(mine.places):5} | {mine.within(1):5.0%} {mine.within(3):6.0%}"
            f" | {other.within(1):18.0%} {other.within(3):6.0%}"
        )
    for words, one in (("ranked by evidence", scores.ranked), ("by severity", scores.by_severity)):
        print(f"{words:20}: first {one.within(1):.1%}, among the first three {one.within(3):.1%}")
    print("most often mistaken:")
    for (complaint, cause, instead), times in scores.mistaken.most_common(12):
        print(f"  {times:4} × {complaint}: {cause} taken for {instead}")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*given, *(2000, 0)[len(given) :])
