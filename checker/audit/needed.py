"""The readings that each sign needs, and why a sign cannot be seen."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from checker.audit import heat, inference
from checker.audit.on_site import Site
from checker.audit.signs import MANY, SIGNS

_WATERS = ("flow", "supply", "return")
NEEDED: dict[str, tuple[str, ...]] = {
    "flow-short": ("flow",),
    "flow-surplus": ("flow",),
    "flow-short-alone": ("flow",),
    "header-short": ("flow",),
    "speed-read": ("flow",),
    "supply-low": ("supply", "outside"),
    "supply-high": ("supply",),
    "supply-above-curve": ("supply", "outside"),
    "return-warm": _WATERS,
    "return-cold": _WATERS,
    "covering-more": _WATERS,
    "drop-large": ("supply", "return"),
    "surface-hot": ("flow", "supply", "surface"),
    "surface-cold": ("flow", "supply", "surface"),
    "surface-over": ("surface_max",),
    "surface-striped": ("surface", "surface_max"),
    "length-more": ("flow", "pressure_drop"),
    "room-warm": ("temperature",),
    "leak-shown": ("pressure", "temperature"),
    "header-tight": ("pressure", "temperature"),
    "room-as-set": ("temperature",),
    "house-loses": ("temperature",),
    "floor-cold": _WATERS,
    "all-apart": _WATERS,
    "exchanged": _WATERS,
    "fluid-other": ("glycol",),
    "flow-nil": ("flow",),
    "set-low": ("set",),
    "set-high": ("set",),
    "sensor-warm": ("shown", "temperature"),
    "sensor-cold": ("shown", "temperature"),
    "waters-apart": ("supply", "return"),
    "air-flushed": ("flow_purged",),
    "head-answers": ("flow_other_head",),
}
"""What must be read on one visit for a sign to be seen; signs of the papers need nothing."""
AT_HEADERS = frozenset(("waters-apart",))
"""Signs whose water temperatures are read at headers as well as at their loops."""
TRIED_ON_SHORT = frozenset(("air-flushed", "head-answers"))
"""Signs that are only tried on a loop whose readings show too little water."""
INFERRED = {"covering-more": inference.COVERING, "length-more": inference.LENGTH}
"""Signs that rest on a property that readings show by the model solved backwards."""
_IN_WORDS = {
    "outside": "the outside temperature",
    "surface_max": "the warmest spot of the surface",
    "pressure_drop": "the pressure loss",
    "temperature": "the room's air",
    "pressure": "the gauge and the water's temperature, twice",
    "glycol": "the glycol",
    "set": "what the thermostat is set to",
    "shown": "what the thermostat shows",
    "flow_purged": "the flow once the loop was flushed alone",
    "flow_other_head": "the flow with a neighbour's head on its valve",
}


class WhyNotSeen(NamedTuple):
    """Why a sign cannot be seen; where `unread` and `because` are both empty, a figure of the
    design is missing.

    Attributes:
        unread: the missing readings, in words.
        partly: whether the others were read.
        because: why the readings say nothing.
        again: whether reading once more helps.
    """

    unread: tuple[str, ...] = ()
    partly: bool = False
    because: str = ""
    again: bool = False


def worth_trying(site: Site, name: str, of: str) -> bool:
    """Whether a sign is worth trying on a loop; some are only where it is short of water.

    Args:
        site: the job's readings and model.
        name: the sign's id.
        of: the loop's id.

    Returns:
        True for every sign but those of TRIED_ON_SHORT.
    """
    if name not in TRIED_ON_SHORT:
        return True
    short = SIGNS["flow-short"](site, of).value
    return bool(short > SHORT)


SHORT = 0.15
"""A loop counts as short of water where this share of its computed flow is missing, as the sign has
it.
"""


def why_not_seen(site: Site, name: str, subject: str, ids: list[str]) -> WhyNotSeen:
    """Say why a sign is not seen at any of these subjects.

    Args:
        site: the job's readings and model.
        name: the sign's id.
        subject: what the subjects are, in the singular ('loop').
        ids: their ids, one at least.

    Returns:
        The reason at the subject that lacks least.
    """
    found = [_not_seen(site, name, subject, of) for of in ids]
    return min(found, key=lambda one: (len(one.unread), not one.because, not one.again))


def _not_seen(site: Site, name: str, subject: str, of: str) -> WhyNotSeen:
    """Why a sign is not seen at one subject."""
    needed = NEEDED.get(name, ())
    lacking = _unread(site, name, subject, of)
    if lacking:
        words = tuple(_IN_WORDS.get(one, one) for one in lacking)
        return WhyNotSeen(words, partly=len(lacking) < len(needed))
    if name in ("leak-shown", "header-tight"):
        return WhyNotSeen(because=site.leak(of).because)
    if name in INFERRED:
        one = site.inferred(of, INFERRED[name])
        return WhyNotSeen(because=site.speech.words(one.because), again=one.again)
    return WhyNotSeen()


def _unread(site: Site, name: str, subject: str, of: str) -> list[str]:
    """The readings that a sign needs and one subject lacks, on the visit that lacks least."""
    needed, taken = NEEDED.get(name, ()), site.job.readings
    if name in ("leak-shown", "header-tight"):
        return [*site.leak(of).unread]
    if name == "all-apart":
        seen = [one for one in site.paper.loops_at(of) if not np.isnan(heat.floor(site, one).value)]
        return [] if len(seen) > MANY else [*needed]
    if name in _BY_FLOW:
        header = of if subject == "header" else site.paper.text("loops", of, "header")
        own = [of] if subject == "loop" else site.paper.ids("loops")
        if name in ("flow-short-alone", "header-short"):
            own = site.paper.loops_at(header)
        known = [loop for loop in own if not np.isnan(site.flow_read(loop)[0])]
        if name == "flow-short-alone" and of not in known:
            known = []
        return [] if len(known) >= (1 if own == [of] else MANY) else [*needed]
    if name == "length-more" and taken.of(f"loops.{of}", "content"):
        return []
    columns = {
        one: taken.outside if one == "outside" else taken.of(f"{subject}s.{of}", one)
        for one in needed
    }
    lacking = [[one for one in needed if day not in columns[one]] for day in taken.visits]
    return min(lacking, key=len, default=[*needed])


_BY_FLOW = (
    "flow-nil",
    "flow-short",
    "flow-surplus",
    "flow-short-alone",
    "header-short",
    "speed-read",
)
"""Signs of flows, which the recorded balance can show without a visit."""

ON_PAPER = frozenset(
    (
        *_BY_FLOW,
        "screed-thick",
        "screed-thin",
        "spacing-wide",
        "insulation-thin",
        "pump-surplus",
    )
)
"""Signs that a design and its recorded balance show without a visit."""
