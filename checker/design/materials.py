"""What materials conduct, by name: the catalogue `rules/materials.yaml`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.reading.yaml_reader import Mapping

FILE = "materials.yaml"


@dataclass(frozen=True)
class Material:
    """name; least and most, W/(m·K), the same where the catalogue has one value."""

    name: str
    least: float
    most: float

    @property
    def conductivity(self) -> float | None:
        """The one value that there is, W/(m·K), else none."""
        return self.least if self.least == self.most else None


@dataclass(frozen=True)
class Catalogue:
    """Materials by each of their names in small letters, and where their values come from."""

    source: str
    by_name: dict[str, Material]

    def find(self, name: str) -> Material | None:
        """The material of that name, in whatever letters."""
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
