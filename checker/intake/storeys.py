"""Recognises names of storeys: they say where a loop is, not how its floor is built."""

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
_LEVEL = r"floors?|storeys?|stor(?:y|ey)|levels?|etages?|geschoss|piano|planta|verdieping|niveau"
_SURE = re.compile(
    rf"(?:(?:{_ORDER})(?: (?:{_LEVEL}))?|(?:{_LEVEL}) (?:{_ORDER}|-?\d{{1,2}})|"
    rf"\d{{1,2}} ?(?:st|nd|rd|th|er|re|eme|e|a|o)? ?(?:{_LEVEL}|obergeschoss|untergeschoss)|"
    r"\d{1,2} ?(?:st|nd|rd|th|er|re|eme|o|a|e)|[lu]?gf|ff|sf|tf|bf|\d ?f|"
    r"(?:\d ?)?(?:eg|og|dg|ug|kg)(?: ?\d)?|rdc|rdj|pt|pb)"
)
"""Words and letters that can only mean a storey, in six languages; ordinary words."""
_LETTERED = re.compile(r"(?:[pvfbelru] ?-?\d{1,2}|[-+]?\d{1,2}|bg|g|f|b|t|ss|r ?\+? ?\d|s)")
"""Means a storey under a heading such as Floor, but perhaps a build-up under Floor type."""
_BUILT = re.compile(r"type|build|built|constr|aufbau|typ\b|tipo|plancher|opbouw|suelo|pavimento")


def are_storeys(heading: str, values: Sequence[str]) -> bool:
    """Whether most values under a heading of floors are names of storeys."""
    built = _BUILT.search(folded(heading))
    found = sum(
        bool(
            _SURE.fullmatch(text := folded(value))
            or (not built and (_LETTERED.fullmatch(text) or _LETTERED.fullmatch(value.casefold())))
        )
        for value in values
    )
    return 2 * found > len(values)
