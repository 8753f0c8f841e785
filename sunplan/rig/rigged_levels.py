"""What does the meter read once all that is planned hangs, with the key set to key?

The one answer to that: the levels of a setup as it is shot, beside those of the room as found.
Daylight is what black, gel, curtain and tent leave of each opening's; flags take theirs out of the
room's light as well as off the face; the key is dimmed until the face is at key, and what it throws
round the walls is in the fill.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..light import glass
from ..light.daylight import Skies, Sky
from ..light.daylight_transfer import RoomTransfer, TracedRoom, trace_room
from ..light.face import FACE_POINTS, OFF_M, Faces, lamp_illuminance, lamp_shares
from ..light.form_factors import solid_angle
from ..light.level_series import LevelSeries, RoomSeries, level_series
from ..light.look import Band, outside
from ..light.meter import grey_cd_m2, key_lux, stops
from ..light.practicals import PracticalGap, practical_gap
from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.read import Location
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from .flags import FlagOption
from .negative_fill import BLACK, Panel
from .room_treatment import OpeningTreatment, RoomTreatment

STOPS_A_DENSITY = math.log2(10.0)
CONTRAST_ROOM = 1.5  # a face may be so much more contrasty than wanted; common practice, no source


@dataclass(frozen=True)
class RiggedWindow:
    """A window in frame with what hangs there.

    `stops` is over mid-grey at the stop that is shot, −∞ where it is blacked out; `band` is its
    target, lowest and highest.
    """

    opening: str
    stops: float
    band: Band

    @property
    def off_stops(self) -> float:
        """Stops over its band, or under it if negative; 0 within. Black counts as within."""
        return 0.0 if math.isinf(self.stops) else outside(self.stops, *self.band)


@dataclass(frozen=True, eq=False)
class RiggedLevels:
    """A setup's levels at a moment as it is shot.

    Attributes
    ----------
    setup, sky
        What is filmed, and the moment with its sky.
    down_stops
        How far the lens is stopped down from the file's stop.
    wanted_lux
        What the key side is to have, at the stop that is shot.
    lamp_share
        What the key lamp is dimmed to, of its full light; 0 without a lamp or where daylight alone
        is enough, 1 where it is at full and may be short.
    key_lux, fill_lux, wall_lux
        Of the two sides of the face and the wall straight behind it.
    spill_lux
        What of the wall's light comes straight from the lamp.
    daylight_fill_lux
        What of the fill is daylight.
    windows, practicals
        Those in frame.
    """

    setup: ResolvedSetup
    sky: Sky
    down_stops: float
    wanted_lux: float
    lamp_share: float
    key_lux: float
    fill_lux: float
    wall_lux: float
    spill_lux: float
    daylight_fill_lux: float
    windows: tuple[RiggedWindow, ...]
    practicals: tuple[PracticalGap, ...]

    @property
    def key_stops(self) -> float:
        """Of the key side over key; negative is short."""
        return stops(self.key_lux, self.wanted_lux)

    @property
    def fill_stops(self) -> float:
        """Of the fill side against key; negative is under."""
        return stops(self.fill_lux, self.wanted_lux)

    @property
    def wall_stops(self) -> float:
        """Of what falls on the wall behind, against key."""
        return stops(self.wall_lux, self.wanted_lux)

    @property
    def fill_off_stops(self) -> float:
        """Stops by which the fill is over what is wanted, or under if negative; 0 where it is in.

        The contrast that the file wants, up to `CONTRAST_ROOM` times that, goes before the look's
        band.
        """
        wanted, (low, high) = self.setup.contrast, self.setup.wanted.fill
        if wanted is not None:
            low, high = -math.log2(CONTRAST_ROOM * wanted), -math.log2(wanted)
        level = self.fill_stops - self.key_stops if wanted is not None else self.fill_stops
        return outside(level, low, high)

    @property
    def off_stops(self) -> float:
        """How far the face is from what is wanted, its key side and its fill, in stops."""
        return max(abs(self.key_stops), abs(self.fill_off_stops))

    @property
    def ratio(self) -> float:
        """(Key + fill) : fill, as it is metered."""
        return self.key_lux / self.fill_lux if self.fill_lux > 0 else math.inf


def rigged_levels(
    location: Location,
    treated: RoomTreatment,
    above: Skies,
    *,
    room: Faces,
    flags: Sequence[FlagOption] = (),
    panel: Panel | None = None,
) -> list[RiggedLevels]:
    """The levels of a setup with what is planned to hang, its key set to key.

    Parameters
    ----------
    location
        The place.
    treated
        What hangs before the openings of the setup's room.
    above
        The moments, each under a sky, (T,).
    room
        The light of that room as found, with the setup's face among its own.
    flags, panel
        What keeps sun off the mark, and the negative fill.

    Returns
    -------
    One a moment, (T,).

    Raises
    ------
    ValueError
        If the setup is none of the room's.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.daylight import Weather, skies
    >>> from sunplan.light.face import faces
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan.rig.room_treatment import room_treatment
    >>> house = read("locations/lock-house.toml")
    >>> night, eleven = resolve(house)[0], 1805536800.0
    >>> (room,) = faces(house, [night])
    >>> dark = room_treatment(
    ...     house, night, start_s=eleven, end_s=eleven, weathers=[Weather()], room=room
    ... )
    >>> (levels,) = rigged_levels(house, dark, skies(house, [eleven]), room=room)
    >>> abs(round(levels.key_stops, 6)), round(levels.fill_stops, 1), round(levels.ratio, 1)
    (0.0, -2.2, 4.6)
    """
    (series,) = level_series(location, [treated.setup], above, rooms=[room]).values()
    return rigged_series(location, series, [treated] * len(above), flags=flags, panel=panel)


def rigged_series(
    location: Location,
    series: LevelSeries,
    treatments: Sequence[RoomTreatment],
    *,
    flags: Sequence[FlagOption] = (),
    flagged: Bools | None = None,
    panel: Panel | None = None,
) -> list[RiggedLevels]:
    """The same at the moments of a series (T,) that has its room, each with its own treatment.

    `flagged` (T,) says at which moments the flags hang; at all when left out.
    """
    assert series.room is not None
    rigged: dict[int, RiggedLevels] = {}
    hangs = np.ones(len(treatments), dtype=bool) if flagged is None else flagged
    for rows, treated, hung in _alike(series.skies, treatments, flags, hangs):
        light = _Rigged(location, series.room, treated, hung, panel).levels(rows)
        windows, practicals = _windows(series, treated, rows), _practicals(treated)
        for row, lux, seen in zip(rows.tolist(), light, windows, strict=True):
            rigged[row] = RiggedLevels(
                setup=series.setup,
                sky=series.skies[row],
                down_stops=treated.down_stops,
                windows=seen,
                practicals=practicals,
                **lux,
            )
    return [rigged[row] for row in range(len(series.skies))]


@dataclass(frozen=True, eq=False)
class _Rigged:
    """A setup's room with what hangs at one time."""

    location: Location
    series: RoomSeries
    treated: RoomTreatment
    hung: tuple[Screen, ...]
    panel: Panel | None

    def levels(self, rows: Indices) -> list[dict[str, float]]:
        """The face's and the wall's light at some of the series' moments."""
        setup, room = self.treated.setup, self.series.room
        index, shares = room.index(setup), self.treated.shares_left
        own = slice(index * FACE_POINTS, (index + 1) * FACE_POINTS)
        found = np.einsum("top,o->tp", self.series.lux_by_opening[rows][..., own], shares)
        fills = room.fill_side(setup, found[:, :2])
        source = room.sources[index]
        wanted = key_lux(setup.exposure) * 2.0**self.treated.down_stops
        by_row: dict[int, dict[str, float]] = {}
        for side in np.unique(fills).tolist():
            daylight, lamp = self._light(rows, own, side, found, shares)
            spill = 0.0
            if source is not None and source.wall is None:
                wall = slice(own.stop - 1, own.stop)
                points, normals = room.transfer.points[wall], room.transfer.normals[wall]
                spill = float(source.illuminance_lux(points, normals)[0])
            key_lamp = np.full(len(rows), lamp[1 - side])
            lamp_share = lamp_shares(wanted, daylight[:, 1 - side], key_lamp).tolist()
            for row in np.flatnonzero(fills == side).tolist():
                share = lamp_share[row]
                both = daylight[row] + share * lamp
                by_row[row] = {
                    "wanted_lux": wanted,
                    "lamp_share": share,
                    "key_lux": float(both[1 - side]),
                    "fill_lux": float(both[side]),
                    "wall_lux": float(both[3]),
                    "spill_lux": share * spill,
                    "daylight_fill_lux": float(daylight[row, side]),
                }
        return [by_row[row] for row in range(len(rows))]

    def _light(
        self, rows: Indices, own: slice, side: int, found: Floats, shares: Floats
    ) -> tuple[Floats, Floats]:
        """Daylight (T, 4) and the key at full (4,) on the face's points.

        `found` is what the openings' shares leave as the room is found.

        Where only black, gel and tents hang, light takes no other way than in the room as found.
        """
        room = self.series.room
        if not (self.hung or self.panel or self._drawn):
            tents = self._tents_lux(room.transfer)[own]
            return found + tents, room.lamp_lux[room.index(self.treated.setup)]
        transfer = self._transfer(own, side)
        above = self.series.skies[rows]
        daylight = transfer.illuminance_lux(above, shares) + self._tents_lux(transfer)
        source = room.sources[room.index(self.treated.setup)]
        lamp = np.zeros(len(transfer.points))
        if source is not None:
            lamp = lamp_illuminance(source, transfer)
        daylight, lamps = self._with_panel(transfer, side, daylight, lamp[None])
        return daylight, lamps[0]

    @property
    def _drawn(self) -> dict[str, str | None]:
        """What is drawn before openings, by their names."""
        return {
            treated.opening.name: treated.window.hang
            for treated in self.treated.openings
            if treated.action == "dressing" and treated.window is not None
        }

    def _transfer(self, own: slice, side: int) -> RoomTransfer:
        """How light gets to the face's points in the room as rigged, and to the panel's middle."""
        found = self.series.room.transfer
        points, normals = found.points[own], found.normals[own]
        screens = {}
        if self.panel is not None:
            screen, normal = self.panel.screen, normals[side]
            points = np.concatenate((points, [screen.centre - OFF_M * normal]))
            normals = np.concatenate((normals, [-normal]))
            screens = {side: (screen,)}
        return self._traced().transfer_to(points, normals, screens)

    def _traced(self) -> TracedRoom:
        drawn = self._drawn
        inside = self.treated.setup.in_room
        if drawn:
            openings = tuple(
                opening.model_copy(update={"dressing": drawn.get(opening.name, opening.dressing)})
                for opening in inside.opening
            )
            inside = inside.model_copy(update={"opening": openings})
        traced = trace_room(self.location, inside)
        return traced.behind(self.hung) if self.hung else traced

    def _tents_lux(self, transfer: RoomTransfer) -> Floats:
        """What tents give the points, lx, (P,): each is evenly lit to its window's look."""
        lux = np.zeros(len(transfer.points))
        for treated, light in zip(self.treated.openings, transfer.coefficients, strict=True):
            if treated.action == "tent":
                level = _tent_cd_m2(self.treated, treated)
                scatters = glass.dressing_shares(treated.opening.opening.dressing)[1]
                of_face = light.inner_face.sum() * scatters * light.scattered
                lux += level * (light.straight.sum(axis=1) + of_face)
        return lux

    def _with_panel(
        self, transfer: RoomTransfer, side: int, daylight: Floats, lamp: Floats
    ) -> tuple[Floats, Floats]:
        """The same light (T, 4) with what the panel's black side throws back onto the fill side."""
        if self.panel is None:
            return daylight, lamp
        face, corners = transfer.points[side], self.panel.screen.corners()
        back = BLACK * solid_angle(face[None], corners[None])[0, 0] / math.pi
        lit = []
        for lux in (daylight, lamp):
            before = lux[:, :FACE_POINTS].copy()
            before[:, side] += back * lux[:, FACE_POINTS]
            lit.append(before)
        return lit[0], lit[1]


