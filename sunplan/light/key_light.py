"""Is the lamp that they own enough, and what buys a stop?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import Polygon

from ..location.kit import DiffusionFrame, Kit
from ..location.read import Location
from ..room.camera import CameraView
from .face import FACE_POINTS, Faces, faces, lamp_illuminance
from .lamp import MIN_GAP_M, LightSource, aimed_lamp
from .meter import key_lux, stops
from .resolved import ResolvedSetup

CLOSER = 1.0 / math.sqrt(2.0)  # of the distance: a stop, by the inverse square of a small lamp


@dataclass(frozen=True)
class KeyChange:
    """A change to the key and what it brings at the face, stops.

    `reach_m` is how far the lamp then is, None where it stays.
    """

    description: str
    stops: float
    reach_m: float | None = None


@dataclass(frozen=True, eq=False)
class KeyLight:
    """A setup's key at full, no daylight, with the room's interreflection.

    Attributes
    ----------
    setup, source
        The setup, and its lamp as it is set up.
    in_frame
        Whether the camera sees the lamp, or the frame or board before it.
    needed_lux
        What the exposure asks of a face at key.
    key_side_lux, fill_side_lux
        Illuminance of the face's two sides, the lighter first.
    background_stops
        The wall straight behind the face against its key side, by what falls on both; None where
        nothing falls on the face.
    changes
        What buys or costs a stop.
    """

    setup: ResolvedSetup
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
        """Of the key side over what the exposure needs; negative is short."""
        return stops(self.key_side_lux, self.needed_lux)

    @property
    def ratio(self) -> float:
        """(key + fill) : fill."""
        return self.key_side_lux / self.fill_side_lux if self.fill_side_lux > 0 else math.inf


def key_lights(
    location: Location, setups: Sequence[ResolvedSetup], *, rooms: Sequence[Faces] | None = None
) -> list[KeyLight]:
    """Every setup's key: is it enough, and what would change it?

    Parameters
    ----------
    location, setups
        The place, and setups in any rooms of it.
    rooms
        The light of the setups' rooms, where it is worked out already.

    Returns
    -------
    In the setups' order; those without a key are left out.
    """
    by_name = {
        setup.name: _key_light(room, index, source)
        for room in (faces(location, setups) if rooms is None else rooms)
        for index, (setup, source) in enumerate(zip(room.setups, room.sources, strict=True))
        if source is not None
    }
    return [by_name[setup.name] for setup in setups if setup.name in by_name]


def _key_light(room: Faces, index: int, source: LightSource) -> KeyLight:
    setup, beam = room.setups[index], room.transfer.beam
    left, right, _, wall = room.lamp_lux[index].tolist()
    key, fill = max(left, right), min(left, right)
    key_point = index * FACE_POINTS + (0 if left >= right else 1)
    changes = []
    if key > 0:
        for description, reach_m, changed in _changes(source, setup.from_kit, beam.outline):
            level = float(lamp_illuminance(changed, room.transfer)[key_point])
            changes.append(KeyChange(description, stops(level, key), reach_m))
    exposure = setup.exposure
    changes.append(KeyChange(f"open to {exposure.stop / math.sqrt(2.0):.2g}", 1.0))
    changes.append(KeyChange(f"ISO {2 * exposure.iso:g}", 1.0))
    return KeyLight(
        setup=setup,
        source=source,
        in_frame=_in_frame(setup.view, source),
        needed_lux=key_lux(exposure),
        key_side_lux=key,
        fill_side_lux=fill,
        background_stops=stops(wall, key) if key > 0 else None,
        changes=tuple(changes),
    )


def _in_frame(camera: CameraView, source: LightSource) -> bool:
    """Whether the camera sees the lamp, or the frame or board before it."""
    if source.sheet is not None:
        return camera.shows(source.sheet.corners())
    return bool(camera.in_frame(source.position[None])[0])


def _changes(
    source: LightSource, kit: Kit, inside: Polygon
) -> Iterator[tuple[str, float | None, LightSource]]:
    """Other ways to set up the same lamp, in words, with its new distance and the source."""
    if source.wall is not None or (source.sheet is not None and source.frame is None):
        return  # thrown off something: its places hang together
    lamp, frame, position, face = source.lamp, source.frame, source.position, source.face
    for word, share in (("closer", CLOSER), ("farther", 1.0 / CLOSER)):
        reach, moved = share * math.dist(position, face), face + share * (position - face)
        if reach > MIN_GAP_M and shapely.contains_xy(inside, *moved[:2]):
            yield f"lamp {word}", reach, aimed_lamp(lamp, frame, moved, face)
    frames: list[tuple[str, DiffusionFrame | None]] = (
        [] if frame is None else [("without the frame", None)]
    )
    frames += [(f"through {other.name}", other) for other in kit.frame if other != frame]
    if frame is not None:
        for grade in kit.diffusion:
            if grade.loss != frame.loss:
                change = {"name": f"{frame.name}, {grade.name}", "loss": grade.loss}
                frames.append((f"{grade.name} on the frame", frame.model_copy(update=change)))
    for description, other in frames:
        yield description, None, aimed_lamp(lamp, other, position, face)
    for stronger in kit.lamp:
        if stronger != lamp:
            yield f"with {stronger.name}", None, aimed_lamp(stronger, frame, position, face)
