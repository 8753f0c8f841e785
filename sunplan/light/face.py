"""Light on a face: its two sides under daylight and key, with what the room sends back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..location.read import Location
from ..room.camera import aim_point
from ..room.convex import cross
from ..sun.position import Floats
from ..sun.search import Indices
from .daylight import Skies
from .daylight_transfer import RoomTransfer, trace_room
from .lamp import LightSource, face_point, key_source
from .meter import key_lux, stops
from .resolved import ResolvedSetup
from .screen import Screen

TURN_DEG = 45.0  # of each side from the camera
UP = np.array([0.0, 0.0, 1.0])
FACE_POINTS = 4
OFF_M = 1e-3  # before a surface, so that it does not hide its own point


@dataclass(frozen=True)
class FaceLight:
    """Illuminances of a face, lx.

    Attributes
    ----------
    daylight_key_lux, daylight_fill_lux, daylight_up_lux
        By daylight alone, on the key side, the fill side, and the level.
    key_lux, fill_lux
        With the key lamp.
    wall_lux
        Of the wall straight behind the face, with the key lamp.
    """

    daylight_key_lux: float
    daylight_fill_lux: float
    daylight_up_lux: float
    key_lux: float
    fill_lux: float
    wall_lux: float

    @property
    def ratio(self) -> float:
        """(Key + fill) : fill, as it is metered; below 1 where daylight makes fill the lighter."""
        return self.key_lux / self.fill_lux if self.fill_lux > 0 else math.inf

    def with_lamp(self, share: float, daylight_wall_lux: float) -> FaceLight:
        """The same with a share of the lamp, 0 to 1; the wall's daylight is not among its levels.

        Examples
        --------
        >>> FaceLight(100.0, 50.0, 80.0, 900.0, 250.0, 60.0).with_lamp(0.25, 20.0).key_lux
        300.0
        """
        daylight = self.daylight_key_lux, self.daylight_fill_lux, daylight_wall_lux
        both = self.key_lux, self.fill_lux, self.wall_lux
        key, fill, wall = (
            alone + share * (lit - alone) for alone, lit in zip(daylight, both, strict=True)
        )
        return replace(self, key_lux=key, fill_lux=fill, wall_lux=wall)


@dataclass(frozen=True, eq=False)
class Faces:
    """The faces of all setups (M) in one room, ready for any sky.

    Attributes
    ----------
    setups
        In the order of their points.
    transfer
        What daylight does to the faces' points: of each the side turned left of the camera, the
        side turned right, the level upward, and the wall straight behind (`FACE_POINTS`).
    sources
        The setups' keys, (M,).
    lamp_lux
        What each key gives its face's points, interreflection in it, (M, 4).
    """

    setups: tuple[ResolvedSetup, ...]
    transfer: RoomTransfer
    sources: tuple[LightSource | None, ...]
    lamp_lux: Floats
    _screened: dict[tuple[int, int, bytes], tuple[RoomTransfer, Floats]] = field(
        default_factory=dict, init=False, repr=False
    )

    def index(self, setup: ResolvedSetup) -> int:
        """Which of the setups it is, by its name: it may start at another time here.

        Raises
        ------
        ValueError
            If it is none of them.
        """
        return [own.name for own in self.setups].index(setup.name)

    def fill_side(self, setup: ResolvedSetup, daylight_lux: Floats) -> Indices:
        """Which side of a face is the fill side, 0 left of the camera or 1 right of it, (T,).

        The key lamp's darker one; without a lamp that of daylight on the two sides, lx, (T, 2).

        Raises
        ------
        ValueError
            If the setup is none of the room's.
        """
        lamp = self.lamp_lux[self.index(setup)][:2]
        deciding = np.broadcast_to(lamp, daylight_lux.shape) if lamp.any() else daylight_lux
        return (deciding[:, 0] > deciding[:, 1]).astype(np.intp)

    def ratios(self, setup: ResolvedSetup, daylight_lux: Floats) -> Floats:
        """(Key + fill) : fill by daylight on a face's two sides, lx, (T, 2), and its lamp, (T,).

        The lamp is set to key, as `key_shares` has it.

        Raises
        ------
        ValueError
            If the setup is none of the room's.
        """
        fill, rows = self.fill_side(setup, daylight_lux), np.arange(len(daylight_lux))
        shares = self.key_shares(setup, daylight_lux)
        both = daylight_lux + shares[:, None] * self.lamp_lux[self.index(setup)][:2]
        key_lux, fill_lux = both[rows, 1 - fill], both[rows, fill]
        ratios = np.full(len(rows), np.inf)
        np.divide(key_lux, fill_lux, out=ratios, where=fill_lux > 0)
        return ratios

    def key_shares(self, setup: ResolvedSetup, daylight_lux: Floats) -> Floats:
        """What a setup's lamp is dimmed to, of its full light, so that its face is at key, (T,).

        By daylight on the face's two sides, lx, (T, 2); as `lamp_shares`.

        Raises
        ------
        ValueError
            If the setup is none of the room's.
        """
        fill, rows = self.fill_side(setup, daylight_lux), np.arange(len(daylight_lux))
        lamp_lux = self.lamp_lux[self.index(setup)][1 - fill]
        return lamp_shares(key_lux(setup.exposure), daylight_lux[rows, 1 - fill], lamp_lux)

    def spare_stops(self, setup: ResolvedSetup) -> float:
        """Stops by which a setup's key lights its face over what the exposure asks; 0 at least.

        By night: without any daylight.
        """
        level = float(self.lamp_lux[self.index(setup)][:2].max())
        return max(0.0, stops(level, key_lux(setup.exposure)))

    def illuminances(
        self,
        skies: Skies,
        opening_shares: Floats | None = None,
        *,
        lux_by_opening: Floats | None = None,
    ) -> list[list[FaceLight]]:
        """Levels of each face under each sky.

        Parameters
        ----------
        skies
            The moments, (T,).
        opening_shares, lux_by_opening
            As `RoomTransfer.illuminance_lux` takes them.

        Returns
        -------
        A list a setup, with one value a sky. The key side is the lamp's, or without one the
        lighter.
        """
        daylight = self.transfer.illuminance_lux(
            skies, opening_shares, lux_by_opening=lux_by_opening
        )
        daylight = daylight.reshape(len(skies), -1, FACE_POINTS)
        return [
            [
                _face_light(alone, lamp, fill)
                for alone, fill in zip(
                    daylight[:, index], self.fill_side(setup, daylight[:, index, :2]), strict=True
                )
            ]
            for index, (setup, lamp) in enumerate(zip(self.setups, self.lamp_lux, strict=True))
        ]

    def behind_screens(
        self, setup: ResolvedSetup, side: int, screens: Sequence[Screen]
    ) -> tuple[RoomTransfer, Floats]:
        """How light gets past screens that stand, each alone, square before a side of a face.

        It is alike at every hour, and kept: most of the time of a day's packing list else.

        Parameters
        ----------
        setup
            One of the room's.
        side
            0 for the side turned left of the camera, 1 for the right.
        screens
            S of them.

        Returns
        -------
        The transfer to points (2 · S), the face behind each screen and then the middle of each
        screen as the face sees it; and what the key gives them, lx, (2 · S,).

        Raises
        ------
        ValueError
            If the setup is none of the room's, or there is no screen.
        """
        index = self.index(setup)
        key = index, side, np.stack([screen.corners() for screen in screens]).tobytes()
        if key not in self._screened:
            first, source = index * FACE_POINTS, self.sources[index]
            face, normal = self.transfer.points[first], self.transfer.normals[first + side]
            own = np.array([screen.centre for screen in screens]) - OFF_M * normal
            points = np.concatenate((np.broadcast_to(face, own.shape), own))
            normals = np.repeat([normal, -normal], len(screens), axis=0)
            behind = self.transfer.traced.transfer_to(
                points, normals, {point: (screen,) for point, screen in enumerate(screens)}
            )
            lamp = np.zeros(len(points)) if source is None else lamp_illuminance(source, behind)
            self._screened[key] = behind, lamp
        return self._screened[key]


def faces(location: Location, setups: Sequence[ResolvedSetup]) -> list[Faces]:
    """Work out how light gets to the faces of setups.

    Parameters
    ----------
    location
        The place.
    setups
        In any rooms of it.

    Returns
    -------
    One a room, in the order in which the setups first name it.
    """
    by_room = []
    for name in dict.fromkeys(setup.room for setup in setups):
        inside = tuple(setup for setup in setups if setup.room == name)
        room = inside[0].in_room
        points, normals = [], []
        for setup in inside:
            face = face_point(room, setup.at_mark)
            behind, inward = wall_behind(setup, face)
            points += [face, face, face, behind]
            normals += [*face_normals(setup, face), inward]
        traced = trace_room(location, room)
        transfer = traced.transfer_to(np.array(points), np.array(normals))
        sources = tuple(map(key_source, inside))
        lamp_lux = np.zeros((len(inside), FACE_POINTS))
        for index, source in enumerate(sources):
            if source is not None:
                own = slice(index * FACE_POINTS, (index + 1) * FACE_POINTS)
                lamp_lux[index] = lamp_illuminance(source, transfer)[own]
        by_room.append(Faces(inside, transfer, sources, lamp_lux))
    return by_room


def lamp_shares(wanted_lux: float, daylight_lux: Floats, lamp_lux: Floats) -> Floats:
    """What a lamp is dimmed to, of its full light, so that daylight and it give what is wanted.

    1 where it is short at full, 0 where daylight is enough or there is no lamp, (T,).

    >>> lamp_shares(100.0, np.array([20.0, 120.0, 0.0]), np.array([160.0, 160.0, 40.0]))
    array([0.5, 0. , 1. ])
    """
    shares = np.zeros(len(daylight_lux))
    np.divide(wanted_lux - daylight_lux, lamp_lux, out=shares, where=lamp_lux > 0)
    return np.clip(shares, 0.0, 1.0)


def faces_by_room(rooms: Sequence[Faces]) -> dict[str, Faces]:
    """Faces by their room's name."""
    return {room.transfer.beam.room.name: room for room in rooms}


