"""Speed, as ratios to named references in the same run: `make bench`.

Whole processes take turns with their reference; the least of each is compared.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import radiance
import radiance_rooms
import random_rooms
from places import bare, made
from pvlib import spa

from sunplan.day.sequence import SequenceCosts, best
from sunplan.light.daylight import Weather, skies, skies_by_weather
from sunplan.light.face import faces
from sunplan.light.level_series import level_series
from sunplan.light.resolved import resolve
from sunplan.light.sun_interpolator import SunInterpolator
from sunplan.location.read import Location
from sunplan.rig.flags import setup_flags
from sunplan.rig.gap import gaps
from sunplan.room.beam import beam_of
from sunplan.room.entry import SunTests
from sunplan.sun.local_time import day_span
from sunplan.sun.track import track_over

ROUNDS = 9
ROOT = Path(__file__).parent.parent
DEMO = ROOT / "locations" / "lock-house.toml"
YEAR = 1767225600.0, 1767225600.0 + 365 * 86400.0  # 2026, UTC


def once(command: Sequence[str]) -> float:
    start = time.perf_counter()
    # As whoever uses it has it: the package's byte code is kept, as that of all installed ones.
    kept = {key: one for key, one in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run([sys.executable, *command], stdout=subprocess.DEVNULL, check=True, env=kept)
    return time.perf_counter() - start


def compare(name: str, ours: Sequence[str], reference: Sequence[str], limit: str) -> None:
    times = [(once(ours), once(reference)) for _ in range(ROUNDS)]
    mine, theirs = (min(column) for column in zip(*times, strict=True))
    print(
        f"{name}: {mine:.3f} s, {mine / theirs:.2f} × `python {' '.join(reference)}` "
        f"({theirs:.3f} s); wanted: {limit}"
    )


def busy_room() -> dict:
    """Twelve openings round one room and in its ceiling, four marks."""
    raw = bare()
    del raw["setup"]
    room = raw["room"][0]
    room["opening"] = [
        {
            "name": f"window {wall}{number}",
            "wall": wall,
            "along": 0.2 + number * (length - 0.4) / 3,
            "sill": 0.9,
            "size": [(length - 0.4) / 3 - 0.1, 1.2],
            "depth": 0.2,
        }
        for wall, length, count in (("A", 4, 3), ("B", 3, 3), ("C", 4, 2), ("D", 3, 2))
        for number in range(count)
    ]
    room["opening"] += [
        {"name": f"skylight {x}", "ceiling": True, "at": [x, 1.5], "size": [0.8, 0.8], "depth": 0.4}
        for x in (1, 3)
    ]
    room["mark"] = [
        {
            "name": f"mark {number}",
            "at": [0.8 + 0.8 * number, 1.0 + 0.3 * number],
            "height": [0.9, 1.7],
            "width": 0.6,
        }
        for number in range(4)
    ]
    return raw


def a_year() -> None:
    """Entries and marks of a year at one-minute steps, against the sun's positions alone."""
    with TemporaryDirectory() as folder:
        location = made(busy_room(), Path(folder))
    grid = np.arange(*YEAR, 60.0)
    mine, theirs, stretches = [], [], 0
    for _ in range(3):
        start = time.perf_counter()
        light = SunTests(location, track_over(location, *YEAR))
        net, room = light.grid(grid), beam_of(location, location.room[0])
        found = [light.opening_intervals(room, index, net) for index in range(len(room.apertures))]
        mine.append(time.perf_counter() - start)
        stretches = sum(len(one.passing[0]) for one in found)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for _ in range(3):
        start = time.perf_counter()
        spa.solar_position_numpy(grid, 52.0, 5.0, 0, 1013.25, 12.0, 69.0, 0.5667, 1)
        theirs.append(time.perf_counter() - start)
    print(
        f"year, {len(room.apertures)} openings, {len(room.room.mark)} marks, {len(grid)} moments, "
        f"{stretches} entries: {min(mine):.3f} s, {min(mine) / min(theirs):.2f} × pvlib's plain "
        f"numpy SPA for the positions ({min(theirs):.3f} s); wanted: at most 0.25 ×"
    )
    print(f"  peak memory of the process up to here: {megabytes:.0f} MB; wanted: under 500 MB")


