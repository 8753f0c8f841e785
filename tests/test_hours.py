"""The hours: every stretch holds what it says, and no quarter hour beside it does."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
import time as clock_time
from datetime import date, datetime, time, timedelta
from functools import cache
from itertools import combinations, combinations_with_replacement
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pvlib
import pytest
import shapely
from inside import command

import sunplan
from sunplan.day.dusk import MOST_DATES, STOP, dusks
from sunplan.day.hours import hours
from sunplan.day.quarter_hours import MOST_EXACT, HourFacts, calendar, quarter_hours
from sunplan.day.stretch import Stretch
from sunplan.day.sun_odds import odds_of
from sunplan.day.sunlight import FRAME
from sunplan.draw.hourmap import figure_of_hours
from sunplan.light.daylight import Weather, skies
from sunplan.light.face import faces, wall_behind
from sunplan.light.key_light import key_lights
from sunplan.light.lamp import face_point
from sunplan.light.level_series import windows
from sunplan.light.look import look_of
from sunplan.light.meter import key_lux, stops
from sunplan.light.resolved import resolve
from sunplan.light.sun_interpolator import SunInterpolator
from sunplan.location.kit import Kit
from sunplan.location.model import Setup
from sunplan.location.read import Location, read
from sunplan.report import hours as hours_report
from sunplan.report.answers import as_json
from sunplan.report.document import render, sayings
from sunplan.rig.gap import TimeGap, gaps
from sunplan.rig.gel_stacks import LAYERS, STOPS_PER_DENSITY
from sunplan.rig.stretch_levels import stretch_levels
from sunplan.room.beam import beam_of
from sunplan.room.camera import camera_view, filmed_points
from sunplan.room.entry import day_entries
from sunplan.room.obstructions import above_skyline
from sunplan.room.patches import FLOOR, sun_patches
from sunplan.sun.track import track_over
from sunplan.write import terminal
from sunplan.write.pictures import save

ROOT = Path(__file__).parent.parent
QUARTER_S = 900.0
CLEAR, OVERCAST = Weather("clear"), Weather("overcast")
BETWEEN = time(8), time(19)
EDGE_M = 0.005
"""As near to a patch's edge a spot may be told either way: it is asked before its surface."""

EDGE_STOPS = 1e-6
DAYS = [("lock-house", date(2027, 3, 20)), ("gate-house", date(2026, 11, 5))]


@cache
def location(name: str) -> Location:
    return read(ROOT / "locations" / f"{name}.toml")


@cache
def all_facts(name: str, day: date, sky: str = "clear") -> tuple[HourFacts, ...]:
    place = location(name)
    moments, number = calendar(place, day, day, BETWEEN)
    weathers = (Weather(sky), OVERCAST if sky == "clear" else CLEAR)
    rooms = faces(place, resolve(place))
    light = {
        each.setup.name: each
        for room in rooms
        for each in stretch_levels(place, room.setups, [room], moments, weathers[:1])
    }
    return tuple(
        HourFacts(place, one, day, light=light[one.setup.name])
        for one in quarter_hours(place, rooms, resolve(place), moments, number, weathers)
    )


def spots_of(place: Location, setup: Setup) -> np.ndarray:
    """The spot of wall behind the face, then those that are filmed, (N, 3)."""
    room = place.room_named(setup.room)
    (filmed,) = resolve(place, [setup])
    behind = wall_behind(filmed, face_point(room, filmed.at_mark))[0]
    return np.concatenate((behind[None], filmed_points(camera_view(room, setup), room, FRAME)))


