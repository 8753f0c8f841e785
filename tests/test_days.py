"""The days: the best of them are those that `order` has, and the rest is outlined well enough."""

from __future__ import annotations

import json
from datetime import date, time, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pvlib
import pytest
from campaign import few_or_many
from inside import command

import sunplan
from sunplan.day import days as days_module
from sunplan.day.days import MOST, RankedDays
from sunplan.day.working_day import working_day
from sunplan.draw.axes import RAMP_STOPS
from sunplan.draw.datemap import figure_of_days
from sunplan.errors import InputError
from sunplan.location.read import Location, read
from sunplan.sun.local_time import to_local

ROOT = Path(__file__).parent.parent
LOCK = ROOT / "locations" / "lock-house.toml"
AUTUMN = "2027-10-28", "2027-11-14"  # the kettle stops to fit, then fits
OFF_MINUTES = 10.0  # that an outline may be off: two flags larger or smaller than the one it counts
WEATHER = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"


@pytest.fixture(autouse=True)
def _few_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer dates are worked out exactly than a user gets, unless all is checked."""
    monkeypatch.setattr(days_module, "EXACT", few_or_many(4, days_module.EXACT))


@cache
def ranked(first: str = AUTUMN[0], last: str = AUTUMN[1]) -> sunplan.Result[RankedDays]:
    return sunplan.days(read(LOCK), first, last)


def test_exact_days_are_those_of_order() -> None:
    """Every key of a day that is told as exact is what `order` says of that date."""
    told = ranked().answer["days"]
    exact = [day for day in told if day["exact"]]
    assert len(exact) >= days_module.EXACT
    for day in (exact[0], exact[-1]):
        alone = sunplan.order(read(LOCK), day["date"]).answer
        for setup in day["setups"]:
            assert setup.pop("sun_share") is None
        own = {"exact", "outline_score", "sun_share"}
        for key in day.keys() - own:
            assert day[key] == alone[key], key


def test_outlines_find_the_best_of_a_week(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each date of a week worked out exactly: the best is among the first three outlines.

    An outline is a few minutes off, and so are the dates of a week from one another.
    """
    monkeypatch.setattr(days_module, "EXACT", 7)
    last = few_or_many("2027-11-02", "2027-11-04")
    week = sunplan.days(read(LOCK), "2027-10-29", last).value.days
    assert all(day.exact for day in week)
    outlined = sorted(week, key=lambda day: day.outline_score)
    assert week[0] in outlined[:3]
    assert outlined[0].score <= week[0].score + OFF_MINUTES
    # A date that holds all setups is never outlined behind one that does not.
    fits = [not day.dropped for day in outlined]
    assert fits == sorted(fits, reverse=True)
    assert set(fits) == {True, False}


def test_outlines_are_close(monkeypatch: pytest.MonkeyPatch) -> None:
    """An outline drops the setups that the exact day drops, and is a flag or two off."""
    for day in ranked().value.days:
        if day.exact:
            assert abs(day.score - day.outline_score) < OFF_MINUTES
    monkeypatch.setattr(days_module, "EXACT", 0)
    monkeypatch.setattr(days_module, "SURE", 0)
    outlined = {day.day: day for day in sunplan.days(read(LOCK), *AUTUMN).value.days}
    assert not any(day.exact for day in outlined.values())
    for day in ranked().value.days:
        assert outlined[day.day].dropped == day.dropped
        assert outlined[day.day].score == pytest.approx(day.outline_score, abs=1e-6)


def test_ranked_by_score_and_the_best_are_exact() -> None:
    days = ranked().value.days
    scores = [day.score for day in days]
    assert scores == sorted(scores)
    assert all(day.exact for day in days[:3])
    assert len(days) == 18
    for day in days:
        assert day.score == pytest.approx(sum(day.parts.values()))


def worked(**hours: object) -> Location:
    """The lock-keeper's house with other hours of work."""
    house = read(LOCK)
    return house.model_copy(update={"day": house.day.model_copy(update=hours)})


def test_a_day_keeps_its_hours() -> None:
    """Nothing before call or after wrap, nobody works through lunch; outlines too."""
    house = worked(call=time(10), wrap=time(18, 30), lunch=(time(13), time(13, 45)))
    days = sunplan.days(house, "2027-11-01", "2027-11-14").value.days
    assert {day.exact for day in days} == {True, False}
    for day in days:
        clock = working_day(house, day.day)
        lunch = to_local(clock.lunch_s[0], house.timezone)  # type: ignore[index]
        assert (lunch.hour, lunch.minute) == (13, 0)
        for shoot in day.shoots:
            assert clock.call_s <= shoot.ready_s <= shoot.start_s + 1.0
            assert shoot.end_s <= clock.wrap_s
            assert clock.free(np.array([shoot.start_s]), np.array([shoot.end_s])).all()
        spans = sorted((shoot.start_s, shoot.end_s) for shoot in day.shoots)
        for (_, end), (start, _) in pairwise(spans):
            assert end <= start


def test_runs_are_as_good_as_their_best() -> None:
    """Every date lies in one run, of dates that follow one another."""
    value = ranked().value
    runs = value.runs
    assert sorted(day.day for run in runs for day in run.days) == sorted(
        day.day for day in value.days
    )
    assert runs[0].best is value.days[0]
    for run in runs:
        dates = [day.day for day in run.days]
        assert dates == [run.first + timedelta(days=ahead) for ahead in range(len(dates))]
        assert max(day.score for day in run.days) <= run.best.score + days_module.EQUAL_MINUTES
        assert min(day.score for day in run.days) == run.best.score


