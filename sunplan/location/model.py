"""The location file as frozen models: metres, true degrees, kelvin, minutes.

Every field's description says what would be right: the reader's messages quote it, and
docs/location-file.md is made from it.
"""

from __future__ import annotations

import math
import unicodedata
from datetime import time
from typing import Annotated, Any, Literal, Self, TypeGuard

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from .clocks import parse_clock
from .lengths import EXAMPLES, Units, parse_length, unit_m

Plays = Literal["day", "dusk", "evening", "night"]
Before = Literal["ground", "water", "street", "drop", "blocked"]
NobodyOutside = Literal["roof", "not told", "water", "street", "drop", "blocked", "high"]
STANDING_M = 1.8  # of a sill above the ground: two people work on no ladder outside; no source


LEAST_M = 0.001  # of what has a size: less is a slip of the pen; no source
FAR_M = 100_000.0  # beyond this a length is a slip; the horizon belongs in [[skyline]]


def _length(value: Any, info: ValidationInfo) -> float:
    """A bare number in the file's unit, or text with its own, to metres."""
    units = (info.context or {}).get("units", "m")
    return _to_metres(value, bare_m=unit_m(units))


def _metres(value: Any) -> float:
    """A bare number is metres whatever the file's unit (heights above the sea)."""
    return _to_metres(value, bare_m=1.0)


def _to_metres(value: Any, *, bare_m: float) -> float:
    try:
        if isinstance(value, str):
            metres = parse_length(value)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            metres = float(value) * bare_m
        else:
            raise ValueError
    except (ValueError, OverflowError):
        metres = math.nan
    if not math.isfinite(metres):
        raise PydanticCustomError("length", "expected a length such as " + EXAMPLES)
    if abs(metres) > FAR_M:
        raise PydanticCustomError("far", "expected a length of at most 100 km")
    return metres


def _bearing(value: float) -> float:
    return value % 360.0 % 360.0  # twice: a hair below zero comes out as 360 the first time


def is_name(value: Any) -> TypeGuard[str]:
    """Whether something can be a name: some ink, and nothing that would break a line of a table."""
    return (
        isinstance(value, str)
        and value.strip() != ""
        and not any(unicodedata.category(sign) in BREAKING for sign in value)
    )


def _no_slip(metres: float) -> float:
    if metres < LEAST_M:
        raise PydanticCustomError("small", "expected a length of 1 mm or more")
    return metres


def _clock(value: Any) -> time:
    """A clock time as TOML has it, or as text."""
    if isinstance(value, str):
        try:
            value = parse_clock(value)
        except ValueError:
            value = None
    if not isinstance(value, time) or value.tzinfo is not None:
        raise PydanticCustomError("clock", 'expected a clock time such as "16:30"')
    return value


def _shows(value: str) -> str:
    if not is_name(value):
        raise PydanticCustomError("name", "expected a name on one line")
    return value


BREAKING = {"Cc", "Cs", "Zl", "Zp"}  # Unicode's control characters and line separators

Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Positive = Annotated[Number, Field(gt=0)]
Minutes = Annotated[Number, Field(gt=0, le=1440)]
Angle = Annotated[Number, Field(gt=0, lt=180)]
Share = Annotated[Number, Field(ge=0, le=1)]
Bearing = Annotated[Number, Field(ge=-360, le=360), AfterValidator(_bearing)]
Rotation = Annotated[Number, Field(ge=-360, le=360)]
Length = Annotated[float, BeforeValidator(_length)]
Size = Annotated[float, BeforeValidator(_length), Field(gt=0), AfterValidator(_no_slip)]
Height = Annotated[float, BeforeValidator(_length), Field(ge=0)]
HeightAboveSea = Annotated[float, BeforeValidator(_metres), Field(ge=-500, le=9000)]
Point = tuple[Length, Length]
ClockTime = Annotated[time, BeforeValidator(_clock)]
Name = Annotated[str, Field(strict=True, min_length=1), AfterValidator(_shows)]