def patched(place: Location, setup: Setup, moment_s: float) -> np.ndarray:
    """Whether those spots lie in patches of sun by their outlines: surely, and perhaps, (2, N)."""
    beam = beam_of(place, place.room_named(setup.room))
    spots = spots_of(place, setup)
    found = np.zeros((2, len(spots)), bool)
    sky = track_over(place, moment_s, moment_s).above_horizon(np.array([moment_s]))
    sky = sky[above_skyline(place.skyline, sky)]
    height = spots[:, 2] - beam.room.floor
    for sun in sky.plan(place.site.plan_up):
        for patch in (
            one for at in range(len(beam.apertures)) for one in sun_patches(beam, at, sun[None])[0]
        ):
            if patch.surface == FLOOR:
                local, off = spots[:, :2], height
            else:
                (x, y), (way_x, way_y) = beam.room.wall_way(patch.surface)
                away = spots[:, :2] - [x, y]
                local = np.stack((away @ [way_x, way_y], height), axis=-1)
                off = away @ [-way_y, way_x]
            near = np.abs(off) < EDGE_M
            for row, wider in enumerate((-EDGE_M, EDGE_M)):
                found[row] |= near & shapely.contains_xy(patch.shape.buffer(wider), *local.T)
    return found


def densities(kit: Kit) -> set[float]:
    """What all layers that can be hung take, none among them."""
    return {
        sum(gel.density for gel in chosen)
        for count in range(LAYERS + 1)
        for chosen in combinations_with_replacement(kit.gel, count)
    }


class Told:
    """What gap, entry and the patches say of a setup at each quarter hour of a date."""

    def __init__(self, name: str, day: date, sky: str) -> None:
        self.place = location(name)
        self.moments = calendar(self.place, day, day, BETWEEN)[0]
        self.sky = sky
        found = gaps(self.place, resolve(self.place), skies(self.place, self.moments, Weather(sky)))
        self.gaps = {one.setup.name: one for one in found}
        self.keys = {one.setup.name: one for one in key_lights(self.place, resolve(self.place))}
        entries = day_entries(self.place, day)
        self.on_mark: dict[tuple[str, str], list[tuple[str, float, float]]] = {}
        for mark in entries.marks:
            spans = [(mark.opening, one.start_s, one.end_s) for one in mark.intervals]
            self.on_mark.setdefault((mark.room, mark.mark), []).extend(spans)

    def windows_broken(self, stretch: Stretch, at: TimeGap) -> list[str]:
        """What does not hold of its windows at a moment, by their levels there."""
        setup = stretch.setup
        kit, wrong = self.place.kit_of(setup), []
        wanted = look_of(setup, kit)
        for fact in stretch.windows:
            one = next(each for each in at.openings if each.opening == fact.opening)
            band = wanted.band(
                self.place.room_named(setup.room).opening_named(one.opening).dressing
            )
            assert one.stops is not None
            assert one.treatment is not None
            sun, tent = one.treatment.sun_in_frame, one.treatment.tent
            left = one.stops - STOPS_PER_DENSITY * sum(gel.density for gel in fact.gels)
            lower = left - fact.treatment.down_stops
            within = band[0] - EDGE_STOPS <= lower <= band[1] + EDGE_STOPS
            dark = left < band[0] and wanted.black_reads  # black is night as well
            gelled = [one.stops - STOPS_PER_DENSITY * density for density in densities(kit)]
            no_gel = sun or (
                one.stops > band[1] and not any(band[0] <= each <= band[1] for each in gelled)
            )
            spare = max(0.0, self.keys[setup.name].stops) if setup.name in self.keys else 0.0
            down = not sun and any(band[0] <= each <= band[1] + spare for each in gelled)
            no_tent = no_gel and not wanted.black_reads and not tent
            holds = {
                "exposure": no_tent and within and 0 < fact.treatment.down_stops <= spare,
                "fits": (within or dark) and not sun,
                "gel": (within or dark) and not sun,
                "black": no_gel and wanted.black_reads,
                "tent": no_gel and not wanted.black_reads and tent,
                "dressing": no_tent and not down,
                "nothing": no_tent and not down,
                "dark": one.stops < band[0] and not wanted.black_reads,
                "sun": sun,
            }[fact.state]
            if not holds:
                wrong.append(f"{fact.opening}: {fact.state}")
        return wrong

    def broken_between(self, stretch: Stretch, row: int) -> bool:
        """Whether windows or fill break what it says on the way to the quarter hour beside it."""
        end = stretch.start_s if self.moments[row] < stretch.start_s else stretch.end_s
        first, last = sorted((self.moments[row], end))
        between = skies(self.place, np.arange(first, last + 1.0, 5.0).tolist(), Weather(self.sky))
        allowed = look_of(stretch.setup, self.place.kit_of(stretch.setup)).fill[1]
        asked = key_lux(stretch.setup.exposure)
        (found,) = gaps(self.place, [stretch.setup], between)
        return any(
            self.windows_broken(stretch, at)
            or (stops(at.face.daylight_fill_lux, asked) <= allowed) != stretch.fill_fits
            for at in found.times
        )

    def broken(self, stretch: Stretch, row: int, *, surely: bool) -> list[str]:
        """What of a stretch does not hold at a quarter hour, surely or perhaps."""
        setup, moment = stretch.setup, self.moments[row]
        kit = self.place.kit_of(setup)
        wanted, at = look_of(setup, kit), self.gaps[setup.name].times[row]
        wrong = []
        lit = {
            opening
            for opening, start, end in self.on_mark.get((setup.room, setup.mark), [])
            if start <= moment < end and self.sky == "clear"
        }
        if lit != set(stretch.on_mark):
            wrong.append("sun on the mark")
        wrong += self.windows_broken(stretch, at)
        fill = stops(at.face.daylight_fill_lux, key_lux(setup.exposure))
        if (fill <= wanted.fill[1]) != stretch.fill_fits:
            wrong.append("fill")
        if self.sky == "clear":
            sure, may = patched(self.place, setup, moment)
            for what, said, here in (
                ("behind", stretch.behind, slice(0, 1)),
                ("in frame", stretch.in_frame, slice(1, None)),
            ):
                lit = (may if said == surely else sure)[here].any()
                if lit != said:
                    wrong.append(what)
        return wrong


