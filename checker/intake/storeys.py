"""Recognises names of storeys under a heading such as Floor.

They say where a loop is, not how its floor is built, which others write under the same heading. The
words are ordinary ones of English, German, French, Spanish, Italian and Dutch, without accents.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from checker.intake.guessing import folded

_ORDER = (
    r"ground|lower ground|upper ground|first|second|third|fourth|top|attic|loft|basement|cellar|"
    r"mezzanine|erdgeschoss|obergeschoss|dachgeschoss|untergeschoss|kellergeschoss|keller|parterre|"
    r"rez de chaussee|rez de jardin|rez|combles?|sous sol|premier|deuxieme|entresol|planta baja|"
    r"baja|primera|segunda|planta primera|sotano|atico|piano terra|terra|terreno|primo|secondo|"
    r"interrato|seminterrato|mansarda|begane grond|eerste|tweede|zolder|kelder|souterrain"
)
"""Which storey: 'ground', 'premier'."""
_LEVEL = r"floors?|storeys?|story|stories|levels?|etages?|geschoss|piano|planta|verdieping|niveau"
"""That it is one: 'floor', 'etage'."""
_SURE = re.compile(
    rf"(?:(?:{_ORDER})(?: (?:{_LEVEL}))?|(?:{_LEVEL}) (?:{_ORDER}|-?\d{{1,2}})|"
    rf"\d{{1,2}} ?(?:st|nd|rd|th|er|re|eme|e|a|o)? ?(?:{_LEVEL}|obergeschoss|untergeschoss)|"
    r"\d{1,2} ?(?:st|nd|rd|th|er|re|eme|o|a|e)|[lu]?gf|ff|sf|tf|bf|\d ?f|"
    r"(?:\d ?)?(?:eg|og|dg|ug|kg)(?: ?\d)?|rdc|rdj|pt|pb)"
)
"""Means a storey under any heading: 'first floor', 'niveau -1', '2nd', '1. OG', 'RDC'."""
_LETTERED = re.compile(r"(?:[pvfbelru] ?-?\d{1,2}|[-+]?\d{1,2}|bg|g|f|b|t|ss|r ?\+? ?\d|s)")
"""Means a storey under Floor ('F1', 'B', '2'), but perhaps a build-up under Floor type."""
_BUILT = re.compile(r"type|build|built|constr|aufbau|typ\b|tipo|plancher|opbouw|suelo|pavimento")
"""In a heading: what is under it says how floors are built."""


def are_storeys(heading: str, values: Sequence[str]) -> bool:
    """Whether most values under a heading of floors are names of storeys.

    Args:
        heading: as it is written.
        values: the cells under it.
    """
    built = _BUILT.search(folded(heading))
    found = sum(
        bool(
            _SURE.fullmatch(text := folded(value))
            or (not built and (_LETTERED.fullmatch(text) or _LETTERED.fullmatch(value.casefold())))
        )
        for value in values
    )
    return 2 * found > len(values)
