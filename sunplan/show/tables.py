"""Tables for people: rich on a terminal, plain text when piped, 80 columns."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator, Sequence

from rich import box
from rich.console import Console
from rich.table import Table

from ..location.lengths import FOOT_M, Units, format_length
from ..location.model import Opening, Room, wall_index, wall_letter
from ..location.read import Location
from ..room.entry import Day, Stretch
from .answers import entry as entry_answer
from .words import bearing, clock, moves, plus_minus

WIDTH = 80  # what a piped table and a narrow terminal hold

ENTRY_COLUMNS = (
    *("date", "room", "mark", "opening", "from", "to", "from_earliest", "from_latest"),
    *("to_earliest", "to_latest", "certain", "largest_patch_m2"),
)
SUN_CAUTION = (
    "Never look at the sun, least of all through a lens or an optical finder: it can blind."
)
WEATHER = "Clear sky assumed: the weather is not known. Trees and curtains are not known either."


def console(*, wide: int | None = None) -> Console:
    """Where tables go: as wide as the terminal, 80 columns when piped."""
    plain = Console()
    return plain if plain.is_terminal and wide is None else Console(width=wide or WIDTH)


def table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    """A plain table; only the last column wraps, if it can be helped."""
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for column in columns:
        made.add_column(column, overflow="fold", no_wrap=column != columns[-1])
    for row in rows:
        made.add_row(*row)
    return made


def sun_line(day: Day, timezone: str) -> str:
    """The sun's day in one line."""
    at = day.sun
    if at.always is not None:
        start = f"the sun stays {at.always} all day"
    else:
        rise, down = clock(at.rise, timezone, day.date), clock(at.set, timezone, day.date)
        start = f"sunrise {rise}, sunset {down}"
    dusk = clock(at.civil_dusk, timezone, day.date)
    dark = clock(at.nautical_dusk, timezone, day.date)
    return f"{start}; sun 6° down at {dusk}, 12° down at {dark}"


def _moments(stretch: Stretch, timezone: str, day: Day) -> tuple[str, str]:
    start, end = (
        clock(moment, timezone, day.date) + plus_minus(moment, spread)
        for moment, spread in (
            (stretch.start_s, stretch.start_range_s),
            (stretch.end_s, stretch.end_range_s),
        )
    )
    return start, end + ("" if stretch.certain else " ?")


def _once(rows: Iterable[tuple[str, ...]]) -> Iterator[tuple[str, ...]]:
    """Rows whose first cell is told only where it changes."""
    last = None
    for row in rows:
        yield ("" if row[0] == last else row[0], *row[1:])
        last = row[0]


def entry(location: Location, day: Day) -> Iterable[Table | str]:
    """Direct sun of a date: openings, marks, and what the signs mean."""
    zone, units = location.timezone, location.site.units

    def maybe(span: tuple[float, float]) -> tuple[str, str]:
        return f"({clock(span[0], zone, day.date)}", f"{clock(span[1], zone, day.date)})"

    yield f"{location.site.name}, {day.date:%A} {day.date.isoformat()}, clock of {zone}"
    yield sun_line(day, zone)
    rows: list[tuple[str, ...]] = []
    for one in day.openings:
        name = f"{one.room}: {one.opening}"
        for stretch, (first, last) in zip(one.stretches, one.landings, strict=True):
            rows.append((name, *_moments(stretch, zone, day), moves(first, last, units)))
        rows += [(name, *maybe(span), "") for span in one.possible]
        if not one.stretches and not one.possible:
            rows.append((name, "no sun", "", ""))
    yield "\nSun through each opening"
    yield table(("opening", "from", "to", "falls on"), _once(rows))
    rows = []
    for touched in day.marks:
        name = f"{touched.room}: {touched.mark}"
        for stretch in touched.stretches:
            rows.append((name, *_moments(stretch, zone, day), touched.opening))
        rows += [(name, *maybe(span), touched.opening) for span in touched.possible]
    if rows:
        yield "\nSun on each mark"
        yield table(("mark", "from", "to", "through"), _once(rows))
    else:
        yield "\nNo mark is touched by direct sun."
    yield ""
    if location.site.plan_up_error:
        error = f"plan_up ±{location.site.plan_up_error:g}°"
        yield (
            f"± minutes: what {error} does to that moment. "
            f"? or in brackets: only for a part of {error}."
        )
    yield WEATHER
    yield SUN_CAUTION


