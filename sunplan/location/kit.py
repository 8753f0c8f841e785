"""What a crew owns: kits that several locations share."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal, Self, get_args

from pydantic import Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from .messages import mend, twins, validate
from .model import Angle, Bands, FilePart, Name, Number, Positive, Size
from .toml_file import TOML, load, refusal, tables_of, text_of

DEFAULT = "default"
KEPT = 16  # kits that were read last; checking one takes longer than a location without it
ReflectorSide = Literal["black", "white", "silver"]
Weight = Annotated[Number, Field(ge=0)]


class Owned(FilePart):
    """A line of a kit: a generic name, and how many there are."""

    name: Name = Field(description="a generic name in quotes, on one line")
    owned: int = Field(
        0, ge=0, strict=True, description="how many are owned: a whole number, 0 or more"
    )
    weight: Weight = Field(0.0, description="the weight of one in kilograms, 0 or more")
    packed: tuple[Size, Size, Size] | None = Field(
        None, description="[length, width, height] of one when packed, each above 0"
    )
    rent: Weight | None = Field(None, description="what renting one costs a day, 0 or more")

    @property
    def kind(self) -> str:
        """The kit's list that it stands in, such as "frame"."""
        types = {name: get_args(Kit.model_fields[name].annotation)[0] for name in KINDS}
        return next(name for name, kind in types.items() if isinstance(self, kind))


class Lamp(Owned):
    """A lamp as it is set up: its level at a metre and what it draws."""

    lux_at_1m: Positive = Field(description="the lux at one metre, full power, above 0")
    beam: Angle = Field(55.0, description="the beam angle in degrees, above 0, below 180")
    watts: Positive = Field(description="the watts it draws from the wall, above 0")
    balance: Positive = Field(5600.0, description="its colour temperature in kelvin, above 0")


class DiffusionFrame(Owned):
    """A diffusion frame with its cloth."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")
    loss: Number = Field(ge=0, description="the stops it costs, 0 or more")


class Diffusion(Owned):
    """A grade of diffusion by the sheet, for a frame instead of its own cloth."""

    loss: Number = Field(ge=0, description="the stops it costs, 0 or more")


class Net(Owned):
    """Black net on a frame: it dims and keeps the shape of the light."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")
    loss: Number = Field(ge=0, description="the stops it costs, 0 or more")


class Reflector(Owned):
    """A folding reflector with its sides; a black one is negative fill."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")
    sides: tuple[ReflectorSide, ...] = Field(
        min_length=1, description='its sides, of "black", "white" and "silver"'
    )


class Flag(Owned):
    """Opaque black on a frame: flag, cutter, floppy or solid."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")


class Stand(Owned):
    """A stand that carries a flag."""

    lowest: Size = Field(description="the lowest height of its head, above 0")
    highest: Size = Field(description="the highest height of its head, above 0")
    load: Positive = Field(10.0, description="the kilograms it may carry, above 0, default 10")

    @model_validator(mode="after")
    def _upward(self) -> Self:
        if self.lowest > self.highest:
            raise PydanticCustomError("stand", "lowest is above highest; swap them")
        return self


class Gel(Owned):
    """Neutral density on the glass, by the roll."""

    density: Positive = Field(description="the density, above 0; 0.3 costs one stop")
    width: Size = Field(1.22, description="the roll's width, above 0, default 1.22 m")
    length: Size = Field(7.6, description="the roll's length, above 0, default 7.6 m")


class Cloth(Owned):
    """Opaque black cloth by the roll, for blacking out; `owned` counts rolls, `weight` is one's."""

    width: Size = Field(description="the roll's width, above 0")
    length: Size = Field(description="the roll's length, above 0")


class TapeRoll(Owned):
    """A roll of tape that holds cloth and gel."""

    length: Size = Field(description="the roll's length, above 0")


class Batten(Owned):
    """A batten or pole that keeps cloth straight at head and foot."""

    length: Size = Field(description="its length, above 0")


class Cable(Owned):
    """An extension cable."""

    length: Size = Field(description="its length, above 0")


class Arm(Owned):
    """A grip head with its arm, that holds a flag on a stand."""


class Bag(Owned):
    """A sandbag; its weight is that of the filled bag."""


class Case(Owned):
    """A case or bag that things travel in; `weight` is that of the empty one."""

    inside: tuple[Size, Size, Size] = Field(
        description="[length, width, height] inside, each above 0"
    )


class Looks(FilePart):
    """What a crew wants otherwise than the usual, by time of day."""

    day: Bands | None = Field(None, description="bands for day, as a setup's look")
    dusk: Bands | None = Field(None, description="bands for dusk, as a setup's look")
    evening: Bands | None = Field(None, description="bands for evening, as a setup's look")
    night: Bands | None = Field(None, description="bands for night, as a setup's look")