@pytest.mark.parametrize(("name", "day"), DAYS)
@pytest.mark.parametrize("sky", ["clear", "overcast"])
def test_stretches_hold_what_they_say(name: str, day: date, sky: str) -> None:
    """Each quarter hour inside holds it all, by gap, entry and patches.

    Those beside break some, or what lies between.
    """
    told, states = Told(name, day, sky), set()
    count = 0
    for facts in all_facts(name, day, sky):
        found = list(facts.stretches())
        covered = np.zeros(len(told.moments), bool)
        for stretch in found:
            first, last = (told.moments.index(end) for end in (stretch.start_s, stretch.end_s))
            covered[first : last + 1] = True
            for row in range(first, last + 1):
                assert told.broken(stretch, row, surely=True) == [], (
                    stretch.setup.name,
                    told.moments[row],
                )
            for row in {first - 1, last + 1} & set(range(len(told.moments))):
                broken = told.broken(stretch, row, surely=False)
                assert broken or told.broken_between(stretch, row), (
                    stretch.setup.name,
                    told.moments[row],
                )
            states |= {one.state for one in stretch.windows}
            count += 1
        assert covered.all()
    assert count > 10
    assert len(states) >= 2


def test_filmed_spots_lie_on_their_rays() -> None:
    """Seen by the camera they are the middles of the frame's cells, on floor, walls or ceiling."""
    for name, _ in DAYS:
        place = location(name)
        for setup in resolve(place):
            room = place.room_named(setup.room)
            camera, spots = camera_view(room, setup), spots_of(place, setup)[1:]
            across = (np.arange(FRAME[0]) + 0.5) / FRAME[0] * 2.0 - 1.0
            up = (np.arange(FRAME[1]) + 0.5) / FRAME[1] * 2.0 - 1.0
            grid = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
            assert np.abs(camera.project(spots) - grid).max() < 1e-9
            plan = shapely.Polygon(room.outline)
            wall = shapely.distance(plan.exterior, shapely.points(spots[:, :2]))
            height = spots[:, 2] - room.floor
            assert (np.minimum(wall, np.minimum(height, room.height - height)) < 0.005).all()
            ways = [shapely.LineString([camera.position[:2], spot[:2]]) for spot in spots]
            assert shapely.covers(plan.buffer(1e-6), ways).all()


