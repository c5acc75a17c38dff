"""Ranks the causes of a complaint by evidence.

A cause starts with points for how common it is, and its evidence adds or takes points. A piece of
evidence counts its weight times how far it is there: a rule by its finding and how far past the
limit, a sign by its value between `from` and `full`, less one standard deviation of the reading. Of
several pieces that point the same way the strongest counts fully, the next half, then a quarter,
because pieces for one cause are seldom independent. A piece that was looked for and is absent takes
a part of its weight. Missing evidence adds nothing, and is listed with what would decide it. Causes
with evidence for them come first, then those with little for them, then those that the evidence
speaks against; within each of the three by points. All these shares are our conventions: points put
causes in order, they are not probabilities.
"""

from __future__ import annotations

import msgspec
import numpy as np
from msgspec import Struct

from checker.audit import fits, joint
from checker.audit.complaints import USUAL, Cause, Complaints, Evidence
from checker.audit.degrees import degree_of, diminishing_sum, only_just, sign_degree
from checker.audit.explanations import ELSEWHERE
from checker.audit.needed import why_not_seen, worth_trying
from checker.audit.observing import Observed
from checker.audit.on_site import Site
from checker.audit.signs import SIGNS
from checker.outcome.results import Result

CLOSE = 1.0
"""The first cause is clearly ahead of the second from this many points."""


AGAINST = "the evidence is against it"
NOTHING_FOR = "nothing supports it so far"
SUPPORT = (
    (2.5, "well supported"),
    (1.0, "supported"),
    (0.2, "hinted at"),
    (-0.7, NOTHING_FOR),
    (-1e9, AGAINST),
)
"""Words for the points of the evidence alone, from this many up."""
SOME = 1.0
"""A cause with one piece of evidence for it of so many points is listed before all causes that
nothing speaks for, whatever speaks against it."""
UNDECIDED = 0.99
"""Points that count at most for what a cause is called while what decides on it is not read."""


class Piece(Struct, frozen=True):
    """A piece of evidence that was found; points above 0 support the cause."""

    what: str
    subject: str
    weight: str
    points: float
    says: str


class MissingEvidence(Struct, frozen=True):
    """Evidence that is missing, and the measurement that would give it.

    Attributes:
        what: the id of a rule or sign.
        measure: the id of the measurement, or `papers`; empty where none would give it.
        could: how many points it could give.
        says: what is missing, in words.
        lacking: the only readings still missing, where others were taken.
        again: whether it was read, but reading it once more may help.
        decides: whether its cause is not called supported before it is read.
    """

    what: str
    measure: str
    could: float
    says: str
    lacking: tuple[str, ...] = ()
    again: bool = False
    decides: bool = False


class Ranked(Struct, frozen=True, rename={"supporting": "speaks_for"}):
    """A cause with its points, and the reasons for them.

    Attributes:
        id: of the cause.
        title: in words.
        mechanism: how it leads to the complaint.
        points: all together.
        usual: how common it is.
        support: what the evidence for it comes to, in words.
        supporting: evidence for it, the strongest first.
        against: evidence against it, the strongest first.
        missing: evidence that was not there to be seen, what could give most first.
        next: the measurements that would confirm it.
        source: the id of the source that it was taken from.
    """

    id: str
    title: str
    mechanism: str
    points: float
    usual: str
    support: str
    supporting: tuple[Piece, ...]
    against: tuple[Piece, ...]
    missing: tuple[MissingEvidence, ...]
    next: tuple[str, ...]
    source: str


def fitted(site: Site, known: Complaints, complaint: str, subject: str = "") -> fits.Fit:
    """Fit all readings at once for the causes of this complaint.

    Args:
        site: the job's readings and model.
        known: the file of complaints.
        complaint: its id.
        subject: the room, loop or header it is about; empty for the whole job.

    Returns:
        The fit, also for causes that are seldom complained of like this.
    """
    # A cause that is seldom complained of like this can still be what the readings show.
    causes = {name: cause.of.get(complaint, ELSEWHERE) for name, cause in known.causes.items()}
    about = _Looked(site, known, subject).ids["loop"]
    return joint.fit(site, about, causes, SIDES.get(complaint, 0.0))


def rank(
    site: Site,
    known: Complaints,
    complaint: str,
    subject: str = "",
    fit: fits.Fit | None = None,
) -> list[Ranked]:
    """Rank the causes of a complaint, most evidence first.

    Args:
        site: the job's readings and model.
        known: the file of complaints.
        complaint: its id.
        subject: the room, loop or header it is about; empty for the whole job.
        fit: the fit of all readings for this complaint and subject (`fitted`); None to make it.

    Returns:
        All causes of the complaint; those with equal points in the file's order.
    """
    looked = _Looked(site, known, subject)
    together = fitted(site, known, complaint, subject) if fit is None else fit
    ranked = [
        _ranked(name, cause, complaint, looked, together)
        for name, cause in known.causes_of(complaint).items()
    ]
    return sorted(ranked, key=lambda cause: (tier(cause), -cause.points))


