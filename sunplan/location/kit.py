"""What a crew owns: kits that several locations share."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pydantic import Field, field_validator

from .model import Name, Number, Part, Positive, Size

DEFAULT = "default"


class Owned(Part):
    """A line of a kit: a generic name, and how many there are."""

    name: Name = Field(description="a generic name in quotes")
    owned: int = Field(0, ge=0, strict=True, description="how many are owned, 0 or more")


class Lamp(Owned):
    """A lamp as it is set up: its level at a metre and what it draws."""

    lux_at_1m: Positive = Field(description="lux at one metre, full power, above 0")
    beam: Positive = Field(55.0, lt=180, description="beam angle in degrees, below 180")
    watts: Positive = Field(description="what it draws from the wall, watts")
    balance: Positive = Field(5600.0, description="colour temperature in kelvin")


class Frame(Owned):
    """A diffusion frame with its cloth."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")
    loss: Number = Field(ge=0, description="stops it costs, 0 or more")


class Flag(Owned):
    """Opaque black on a frame: flag, cutter, floppy or solid."""

    size: tuple[Size, Size] = Field(description="[width, height], each above 0")


class Stand(Owned):
    """A stand that carries a flag."""

    lowest: Size = Field(description="lowest height of its head, above 0")
    highest: Size = Field(description="highest height of its head, above 0")


class Gel(Owned):
    """Neutral density on the glass."""

    density: Positive = Field(description="density, 0.3 for one stop")


class Kit(Part):
    """A whole kit file."""

    name: Name = Field(description="a name in quotes")
    lamp: tuple[Lamp, ...] = Field((), description="[[lamp]] tables")
    frame: tuple[Frame, ...] = Field((), description="[[frame]] tables")
    flag: tuple[Flag, ...] = Field((), description="[[flag]] tables")
    stand: tuple[Stand, ...] = Field((), description="[[stand]] tables")
    gel: tuple[Gel, ...] = Field((), description="[[gel]] tables")

    @field_validator("flag")
    @classmethod
    def _smallest_first(cls, flags: tuple[Flag, ...]) -> tuple[Flag, ...]:
        return tuple(sorted(flags, key=lambda flag: flag.size[0] * flag.size[1]))

    def lamp_named(self, name: str) -> Lamp:
        """The lamp of that name."""
        return next(lamp for lamp in self.lamp if lamp.name == name)

    def frame_named(self, name: str) -> Frame:
        """The frame of that name."""
        return next(frame for frame in self.frame if frame.name == name)


def find(name: str, beside: Path) -> Path | None:
    """The file of a kit: `shared/kits/NAME.toml` beside or above a folder, else the package's.

    None where there is none of that name.
    """
    for folder in (beside, *beside.parents):
        candidate = folder / "shared" / "kits" / f"{name}.toml"
        if candidate.is_file():
            return candidate
    if name == DEFAULT:
        return Path(str(files("sunplan.data") / "kit.toml"))
    return None


def known(beside: Path) -> list[str]:
    """Names of the kits that a location in this folder can use."""
    names = {DEFAULT}
    for folder in (beside, *beside.parents):
        names.update(path.stem for path in (folder / "shared" / "kits").glob("*.toml"))
    return sorted(names)
