"""What to give up for a setup that does not fit: each change, made in the file, makes it fit."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable
from datetime import date
from itertools import pairwise, permutations
from pathlib import Path

import numpy as np
import pytest
from places import bare, made

from sunplan.day import order as order_module
from sunplan.day.concessions import Concession, DoesNotFit
from sunplan.day.order import Ordered, day_flags, order
from sunplan.day.sequence import MOST
from sunplan.day.shoot_grid import PICTURE_MINUTES, DayLight, ShootGrid, shoot_moments
from sunplan.day.working_day import working_day
from sunplan.errors import InputError, LocationError
from sunplan.light.daylight import Weather
from sunplan.light.face import faces
from sunplan.light.resolved import resolve
from sunplan.location.read import Location
from sunplan.report import order as order_report
from sunplan.rig import minutes
from sunplan.sun.almanac import sun_times_of
from sunplan.sun.local_time import to_local

ROOT = Path(__file__).parent.parent
DAY = date(2026, 3, 20)
CLEAR = (Weather("clear"),)


def raw_day(hours: dict, *changes: dict) -> dict:
    """Two rooms alike, a setup for each change; those named upstairs are in the other room."""
    raw = bare()
    raw["room"].append(raw["room"][0] | {"name": "upstairs", "floor": 3.0})
    first = raw["setup"][0] | {"minutes": 45}
    raw["setup"] = [first | {"name": f"setup {n}"} | change for n, change in enumerate(changes)]
    raw["day"] = hours
    return raw


def solved(raw: dict, folder: Path, *, concessions: bool = False) -> Ordered:
    location = made(raw, folder)
    setups = resolve(location)
    return order(location, setups, DAY, weathers=CLEAR, concessions=concessions)


def shot(ordered: Ordered) -> set[str]:
    return {turn.rigging.setup.name for turn in ordered.best.turns}


CROWDED = {"call": "09:00", "wrap": "13:00"}
SETUPS = ({"priority": 2}, {"room": "upstairs", "priority": 3}, {"plays": "dusk"})


def changed(raw: dict, missing: DoesNotFit, concession: Concession, zone: str) -> dict:
    """The file with a concession made."""
    raw = raw | {"day": dict(raw["day"]), "setup": [dict(setup) for setup in raw["setup"]]}
    own = next(setup for setup in raw["setup"] if setup["name"] == missing.setup.name)
    after = concession.after
    match concession.change:
        case "wrap" | "call":
            assert isinstance(after, float)
            raw["day"][concession.change] = f"{to_local(after, zone):%H:%M}"
        case "minutes":
            own["minutes"] = after
        case "drop":
            raw["setup"] = [one for one in raw["setup"] if one["name"] != concession.detail]
        case "pan":
            own["camera"] = own["camera"] | {"toward": panned(missing, after)}
        case "curtain":
            raise AssertionError("no tent stands in this house")
    return raw


def panned(missing: DoesNotFit, pan_deg: float | str) -> list[float]:
    """A point in the direction that a camera looks in after a pan to the right, as far off."""
    assert isinstance(pan_deg, float)
    view, camera = missing.setup.view, missing.setup.camera
    turn = np.radians(pan_deg)
    level = np.cos(turn) * view.forward[:2] + np.sin(turn) * view.right[:2] * np.hypot(
        *view.forward[:2]
    )
    return [*(np.array(camera.at) + level).tolist(), camera.height + float(view.forward[2])]


def test_every_concession_fits_when_made(tmp_path: Path) -> None:
    """The file changed as told and solved anew, with its own flags and grid, shoots the setup."""
    raw = raw_day(CROWDED, *SETUPS)
    ordered = solved(raw, tmp_path, concessions=True)
    assert ordered.missing
    assert [missing.setup for missing in ordered.missing] == list(ordered.best.dropped)
    kinds = set()
    for missing in ordered.missing:
        for concession in missing.concessions:
            again = solved(changed(raw, missing, concession, ordered.timezone), tmp_path)
            wanted = shot(ordered) | {missing.setup.name}
            if concession.change == "drop":
                wanted -= {concession.detail}
            assert shot(again) >= wanted, concession
            kinds.add(concession.change)
    assert kinds >= {"wrap", "call", "drop"}


def test_short_minutes_are_the_least(tmp_path: Path) -> None:
    """Wrap that much later all fit that were shot and this; a minute less and they do not."""
    raw = raw_day(CROWDED | {"wrap": "12:00"}, *SETUPS[:2])
    ordered = solved(raw, tmp_path, concessions=True)
    (missing,) = ordered.missing
    short = missing.short_minutes
    assert short is not None
    assert short > 1

    def wrapped(late: int) -> set[str]:
        wrap = f"{12 + late // 60:02d}:{late % 60:02d}"
        return shot(solved(raw | {"day": CROWDED | {"wrap": wrap}}, tmp_path))

    assert missing.setup.name in wrapped(short)
    assert missing.setup.name not in wrapped(short - 1)


def test_fewer_minutes(tmp_path: Path) -> None:
    """A setup too long by a little fits in fewer minutes, and in no five minutes more."""
    hours = {"call": "09:00", "wrap": "12:00"}
    raw = raw_day(hours, {"minutes": 120})
    ordered = solved(raw, tmp_path, concessions=True)
    (missing,) = ordered.missing
    (fewer,) = (it for it in missing.concessions if it.change == "minutes")
    assert isinstance(fewer.after, float)

    def fits(spent: float) -> bool:
        return bool(shot(solved(raw_day(hours, {"minutes": spent}), tmp_path)))

    assert fits(fewer.after)
    assert not fits(fewer.after + 5.0)
    said = " ".join(order_report.dropped(ordered))
    assert f"in {fewer.after:g} minutes" in said
    assert "min short: fits if wrap is" in said


def test_json_of_a_day(tmp_path: Path) -> None:
    """The score is the sum of its parts; what does not fit says by how much and what would do."""
    raw = raw_day(CROWDED, *SETUPS)
    location = made(raw, tmp_path)
    ordered = order(location, resolve(location), DAY, weathers=CLEAR)
    answer = order_report.day_answer(location, DAY, ordered)
    assert answer["date"] == "2026-03-20"
    assert answer["proven"] is True
    assert answer["score"] == pytest.approx(sum(answer["parts"].values()))
    for setup in answer["setups"]:
        assert setup["ready"] <= setup["from"] < setup["to"]
    for missing in answer["does_not_fit"]:
        assert missing["short_minutes"] > 0
        for concession in missing["concessions"]:
            assert set(concession) == {"change", "detail", "from", "to"}


def grid_of(location: Location) -> ShootGrid:
    setups, clock = resolve(location), working_day(location, DAY)
    flags = day_flags(location, setups, clock)
    light = DayLight(location, faces(location, setups), flags, CLEAR)
    moments = shoot_moments(location, setups, DAY, clock.call_s, clock.wrap_s)
    plans = light.plans(setups, moments)
    return ShootGrid(location, DAY, tuple(setups), moments, plans, clock)


def turnaround(grid: ShootGrid, before: tuple[int, int] | None, after: tuple[int, int]) -> float:
    """Minutes to strike and rig from one setup at its moment to another, from the jobs alone."""
    jobs = {job.label: job.minutes for job in grid.plans[after[0]][after[1]].jobs}
    if before is None:
        return sum(jobs.values())
    hanging = {job.label: job.minutes for job in grid.plans[before[0]][before[1]].jobs}
    rooms = grid.setups[before[0]].room, grid.setups[after[0]].room
    kept = set(hanging) & set(jobs) if rooms[0] == rooms[1] else set()
    struck = sum(spent for label, spent in hanging.items() if label not in kept)
    rigged = sum(spent for label, spent in jobs.items() if label not in kept)
    return struck / 2 + rigged + (0.0 if rooms[0] == rooms[1] else minutes.of("room"))


def of_all_orders(grid: ShootGrid, open_: Callable[[int, float], bool]) -> tuple[float, float]:
    """Priority and cost of the best of all orders, each step of each tried in turn."""
    stop = PICTURE_MINUTES[grid.location.day.prefer]
    moments, best = grid.moments.tolist(), (0.0, 0.0)

    def lost(setup: int, moment: int) -> float:
        return stop * grid.plans[setup][moment].picture.stops

    for size in range(1, len(grid.setups) + 1):
        for sequence in permutations(range(len(grid.setups)), size):
            costs = {}
            for t, start in enumerate(moments):
                rig = turnaround(grid, None, (sequence[0], t))
                if open_(sequence[0], start) and start - grid.clock.call_s >= 60 * rig - 1:
                    costs[t] = rig + lost(sequence[0], t)
            for a, b in pairwise(sequence):
                then: dict[int, float] = {}
                for u, start in enumerate(moments):
                    if not open_(b, start):
                        continue
                    for t, cost in costs.items():
                        spent = turnaround(grid, (a, t), (b, u))
                        if start - moments[t] - 60 * grid.setups[a].minutes >= 60 * spent - 1:
                            then[u] = min(then.get(u, np.inf), cost + spent + lost(b, u))
                costs = then
            last = sequence[-1]
            for t, cost in costs.items():
                down = turnaround(grid, None, (last, t)) / 2
                end = moments[t] + 60 * (grid.setups[last].minutes + down)
                if end <= grid.clock.wrap_s + 1:
                    worth = float(sum(grid.setups[n].priority for n in sequence))
                    best = max(best, (worth, -cost - down))
    return best[0], -best[1]


@pytest.mark.parametrize("prefer", ["time", "picture"])
@pytest.mark.parametrize("wrap", ["18:30", "20:30"])
def test_against_all_orders(prefer: str, wrap: str, tmp_path: Path) -> None:
    """A small day through dusk: as good as every order at every moment tried one by one."""
    hours = {"call": "15:30", "wrap": wrap, "prefer": prefer}
    raw = raw_day(
        hours,
        {"plays": "dusk", "minutes": 10},
        {"room": "upstairs", "minutes": 20, "before": "18:00"},
        {"plays": "night", "minutes": 20, "after_sunset": -30},
    )
    location = made(raw, tmp_path)
    grid = grid_of(location)
    sunset_s = sun_times_of(location, DAY).set
    assert sunset_s is not None

    def open_(setup: int, start_s: float) -> bool:
        if setup == 1:
            return f"{to_local(start_s + 1200.0, location.timezone):%H:%M}" <= "18:00"
        return setup == 0 or start_s >= sunset_s - 1800.0

    best = solved(raw, tmp_path).best
    worth, cost = of_all_orders(grid, open_)
    assert sum(turn.rigging.setup.priority for turn in best.turns) == pytest.approx(worth)
    assert best.cost == pytest.approx(cost)


def test_dusk_is_shot_at_dusk(tmp_path: Path) -> None:
    """With the picture preferred a short dusk scene waits for the sun to be about to set or gone.

    The sun's altitude at a start within ten minutes of sunset is below 2° (0.25° a minute at most).
    """
    raw = raw_day({"call": "10:00", "wrap": "21:00"}, {"plays": "dusk", "minutes": 10})
    (turn,) = solved(raw, tmp_path).best.turns
    assert turn.rigging.picture.false_hour == 0.0
    location = made(raw, tmp_path)
    sunset_s = sun_times_of(location, DAY).set
    assert sunset_s is not None
    assert sunset_s - 600.0 <= turn.rigging.start_s <= sunset_s + 2700.0


def test_too_dark_counts_as_too_bright_does(tmp_path: Path) -> None:
    """A window as far below its band as another is above it loses as much."""
    location = made(raw_day({"call": "10:00", "wrap": "21:00"}, {"plays": "dusk"}), tmp_path)
    setups = resolve(location)
    light = DayLight(location, faces(location, setups), (), CLEAR)
    moments = np.array([working_day(location, DAY).call_s + 7200.0])
    (levels,) = light.levels(setups, moments)
    (low, high), start_s = levels.by_minute[0].bands[0], float(moments[0])
    series = levels.by_minute[0]
    level = series.stops[np.searchsorted(series.moments, start_s)]
    assert len(level) == 1
    for off in (0.7, 3.0):
        over, under = (
            levels.left_stops(level - edge, start_s, start_s, most_stops=12.0)[0]
            for edge in (high + off, low - off)
        )
        assert over == pytest.approx(off) == pytest.approx(under)


def test_more_than_the_limit_is_refused_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> None:
        raise AssertionError("worked out before it was refused")

    location = made(raw_day({}, *[{}] * (MOST + 1)), tmp_path)
    monkeypatch.setattr(order_module, "faces", never)
    with pytest.raises(InputError, match=f"{MOST + 1} setups in one day: expected at most {MOST}"):
        order(location, resolve(location), DAY, weathers=CLEAR)


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ({"after": "17:00", "before": "17:30"}, "after and before leave 30 min"),
        ({"start": "16:00", "after": "17:00"}, "start lies before after"),
        ({"start": "18:00", "before": "18:30"}, "start and before leave 30 min"),
        ({"after": "five"}, "after"),
        ({"after_sunset": "late"}, "after_sunset"),
    ],
)
def test_bad_own_hours(hours: dict, message: str, tmp_path: Path) -> None:
    with pytest.raises(LocationError) as refused:
        made(raw_day({}, hours), tmp_path)
    assert message in str(refused.value)


def test_own_hours_are_told_and_kept(tmp_path: Path) -> None:
    from sunplan.report.check import setup_line

    own = {"after": "14:00", "before": "17:30", "after_sunset": -240}
    raw = raw_day({"call": "09:00", "wrap": "19:00"}, own)
    (turn,) = solved(raw, tmp_path).best.turns
    zone = made(raw, tmp_path).timezone
    assert f"{to_local(turn.rigging.start_s, zone):%H:%M}" >= "14:00"
    assert f"{to_local(turn.rigging.end_s, zone):%H:%M}" <= "17:30"
    line = setup_line(turn.rigging.setup)
    for words in ("at 14:00 or later", "240 min before sunset or later", "shot by 17:30"):
        assert words in line


def test_a_pan_makes_it_fit(tmp_path: Path) -> None:
    """A window that takes gel, out of frame: the file's camera turned as told, the setup fits."""
    shop = tomllib.loads((ROOT / "locations" / "ferry-shop.toml").read_text())
    day, folder = date(2027, 3, 20), tmp_path / "locations"
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    folder.mkdir()
    shop["day"] = {"call": "10:00", "wrap": "13:45"}
    shop["setup"] = [one for one in shop["setup"] if one["name"] == "tea for the shift"]

    def ordered(raw: dict) -> Ordered:
        location = made(raw, folder)
        return order(location, resolve(location), day, weathers=CLEAR)

    (missing,) = ordered(shop).missing
    (pan,) = (it for it in missing.concessions if it.change == "pan")
    assert pan.detail == "shop window"
    again = ordered(changed(shop, missing, pan, "UTC"))
    assert shot(again) == {"tea for the shift"}
    (turn,) = again.best.turns
    windows = {it.opening.name for it in turn.rigging.treated.openings if it.window is not None}
    assert pan.detail not in windows
    assert "with a pan of 13° right (shop window out of frame)" in " ".join(
        order_report.dropped(ordered(shop))
    )


def test_a_curtain_in_place_of_a_tent(tmp_path: Path) -> None:
    """Told where a tent takes too long; a window that nobody can tent takes it and then fits."""
    gate = tomllib.loads((ROOT / "locations" / "gate-house.toml").read_text())
    day, folder = date(2027, 6, 20), tmp_path / "locations"
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    folder.mkdir()
    gate["day"] = {"call": "16:00", "wrap": "19:30"}
    gate["setup"] = [
        one | {"plays": "evening"} for one in gate["setup"] if one["name"] == "boots off"
    ]

    def ordered() -> Ordered:
        location = made(gate, folder)
        return order(location, resolve(location), day, weathers=CLEAR)

    (missing,) = ordered().missing
    (curtain,) = (it for it in missing.concessions if it.change == "curtain")
    hang, name = curtain.detail.split(" before ")
    for room in gate["room"]:
        for opening in room["opening"]:
            if opening["name"] == name:
                opening["to_ground"] = "10 m"
    (turn,) = ordered().best.turns
    (treated,) = (it for it in turn.rigging.treated.openings if it.opening.name == name)
    assert treated.action == "dressing"
    assert treated.window is not None
    assert treated.window.hang == hang
    assert not turn.rigging.unsolved
