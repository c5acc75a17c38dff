"""The conductivities of materials by name: the catalogue `rules/materials.yaml`."""

from __future__ import annotations

from functools import cache

import numpy as np
from msgspec import Struct

from checker.arrays import Array
from checker.design.leaves import words
from checker.reading import yaml_reader
from checker.reading.documents import Mapping
from checker.reading.package_data import data_folder

FILE = "materials.yaml"


class Material(Struct, frozen=True):
    """name; least and most, W/(m·K), equal where the catalogue has one value."""

    name: str
    least: float
    most: float

    @property
    def conductivity(self) -> float | None:
        """The single value, W/(m·K); None where there is a range."""
        return self.least if self.least == self.most else None


class Catalogue(Struct, frozen=True):
    """Materials by each of their names in small letters, and the source of their values."""

    source: str
    by_name: dict[str, Material]

    @property
    def ranging(self) -> tuple[Material, ...]:
        """The materials with a range instead of a single value."""
        return tuple(dict.fromkeys(m for m in self.by_name.values() if m.conductivity is None))

    def find(self, name: str) -> Material | None:
        """Find a material.

        Args:
            name: any of its names; capitals and repeated spaces do not matter.

        Returns:
            The material; None where the catalogue has none of that name.
        """
        return self.by_name.get(" ".join(name.split()).casefold())


@cache
def catalogue() -> Catalogue:
    """The catalogue that comes with the program."""
    data = (data_folder("rules") / FILE).read_bytes()
    content = yaml_reader.read(data, json=False, first="source:")
    source = content["source"]
    by_name = {}
    for name, entry in content["materials"].items():
        assert isinstance(entry, Mapping)
        value = entry.get("conductivity")
        least, most = (value, value) if value else (entry["least"], entry["most"])
        material = Material(name, float(least), float(most))
        for known in (name, *entry.get("also", ())):
            by_name[known.casefold()] = material
    title = source["title"].partition(",")[0]
    return Catalogue(f"{title}:{source['edition']}, {source['clause']}", by_name)


SOURCE_ID = "iso-10456-2007"
"""Its source in `rules/sources.yaml`."""


def conductivity_of(stated: Array, material: Array) -> Array:
    """Fill in conductivities from the catalogue where they are not stated.

    Args:
        stated: W/(m·K), NaN where it is not, shape (layers,); unchanged.
        material: the numbers of the materials' names (`leaves.words`), NaN where none is stated,
            shape (layers,).

    Returns:
        W/(m·K), shape (layers,); NaN where nothing is stated and the catalogue does not have the
        material, or has a range for it.
    """
    found = stated.copy()
    for row in np.flatnonzero(np.isnan(stated) & ~np.isnan(material)).tolist():
        known = catalogue().find(words.text(material[row]))
        if known is not None and known.conductivity is not None:
            found[row] = known.conductivity
    return found