def test_until_and_since() -> None:
    """What a stretch says of sun before and after it are the ends of entry's own stretches."""
    name, day = DAYS[0]
    entries = day_entries(location(name), day)
    checked = 0
    for facts in all_facts(name, day):
        for stretch in facts.stretches():
            setup = stretch.setup
            for opening, moment in [*stretch.since_s.items(), *stretch.until_s.items()]:
                (mine,) = [
                    one
                    for one in entries.marks
                    if (one.room, one.mark, one.opening) == (setup.room, setup.mark, opening)
                ]
                ends = [end for one in mine.intervals for end in (one.start_s, one.end_s)]
                assert min(abs(moment - end) for end in ends) < 1.0
                checked += 1
    assert checked > 20


def test_light_read_off_the_net() -> None:
    """A year read off the net against the same worked out, at 200 moments.

    Half a tenth of a stop off in the middle; more only where a patch comes by an edge.
    """
    place = location("lock-house")
    start = datetime(2027, 1, 1, tzinfo=ZoneInfo(place.timezone)).timestamp()
    times = (start + 86400.0 * np.arange(365)[:, None] + QUARTER_S * np.arange(34, 76)).ravel()
    above = skies(place, times.tolist(), CLEAR)
    picked = np.sort(np.random.default_rng(3).choice(len(times), 200, replace=False))
    net = SunInterpolator(place, above)
    off = []
    for room in faces(place, resolve(place)):
        read_off = (net.read(room.transfer.indirect_lux) + room.transfer.direct_lux(above))[
            picked
        ].sum(axis=1)
        exact = room.transfer.lux_by_opening(above[picked]).sum(axis=1)
        bright = exact > 0.5
        off.append(np.log2(read_off[bright] / exact[bright]))
        for setup in room.setups:
            for one in windows(place, setup, room.transfer.beam):
                if one.in_frame:
                    level = one.luminance_cd_m2(above[picked])
                    lit = level > 0.01
                    off.append(np.log2(net.read(one.luminance_cd_m2)[picked][lit] / level[lit]))
    wrong = np.abs(np.concatenate(off))
    assert len(wrong) > 2000
    assert np.median(wrong) < 0.01
    assert np.percentile(wrong, 95) < 0.1
    assert np.percentile(wrong, 99) < 0.25


def test_best_come_first() -> None:
    """In the order of their cost, no two alike, and the cost is what it says."""
    place = location("lock-house")
    first, last = date(2027, 3, 18), date(2027, 3, 21)
    found = hours(
        place,
        resolve(place)[:2],
        first,
        last,
        between=(time(9), time(18)),
        weathers=(CLEAR, OVERCAST),
        best=3,
    )
    assert [one.quarters.setup.name for one in found] == [one.name for one in resolve(place)[:2]]
    for one in found:
        costs = [stretch.cost for stretch in one.stretches]
        assert len(costs) == 3
        assert costs == sorted(costs)
        assert all(first <= stretch.day <= last for stretch in one.stretches)
        assert all(1 <= stretch.dates <= 4 for stretch in one.stretches)
        assert max(stretch.dates for stretch in one.stretches) > 1
        pairs = combinations(one.stretches, 2)
        assert not any(one.like(other) for one, other in pairs)
        for stretch in one.stretches:
            assert stretch.rigging is not None
            patch = 16.0 * (stretch.in_frame or stretch.behind)
            spent = sum(job.minutes for job in stretch.rigging.jobs) + 4.0 * stretch.rigging.stops
            lacking = max(0.0, stretch.setup.minutes - (stretch.end_s - stretch.start_s) / 60.0)
            unmet = 160.0 * any(one.state in ("nothing", "sun") for one in stretch.windows)
            assert stretch.cost == pytest.approx(spent + patch + unmet + 2.0 * lacking)
    # What counts for a look that nothing brings is named beside the sum that it is in.
    said = hours_report.report(place, (first, last), found, (), ("clear", "overcast"), [], None)
    lines = [render(line, "m") for line in sayings(said.blocks)]
    compared = [line for line in lines if line.startswith("overcast: ")]
    named = 0
    stretches = [stretch for one in found for stretch in one.stretches]
    for stretch, line in zip(stretches, compared, strict=True):
        assert stretch.other_rigging is not None
        spent = stretch.other_rigging.minutes + 4.0 * stretch.other_rigging.stops
        rest = stretch.other_cost - spent - 2.0 * stretch.lacking_minutes
        assert ("counts 160" in line) == (rest > 159.0)
        named += "counts 160" in line
    assert named