def tier(cause: Ranked) -> int:
    """Say to which of three groups a cause belongs, in the order in which they are listed.

    Args:
        cause: with its points.

    Returns:
        0 for a cause that evidence supports, 2 for one that it mostly contradicts, else 1.
    """
    if cause.support not in (AGAINST, NOTHING_FOR):
        return 0
    best = max((piece.points for piece in cause.supporting), default=0.0)
    return 2 if cause.support == AGAINST and best < SOME else 1


def evidence_points(cause: Ranked) -> float:
    """Give the points of the evidence for a cause alone, without how often it is met.

    Args:
        cause: with its points.

    Returns:
        Below 0 where the evidence is against it.
    """
    return cause.points - USUAL[cause.usual]


SIDES = {"cold-room": 1.0, "hot-floor": -1.0}
"""Complaints that a room's own temperature shows: 1 where it is too low, -1 too high."""
FITTED = frozenset(
    (
        "flow-short",
        "flow-surplus",
        "flow-short-alone",
        "header-short",
        "flow-nil",
        "supply-low",
        "supply-above-curve",
        "return-warm",
        "return-cold",
        "covering-more",
        "drop-large",
        "surface-cold",
        "surface-hot",
        "length-more",
        "house-loses",
        "floor-cold",
        "all-apart",
        "exchanged",
        "fluid-other",
        "waters-apart",
    )
)
"""Signs of readings that the fit of all readings includes."""


def _beside(found: Piece, fit: fits.Fit, cause: str) -> Piece:
    """A sign, as far as all readings together confirm it; alone it may mean another cause."""
    if found.what not in FITTED or cause not in fit.odds:
        return found
    borne = np.clip(np.sign(found.points) * fit.odds[cause] / fits.NO_DOUBT, 0.0, 1.0)
    return msgspec.structs.replace(found, points=round(found.points * float(borne), 3))


SELDOM = 0.01
"""Probabilities below this are not stated as numbers: the model itself is not that good."""


def _together(fit: fits.Fit, cause: str) -> Piece | None:
    """What all readings together say about a cause; None where they say nothing."""
    points = round(fit.points(cause), 3)
    if not points:
        return None
    chance = 1 / (1 + float(np.exp(-np.clip(fit.odds[cause], -30, 30))))
    shown = f"a chance of {100 * chance:.2g} %"
    if not SELDOM < chance < 1 - SELDOM:
        shown = "a chance of almost 100 %" if chance > SELDOM else "hardly any chance"
    words = f"{fit.readings} readings compared with the model: {shown}, of the causes tried"
    return Piece("fit", "design", "strong", points, words)


def _ranked(name: str, cause: Cause, complaint: str, looked: _Looked, fit: fits.Fit) -> Ranked:
    """One cause with its points, and the reasons for them."""
    usual = cause.of[complaint]
    supporting: list[Piece] = []
    against: list[Piece] = []
    missing: list[MissingEvidence] = []
    for pieces, sign in ((cause.supporting, 1.0), (cause.against, -1.0)):
        for evidence in pieces:
            if not evidence.counts(complaint):
                continue
            found = looked.at(evidence, sign)
            if isinstance(found, MissingEvidence):
                found = msgspec.structs.replace(found, decides=evidence.decides)
                missing.append(found)
                continue
            found = None if found is None else _beside(found, fit, name)
            if found is not None and found.points:
                (supporting if found.points > 0 else against).append(found)
    all_of_them = _together(fit, name)
    if all_of_them is not None:
        (supporting if all_of_them.points > 0 else against).append(all_of_them)
    supporting.sort(key=lambda piece: -piece.points)
    against.sort(key=lambda piece: piece.points)
    both = diminishing_sum(p.points for p in supporting) + diminishing_sum(
        p.points for p in against
    )
    called = both
    if any(want.decides for want in missing):
        called = min(called, UNDECIDED)
    return Ranked(
        name,
        cause.title,
        cause.mechanism,
        round(USUAL[usual] + both, 2),
        usual,
        next(words for least, words in SUPPORT if called >= least),
        tuple(supporting),
        tuple(against),
        tuple(sorted(missing, key=lambda want: -want.could)),
        cause.next,
        cause.source,
    )


