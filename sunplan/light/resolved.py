"""A setup with all that its names stand for: room, mark, camera, kit, look."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from ..location.kit import Kit
from ..location.model import Mark, Room, Setup
from ..location.read import Location
from ..room.camera import CameraView, camera_view
from .look import Look, look_of


class ResolvedSetup(Setup):
    """A setup of a location file, its references looked up once.

    `room`, `mark`, `kit` and `look` stay what the file says. Two are equal where all of it is.

    Attributes
    ----------
    in_room, at_mark, from_kit
        What `room`, `mark` and `kit` name.
    wanted
        The look, with what the kit and the setup want otherwise.
    """

    in_room: Room
    at_mark: Mark
    from_kit: Kit
    wanted: Look

    @cached_property
    def view(self) -> CameraView:
        """Its camera as a pinhole."""
        return camera_view(self.in_room, self)


def resolve(location: Location, setups: Sequence[Setup] | None = None) -> list[ResolvedSetup]:
    """Look up what setups of a location refer to; all of them where none are given.

    Examples
    --------
    >>> from sunplan import read
    >>> first = resolve(read("locations/lock-house.toml"))[0]
    >>> first.in_room.name == first.room, first.at_mark.name == first.mark, first.from_kit.name
    (True, True, 'van')
    >>> first == resolve(read("locations/lock-house.toml"))[0]
    True
    """
    resolved = []
    for setup in location.setup if setups is None else setups:
        room, kit = location.room_named(setup.room), location.kit_of(setup)
        resolved.append(
            ResolvedSetup.model_construct(
                **{name: getattr(setup, name) for name in Setup.model_fields},
                in_room=room,
                at_mark=room.mark_named(setup.mark),
                from_kit=kit,
                wanted=look_of(setup, kit),
            )
        )
    return resolved
