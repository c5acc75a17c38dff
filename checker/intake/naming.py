"""Proposes ids for a suggested map: what distinguishes one loop, room or header from the others."""

from __future__ import annotations

from checker.intake.fields import collections, fields
from checker.intake.proposing import Proposal, repeats, rooms_apart_by, storeys, values_of
from checker.intake.repeating import HEADERS, ROOMS, Title, is_storey
from checker.intake.several import several
from checker.intake.sheets import plain, quoted
from checker.intake.writing import scalar


def ids_of(best: Proposal, title: Title | None) -> list[str]:
    """Propose how the ids are made.

    Args:
        best: the proposed columns of the sheet.
        title: what the titles of several tables, or the names of several sheets, have in common.

    Returns:
        The lines of the map that say how each section's ids are made.
    """
    heads = {s: best.columns[s][1] for s in collections() if s in best.columns}
    needed = {target.split(".")[0] for target in best.columns if target in fields()}
    ids: dict[str, str] = {}
    for section in ("loops", "rooms", "headers", "pipes", "floors"):
        if section in heads:
            ids[section] = "{" + heads[section] + "}"
    looks = {}
    if "loops" not in ids:
        parts = [best.columns[one][1] for one in ("headers", "loops.port") if one in best.columns]
        ids = {"loops": ".".join("{" + p + "}" for p in parts) or "{…}", **ids}
        looks["loops"] = "no heading names the loop"
    if title is not None:
        looks |= _by_title(best, title, ids)
    elif "headers" in ids and repeats(best, ["loops"]):
        ids["loops"] = f"{ids['headers']}.{ids['loops']}"
    elif repeats(best, ["loops"]):
        looks |= _by_storey(best, ids)
    alone = title is None and ids.get("rooms", "").count("{") == 1
    if alone and (apart_by := rooms_apart_by(best)):
        if is_storey(apart_by):
            ids["rooms"] = f"{{{apart_by}}} {ids['rooms']}"
            looks["rooms"] = f"rooms of one name are one in each {{{apart_by}}} only"
        else:
            looks["rooms"] = "several headers have this name; is it one room?"
    if best.both:
        looks["loops"] = "the heading names header and loop together, so no header is known"
    if "loops" in best.columns and (doubt := _several(best)):
        looks["loops"] = "; ".join((*filter(None, [looks.get("loops")]), doubt))
    if best.numbered:
        looks["loops"] = f"is {quoted(best.columns['loops'][1])} the loop?"
    lines = ["    ids:"]
    for section in ids:
        look = f"  # LOOK: {comment(looks[section])}" if section in looks else ""
        lines.append(f"      {section}: {scalar(ids[section])}{look}")
    for section in sorted(needed - ids.keys()):
        if section in collections():
            lines.append(f"      {section}: '{{…}}'  # LOOK: which heading names its {section}?")
    return lines


def _several(best: Proposal) -> str:
    """A comment for the user where one id may mean several loops."""
    found = several(plain(v) for v in values_of(best, best.columns["loops"][0]))
    if found.names:
        names = ", ".join(quoted(one) for one in sorted(found.names)[:4])
        return f"{names} may be several loops in one row, which is not read; give each its row"
    return f"is {quoted(found.one)} one loop, not a run of loops?" if found.one else ""


def _by_title(best: Proposal, title: Title, ids: dict[str, str]) -> dict[str, str]:
    """Put the varying part of the titles into the ids; returns a comment to review for each
    section.
    """
    looks = {}
    own = "{" + title.name + "}"
    by_header = "headers" in ids
    if title.of == HEADERS and not by_header:
        ids["headers"] = own
    if title.of == ROOMS and "rooms" in ids:
        ids["rooms"] = f"{own} {ids['rooms']}"
    elif not title.of:
        looks["loops"] = f"is '{title.pattern}' a header, a floor or a flat?"
    # Where the title is a sheet's name, only one of several sheets was looked at.
    several = len(best.places) > 1
    if by_header and title.of != ROOMS:
        ids["loops"] = f"{ids['headers']}.{ids['loops']}"
    elif not several or repeats(best, ["loops"]):
        ids["loops"] = f"{own}.{ids['loops']}"
    if title.of != ROOMS and "rooms" in ids and (not several or repeats(best, ["rooms"])):
        looks["rooms"] = f"rooms of one name are one; else write '{own} {ids['rooms']}'"
    return looks


def _by_storey(best: Proposal, ids: dict[str, str]) -> dict[str, str]:
    """The same with a column of flats or storeys, where loops of one name occur in several rows."""
    for column, text in storeys(best):
        if not repeats(best, ["loops"], column):
            own = "{" + text + "}"
            ids["loops"] = f"{own}.{ids['loops']}"
            if "rooms" in ids:
                ids["rooms"] = f"{own} {ids['rooms']}"
            return {"loops": f"\"split: '{own}'\" over 'sheets:' makes a design of each instead"}
    return {"loops": "several rows have one name; what distinguishes them?"}


def comment(text: str) -> str:
    """A text on one line, so that it can be written as a comment."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