def test_first_screen() -> None:
    """The date to go on, why it beats the next, and its order, in what a terminal shows."""
    best = ranked().value.days[0]
    lines = str(ranked()).splitlines()
    assert lines[1].startswith(f"go on {best.day:%A} {best.day}")
    screen = "\n".join(lines[:45])
    assert f"Why {best.day} beats" in screen
    for shoot in best.shoots:
        assert shoot.setup in screen
    assert len(lines) <= 60
    assert max(map(len, lines)) <= 80


def test_reasons_are_the_parts_that_differ() -> None:
    first, second = (run.best for run in ranked().value.runs[:2])
    said = str(ranked()).split("Why ")[1].split("\n\n")[0]
    less = first.parts["rigging"] - second.parts["rigging"]
    assert f"by {second.score - first.score:.0f}" in said
    if abs(less) >= 0.5:
        assert f"rigging: {abs(less):.0f} {'less' if less < 0 else 'more'}" in said


def test_calendar() -> None:
    """One cell a date: the lightest is the best, and a date that leaves setups out has a sign."""
    value = ranked().value
    span = date.fromisoformat(AUTUMN[0]), date.fromisoformat(AUTUMN[1])
    figure = figure_of_days(read(LOCK), span, value)
    cells = {
        patch.get_gid(): patch for axes in figure.axes for patch in axes.patches if patch.get_gid()
    }
    signs = {text.get_gid(): text.get_text() for axes in figure.axes for text in axes.texts}
    assert set(cells) == {f"date {day.day}" for day in value.days}
    for day in value.days:
        assert signs.get(f"missing {day.day}") == (f"−{len(day.dropped)}" if day.dropped else None)
    lightness = [sum(cells[f"date {day.day}"].get_facecolor()[:3]) for day in value.days]
    assert lightness == sorted(lightness, reverse=True)
    assert cells[f"date {value.days[0].day}"].get_facecolor() == RAMP_STOPS(0.0)
    widths = {gid: cell.get_linewidth() for gid, cell in cells.items()}
    assert max(widths, key=lambda gid: widths[gid]) == f"date {value.days[0].day}"


def test_a_picture_beside_json(tmp_path: Path) -> None:
    """The command as other programs call it: design's names of options, setups given again."""
    drawn = tmp_path / "days.png"
    done = command(
        "days", LOCK, "--from-date", "2027-11-12", "--to-date", "2027-11-13",
        "--setup", "the kettle", "--setup", "last coffee", "--draw", drawn, "--json",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    days = json.loads(done.stdout)["days"]
    assert {day["date"] for day in days} == {"2027-11-12", "2027-11-13"}
    for day in days:
        assert {setup["setup"] for setup in day["setups"]} == {"the kettle", "last coffee"}
        keys = {"setup", "from", "to", "ready", "rig_minutes", "strike_minutes", "over_stops"}
        assert all(keys <= setup.keys() for setup in day["setups"])
        assert day["does_not_fit"] == []
    assert drawn.stat().st_size > 10_000


def test_odds_are_told_and_count_for_nothing() -> None:
    house, span = read(LOCK), ("2027-11-13", "2027-11-14")
    with_odds = sunplan.days(house, *span, setup="the kettle", weather_file=WEATHER)
    without = sunplan.days(house, *span, setup="the kettle")
    scores = [[day.score for day in result.value.days] for result in (with_odds, without)]
    assert scores[0] == scores[1]
    assert all(0.0 < day.sun_share < 1.0 for day in with_odds.value.days if day.sun_share)
    assert all(day.sun_share is not None for day in with_odds.value.days)
    assert {day.sun_share for day in without.value.days} == {None}
    assert with_odds.answer["weather"]["kind"] == "TMY3"
    best = with_odds.value.days[0]
    (shoot,) = best.shoots
    minutes = np.arange(shoot.start_s, shoot.end_s, 60.0)
    assert best.sun_share == pytest.approx(with_odds.value.odds.share(minutes).mean(), abs=0.02)


@pytest.mark.parametrize(
    ("span", "message"),
    [
        (("2027-03-20", "2027-03-19"), "to_date 2027-03-19: lies before from_date 2027-03-20"),
        (("2027-01-01", "2028-01-02"), f"367 dates; expected at most {MOST}"),
        (("tomorrow", "2027-01-02"), "from_date tomorrow"),
    ],
)
def test_bad_spans(span: tuple[str, str], message: str) -> None:
    with pytest.raises(InputError, match=message):
        sunplan.days(read(LOCK), *span)


def test_bad_names() -> None:
    done = command(
        "days", LOCK, "--from-date", "2027-11-12", "--to-date", "2027-11-11", "--json"
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("--to-date 2027-11-11: lies before --from-date 2027-11-12")
    with pytest.raises(InputError, match="the kettel"):
        sunplan.days(read(LOCK), *AUTUMN, setup=["last coffee", "the kettel"])


def test_days_without_a_working_day() -> None:
    """Sunset so early that nothing is left of a day: it is named and not ranked."""
    house = worked(call=time(17, 30), wrap=time(22), after_sunset=5.0)
    result = sunplan.days(house, "2027-12-20", "2027-12-21", setup="the kettle")
    assert result.value.days == ()
    assert result.answer["no_working_day"] == ["2027-12-20", "2027-12-21"]
    assert "no date has a working day" in str(result)
