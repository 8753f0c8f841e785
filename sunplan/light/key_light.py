"""Is the lamp that they own enough, and what buys a stop?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from ..location.kit import Diffusion, Frame, Kit
from ..location.model import Setup
from ..location.read import Location
from ..room.camera import View, view
from .face import FACE_POINTS, Faces, faces, lamp_illuminance
from .lamp import LEAST_GAP_M, LightSource, aimed_lamp
from .meter import key_lux, stops

CLOSER = 1.0 / math.sqrt(2.0)  # of the distance: a stop, by the inverse square of a small lamp


@dataclass(frozen=True)
class KeyChange:
    """A change and what it brings, in stops at the face; `reach_m` is how far the lamp then is."""

    description: str
    stops: float
    reach_m: float | None = None


@dataclass(frozen=True, eq=False)
class KeyLight:
    """A setup's key at full, no daylight: levels with the room's bounce, lx.

    `background_stops` is the wall straight behind the face against the face's key side, by what
    falls on both; None where nothing falls on the face.
    """

    setup: Setup
    source: LightSource
    in_frame: bool
    needed_lux: float
    key_side_lux: float
    fill_side_lux: float
    background_stops: float | None
    changes: tuple[KeyChange, ...]

    @property
    def kind(self) -> str:
        """Bare, or what its light goes through or is thrown off."""
        assert self.setup.key is not None
        return self.setup.key.kind

    @property
    def stops(self) -> float:
        """Over what the exposure needs; negative is short."""
        return stops(self.key_side_lux, self.needed_lux)

    @property
    def ratio(self) -> float:
        """(key + fill) : fill."""
        return self.key_side_lux / self.fill_side_lux if self.fill_side_lux > 0 else math.inf


def key_lights(
    location: Location, setups: Sequence[Setup], *, rooms: Sequence[Faces] | None = None
) -> list[KeyLight]:
    """Every setup's key; those without one are left out.

    `rooms` saves working out the light of their rooms again.
    """
    found: dict[str, KeyLight] = {}
    for room in faces(location, setups) if rooms is None else rooms:
        for index, setup in enumerate(room.setups):
            one = room.sources[index]
            if one is not None:
                kit = location.kit_of(setup)
                found[setup.name] = _key(room, index, one, kit)
    return [found[one.name] for one in setups if one.name in found]


def _key(room: Faces, index: int, one: LightSource, kit: Kit) -> KeyLight:
    setup = room.setups[index]
    left, right = room.lamp_lux[index][:2].tolist()
    key, fill = max(left, right), min(left, right)
    side = index * FACE_POINTS + (0 if left >= right else 1)

    def level(changed: LightSource) -> float:
        return float(lamp_illuminance(changed, room.transfer)[side])

    changes = [
        KeyChange(what, stops(level(changed), key), reach_m)
        for what, reach_m, changed in _changes(one, kit, room.transfer.beam.outline)
        if key > 0
    ]
    exposure = setup.exposure
    changes.append(KeyChange(f"open to {exposure.stop / math.sqrt(2.0):.2g}", 1.0))
    changes.append(KeyChange(f"ISO {2 * exposure.iso:g}", 1.0))
    return KeyLight(
        setup=setup,
        source=one,
        in_frame=_in_frame(view(room.transfer.beam.room, setup), one),
        needed_lux=key_lux(exposure),
        key_side_lux=key,
        fill_side_lux=fill,
        background_stops=stops(float(room.lamp_lux[index][3]), key) if key > 0 else None,
        changes=tuple(changes),
    )


def _in_frame(camera: View, one: LightSource) -> bool:
    """Whether the camera sees the lamp, or the frame or board before it."""
    if one.sheet is not None and camera.holds(one.sheet.corners()):
        return True
    return bool(camera.inside(one.at[None])[0]) and one.sheet is None


def _with(frame: Frame, grade: Diffusion) -> Frame:
    """A frame with another grade of diffusion on it."""
    return frame.model_copy(update={"name": f"{frame.name}, {grade.name}", "loss": grade.loss})


def _changes(
    one: LightSource, kit: Kit, inside: Polygon
) -> list[tuple[str, float | None, LightSource]]:
    """Other ways to set up the same lamp, in words, with its new distance and the source."""
    found: list[tuple[str, float | None, LightSource]] = []
    if one.wall is not None or (one.sheet is not None and one.frame is None):
        return found  # thrown off something: its places hang together
    reach = math.dist(one.at, one.face)

    def moved(share: float, frame: Frame | None) -> LightSource:
        return aimed_lamp(one.lamp, frame, one.face + share * (one.at - one.face), one.face)

    for word, share in (("closer", CLOSER), ("farther", 1.0 / CLOSER)):
        changed = moved(share, one.frame)
        if share * reach > LEAST_GAP_M and shapely.contains(inside, shapely.Point(changed.at[:2])):
            found.append((f"lamp {word}", share * reach, changed))
    if one.frame is not None:
        found.append(("without the frame", None, moved(1.0, None)))
    found += [
        (f"through {frame.name}", None, moved(1.0, frame))
        for frame in kit.frame
        if frame != one.frame
    ]
    if one.frame is not None:
        found += [
            (f"{grade.name} on the frame", None, moved(1.0, _with(one.frame, grade)))
            for grade in kit.diffusion
            if grade.loss != one.frame.loss
        ]
    found += [
        (f"with {lamp.name}", None, aimed_lamp(lamp, one.frame, one.at, one.face))
        for lamp in kit.lamp
        if lamp != one.lamp
    ]
    return found