# Beyond these a ± is a slip, such as 10 for 10 cm.
OFF_M = 1.0  # of what is in a house
BLOCK_OFF_M = 20.0  # of what stands outside
OffBy = Annotated[Height, Field(le=OFF_M)]
BlockOffBy = Annotated[Height, Field(le=BLOCK_OFF_M)]
OWN_SIZE_ERROR = "how far its size may be off, ±, 0 to 1 m; left out: the location's"
OWN_PLACE_ERROR = "how far its place may be off, ±, 0 to 1 m; left out: the location's"
BLOCK_SIZE_ERROR = "how far its size may be off, ±, 0 to 20 m; left out: the location's"
BLOCK_PLACE_ERROR = "how far its place may be off, ±, 0 to 20 m; left out: the location's"


class FilePart(BaseModel):
    """Base of all parts of a file: frozen, and an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")


_REFLECTED = "the share of light that it reflects, from 0 to 1"


class Reflectance(FilePart):
    """Reflectances of a room's surfaces, 0 black to 1 white."""

    # Defaults: floor 0.2, walls 0.5, ceiling 0.8, the room defaults of lighting design practice
    # (EN 12464-1 gives ranges around them; value from memory).
    floor: Share = Field(0.2, description=f"{_REFLECTED}, such as 0.2")
    walls: Share = Field(0.5, description=f"{_REFLECTED}, such as 0.5")
    ceiling: Share = Field(0.8, description=f"{_REFLECTED}, such as 0.8")


class Outside(FilePart):
    """A block outside that shades or reflects; `turn` is counter-clockwise about `at`."""

    name: Name = Field("block", description="a name in quotes, on one line")
    at: Point = Field(description="the block's corner on the plan, [x, y]")
    size: tuple[Size, Size, Size] = Field(description="[along x, along y, height], each above 0")
    base: Length = Field(0.0, description="the height of its foot above the ground, default 0")
    turn: Rotation = Field(
        0.0, description="degrees counter-clockwise about `at`, -360 to 360, default 0"
    )
    reflectance: Share = Field(0.3, description=f"{_REFLECTED}, default 0.3")
    size_error: BlockOffBy | None = Field(None, description=BLOCK_SIZE_ERROR)
    place_error: BlockOffBy | None = Field(None, description=BLOCK_PLACE_ERROR)


class Skyline(FilePart):
    """A far horizon: straight lines between true bearing / altitude points, clockwise."""

    points: tuple[tuple[Bearing, Annotated[Number, Field(ge=-5, lt=90)]], ...] = Field(
        min_length=2,
        description="two or more [true bearing, altitude] points, clockwise; "
        "bearings 0 to 360 degrees, altitudes from -5 to below 90",
    )