def entry_csv(location: Location, days: Iterable[Day]) -> str:
    """Direct sun of dates, a row a stretch."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(ENTRY_COLUMNS)
    for day in days:
        answer = entry_answer(location, day)
        for kind in ("openings", "marks"):
            for row in answer[kind]:
                for one in row["entries"]:
                    writer.writerow(
                        (
                            answer["date"],
                            row["room"],
                            row.get("mark", ""),
                            row.get("opening", one.get("opening")),
                            one["from"],
                            one["to"],
                            *one["from_range"],
                            *one["to_range"],
                            one["certain"],
                            f"{one['largest_patch_m2']:.3f}" if "largest_patch_m2" in one else "",
                        )
                    )
    return out.getvalue()


def _looks(room: Room, opening: Opening, plan_up_deg: float) -> str:
    if opening.ceiling:
        if opening.pitch and opening.faces is not None:
            return f"{bearing(opening.faces)}, {opening.pitch:g}° roof"
        return "straight up"
    assert opening.wall is not None
    index = wall_index(opening.wall, len(room.outline))
    assert index is not None
    return f"{bearing(room.faces_deg(index, plan_up_deg))}, wall {wall_letter(index)}"


def _area(square_m: float, units: Units) -> str:
    return f"{square_m:.2f} m²" if units == "m" else f"{square_m / FOOT_M**2:.1f} ft²"


def check(location: Location) -> Iterable[Table | str]:
    """What was understood of a location file."""
    site, units = location.site, location.site.units

    def told(metres: float) -> str:
        return format_length(metres, units)

    def spot(at: tuple[float, float]) -> str:
        return f"{told(at[0])}, {told(at[1])}"

    north = "N" if site.latitude >= 0 else "S"
    east = "E" if site.longitude >= 0 else "W"
    yield (
        f"{site.name}: {abs(site.latitude):g}° {north}, {abs(site.longitude):g}° {east}, "
        f"{told(site.elevation)} above the sea, clock of {location.timezone}"
    )
    sure = f", ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    yield f"the plan's up is {bearing(site.plan_up)}, true{sure}"
    for room in location.room:
        yield f"\n{room.name}: floor {told(room.floor)} above ground, {told(room.height)} high"
        walls = [
            (
                wall_letter(index),
                bearing(room.faces_deg(index, site.plan_up)),
                told(math.dist(*room.wall(index))),
            )
            for index in range(len(room.outline))
        ]
        yield table(("wall", "faces outward", "length"), walls)
        openings = []
        for opening in room.opening:
            where = (
                f"centre {spot(opening.at)}"
                if opening.at is not None
                else f"{told(opening.along or 0.0)} along, sill {told(opening.sill or 0.0)}"
            )
            size = f"{told(opening.size[0])} × {told(opening.size[1])}"
            area = _area(opening.size[0] * opening.size[1], units)
            looks = _looks(room, opening, site.plan_up)
            openings.append((opening.name, size, area, looks, where))
        if openings:
            yield ""
            yield table(("opening", "size", "area", "faces", "where"), openings)
        marks = [
            (mark.name, spot(mark.at), f"{told(mark.height[0])} – {told(mark.height[1])} high")
            for mark in room.mark
        ]
        if marks:
            yield ""
            yield table(("mark", "at", "must stay clean"), marks)
    for setup in location.setup:
        camera, exposure = setup.camera, setup.exposure
        aim = camera.toward if isinstance(camera.toward, str) else spot(camera.toward[:2])
        across, up = camera.view_deg
        yield f"\nsetup {setup.name}: {setup.room}, {setup.mark}; plays {setup.plays}"
        yield (
            f"  camera at {spot(camera.at)}, {told(camera.height)} high, toward {aim}, "
            f"sees {across:.0f}° × {up:.0f}°"
        )
        yield (
            f"  ISO {exposure.iso:g}, stop {exposure.stop:g}, {exposure.fps:g} fps at "
            f"{exposure.shutter:g}°, {exposure.balance:g} K; {setup.minutes:g} min to shoot"
        )
        if setup.key is not None:
            through = "" if setup.key.frame is None else f" through {setup.key.frame}"
            yield (
                f"  key {setup.key.lamp}{through} from {spot(setup.key.at)}, "
                f"{told(setup.key.height)} high"
            )
    blocks = [
        (
            one.name,
            spot(one.at),
            f"{told(one.size[0])} × {told(one.size[1])}",
            f"{told(one.base)} – {told(one.base + one.size[2])}",
        )
        for one in location.outside
    ]
    if blocks:
        yield ""
        yield table(("outside", "corner at", "size", "above ground"), blocks)
    yield "\nNo mistake found."