def test_best_of_many_dates_hold_what_they_say() -> None:
    """Found by light read off the net, they are told as worked out on their date."""
    place, name = location("lock-house"), "lock-house"
    setups = tuple(one for one in resolve(place) if one.name in ("the kettle", "last coffee"))
    first, last = date(2027, 3, 16), date(2027, 4, 8)
    found = hours(place, setups, first, last, between=BETWEEN, weathers=(CLEAR, OVERCAST), best=2)
    assert len(found[0].quarters.moments) > MOST_EXACT
    for one in found:
        assert len(one.stretches) == 2
        for stretch in one.stretches:
            told = Told(name, stretch.day, "clear")
            start, end = (told.moments.index(at) for at in (stretch.start_s, stretch.end_s))
            for row in range(start, end + 1):
                assert told.broken(stretch, row, surely=True) == []
            for row in {start - 1, end + 1} & set(range(len(told.moments))):
                broken = told.broken(stretch, row, surely=False)
                assert broken or told.broken_between(stretch, row)


def test_odds_weigh_both_skies() -> None:
    """With a weather file both skies count by the file's odds, and the worst is told."""
    place = location("gate-house")
    odds = odds_of(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV", place)
    day = date(2026, 11, 5)
    (one,) = hours(
        place,
        resolve(place)[:1],
        day,
        day,
        between=(time(9), time(17)),
        weathers=(CLEAR, OVERCAST),
        best=3,
        odds=odds,
    )
    assert len(one.stretches) == 3
    expected = [stretch.expected_cost for stretch in one.stretches]
    assert expected == sorted(expected)
    for stretch in one.stretches:
        grid = np.arange(stretch.start_s, stretch.end_s + 1.0, QUARTER_S)
        share = float(odds.share(grid).mean())
        assert stretch.sky_share == pytest.approx(share)
        assert 0.2 < share < 0.9
        mean = share * stretch.cost + (1.0 - share) * stretch.other_cost
        assert stretch.expected_cost == pytest.approx(mean)
        assert stretch.worst_cost == max(stretch.cost, stretch.other_cost)


def test_dusk_is_what_gap_says() -> None:
    """In the middle of each stretch the window is in its band, with a stop more or less inside."""
    place = location("lock-house")
    found = dusks(place, resolve(place), date(2027, 3, 20), date(2027, 4, 3), [CLEAR, OVERCAST])
    assert {one.day for one in found} > {date(2027, 3, 20), date(2027, 4, 3)}
    asked: dict[tuple[str, str, str], list[tuple[float, float, bool]]] = {}
    for one in found:
        for fits, more in ((one.fits, 0.0), (one.brighter, STOP), (one.darker, -STOP)):
            for fit in fits:
                mine = asked.setdefault((one.setup, one.opening, one.sky), [])
                for share, inside in ((0.5, True), (-0.3, False), (1.3, False)):
                    at = fit.start_s + share * (fit.end_s - fit.start_s)
                    mine.append((at, more, inside))
    assert sum(map(len, asked.values())) > 100
    for (name, opening, sky), moments in asked.items():
        setup = next(each for each in resolve(place) if each.name == name)
        low, high = look_of(setup, place.kit_of(setup)).window
        moments.sort()
        above = skies(place, [at for at, _, _ in moments], Weather(sky))
        for (_, more, inside), gap in zip(
            moments, gaps(place, [setup], above)[0].times, strict=True
        ):
            level = next(each.stops for each in gap.openings if each.opening == opening)
            assert level is not None
            assert (low <= level - more <= high) == inside


def test_dusk_moves_with_the_sunset() -> None:
    """From date to date the evening's stretch moves as sunset does, to a few minutes."""
    place = location("lock-house")
    found = [
        one
        for one in dusks(place, resolve(place), date(2027, 3, 1), date(2027, 3, 27), [CLEAR])
        if one.setup == "last coffee"
    ]
    evening = {one.day: [fit.start_s for fit in one.fits if one.evening(fit)] for one in found}
    assert len(evening) == MOST_DATES
    for day, starts in evening.items():
        (start,) = starts
        sunset = day_entries(place, day).sun.set
        assert sunset is not None
        assert 10 * 60 < start - sunset < 25 * 60


def test_dusk_in_a_week_is_a_row_a_date_and_sky() -> None:
    """How far a stop moves it stands below: read off the same command's answer, date by date."""
    week = {"date": "2027-03-15", "to_date": "2027-03-21", "setup": "last coffee"}
    answer = sunplan.hours(location("lock-house"), **week, most=1)
    text = terminal.text(answer.document, "m", more=True)
    rows = re.findall(r"^(2027-[\d-]{5}| {10})   (clear|overcast) +(\d.*)$", text, re.MULTILINE)
    assert [sky for _, sky, _ in rows] == 7 * ["clear", "overcast"]
    assert len({day for day, _, _ in rows if day.strip()}) == 7
    dusks = json.loads(as_json(answer.answer))["dusks"]
    assert len(dusks) == len(rows)
    moves = []
    for row, one in zip(rows, dusks, strict=True):
        for which in ("fits", "a_stop_more_inside", "a_stop_less_inside"):
            starts = [datetime.fromisoformat(fit["from"]) for fit in one[which]]
            assert len(starts) == 2
            if which == "fits":
                as_set = starts
                told = re.findall(r"(\d\d):(\d\d) –", row[2])
                for at, (hour, minute) in zip(starts, told, strict=True):
                    shown = at.replace(hour=int(hour), minute=int(minute), second=0)
                    assert abs((at - shown).total_seconds()) <= 31.0
            for start, usual in zip(starts, as_set, strict=True):
                later = (start - usual).total_seconds() / 60.0
                morning = start.hour < 12
                moves.append(later if morning == (which == "a_stop_more_inside") else -later)
    moves = [one for one in moves if one]
    least, most = min(moves), max(moves)
    assert least > 0
    said = re.sub(r"\s+", " ", text)
    assert f"with the interior +1 stop {least:.0f} to {most:.0f} min later in the morning" in said


def test_dusk_is_told_though_it_is_short() -> None:
    """A quarter hour at which the window fits by itself, by `gap`, comes first: nature does it."""
    place, day = location("lock-house"), date(2027, 3, 21)
    setup = next(one for one in resolve(place) if one.name == "last coffee")
    span = (time(12), time(19, 45))
    (found,) = hours(place, [setup], day, day, between=span, weathers=(CLEAR, OVERCAST), best=3)
    first = found.stretches[0]
    assert first.fits
    assert first.start_s == first.end_s
    above = skies(place, [first.start_s], CLEAR)
    (opening,) = (one for one in gaps(place, [setup], above)[0].times[0].openings if one.in_frame)
    low, high = look_of(setup, place.kit_of(setup)).window
    assert opening.stops is not None
    assert low <= opening.stops <= high


def test_picture(tmp_path: Path) -> None:
    """Every setup has its panel, by its stops; what is too dark has none; nothing is cut off."""
    place = location("lock-house")
    first, last = date(2027, 12, 1), date(2027, 12, 4)
    found = hours(
        place,
        resolve(place),
        first,
        last,
        between=(time(9), time(19)),
        weathers=(CLEAR, OVERCAST),
        best=1,
    )
    path = tmp_path / "hours.svg"
    save(figure_of_hours(place, (first, last), found, "clear"), path)
    text = path.read_text(encoding="utf-8")
    for setup in resolve(place):
        assert f"{setup.name} ({setup.room}), reads as {setup.plays}" in text
    for words in ("too dark for its look", "sun on the mark", "2027-12-04", "local time"):
        assert words in text
    width = float(text.split('viewBox="0 0 ')[1].split()[0])
    lefts = [float(x) for x in re.findall(r'<text[^>]* x="([-\d.]+)"', text)]
    assert len(lefts) > 50
    assert min(lefts) > 0
    assert max(lefts) < width
    for one in found:
        lose, levels = one.quarters.lose_stops(), one.quarters.levels
        over, under = levels.over_stops, levels.under_stops
        if levels.windows:
            np.testing.assert_array_equal(np.isnan(lose), (under > 0).any(axis=1))
            lit = ~np.isnan(lose)
            np.testing.assert_allclose(lose[lit], np.minimum(over, 12.0).sum(axis=1)[lit])
        else:
            assert not np.isnan(lose).any()
            assert lose.max() > 1.0


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--from", "nine"], "--from nine: is no clock time; expected HH:MM such as 16:30"),
        (["--from", "19:00", "--to", "09:00"], "--to 09:00: does not lie after --from 19:00"),
        (["--to-date", "2027-03-01"], "--to-date 2027-03-01: lies before --date 2027-03-20"),
        (["--weather-file", "none.epw"], "none.epw"),
        (
            ["--why", "16:00", "--json"],
            "--why 16:00: told alone, without --json, --csv, --draw, --weather-file",
        ),
        (
            ["--why", "16:00", "--setup", "the lock at night"],
            "--why 16:00: explains setups indoors; the lock at night stands outdoors",
        ),
        (["--to-date", "2500-01-01"], "--to-date 2500-01-01: expected a year from 1900 to 2100"),
        (["--why", "25:00"], "--why 25:00: is no clock time; expected HH:MM such as 16:30"),
    ],
)
def test_mistakes(options: list[str], message: str) -> None:
    done = run("--date", "2027-03-20", *options)
    assert done.returncode == 2
    assert message in done.stderr
    assert done.stdout == ""