class Opening(FilePart):
    """A window (in a wall) or a skylight or roof window (in the ceiling)."""

    name: Name = Field(description="a name in quotes, on one line")
    wall: Name | None = Field(None, description='a wall\'s letter, such as "A"')
    along: Length | None = Field(
        None, description="the distance from the wall's first corner to the opening's near edge"
    )
    sill: Height | None = Field(None, description="the sill's height above the floor, 0 or more")
    ceiling: bool = Field(
        False, strict=True, description="true for a skylight; left out for a window in a wall"
    )
    at: Point | None = Field(None, description="the skylight's centre on the plan, [x, y]")
    size: tuple[Size, Size] = Field(
        description="[width, height], or [along x, along y] in a ceiling, each above 0"
    )
    depth: Size = Field(
        0.1, description="the reveal or shaft, inner face to glass, above 0, default 0.1 m"
    )
    turn: Rotation = Field(
        0.0, description="degrees counter-clockwise, for a skylight, -360 to 360, default 0"
    )
    pitch: Annotated[Number, Field(ge=0, lt=90)] = Field(
        0.0, description="the roof's pitch in degrees, from 0 to below 90"
    )
    faces: Bearing | None = Field(
        None, description="the true bearing that the glass slopes down toward, 0 to 360"
    )
    glass: Name | None = Field(None, description='the name of a glass, such as "double clear"')
    transmittance: Annotated[Number, Field(gt=0, le=1)] | None = Field(
        None, description="the visible transmittance at normal incidence, above 0, at most 1"
    )
    bars: Annotated[Number, Field(ge=0, lt=1)] = Field(
        0.0, description="the share of the opening that sash and bars take, default 0"
    )
    dirt: Annotated[Number, Field(ge=0, lt=1)] = Field(
        0.0, description="the share of light that dirt takes, default 0; 0.1 to 0.3 is common"
    )
    dressing: Name | None = Field(
        None, description='the name of a dressing, such as "sheer", or "none"'
    )
    before: Before | None = Field(
        None,
        description='what lies outside before a window: "ground" that one can stand on, "water", '
        '"street", "drop" or "blocked"; left out: nothing is planned outside',
    )
    to_ground: Height | None = Field(
        None,
        description="from the sill down to the ground outside, 0 or more; left out: to that of "
        "the plan",
    )
    size_error: OffBy | None = Field(None, description=OWN_SIZE_ERROR)
    place_error: OffBy | None = Field(None, description=OWN_PLACE_ERROR)

    @model_validator(mode="after")
    def _window_or_skylight(self) -> Self:
        wall_keys = {"wall": self.wall, "along": self.along, "sill": self.sill}
        wrong: list[str] = []
        if self.ceiling:
            given = [key for key, value in wall_keys.items() if value is not None]
            if given:
                wrong.append(f"an opening with ceiling = true takes no {' or '.join(given)}")
            if self.before is not None or self.to_ground is not None:
                wrong.append(
                    "a skylight takes no before or to_ground: nobody is sent onto a roof anyhow"
                )
            if self.at is None:
                wrong.append("a skylight needs at, its centre on the plan, [x, y]")
            if self.pitch > 0 and self.faces is None:
                wrong.append(
                    "a pitched roof window needs faces, "
                    "the true bearing that its glass slopes down toward"
                )
        else:
            lacking = [key for key, value in wall_keys.items() if value is None]
            given = sorted({"at", "turn", "pitch", "faces"} & self.model_fields_set)
            if len(lacking) == len(wall_keys) and "at" in given:
                wrong.append(
                    "has at but no wall: add ceiling = true for a skylight, "
                    "or give wall, along and sill instead for a window"
                )
            elif lacking:
                wrong.append(
                    f"a window needs {' and '.join(lacking)} (or ceiling = true for a skylight)"
                )
            elif given:
                wrong.append(f"a window in a wall takes no {' or '.join(given)}")
        if self.glass is not None and self.transmittance is not None:
            wrong.append("give glass or transmittance, not both")
        if wrong:
            raise PydanticCustomError("opening", "; ".join(wrong))
        return self

    def nobody_outside(self, sill_m: float) -> NobodyOutside | None:
        """Why nobody works outside before it, standing; None where the file says that one can.

        All that is planned outside asks this. `sill_m` is the sill's height above the ground.

        >>> door = {"name": "d", "wall": "A", "along": 0, "sill": 0.1, "size": [0.9, 2.0]}
        >>> Opening.model_validate(door).nobody_outside(0.1)
        'not told'
        >>> Opening.model_validate({**door, "before": "ground"}).nobody_outside(3.2)
        'high'
        >>> balcony = Opening.model_validate({**door, "before": "ground", "to_ground": 0.1})
        >>> balcony.nobody_outside(3.2) is None
        True
        """
        if self.ceiling:
            return "roof"
        if self.before is not None and self.before != "ground":
            return self.before
        if (sill_m if self.to_ground is None else self.to_ground) > STANDING_M:
            return "high"
        return "not told" if self.before is None else None

    @property
    def in_wall(self) -> tuple[str, float, float]:
        """Of a window its wall's letter, how far along that it starts, and its sill, metres."""
        assert self.wall is not None
        assert self.along is not None
        assert self.sill is not None
        return self.wall, self.along, self.sill


