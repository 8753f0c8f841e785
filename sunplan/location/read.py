"""Reads a location file: every mistake told once, by name, with what would be right."""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from ..errors import InputError, Problem
from . import kit as kits
from .consistency import geometry, references
from .kit import Kit
from .lengths import Units
from .mains import Mains, usual_mains
from .messages import mend, nearest, shown, validate
from .model import Circuit, Exterior, LocationFile, Setup, Site, is_name
from .place import timezone_at
from .toml_file import load, refusal, tables_of

OF_THE_MACHINE = {"localtime", "posixrules", "Factory"}  # names that mean no place


class Location(LocationFile):
    """A location file that was read, checked and completed: time zone known, kits at hand.

    `setup` are those in rooms, `exterior` those outdoors.
    """

    setup: tuple[Setup, ...]
    exterior: tuple[Exterior, ...]
    file: str
    kits: Mapping[str, Kit]

    @property
    def timezone(self) -> str:
        """IANA name of the place's time zone."""
        assert self.site.timezone is not None
        return self.site.timezone

    @property
    def mains(self) -> Mains:
        """What is usual in the place's country."""
        return usual_mains(latitude_deg=self.site.latitude, longitude_deg=self.site.longitude)

    def circuits_of(self, room: str) -> tuple[Circuit, ...]:
        """The circuits that the file names for a room; none where it leaves them open."""
        return tuple(
            circuit for circuit in self.circuit if not circuit.rooms or room in circuit.rooms
        )

    def __repr__(self) -> str:
        return f"<sunplan.Location {self.site.name!r} of {self.file}>"

    def kit_of(self, setup: Setup) -> Kit:
        """The kit that a setup uses."""
        return self.kits[kits.DEFAULT if setup.kit is None else setup.kit]


def read(path: str | Path) -> Location:
    """Read and check a location file.

    Raises
    ------
    LocationError
        With all mistakes of the file at once.
    InputError
        Where it cannot be read at all, or is a kit.

    Examples
    --------
    >>> read("house.tml")
    Traceback (most recent call last):
    ...
    sunplan.errors.InputError: house.tml: no such file
    """
    path = Path(path)
    if kits.is_kit(path):
        raise InputError(f"{path}: is a kit; expected a location file, which has [location]")
    return _checked(load(path), path)


def read_text(text: str, path: Path) -> Location:
    """What a location file would be with another text; `path` is for messages and its kits.

    Raises
    ------
    LocationError : with all mistakes at once.
    InputError : where the text is no TOML.
    """
    return _checked(tables_of(text, path), path)


def _checked(tables: dict[str, Any], path: Path) -> Location:
    mended = mend(LocationFile, tables)
    units = _units(mended.raw)
    model, problems = validate(
        LocationFile, mended.raw, "m" if units is None else units, mended.guessed
    )
    owned, of_names = references(mended.raw, path.resolve().parent)
    problems = [
        *mended.problems,
        *problems,
        *_zone_problems(mended.raw),
        *geometry(mended.raw, units),
        *of_names,
    ]
    if problems or model is None:
        raise refusal(path, problems)
    fields = {name: getattr(model, name) for name in LocationFile.model_fields}
    fields["site"] = model.site.model_copy(update={"timezone": _timezone(model.site)})
    fields["setup"] = tuple(setup for setup in model.setup if isinstance(setup, Setup))
    fields["exterior"] = tuple(setup for setup in model.setup if isinstance(setup, Exterior))
    return Location.model_construct(**fields, file=str(path), kits=owned)


def _units(raw: dict[str, Any]) -> Units | None:
    """The file's unit, or None where what it says is none."""
    site = raw.get("location")
    units = site.get("units", "m") if isinstance(site, dict) else "m"
    return "ft" if units == "ft" else "m" if units == "m" else None


def _zone_problems(raw: dict[str, Any]) -> list[Problem]:
    """What is wrong with the name of a time zone; other values are told by the model."""
    site = raw.get("location")
    name = site.get("timezone") if isinstance(site, dict) else None
    if not is_name(name):
        return []
    # The list, not the loader: that also takes whatever the machine's own folder holds.
    known = _zones()
    if name in known and name not in OF_THE_MACHINE:
        return []
    near = nearest(name, sorted(known - OF_THE_MACHINE))
    hint = f'did you mean "{near}"?' if near else 'expected one such as "Europe/Amsterdam"'
    return [Problem("location › timezone", f"{shown(name)} is no IANA time zone; {hint}")]


@cache
def _zones() -> set[str]:
    return zoneinfo.available_timezones()  # asks for every file


def _timezone(site: Site) -> str:
    """The zone that a site names, or the one that its coordinates lie in."""
    if site.timezone is not None:
        return site.timezone
    return timezone_at(latitude_deg=site.latitude, longitude_deg=site.longitude)
