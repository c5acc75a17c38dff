"""An audit as one HTML file that needs no network: a file for the argument."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from checker import __version__
from checker.audit import pictures
from checker.audit.auditing import Audit, gathered
from checker.audit.editions import alike
from checker.audit.jobs import out_of_order
from checker.audit.measured import Difference
from checker.audit.pictures import Compared, Ranged, Weighed
from checker.audit.ranking import faded
from checker.audit.text import COMPUTED, EXPLANATION
from checker.words import measure

PICTURED = {
    "return_temperature": "Return, as read and as computed for the water the loop got",
    "surface_mean": "Surface, as read and as computed for the water the loop got",
    "supply_temperature": "Supply, as read and as the weather of the day asks for",
    "flow": "Flow, as read and as designed",
    "pressure_drop": "Pressure loss, as read and as computed for the stated length",
}
"""Properties that are drawn, and the words below the picture."""
LABELS = {"room.covering.resistance": "covering resistance"}
LONGEST = 22


def written(audit: Audit) -> bytes:
    """The page."""
    template = _environment().get_template("audit.html")
    page: str = template.render(
        audit=audit,
        version=__version__,
        style=Markup(_style()),  # our own
        explanation=EXPLANATION,
        timeline=pictures.timeline(
            "Days of the job", [(event.name, event.on) for event in audit.timeline if event.on]
        ),
        unknown_days=[event.name for event in audit.timeline if event.on is None],
        weighed=_weighed(audit),
        pictures=[*_compared(audit), *_ranged(audit)],
        says=gathered(audit.explained),
        loops=_loops(audit),
        days={row.loop: row.on for row in audit.differences if row.on},
        out_of_order=out_of_order(audit.timeline),
        changed=alike(audit.editions) if audit.editions else [],
    )
    return page.encode()


@cache
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("checker.audit"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["shown"] = _shown
    made.filters["label"] = _label
    made.filters["computed_as"] = lambda name: COMPUTED.get(name, "computed")
    return made


@cache
def _style() -> str:
    loader = PackageLoader("checker.reports")
    source, _, _ = loader.get_source(Environment(autoescape=True), "page.css")
    return source


def _shown(value: float | None, unit: str) -> str:
    return "–" if value is None else measure(value, unit)


def _label(name: str) -> str:
    return LABELS.get(name, name.replace("_", " "))


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def _weighed(audit: Audit) -> Markup:
    rows = [
        Weighed(
            f"{place}. {cause.id.replace('-', ' ')}",
            faded(piece.points for piece in cause.speaks_for),
            faded(piece.points for piece in cause.against),
            cause.points,
        )
        for place, cause in enumerate(audit.causes, 1)
    ]
    return pictures.weighed("Points for and against each cause", rows) if rows else Markup("")


def _compared(audit: Audit) -> Iterator[tuple[str, Markup, list[str]]]:
    for name, words in PICTURED.items():
        own = [(row, _against(row)) for row in audit.differences if row.name == name]
        rows = [
            Compared(_cut(row.loop), row.measured, row.accuracy or 0.0, against, row.apart)
            for row, against in own
            if row.measured is not None and against is not None
        ]
        if rows:
            unit = next(row.unit for row, _ in own)
            told = [pictures.told(row, unit) for row in rows]
            yield words, pictures.compared(words, unit, rows), told


def _against(row: Difference) -> float | None:
    """What a reading is held against: the model, else the papers."""
    for value in (row.computed, row.installed, row.designed):
        if value is not None:
            return value
    return None


def _ranged(audit: Audit) -> Iterator[tuple[str, Markup, list[str]]]:
    for name in dict.fromkeys(one.name for one in audit.explained):
        own = [one for one in audit.explained if one.name == name]
        rows = [
            Ranged(_cut(one.loop), one.value, one.low, one.high, one.stated)
            for one in own
            if one.value is not None and one.low is not None and one.high is not None
        ]
        if rows:
            words = (
                f"{_label('room.' + name) if '.' in name else 'Length'}, as the readings have it"
            )
            words = words[0].upper() + words[1:]
            told = [f"{one.loop}: {one.says}" for one in own if one.value is not None]
            yield words, pictures.ranged(words, own[0].unit, rows), told


def _loops(audit: Audit) -> dict[str, list[Difference]]:
    loops: dict[str, list[Difference]] = {}
    for row in audit.differences:
        loops.setdefault(row.loop, []).append(row)
    return loops