def face_normals(setup: ResolvedSetup, face: Floats) -> Floats:
    """Unit normals of a face's left side and right side as the camera sees it, and up, (3, 3).

    The sides are turned `TURN_DEG` off the camera.
    """
    x, y = -_from_camera(setup, face)
    left, right = (math.atan2(y, x) + math.radians(turn) for turn in (TURN_DEG, -TURN_DEG))
    sides = [[math.cos(bearing), math.sin(bearing), 0.0] for bearing in (left, right)]
    return np.array([*sides, UP])


def wall_behind(setup: ResolvedSetup, face: Floats) -> tuple[Floats, Floats]:
    """The point of wall straight behind a face as the camera sees it, and its normal, (3,) each.

    The point lies `OFF_M` before the wall, the normal points into the room.
    """
    toward = _from_camera(setup, face)
    first = np.array(setup.in_room.outline)
    along = np.roll(first, -1, axis=0) - first
    rate = cross(along, toward)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = cross(face[:2] - first, along) / rate
        share = cross(face[:2] - first, toward) / rate
    met = (np.abs(rate) > 1e-12) & (reach > 0) & (share >= 0) & (share <= 1)
    wall = int(np.argmin(np.where(met, reach, np.inf)))
    x, y = along[wall] / np.linalg.norm(along[wall])
    inward = np.array([-y, x, 0.0])
    point = np.array([*(first[wall] + share[wall] * along[wall]), face[2]])
    return point + OFF_M * inward, inward