class Mark(FilePart):
    """Where the talent stands or sits: an upright cylinder to keep sun off."""

    name: Name = Field(description="a name in quotes, on one line")
    at: Point = Field(description="its middle on the plan, [x, y]")
    height: tuple[Height, Height] = Field(
        description="[from, to] above the floor, from below to: the part to keep sun off"
    )
    width: Size = Field(0.6, description="its diameter, movement included, above 0, default 0.6 m")
    place_error: OffBy | None = Field(None, description=OWN_PLACE_ERROR)

    @field_validator("height")
    @classmethod
    def _upward(cls, value: tuple[float, float]) -> tuple[float, float]:
        if not value[0] < value[1]:
            raise PydanticCustomError("height", "expected [from, to] with `from` below `to`")
        return value

    @property
    def face_height_m(self) -> float:
        """Height of the face above the floor: the middle of the upper quarter, metres."""
        low, high = self.height
        return low + 0.875 * (high - low)


class Practical(FilePart):
    """A lamp that is seen in the frame."""

    name: Name = Field(description="a name in quotes, on one line")
    at: Point = Field(description="its middle on the plan, [x, y]")
    height: Height = Field(description="its middle's height above the floor, 0 or more")
    shade: tuple[Size, Size] = Field(
        description="[width, height] of its lit face as seen, each above 0"
    )
    lumens: Positive = Field(description="the bulb's lumens, above 0")
    balance: Positive = Field(
        2700.0, description="its colour temperature in kelvin, above 0, default 2700"
    )
    watts: Positive | None = Field(
        None, description="the watts it draws, above 0; left out: an LED of its lumens"
    )


class Room(FilePart):
    """A room with vertical walls; walls are A, B, C … from the outline's first edge on."""

    name: Name = Field(description="a name in quotes, on one line")
    outline: tuple[Point, ...] = Field(
        min_length=3, description="three or more corners [x, y], counter-clockwise"
    )
    floor: Length = Field(0.0, description="the floor's height above the ground, default 0")
    height: Size = Field(description="the height from floor to ceiling, above 0")
    reflectance: Reflectance = Field(
        Reflectance(), description="a table { floor, walls, ceiling } of shares"
    )
    wet: bool | None = Field(
        None,
        strict=True,
        description="true where a bath, a shower, a basin or a sink is in it, false where none is",
    )
    opening: tuple[Opening, ...] = Field((), description="[[room.opening]] tables")
    mark: tuple[Mark, ...] = Field((), description="[[room.mark]] tables")
    practical: tuple[Practical, ...] = Field((), description="[[room.practical]] tables")

    @field_validator("outline")
    @classmethod
    def _counter_clockwise(cls, corners: tuple[Point, ...]) -> tuple[Point, ...]:
        twice_area = sum(
            x0 * y1 - x1 * y0
            for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True)
        )
        return corners if twice_area >= 0 else corners[:1] + corners[:0:-1]

    def wall(self, index: int) -> tuple[Point, Point]:
        """First and second corner of a wall, walking counter-clockwise, metres."""
        return self.outline[index], self.outline[(index + 1) % len(self.outline)]

    def wall_number(self, letter: str) -> int:
        """Index of a wall that it has, by its letter."""
        index = wall_index(letter, len(self.outline))
        assert index is not None
        return index

    def wall_way(self, letter: str) -> tuple[Point, Point]:
        """First corner of a wall by its letter, and the unit vector along it."""
        (x0, y0), (x1, y1) = self.wall(self.wall_number(letter))
        length = math.dist((x0, y0), (x1, y1))
        return (x0, y0), ((x1 - x0) / length, (y1 - y0) / length)

    def middle(self, opening: Opening) -> tuple[float, float, float]:
        """Middle of an opening's inner face: plan, and height above the floor, metres."""
        if opening.at is not None:
            return (*opening.at, self.height)
        wall, near, sill = opening.in_wall
        (x, y), (way_x, way_y) = self.wall_way(wall)
        along = near + opening.size[0] / 2
        return (x + along * way_x, y + along * way_y, sill + opening.size[1] / 2)

    def faces_deg(self, index: int, plan_up_deg: float) -> float:
        """True bearing that a wall faces outward, degrees.

        >>> square = Room(name="a", outline=((0, 0), (3, 0), (3, 2), (0, 2)), height=2.5)
        >>> round(square.faces_deg(0, 12.0), 6)
        192.0
        """
        (x0, y0), (x1, y1) = self.wall(index)
        return (math.degrees(math.atan2(y1 - y0, x0 - x1)) + plan_up_deg) % 360.0

    def opening_named(self, name: str) -> Opening:
        """The opening of that name."""
        return next(opening for opening in self.opening if opening.name == name)

    def mark_named(self, name: str) -> Mark:
        """The mark of that name."""
        return next(mark for mark in self.mark if mark.name == name)