class _Looked:
    """The evidence of one job about one subject."""

    def __init__(self, site: Site, known: Complaints, subject: str) -> None:
        self.site = site
        self.known = known
        paper = site.paper
        self.about = paper.related(subject)
        self.results: dict[str, list[Result]] = {}
        for result in paper.results:
            if result.subject in self.about:
                self.results.setdefault(result.rule, []).append(result)
        self.ids = {
            subject: [
                name
                for name in paper.ids(f"{subject}s")
                if f"{subject}s.{name}" in self.about
            ]
            for subject in ("loop", "room", "header", "floor")
        }  # fmt: skip
        self._seen: dict[str, tuple[float, str, Observed] | None] = {}

    def at(self, evidence: Evidence, sign: float) -> Piece | MissingEvidence | None:
        """What was found of some evidence; None where it does not apply. sign: -1 reverses it."""
        if evidence.rule:
            return self._rule(evidence, sign)
        return self._sign(evidence, sign)

    def _rule(self, evidence: Evidence, sign: float) -> Piece | MissingEvidence | None:
        """What a rule shows, by the finding furthest past its limit."""
        best: tuple[float, Result] | None = None
        lacking: Result | None = None
        for result in self.results.get(evidence.rule, ()):
            if result.kind == "open":
                lacking = lacking or result
                continue
            degree = degree_of(result)
            if degree is not None and (best is None or degree > best[0]):
                best = (degree, result)
        if lacking is not None and (best is None or best[0] <= 0):
            missing = lacking.missing if lacking.missing else lacking.title
            return MissingEvidence(
                evidence.rule, "papers", evidence.points, f"{missing} ({evidence.rule})"
            )
        if best is None:
            return None
        degree, result = best
        if sign < 0:
            # That a limit is kept is no evidence about a cause that its breach would speak against.
            degree = 0.0 if result.kind == "pass" else max(degree, 0.0)
        return Piece(
            evidence.rule,
            result.subject,
            evidence.weight,
            round(sign * degree * evidence.points, 3),
            _rule_words(result),
        )

    def _sign(self, evidence: Evidence, sign: float) -> Piece | MissingEvidence | None:
        """What a sign shows, by the subject where it is there most."""
        name = evidence.sign
        if name not in self._seen:
            self._seen[name] = self._best(name)
        best = self._seen[name]
        known = self.known.signs[name]
        if best is None:
            ids = [of for of in self.ids[known.subject] if worth_trying(self.site, name, of)]
            return self._wanting(name, ids, evidence.points) if ids else None
        degree, of, observed = best
        if sign < 0:
            degree = max(degree, 0.0)
        words = known.title if degree > 0 else f"no sign of {known.title}"
        return Piece(
            name,
            f"{known.subject}s.{of}",
            evidence.weight,
            round(sign * degree * evidence.points, 3),
            f"{words}: {observed.words}",
        )

    def _wanting(self, name: str, ids: list[str], points: float) -> MissingEvidence:
        """What is missing to see a sign at these subjects."""
        known = self.known.signs[name]
        why = why_not_seen(self.site, name, known.subject, ids)
        if why.unread and why.partly:
            words = f"not read: {' and '.join(why.unread)}, for: {known.title}"
            return MissingEvidence(name, known.measure, points, words, lacking=why.unread)
        if why.unread:
            return MissingEvidence(name, known.measure, points, f"not read: {known.title}")
        if why.because:
            measure = known.measure if why.again else ""
            words = f"cannot be determined: {known.title}: {why.because}"
            return MissingEvidence(name, measure, points, words, again=why.again)
        words = f"cannot be determined: {known.title}: the papers lack a figure that it needs"
        return MissingEvidence(name, "papers", points, words)

    def _best(self, name: str) -> tuple[float, str, Observed] | None:
        """The subject where a sign is there most, and how far; None where it was read nowhere."""
        sign = self.known.signs[name]
        best: tuple[float, str, Observed] | None = None
        for of in self.ids[sign.subject]:
            observed = SIGNS[name](self.site, of)
            if np.isnan(observed.value):
                continue
            degree = sign_degree(observed, sign.least, sign.full)
            if best is None or degree > best[0]:
                best = (degree, of, observed)
        return best


def _rule_words(result: Result) -> str:
    message = f"{result.message} ({result.rule})"
    if result.kind == "fail":
        return message
    if result.kind == "review":
        return f"for review: {message}"
    return f"{'only just met' if only_just(result) else 'met'}: {message}"


def is_supported(cause: Ranked) -> bool:
    """Whether the evidence by itself is strong enough to act on a cause.

    Args:
        cause: with its points.

    Returns:
        True where it is called supported or well supported.
    """
    return cause.support in (SUPPORT[0][1], SUPPORT[1][1])
