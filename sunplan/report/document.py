"""What is said, whatever the medium: documents of sections, tables, lines and cautions.

Names are data here and never markup: each writer escapes them as its medium asks. Lengths stay
quantities until a writer prints them in metres or feet, so that nothing is built twice. Levels,
angles and stops read alike in both and are set as words at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, TypeAlias

from ..location.lengths import FOOT_M, INCH_M, Units, format_length
from ..sun.local_time import to_local

COMMAND = "command"  # role of a line that is copied to a shell: no writer may fold it
Kind = Literal["length", "side", "about", "gap", "area"]


class Inline:
    """What becomes words once units are chosen; `+` puts it behind or before other words."""

    __slots__ = ()

    def render(self, units: Units) -> str:
        """The words."""
        raise NotImplementedError

    def __add__(self, after: Said) -> Text:
        return text(self, after)

    def __radd__(self, before: Said) -> Text:
        return text(before, self)

    def __format__(self, _spec: str) -> str:
        raise TypeError("units are chosen when it is written: put it into text(…)")


@dataclass(frozen=True, slots=True)
class Quantity(Inline):
    """A length in metres, or an area in square metres.

    >>> Quantity(1.27).render("m"), Quantity(1.27, "about").render("ft")
    ('1.27 m', '4\\'2"')
    """

    value: float
    kind: Kind = "length"

    def render(self, units: Units) -> str:
        """The figure with its unit, as its kind wants."""
        return _FORMATS[self.kind](self.value, units)


def _about(metres: float, units: Units) -> str:
    return f"{metres:.1f} m".replace("-", "−") if units == "m" else format_length(metres, units)


def _gap(metres: float, units: Units) -> str:
    return f"{1000 * metres:.0f} mm" if units == "m" else f'{metres / INCH_M:.2f}"'


def _area(square_m: float, units: Units) -> str:
    return f"{square_m:.2f} m²" if units == "m" else f"{square_m / FOOT_M**2:.1f} ft²"


_FORMATS: dict[Kind, Callable[[float, Units], str]] = {
    "length": format_length,  # to the centimetre, or the eighth of an inch
    "side": lambda metres, units: format_length(metres, units).removesuffix(" m"),  # before a ×
    "about": _about,  # as a crew paces it out: to the decimetre, or the half inch
    "gap": _gap,  # of light leaks
    "area": _area,
}


@dataclass(frozen=True, slots=True)
class Moment(Inline):
    """A moment by the clock of its place, to the minute, with how far it may move if that is known.

    >>> print(Moment(1767225600.0, "Europe/Amsterdam"), Moment(None, "UTC"))
    01:00 —
    >>> print(Moment(1767225600.0, "UTC", date(2025, 12, 31), range_s=(1767225000.0, 1767226260.0)))
    00:00 +1 d ±11
    """

    unix_s: float | None
    zone: str
    day: date | None = None  # the date that is spoken of: another date is said
    range_s: tuple[float, float] | None = None

    def __str__(self) -> str:
        if self.unix_s is None:
            return "—"
        local = to_local(round(self.unix_s / 60.0) * 60.0, self.zone)
        ahead = 0 if self.day is None else (local.date() - self.day).days
        other_date = f" {ahead:+d} d".replace("-", "−") if ahead else ""
        sure = "" if self.range_s is None else plus_minus(self.unix_s, self.range_s)
        return f"{local:%H:%M}{other_date}{sure}"

    def render(self, units: Units) -> str:  # noqa: ARG002
        """The clock, alike in all units."""
        return str(self)

    def __format__(self, _spec: str) -> str:
        return str(self)


def plus_minus(moment_s: float, range_s: tuple[float, float]) -> str:
    """How far a moment may move, in minutes; nothing where it may not.

    >>> plus_minus(1000.0, (400.0, 1660.0)), plus_minus(1000.0, (880.0, 2200.0))
    (' ±11', ' −2 +20')
    >>> plus_minus(1000.0, (1000.0, 1000.0))
    ''
    """
    less, more = (round(abs(moment_s - end) / 60.0) for end in range_s)
    if abs(less - more) <= 2:
        return f" ±{max(less, more)}" if max(less, more) else ""
    return f" −{less} +{more}"


@dataclass(frozen=True, slots=True)
class Text(Inline):
    """Words with quantities and moments among them; made by `text`."""

    parts: tuple[Said, ...]

    def render(self, units: Units) -> str:
        """Its parts one after the other."""
        return "".join(render(part, units) for part in self.parts)


Said: TypeAlias = str | Inline


def text(*parts: Said) -> Text:
    """Words, quantities and moments as one text.

    >>> text("sill ", Quantity(0.9144), " above the floor").render("ft")
    'sill 3\\'0" above the floor'
    """
    flat: list[Said] = []
    for part in parts:
        flat += part.parts if isinstance(part, Text) else [part]
    return Text(tuple(flat))


def joined(between: str, parts: Iterable[Said]) -> Text:
    """Texts one behind the other.

    >>> joined(" and ", [Quantity(1.0), Quantity(2.0)]).render("m")
    '1.00 m and 2.00 m'
    """
    words: list[Said] = []
    for part in parts:
        words += [between, part] if words else [part]
    return text(*words)


def render(said: Said, units: Units) -> str:
    """The words of a text in metres or in feet."""
    return said if isinstance(said, str) else said.render(units)


def rendered(value: Any, units: Units) -> Any:
    """Lists and dictionaries with the words of every text that stands in them."""
    if isinstance(value, dict):
        return {key: rendered(inside, units) for key, inside in value.items()}
    if isinstance(value, list | tuple):
        return [rendered(inside, units) for inside in value]
    return value.render(units) if isinstance(value, Inline) else value


@dataclass(frozen=True)
class Line:
    """A line or an item, with what belongs under it. `role` tells writers what it is."""

    said: Said
    under: Iterable[Block] = ()
    role: str = ""
    number: int | None = None  # of an item in a numbered list

    def __post_init__(self) -> None:
        object.__setattr__(self, "under", tuple(self.under))


@dataclass(frozen=True)
class Caution:
    """What can hurt somebody; writers tell each once, in full or `brief` on a short screen."""

    said: str
    one_line: str | None = None  # where `said` needs more than one

    @property
    def brief(self) -> str:
        """What a short screen has room for."""
        return self.said if self.one_line is None else self.one_line


@dataclass(frozen=True)
class More:
    """What is told to those who ask for it: reasons, other ways, figures behind the figures.

    `about` says in a few words what that is.
    """

    about: str
    blocks: Iterable[Block]

    def __post_init__(self) -> None:
        object.__setattr__(self, "blocks", tuple(self.blocks))


@dataclass(frozen=True)
class Table:
    """Rows of texts; in a `grouped` one the first two cells are told where they change.

    The rows of a `checklist` are for ticking off.
    """

    columns: Sequence[str]
    rows: Iterable[Sequence[Said]]
    grouped: bool = False
    checklist: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "columns", tuple(self.columns))
        object.__setattr__(self, "rows", tuple(map(tuple, self.rows)))

    def cells(self, units: Units) -> list[tuple[str, ...]]:
        """The words of all rows.

        >>> Table("xyz", [("a", "b", "1"), ("a", "c", "2"), ("a", "c", "3")], True).cells("m")
        [('a', 'b', '1'), ('', 'c', '2'), ('', '', '3')]
        """
        rows = [tuple(render(cell, units) for cell in row) for row in self.rows]
        return [
            (*([""] * same), *row[same:])
            for before, row in zip([(), *rows], rows, strict=False)
            for same in [self._same(before, row)]
        ]

    def _same(self, before: tuple[str, ...], row: tuple[str, ...]) -> int:
        """How many of the first two cells are those of the row before."""
        if not self.grouped or not before or before[0] != row[0]:
            return 0
        return 1 + (before[1] == row[1])


@dataclass(frozen=True)
class Section:
    """A part of a document; writers pick it by its `id`. Without a heading it stands by itself."""

    id: str
    heading: Said | None
    blocks: Iterable[Block]

    def __post_init__(self) -> None:
        object.__setattr__(self, "blocks", tuple(self.blocks))


@dataclass(frozen=True)
class Document:
    """All that is said to one question: a title, lines that introduce, sections.

    A document may hold others one behind the other, each a `chapter`.
    """

    title: Said | None
    blocks: Iterable[Block]
    intro: Iterable[Said] = ()
    chapter: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "blocks", tuple(self.blocks))
        object.__setattr__(self, "intro", tuple(self.intro))

    def sections(self, id: str) -> list[Section]:
        """The sections of an id, wherever they stand, in their order."""
        return [
            block for block in walk(self.blocks) if isinstance(block, Section) and block.id == id
        ]

    @property
    def cautions(self) -> list[Caution]:
        """Every caution once."""
        return list(
            dict.fromkeys(block for block in walk(self.blocks) if isinstance(block, Caution))
        )


Block: TypeAlias = Said | Line | Table | Caution | More | Section | Document


def walk(blocks: Iterable[Block]) -> Iterator[Block]:
    """Blocks with all that lies in them or under them."""
    for block in blocks:
        yield block
        if isinstance(block, Line):
            yield from walk(block.under)
        elif isinstance(block, More | Section | Document):
            yield from walk(block.blocks)


def sayings(blocks: Iterable[Block]) -> Iterator[Said]:
    """The texts of lines and of the lines under them, one after the other."""
    for block in walk(blocks):
        if isinstance(block, Line):
            yield block.said
        elif isinstance(block, str | Inline):
            yield block