def run(*options: str) -> subprocess.CompletedProcess[str]:
    return command("hours", "locations/lock-house.toml", *options, cwd=ROOT)


def test_interrupted(tmp_path: Path) -> None:
    """Ctrl-C leaves what was there, says so, and ends as shells expect."""
    picture = tmp_path / "year.png"
    picture.write_bytes(b"before")
    options = ["--date", "2027-01-01", "--to-date", "2027-12-31", "--draw", str(picture)]
    with subprocess.Popen(
        [sys.executable, "-m", "sunplan", "hours", "locations/lock-house.toml", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as running:
        clock_time.sleep(3.0)
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert err == "interrupted: nothing was written\n"
    assert out == ""
    assert [one.name for one in tmp_path.iterdir()] == ["year.png"]
    assert picture.read_bytes() == b"before"


def test_clocks_that_change() -> None:
    """Quarter hours are those of the clock, on the day that it goes forward as well."""
    place = location("lock-house")
    moments, day = calendar(place, date(2027, 3, 27), date(2027, 3, 28), (time(9), time(10)))
    zone = ZoneInfo(place.timezone)
    local = [datetime.fromtimestamp(one, zone) for one in moments]
    assert [one.strftime("%H:%M") for one in local] == [
        "09:00",
        "09:15",
        "09:30",
        "09:45",
        "10:00",
    ] * 2
    assert day == [0] * 5 + [1] * 5
    assert local[5] - local[0] == timedelta(days=1)
    assert moments[5] - moments[0] == 23 * 3600.0