class Lens(FilePart):
    """What a camera takes in: an angle of view, or a lens and what it is recorded on."""

    view: tuple[Angle, Angle] | None = Field(
        None, description="the angle of view, [across, up], in degrees above 0 and below 180"
    )
    lens_mm: Positive | None = Field(None, description="the focal length in millimetres, above 0")
    sensor_mm: tuple[Positive, Positive] | None = Field(
        None, description="[width, height] of the recorded area in millimetres, each above 0"
    )

    @model_validator(mode="after")
    def _view_or_lens(self) -> Self:
        lens = (self.lens_mm, self.sensor_mm)
        if (self.view is None) == (lens == (None, None)) or (self.view is None and None in lens):
            raise PydanticCustomError(
                "camera", "give view = [across, up] in degrees, or lens_mm and sensor_mm"
            )
        return self

    @property
    def view_deg(self) -> tuple[float, float]:
        """Angle of view, degrees: across, up."""
        if self.view is not None:
            return self.view
        assert self.lens_mm is not None
        assert self.sensor_mm is not None
        across, up = (
            math.degrees(2 * math.atan(side / (2 * self.lens_mm))) for side in self.sensor_mm
        )
        return across, up


class Camera(Lens):
    """The setup's camera; `toward` names a mark, opening or practical, or is a point."""

    at: Point = Field(description="its place on the plan, [x, y]")
    height: Height = Field(description="its height above the floor, 0 or more")
    toward: Name | tuple[Length, Length] | tuple[Length, Length, Length] = Field(
        description="a mark's, opening's or practical's name, or a point [x, y] or [x, y, height]"
    )


class Exposure(FilePart):
    """What the camera is set to; the stop is a T-stop where the lens has them."""

    iso: Positive = Field(description="the exposure index, above 0, such as 800")
    stop: Positive = Field(description="the lens's stop, above 0, such as 2.8")
    fps: Positive = Field(24.0, description="frames a second, above 0, default 24")
    shutter: Annotated[Number, Field(gt=0, le=360)] = Field(
        180.0, description="the shutter angle in degrees, above 0, at most 360, default 180"
    )
    shutter_s: Positive | None = Field(
        None, description="the exposure time in seconds, such as 0.02, instead of shutter"
    )
    balance: Positive = Field(
        5600.0, description="the white balance in kelvin, above 0, default 5600"
    )

    @model_validator(mode="after")
    def _angle_or_time(self) -> Self:
        if self.shutter_s is not None and "shutter" in self.model_fields_set:
            raise PydanticCustomError("exposure", "give shutter or shutter_s, not both")
        if self.shutter_s is not None and self.shutter_s * self.fps > 1.0 + 1e-9:
            raise PydanticCustomError("exposure", "shutter_s is longer than a frame at this fps")
        return self