def six_setups(folder: Path) -> Location:
    """The lock-keeper's house, three rooms, two setups more."""
    raw = random_rooms.read_location(DEMO)
    raw["setup"] = [one for one in raw["setup"] if not one.get("outside")]
    for number in (1, 2):
        raw["setup"].append(raw["setup"][number] | {"name": f"again {number}"})
    for setup in raw["setup"]:
        setup.pop("kit")
    return made(raw, folder)


def a_day_of_light() -> None:
    """Gaps of six setups at every quarter hour, and the same spots by Radiance."""
    with TemporaryDirectory() as folder:
        location = six_setups(Path(folder))
    start = day_span(date(2027, 3, 20), location.timezone)[0] + 6 * 3600.0
    moments = [start + 900.0 * step for step in range(57)]
    weathers = [Weather("clear"), Weather("overcast")]  # as `gap` tells them
    skies_by_weather(location, moments[:1], weathers)  # its imports
    mine = []
    for _ in range(3):
        begin = time.perf_counter()
        gaps(location, resolve(location), skies_by_weather(location, moments, weathers))
        mine.append(time.perf_counter() - begin)
    print(
        f"gap, {len(resolve(location))} setups in 3 rooms, {len(moments)} moments, {len(weathers)} "
        f"skies: {min(mine):.2f} s beyond imports; wanted: at most 2 s"
    )
    room = radiance_rooms.ROOMS[0]
    scene = radiance.Scene(room.raw, room.name, sky=room.sky("clear"), even_ground=True)
    points, normals = np.array(room.sensors.points[:3]), np.tile([0.0, 0.0, 1.0], (3, 1))
    # As few rays as keep the noise of a spot under 0.05 stop.
    settings = radiance.Settings(divisions=256)
    begin = time.perf_counter()
    noise = scene.illuminance(points, normals, settings=settings)
    once_ = time.perf_counter() - begin
    whole = once_ * len(moments) * len(weathers) * len(resolve(location))
    share = float((noise.standard_error / noise.value).max())
    print(
        f"  Radiance, one setup's three spots at one moment: {once_:.2f} s at {100 * share:.1f} % "
        f"noise; as often as above: {whole / min(mine):.0f} ×; wanted: at least 200 ×"
    )


def a_day_of_flags() -> None:
    """Flags of six setups through a whole day, against the sun's positions alone."""
    with TemporaryDirectory() as folder:
        location = six_setups(Path(folder))
    start, end = day_span(date(2027, 3, 20), location.timezone)
    times, options = [], 0
    for _ in range(3):
        begin = time.perf_counter()
        found = [setup_flags(location, one, start_s=start, end_s=end) for one in resolve(location)]
        times.append(time.perf_counter() - begin)
        options = sum(len(one.options) for one in found)
    positions = []
    for _ in range(3):
        begin = time.perf_counter()
        spa.solar_position_numpy(np.arange(start, end, 1.0), 52.0, 5.0, 0, 1013.25, 12, 69, 0.57, 1)
        positions.append(time.perf_counter() - begin)
    print(
        f"flags, {len(resolve(location))} setups in 3 rooms, a whole day, {options} options: "
        f"{min(times):.2f} s beyond imports, {min(times) / min(positions):.1f} × pvlib's numpy "
        f"SPA for each second of it ({min(positions):.2f} s); wanted: at most 2 s"
    )