def _alike(
    above: Skies, treatments: Sequence[RoomTreatment], flags: Sequence[FlagOption], hangs: Bools
) -> Iterator[tuple[Indices, RoomTreatment, tuple[Screen, ...]]]:
    """Moments at which the same hangs in the same places: their rows, and what hangs."""
    rows: dict[tuple[int, ...], list[int]] = {}
    hung: dict[tuple[int, ...], tuple[RoomTreatment, tuple[Screen, ...]]] = {}
    for row, (sky, treated) in enumerate(zip(above, treatments, strict=True)):
        places = [
            position
            for option in flags
            if hangs[row] and option.opening not in treated.covered
            for position in option.positions
            if position.start_s <= sky.unix_s <= position.end_s
        ]
        key = (id(treated), *map(id, places))
        rows.setdefault(key, []).append(row)
        hung[key] = treated, tuple(piece for position in places for piece in position.pieces)
    for key, own in rows.items():
        yield np.array(own, dtype=np.intp), *hung[key]


def _tent_cd_m2(treated: RoomTreatment, opening: OpeningTreatment) -> float:
    """What a tent's inside is lit to: the middle of its window's band at the stop that is shot."""
    band = treated.setup.wanted.band(opening.opening.opening.dressing)
    grey = grey_cd_m2(treated.setup.exposure) * 2.0**treated.down_stops
    return float(grey * 2.0 ** (sum(band) / 2.0))