class Off(FilePart):
    """What a key is thrown off: a wall, or a board or mirror at a place of its own."""

    wall: Name | None = Field(None, description='a wall\'s letter, such as "C"')
    at: Point | None = Field(None, description="a board's or mirror's middle on the plan, [x, y]")
    height: Height | None = Field(
        None, description="its middle's height above the floor, 0 or more"
    )
    size: tuple[Size, Size] = Field(
        (1.2, 1.2), description="[width, height], each above 0, default 1.2 m"
    )
    reflectance: Share = Field(0.8, description=f"{_REFLECTED}, default 0.8")
    mirror: bool = Field(False, strict=True, description="true for a mirror, which keeps it hard")

    @model_validator(mode="after")
    def _one_of_them(self) -> Self:
        if (self.wall is None) == (self.at is None) or (self.at is None) != (self.height is None):
            raise PydanticCustomError(
                "off", "give wall, or at and height of a board or mirror; not both"
            )
        return self


class Key(FilePart):
    """The key lamp: its name in the kit, where it stands, what is before it."""

    lamp: Name = Field(description="a lamp's name in the kit")
    frame: Name | None = Field(None, description="a diffusion frame's name in the kit")
    at: Point = Field(alias="from", description="the lamp's place on the plan, [x, y]")
    height: Height = Field(description="the lamp's height above the floor, 0 or more")
    off: Off | None = Field(
        None, description="a table { wall } or { at, height, size, reflectance, mirror }"
    )

    @property
    def kind(self) -> str:
        """Bare, or what its light goes through or is thrown off."""
        if self.frame is not None:
            return f"through {self.frame}"
        if self.off is None:
            return "bare"
        if self.off.wall is not None:
            return f"off wall {self.off.wall.strip().upper()}"
        return f"off a {'mirror' if self.off.mirror else 'board'}"

    @property
    def named(self) -> str:
        """The lamp, and its kind where it is not bare."""
        return self.lamp if self.kind == "bare" else f"{self.lamp} {self.kind}"

    @model_validator(mode="after")
    def _frame_or_off(self) -> Self:
        if self.frame is not None and self.off is not None:
            raise PydanticCustomError("off", "give frame or off, not both")
        return self


def _rising(band: tuple[float, float]) -> tuple[float, float]:
    if not band[0] < band[1]:
        raise PydanticCustomError("band", "expected [lowest, highest], the lowest first")
    return band


StopsBand = Annotated[
    tuple[Annotated[Number, Field(ge=-20, le=20)], Annotated[Number, Field(ge=-20, le=20)]],
    AfterValidator(_rising),
]
_OVER = "[lowest, highest] in stops over"


class Bands(FilePart):
    """Where things should sit for a time of day; what is left out keeps the usual band."""

    window: StopsBand | None = Field(
        None, description=f"a window's view: {_OVER} mid-grey, such as [-2.0, -1.0]"
    )
    dressing: StopsBand | None = Field(
        None, description=f"a dressed window: {_OVER} mid-grey, such as [-1.0, 0.0]"
    )
    practical: StopsBand | None = Field(
        None, description=f"a practical's shade: {_OVER} mid-grey, such as [1.5, 2.5]"
    )
    background: StopsBand | None = Field(
        None, description=f"walls: {_OVER} key, such as [-2.0, -1.5]"
    )
    fill: StopsBand | None = Field(
        None, description=f"the face's darker side: {_OVER} key, such as [-3.0, -2.0]"
    )


_PLAYS = 'the time of day in the film: "day", "dusk", "evening" or "night"'


