"""What is a drawing made of, before it has a size? Areas, lines and signs in metres, and labels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..sun.position import Floats
from .labels import Label
from .signs import SIGN_STYLE, SIGNS, STYLES, TEXTS, Style


@dataclass(frozen=True, eq=False)
class Shape:
    """An area or a line of a kind (`signs.STYLES`): rings (N, 2), metres; points once laid out.

    `of` tells whose it is. `off_pt`, a ring each, moves corners on the drawing: so a sign keeps its
    size whatever the drawing's. `style` takes the place of the kind's.
    """

    kind: str
    rings: tuple[Floats, ...]
    closed: bool = True
    of: str = ""
    off_pt: tuple[Floats, ...] = ()
    style: Style | None = None

    @property
    def look(self) -> Style:
        """Its own style, or its kind's."""
        return STYLES[self.kind] if self.style is None else self.style


@dataclass(frozen=True, eq=False)
class Surface:
    """Where something may be drawn later, such as sun on a floor or a wall: its own axes, (2,)."""

    name: str
    origin: Floats
    along: Floats
    up: Floats


class Scene:
    """Areas, lines and signs from the ground up, and the labels over them."""

    def __init__(self) -> None:
        self.items: list[Shape | Surface] = []
        self.labels: list[Label] = []

    def area(self, kind: str, *rings: ArrayLike, of: str = "", style: Style | None = None) -> None:
        """An area; further rings are holes in it."""
        self.items.append(Shape(kind, tuple(map(_corners, rings)), True, of, style=style))

    def polygon(
        self, kind: str, shape: shapely.Geometry, *, of: str = "", style: Style | None = None
    ) -> None:
        """An area as shapely has it, with its holes."""
        if outlines := rings(shape):
            self.area(kind, *outlines, of=of, style=style)

    def line(self, kind: str, points: ArrayLike, *, of: str = "") -> None:
        """A line through points (N, 2)."""
        self.items.append(Shape(kind, (_corners(points),), False, of))

    def beside(
        self, kind: str, points: ArrayLike, off_pt: ArrayLike, *, closed: bool = False
    ) -> None:
        """A line through points that are moved on the drawing, (N, 2) each."""
        self.items.append(Shape(kind, (_corners(points),), closed, off_pt=(_corners(off_pt),)))

    def sign(
        self, name: str, at: ArrayLike, *, turn_deg: float = 0.0, of: str = "",
        off_pt: tuple[float, float] = (0.0, 0.0),
    ) -> None:  # fmt: skip
        """A sign (`signs.SIGNS`) at a place (2,), turned counter-clockwise."""
        turn = math.radians(turn_deg)
        turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        kind = SIGN_STYLE.get(name, name)
        for ring in SIGNS[name]:
            closed = ring[0] == ring[-1]
            off = np.array(ring[:-1] if closed else ring) @ turned + off_pt
            place = np.broadcast_to(np.asarray(at, dtype=np.float64), off.shape)
            self.items.append(Shape(kind, (place,), closed, of, (off,)))

    def surface(self, name: str, origin: ArrayLike, along: ArrayLike, up: ArrayLike) -> None:
        """Where something may be drawn later."""
        self.items.append(Surface(name, *(np.asarray(part, float) for part in (origin, along, up))))

    def label(self, kind: str, text: str, at: ArrayLike, **where: Any) -> None:
        """A text of a kind (`signs.TEXTS`); the rest as `Label` has it."""
        self.labels.append(Label(text, at, where.pop("letters", TEXTS[kind]), kind, **where))

    def room_for(self, points: ArrayLike) -> None:
        """Nothing is drawn there, but it belongs to the drawing."""
        self.items.append(Shape("room for", (_corners(points),), False, style=Style()))

    def under(self, name: str, other: Scene) -> None:
        """Put another scene where something may be drawn on a surface; its labels go on top."""
        index = next(
            i for i, item in enumerate(self.items)
            if isinstance(item, Surface) and item.name == name
        )  # fmt: skip
        self.items[index + 1 : index + 1] = other.items
        self.labels += other.labels

    def bounds(self) -> Floats:
        """Lowest and highest x and y of all that is drawn, metres, (2, 2)."""
        every = np.concatenate(
            [ring for item in self.items if isinstance(item, Shape) for ring in item.rings]
        )
        return np.stack((every.min(axis=0), every.max(axis=0)))

    def measure(self, start: Sequence[float], end: Sequence[float], text: str) -> None:
        """A line with a tick at each end, and what it measures."""
        ends = np.array([start, end], dtype=np.float64)
        of = f"measure {len(self.items)}"
        self.line("measure", ends, of=of)
        turn_deg = math.degrees(math.atan2(*(ends[1] - ends[0])[::-1]))
        for spot in ends:
            self.sign("tick", spot, turn_deg=turn_deg)
        self.label("measure", text, ends.mean(axis=0), away_pt=0.0, thing=ends, of=of)


def _corners(points: ArrayLike) -> Floats:
    return np.atleast_2d(np.asarray(points, dtype=np.float64))


def rings(shape: shapely.Geometry) -> list[Floats]:
    """Corners of all rings of an area, (N, 2) each."""
    return [
        np.array(ring.coords)[:-1, :2]
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]


def circle(at: Sequence[float], radius_m: float) -> Floats:
    """Corners of a circle, (64, 2)."""
    turns = np.linspace(0.0, 2 * math.pi, 64, endpoint=False)
    return np.array(at) + radius_m * np.stack((np.cos(turns), np.sin(turns)), axis=-1)