def lamp_illuminance(source: LightSource, transfer: RoomTransfer) -> Floats:
    """Illuminance of a room's points by a lamp, interreflection in it.

    Parameters
    ----------
    source
        The lamp, aimed; off a wall only the spot on that wall lights.
    transfer
        The points, and the screens that stand before them.

    Returns
    -------
    lx, (P,).
    """
    mesh = transfer.interreflection.mesh
    start = source.position if source.sheet is None else source.sheet.centre
    first = source.illuminance_lux(mesh.middles, mesh.normals)
    first = first * transfer.interreflection.visibility(start[None])[0]
    direct = source.illuminance_lux(transfer.points, transfer.normals)
    if source.wall is not None:  # the wall alone is in the beam: the rest is kept off with doors
        first = first * (mesh.surface == mesh.surface_names.index(source.wall))
        direct = np.zeros_like(direct)
    hung = transfer.traced.hung
    for screen in hung:
        first = first * ~screen.hides(start, mesh.middles)
    for point in range(len(direct)) if hung else transfer.screens:
        for screen in (*transfer.screens.get(point, ()), *hung):
            direct[point] *= not screen.hides(transfer.points[point], start)
    lux: Floats = direct + transfer.transfer_factors @ first
    return lux


def _face_light(daylight: Floats, lamp: Floats, fill: int) -> FaceLight:
    key, both = 1 - fill, daylight + lamp
    levels = (daylight[key], daylight[fill], daylight[2], both[key], both[fill], both[3])
    return FaceLight(*map(float, levels))


def _from_camera(setup: ResolvedSetup, face: Floats) -> Floats:
    """Plan vector from camera to face, (2,); where they are one, along what the camera looks at."""
    camera = np.array(setup.camera.at)
    toward: Floats = face[:2] - camera
    if np.linalg.norm(toward) > OFF_M:
        return toward
    ahead: Floats = np.array(aim_point(setup.in_room, setup)[:2]) - camera
    return ahead