class Setup(FilePart):
    """One setup: a camera position with its light."""

    name: Name = Field(description="a name in quotes, on one line")
    room: Name = Field(description="the name of a room in this file")
    mark: Name = Field(description="the name of a mark in that room")
    camera: Camera = Field(description="a table { at, height, toward, view }")
    exposure: Exposure = Field(description="a table { iso, stop, fps, shutter, balance }")
    plays: Plays = Field(description=_PLAYS)
    minutes: Minutes = Field(description="the minutes it takes to shoot, above 0, at most 1440")
    contrast: Annotated[Number, Field(ge=1)] | None = Field(
        None, description="the wanted key:fill, 1 or more; 4 means 4:1"
    )
    key: Key | None = Field(None, description="a table { lamp, frame, from, height }")
    kit: Name | None = Field(None, description="a kit's name in shared/kits/")
    look: Bands | None = Field(
        None, description="a table { window, dressing, practical, background, fill } of bands"
    )
    start: ClockTime | None = Field(
        None, description='the clock time its shooting must start at, such as "18:50"'
    )
    after: ClockTime | None = Field(
        None, description='the clock time before which its shooting does not start, such as "17:00"'
    )
    before: ClockTime | None = Field(
        None, description='the clock time by which its shooting ends, such as "19:30"'
    )
    after_sunset: Annotated[Number, Field(ge=-720, le=720)] | None = Field(
        None,
        description="the minutes after sunset before which its shooting does not start; "
        "below 0 before sunset",
    )
    match: Name | None = Field(
        None, description="a word that setups share whose sunlight must match: shot in a row"
    )
    priority: Positive = Field(
        1.0,
        description="against the others, above 0, default 1; where not all fit the least stays out",
    )
    outside: Literal[False] = Field(
        False, description="true for a setup outdoors, which has keys of its own; default false"
    )

    @model_validator(mode="after")
    def _has_time(self) -> Self:
        """Hours of its own leave time to shoot."""
        first = self.after if self.start is None else self.start
        if self.start is not None and self.after is not None and self.start < self.after:
            raise PydanticCustomError("hours", "start lies before after")
        if first is not None and self.before is not None:
            left = _minutes_of(self.before) - _minutes_of(first)
            if left < self.minutes:
                key = "after" if self.start is None else "start"
                raise PydanticCustomError(
                    "hours",
                    "{key} and before leave {left} min; expected at least its {minutes} minutes",
                    {"key": key, "left": f"{left:g}", "minutes": f"{self.minutes:g}"},
                )
        return self


def _minutes_of(clock: time) -> float:
    """Minutes since midnight of a clock time."""
    return 60.0 * clock.hour + clock.minute + clock.second / 60.0


class Outlook(Lens):
    """The camera of a setup outdoors; it looks along a true bearing, wherever it stands."""

    bearing: Bearing = Field(description="the true bearing that it looks toward, 0 to 360")
    tilt: Annotated[Number, Field(gt=-90, lt=90)] = Field(
        0.0, description="degrees that it looks up, or down below 0; default 0, level"
    )
    height: Height = Field(description="its height above the ground, 0 or more")


class Exterior(FilePart):
    """One setup outdoors: a subject on the plan's ground, and a camera."""

    name: Name = Field(description="a name in quotes, on one line")
    outside: Literal[True] = Field(description="true for a setup outdoors")
    at: Point = Field(description="where the subject stands, on the plan, [x, y]")
    height: Size = Field(1.8, description="how tall the subject is, above 0, default 1.8 m")
    camera: Outlook = Field(description="a table { bearing, tilt, height, view }")
    exposure: Exposure = Field(description="a table { iso, stop, fps, shutter, balance }")
    plays: Plays = Field(description=_PLAYS)
    minutes: Minutes = Field(description="the minutes it takes to shoot, above 0, at most 1440")
    wall: Bearing | None = Field(
        None, description="the true bearing that a wall in frame faces outward, 0 to 360"
    )


def outdoors(raw: Any) -> bool:
    """Whether a setup's table, as it is written, is that of one outdoors; a wrong word means so.

    >>> outdoors({"outside": True}), outdoors({"outside": "yes"}), outdoors({"outside": False})
    (True, True, False)
    """
    return isinstance(raw, dict) and raw.get("outside", False) is not False


# Which of the two a table of [[setup]] is meant as; the tags stand in pydantic's errors.
INDOORS, OUTDOORS = "setup in a room", "setup outdoors"
AnySetup = Annotated[
    Annotated[Setup, Tag(INDOORS)] | Annotated[Exterior, Tag(OUTDOORS)],
    Discriminator(lambda raw: OUTDOORS if outdoors(raw) else INDOORS),
]