class Kit(FilePart):
    """A whole kit file."""

    name: Name = Field(description="a name in quotes, on one line")
    lamp: tuple[Lamp, ...] = Field((), description="[[lamp]] tables")
    frame: tuple[DiffusionFrame, ...] = Field((), description="[[frame]] tables")
    diffusion: tuple[Diffusion, ...] = Field((), description="[[diffusion]] tables")
    flag: tuple[Flag, ...] = Field((), description="[[flag]] tables")
    net: tuple[Net, ...] = Field((), description="[[net]] tables")
    reflector: tuple[Reflector, ...] = Field((), description="[[reflector]] tables")
    stand: tuple[Stand, ...] = Field((), description="[[stand]] tables")
    arm: tuple[Arm, ...] = Field((), description="[[arm]] tables")
    bag: tuple[Bag, ...] = Field((), description="[[bag]] tables")
    gel: tuple[Gel, ...] = Field((), description="[[gel]] tables")
    cloth: tuple[Cloth, ...] = Field((), description="[[cloth]] tables")
    tape: tuple[TapeRoll, ...] = Field((), description="[[tape]] tables")
    batten: tuple[Batten, ...] = Field((), description="[[batten]] tables")
    cable: tuple[Cable, ...] = Field((), description="[[cable]] tables")
    case: tuple[Case, ...] = Field((), description="[[case]] tables")
    look: Looks = Field(Looks(), description="tables such as [look.night]")

    @field_validator("flag")
    @classmethod
    def _smallest_first(cls, flags: tuple[Flag, ...]) -> tuple[Flag, ...]:
        return tuple(sorted(flags, key=lambda flag: flag.size[0] * flag.size[1]))

    def lamp_named(self, name: str) -> Lamp:
        """The lamp of that name."""
        return next(lamp for lamp in self.lamp if lamp.name == name)

    def stand_for(self, low_m: float, high_m: float, weight_kg: float) -> Stand | None:
        """The lowest stand that carries a weight by a head somewhere between two heights.

        Parameters
        ----------
        low_m, high_m : above the floor.
        weight_kg : of all that hangs on it.

        Returns
        -------
        None where no stand of the kit does.
        """
        fit = [
            stand
            for stand in self.stand
            if stand.lowest <= high_m + 1e-9
            and low_m - 1e-9 <= stand.highest
            and weight_kg <= stand.load
        ]
        return min(fit, key=lambda stand: stand.highest, default=None)

    def frame_named(self, name: str) -> DiffusionFrame:
        """The frame of that name."""
        return next(frame for frame in self.frame if frame.name == name)


KINDS = tuple(name for name in Kit.model_fields if name not in ("name", "look"))


def read_kit(path: str | Path) -> Kit:
    """Read and check a kit file.

    Raises
    ------
    LocationError : with all mistakes of the file at once.
    InputError : where it cannot be read at all.
    """
    return _read(text_of(Path(path), TOML), Path(path))


@lru_cache(maxsize=KEPT)
def _read(text: str, path: Path) -> Kit:
    mended = mend(Kit, tables_of(text, path))
    model, problems = validate(Kit, mended.raw, "m", mended.guessed)
    problems = [*mended.problems, *problems]
    for kind in KINDS:
        problems += twins(kind, "", mended.raw.get(kind))
    if problems or model is None:
        raise refusal(path, problems)
    return model


def is_kit(path: str | Path) -> bool:
    """Whether a TOML file is a kit rather than a location: it has things of kits, and no place.

    Raises
    ------
    InputError : where it cannot be read.
    """
    raw = load(Path(path))
    return not {"location", "room"} & raw.keys() and bool({*KINDS, "look"} & raw.keys())


def find(name: str, beside: Path) -> Path | None:
    """The file of a kit: `shared/kits/NAME.toml` beside or above a folder, else the package's.

    None where there is none of that name.
    """
    path = _shelves(beside).get(name)
    if path is None and name == DEFAULT:
        return Path(str(files("sunplan.data") / "kit.toml"))
    return path


def known(beside: Path) -> list[str]:
    """Names of the kits that a location in this folder can use."""
    return sorted({DEFAULT, *_shelves(beside)})


def _shelves(beside: Path) -> dict[str, Path]:
    """Kit files by name, the nearest of each; what may not be looked into is passed over."""
    shelves: dict[str, Path] = {}
    for folder in (beside, *beside.parents):
        try:
            inside = [path for path in (folder / "shared" / "kits").iterdir() if path.is_file()]
        except OSError:
            continue
        for path in inside:
            if path.suffix == ".toml":
                shelves.setdefault(path.stem, path)
    return shelves
