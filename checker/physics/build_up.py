"""The build-up of a heated floor, in section: layers, pipe, plate, joist. SI."""

from __future__ import annotations

from itertools import accumulate, pairwise

from msgspec import Struct

WATER, ROOM, BELOW = 0, 1, 2
"""Places in what is asked for each of the three temperatures."""

SAME_PLACE = 1e-5
"""m; what ends nearer to each other than this ends in one place, or no cell fits between."""


class Layer(Struct, frozen=True):
    """thickness, m; conductivity, W/(m·K), and that of a joist in it, zero for none."""

    thickness: float
    conductivity: float
    joist: float = 0.0


class Plate(Struct, frozen=True):
    """A strip that takes the place of the top of the pipe's layer, joined to a ring of its
    thickness close round the pipe. thickness and width, m; conductivity, W/(m·K)."""

    thickness: float
    width: float
    conductivity: float


class Section(Struct, frozen=True):
    """A floor in section.

    spacing, m; covering and below, the resistances of what lies over the layers (without the
    room's exchange) and under them (with it), m²·K/W; layers from the top; pipe_layer: the number
    of the one that holds the pipe; axis: of the pipe under that layer's top, m; outside and wall,
    m, and pipe_conductivity, W/(m·K); joist: width of a joist in the middle between two pipes, m,
    zero for none, in the layers that have one.

    Pipe and plate fit: the pipe lies within its layer, a plate's strip reaches the pipe and ends
    outside its ring, and neighbouring pipes and joists leave them room.
    """

    spacing: float
    covering: float
    layers: tuple[Layer, ...]
    pipe_layer: int
    axis: float
    outside: float
    wall: float
    pipe_conductivity: float
    below: float
    plate: Plate | None = None
    joist: float = 0.0

    @property
    def radius(self) -> float:
        """Radius of the pipe's outside with the plate's ring, m."""
        return self.outside / 2 + (self.plate.thickness if self.plate else 0.0)

    @property
    def depth(self) -> float:
        """Depth of the pipe's axis under the uppermost layer's top, m."""
        return self.heights[self.pipe_layer] + self.axis

    @property
    def heights(self) -> list[float]:
        """Depths of the layers' tops, and of the lowest underside, under the uppermost top, m."""
        return [*accumulate((layer.thickness for layer in self.layers), initial=0.0)]

    @property
    def ends(self) -> list[float]:
        """Distances at which something ends between the pipe and the middle between two pipes,
        m.
        """
        half = self.spacing / 2
        ends = {half}
        if self.plate:
            ends.add(min(self.plate.width / 2, half))
        if self.joist:
            ends.add(half - self.joist / 2)
        outwards = sorted(ends)
        apart = [end for end, next_ in pairwise(outwards) if next_ - end > SAME_PLACE]
        return [*apart, outwards[-1]]


def wet_section(
    spacing: float,
    cover: float,
    conductivity: float,
    covering: float,
    outside: float,
    wall: float,
    pipe_conductivity: float,
    below: float,
    below_pipe: float = 0.0,
) -> Section:
    """A floor with its pipes in screed, from the numbers that EN 1264-2 takes.

    Args:
        spacing: m.
        cover: screed over the pipe crown, m.
        conductivity: of the screed, W/(m·K).
        covering: resistance, m²·K/W.
        outside: diameter of the pipe, m.
        wall: of the pipe, m.
        pipe_conductivity: W/(m·K).
        below: R_u, m²·K/W.
        below_pipe: screed under the pipe, m.

    Returns:
        The section, of one layer.
    """
    return Section(
        spacing,
        covering,
        (Layer(cover + outside + below_pipe, conductivity),),
        0,
        cover + outside / 2,
        outside,
        wall,
        pipe_conductivity,
        below,
    )