class WorkingHours(FilePart):
    """The hours that people are there."""

    call: ClockTime = Field(
        time(9), description='when rigging may start, such as "09:00", the default'
    )
    wrap: ClockTime = Field(
        time(19), description='when everything is down, such as "19:00", the default'
    )
    lunch: tuple[ClockTime, ClockTime] | None = Field(
        None, description='[from, to] in which nobody works, such as ["12:30", "13:15"]'
    )
    after_sunset: Annotated[Number, Field(ge=0)] | None = Field(
        None, description="the minutes after sunset by which all is down, if before wrap; 0 or more"
    )
    prefer: Literal["time", "picture"] = Field(
        "picture",
        description='what order weighs more, once as much as can be fits: "picture", a real hour '
        'over a fake one, or "time", the fewest minutes of rigging',
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.call < self.wrap:
            raise PydanticCustomError("hours", "call does not lie before wrap")
        if self.lunch is not None and not self.call < self.lunch[0] < self.lunch[1] < self.wrap:
            raise PydanticCustomError("hours", "lunch does not lie between call and wrap, in order")
        return self


class Circuit(FilePart):
    """A fused circuit of the house, as its owner or its board names it."""

    name: Name = Field(description="a name in quotes, on one line")
    amps: Positive = Field(description="the fuse's amperes, above 0")
    volts: Positive = Field(description="the mains voltage, above 0, such as 120 or 230")
    rooms: tuple[Name, ...] = Field(
        (), description='the rooms with its sockets, such as ["kitchen"]; left out: all'
    )


class Site(FilePart):
    """The `[location]` table."""

    name: Name = Field(description="a name in quotes, on one line")
    latitude: Annotated[Number, Field(ge=-90, le=90)] = Field(
        description="degrees north, from -90 to 90"
    )
    longitude: Annotated[Number, Field(ge=-180, le=180)] = Field(
        description="degrees east, from -180 to 180"
    )
    timezone: Name | None = Field(
        None, description='an IANA time zone such as "Europe/Amsterdam"; found when left out'
    )
    elevation: HeightAboveSea = Field(
        0.0, description="metres above the sea, -500 to 9000, default 0"
    )
    units: Units = Field("m", description='the unit of bare lengths, "m" or "ft"')
    plan_up: Bearing = Field(description="the true bearing of the plan's up direction, 0 to 360")
    plan_up_error: Annotated[Number, Field(ge=0, le=45)] = Field(
        0.0, description="how far plan_up may be off, ± degrees, 0 to 45"
    )
    size_error: OffBy = Field(
        0.0,
        description="how far each size of an opening or a block may be off, ±, 0 to 1 m, default 0",
    )
    place_error: OffBy = Field(
        0.0,
        description="how far openings, marks and blocks may be off along each axis, ±, 0 to 1 m, "
        "default 0",
    )
    ground_reflectance: Share = Field(0.2, description=f"{_REFLECTED}, default 0.2")


class LocationFile(FilePart):
    """A whole location file, as it is written."""

    site: Site = Field(alias="location", description="the [location] table")
    outside: tuple[Outside, ...] = Field((), description="[[outside]] tables")
    skyline: tuple[Skyline, ...] = Field((), description="[[skyline]] tables")
    circuit: tuple[Circuit, ...] = Field((), description="[[circuit]] tables")
    day: WorkingHours = Field(WorkingHours(), description="the [day] table")
    room: tuple[Room, ...] = Field(min_length=1, description="one or more [[room]] tables")
    setup: tuple[AnySetup, ...] = Field((), description="[[setup]] tables")

    def room_named(self, name: str) -> Room:
        """The room of that name."""
        return next(room for room in self.room if room.name == name)


def wall_letter(index: int) -> str:
    """Letter of a wall: A to Z, then AA, AB …

    >>> wall_letter(0), wall_letter(25), wall_letter(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    index += 1
    while index:
        index, digit = divmod(index - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return letters


def wall_index(letter: str, walls: int) -> int | None:
    """Index of a wall by its letter, or None where there is no such wall.

    >>> wall_index("C", 4), wall_index("E", 4)
    (2, None)
    """
    wanted = letter.strip().upper()
    return next((index for index in range(walls) if wall_letter(index) == wanted), None)