def _windows(
    series: LevelSeries, treated: RoomTreatment, rows: Indices
) -> list[tuple[RiggedWindow, ...]]:
    """The windows in frame at some of a series' moments."""
    columns = []
    for column, seen in enumerate(series.windows):
        opening = treated.openings[seen.index]
        low, high = series.bands[column].tolist()
        if opening.action == "black":
            after = np.full(len(rows), -np.inf)
        elif opening.action == "tent":
            after = np.full(len(rows), (low + high) / 2)
        else:
            bare = series.stops[rows, column]
            if opening.action == "dressing":
                assert opening.window is not None
                assert opening.window.hang is not None
                hang = glass.hangable_dressings().index(opening.window.hang)
                bare = series.hung_stops[rows, column, hang]
                low, high = series.look.band(opening.window.hang)
            density = sum(gel.density for gel in opening.gels)
            after = bare - STOPS_A_DENSITY * density - treated.down_stops
        name, band = seen.opening.name, (low, high)
        columns.append([RiggedWindow(name, level, band) for level in after.tolist()])
    return [tuple(row) for row in zip(*columns, strict=True)] or [()] * len(rows)


def _practicals(treated: RoomTreatment) -> tuple[PracticalGap, ...]:
    """The practicals in frame at the stop that is shot."""
    setup, down = treated.setup, treated.down_stops
    gaps = (practical_gap(practical, setup) for practical in setup.in_room.practical)
    return tuple(replace(gap, stops=gap.stops - down) for gap in gaps if gap.in_frame)