def a_year_of_hours() -> None:
    """Sun questions to the minute and light by the quarter hour, a year and a quarter of one."""
    with TemporaryDirectory() as folder:
        location = six_setups(Path(folder))
    rooms = faces(location, resolve(location))
    openings = sum(len(one.transfer.beam.apertures) for one in rooms)
    first = day_span(date(2027, 1, 1), location.timezone)[0]
    skies_by_weather(location, [first], [Weather("clear")])  # its imports
    spent: dict[int, tuple[float, float]] = {}
    for days in (91, 365):
        begin = time.perf_counter()
        grid = np.arange(first, first + 86400.0 * days, 60.0)
        light = SunTests(location, track_over(location, grid[0], grid[-1]))
        net = light.grid(grid)
        for one in rooms:
            for index in range(len(one.transfer.beam.apertures)):
                light.opening_intervals(one.transfer.beam, index, net)
        asked = time.perf_counter()
        quarters = first + 86400.0 * np.arange(days)[:, None] + 900.0 * np.arange(24, 80)
        for name in ("clear", "overcast"):
            above = skies(location, quarters.ravel().tolist(), Weather(name))
            reading = SunInterpolator(location, above).read
            many = {"reading": reading, "room_reading": reading}
            found = level_series(location, resolve(location), above, rooms=rooms, **many)
            for series in found.values():
                assert series.stops.shape[0] == len(series.fill_stops)
        spent[days] = asked - begin, time.perf_counter() - asked
    begin = time.perf_counter()
    spa.solar_position_numpy(grid, 52.0, 5.0, 0, 1013.25, 12.0, 69.0, 0.5667, 1)
    theirs = time.perf_counter() - begin
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sun, lit = spent[365]
    print(
        f"hours, a year, 3 rooms, {openings} openings, minute steps: {sun:.2f} s, "
        f"{sun / theirs:.2f} × pvlib's numpy SPA for the positions; wanted: at most 1 s"
    )
    print(
        f"  light of {len(resolve(location))} setups by the quarter hour from 6 to 20, two skies: "
        f"{lit:.1f} s, {lit / theirs:.1f} × the same; wanted: at most 20 s"
    )
    quarter_sun, quarter_lit = spent[91]
    print(
        f"  a quarter of the year: {quarter_sun / sun:.2f} and {quarter_lit / lit:.2f} of that; "
        f"peak memory of the process up to here {megabytes:.0f} MB; wanted: under 1000 MB"
    )


def a_whole_plan() -> None:
    """Everything of a day into a folder, page, sheet, calendar and pictures: the whole process."""
    mine, theirs = [], []
    with TemporaryDirectory() as folder:
        file = six_setups(Path(folder)).file
        out = str(Path(folder) / "day")
        for _ in range(3):
            command = ("-m", "sunplan", "plan", file, "--date", "2027-03-20", "--out", out)
            mine.append(once(command))
            theirs.append(once(("-c", "import pvlib")))
        page = (Path(out) / "plan.html").stat().st_size
    print(
        f"plan, 3 rooms, 6 setups, whole process: {min(mine):.2f} s, "
        f"{min(mine) / min(theirs):.1f} × `python -c import pvlib` ({min(theirs):.2f} s); wanted: "
        f"at most 6 s; its page {page / 1000:.0f} kB, wanted: under 2000"
    )


def a_long_day() -> None:
    """The best order of twelve setups at 41 quarter hours, all orders in question."""
    rng = np.random.default_rng(5)
    setups, moments = 12, 41
    later = np.arange(moments)[None] - np.arange(moments)[:, None]
    cost = rng.uniform(0.0, 120.0, (setups, moments, setups, moments))
    takes = rng.integers(2, 4, (setups, 1, setups, 1))
    then = np.where(later[None, :, None, :] >= takes, cost, np.inf)
    problem = SequenceCosts(
        rng.uniform(0.0, 60.0, (setups, moments)),
        then,
        rng.uniform(0.0, 60.0, (setups, moments)),
        np.ones(setups),
        (-1,) * setups,
    )
    begin = time.perf_counter()
    found = best(problem)
    print(
        f"order, {setups} setups at {moments} moments: {time.perf_counter() - begin:.2f} s, "
        f"{len(found.order)} placed, proven the least; wanted: at most 10 s"
    )


if __name__ == "__main__":
    pvlib, typer = ("-c", "import pvlib"), ("-c", "import typer, rich")
    entry = ("-m", "sunplan", "entry", str(DEMO), "--date", "2027-03-20")
    compare("entry, one day", entry, pvlib, "at most 1.3 ×")
    compare("--help", ("-m", "sunplan", "--help"), typer, "at most 0.3 s or 1.5 ×")
    compare("--version", ("-m", "sunplan", "--version"), typer, "at most 0.3 s or 1.5 ×")
    a_year()
    a_day_of_light()
    a_day_of_flags()
    a_year_of_hours()
    a_whole_plan()
    a_long_day()
