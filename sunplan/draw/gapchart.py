"""Each window in frame through a day: how far over or under what its setup wants, in stops."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from ..light.level_series import WindowSeries
from ..light.matching import MatchingInterval
from ..location.model import Setup
from ..location.read import Location
from ..report.document import Moment
from ..report.entry import sun_line
from ..report.words import band
from ..sun.almanac import SunTimes
from ..sun.position import Floats
from .axes import dashed, labels_on, put
from .daystrip import clocked, shade
from .labels import Label, Labels
from .panels import EDGE_IN, WIDTH_IN, even, fold, headed, legend, legend_in, panel, tall_in, write
from .signs import (
    BAND,
    BAND_EDGE,
    INK,
    LEVELS,
    MARKERS,
    PAPER,
    SKY_DASH,
    SMALL,
    SOFT,
    STYLE,
    SUN,
    TEXT,
    Letters,
)

LEFT_IN, BELOW_IN = 0.55, 0.42
PANEL_IN, BARE_IN = 2.1, 0.3
TITLE_IN = 0.06
DEEP_STOPS, HIGH_STOPS = 4.0, 1.0  # shown below what is wanted, above the brightest
SIGN_EVERY_S = 5400.0


@rc_context(STYLE)
def figure_of_gap(
    location: Location,
    day: date,
    sun: SunTimes,
    setups: Sequence[Setup],
    windows: Sequence[WindowSeries],
    waits: Sequence[MatchingInterval],
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """One panel a setup: the windows' levels over their clock, the wanted band, the twilights."""
    zone = location.timezone
    wide = width_in - 2 * EDGE_IN - LEFT_IN - 0.1
    by_setup = [
        [series for series in windows if series.setup.name == setup.name] for setup in setups
    ]
    titles = [
        fold(_title(setup, mine), wide, 10.0) for setup, mine in zip(setups, by_setup, strict=True)
    ]
    heights = [PANEL_IN + BELOW_IN if mine else BARE_IN for mine in by_setup]
    signs = _signs(windows)
    lines = [tall_in(title, 10.0) + TITLE_IN for title in titles]
    high = sum(heights) + sum(lines) + 0.1 * len(setups) + legend_in(signs, wide) + EDGE_IN
    title = f"{location.site.name}, {day:%A} {day.isoformat()}: windows in frame"
    figure, top = headed(title, sun_line(sun, day, zone), width_in, high)
    left = EDGE_IN + LEFT_IN
    for setup, mine, title, line, tall in zip(
        setups, by_setup, titles, lines, heights, strict=True
    ):
        write(figure, left, top, title, fontsize=10.0)
        if mine:
            axes = panel(figure, left, top + line, wide, PANEL_IN)
            _chart(axes, location, sun, mine, [fit for fit in waits if fit.setup == setup.name])
        else:
            write(figure, left, top + line, "no window in frame", color=SOFT)
        top += line + tall + 0.1
    legend(figure, left, top + 0.04, wide, signs)
    return figure


def _title(setup: Setup, mine: Sequence[WindowSeries]) -> str:
    bands = list(dict.fromkeys(series.band for series in mine))
    wanted = " or ".join(band(*ends, "mid-grey") for ends in bands)
    words = f": target {wanted}, in stops" if bands else ""
    return f"{setup.name} ({setup.room}), reads as {setup.plays}{words}"


def _chart(
    axes: Axes,
    location: Location,
    sun: SunTimes,
    mine: Sequence[WindowSeries],
    waits: Sequence[MatchingInterval],
) -> None:
    zone = location.timezone
    moments = mine[0].moments
    axes.set_xlim(moments[0], moments[-1])
    low = min(series.band[0] for series in mine) - DEEP_STOPS
    top = max(float(series.stops.max()) for series in mine)
    axes.set_ylim(low, max(top, max(series.band[1] for series in mine)) + HIGH_STOPS)
    shade(axes, sun)
    for low_high in dict.fromkeys(series.band for series in mine):
        axes.axhspan(*low_high, facecolor=BAND, alpha=0.75, lw=0, zorder=0.1)
        for edge in low_high:
            axes.axhline(edge, color=BAND_EDGE, lw=0.7, zorder=0.25)
    axes.axhline(0.0, color=SOFT, lw=0.6, ls=(0, (2, 2)), zorder=0.25)
    height = axes.bbox.height
    clocked(axes, zone, even(axes.get_ylim(), height, "stops over mid-grey", apart_pt=16.0))
    labels = labels_on(axes)
    openings = list(dict.fromkeys(series.opening for series in mine))
    skies = list(dict.fromkeys(series.sky for series in mine))
    for series in mine:
        which = openings.index(series.opening)
        line = _shown(axes, series)
        axes.plot(
            *line.T,
            color=LEVELS[which % len(LEVELS)],
            ls=dashed(SKY_DASH[series.sky]),
            lw=1.6,
            marker=MARKERS[which % len(MARKERS)] if len(openings) > 1 else "",
            ms=4.0,
            markevery=_spots(line, 0.5 * skies.index(series.sky)),
            zorder=2.0,
        )
        labels.avoid(line, cost=3.0)
        suns = np.flatnonzero(series.sun_in_frame)
        if len(suns):
            axes.plot(
                series.moments[suns], series.stops[suns], marker="o", ms=6.5, mfc=SUN, mec=INK,
                mew=0.6, ls="", zorder=2.5,
            )  # fmt: skip
    for series in mine:
        colour = LEVELS[openings.index(series.opening) % len(LEVELS)]
        line = _shown(axes, series)
        spot = line[int(len(line) * (0.5 + 0.2 * skies.index(series.sky)))]
        text = f"{series.opening}, {series.sky}"
        labels.add(Label(text, spot, Letters(colour), away_pt=6.0, toward_deg=90.0))
    for fit in waits:
        _fits(axes, labels, mine, fit, zone)
    put(axes, labels)


def _shown(axes: Axes, series: WindowSeries) -> Floats:
    """What of a course lies on its panel, (N, 2)."""
    line = np.stack((series.moments, series.stops), axis=-1)
    (left, right), (low, _) = axes.get_xlim(), axes.get_ylim()
    kept: Floats = line[(line[:, 0] >= left) & (line[:, 0] <= right) & (line[:, 1] >= low - 8.0)]
    return kept


def _spots(line: Floats, offset: float) -> list[int]:
    """Where a line carries its sign, evenly in time."""
    moments_s = np.arange(line[0, 0] + (0.5 + offset) * SIGN_EVERY_S, line[-1, 0], SIGN_EVERY_S)
    return [int(index) for index in np.searchsorted(line[:, 0], moments_s)]


def _fits(
    axes: Axes, labels: Labels, mine: Sequence[WindowSeries], fit: MatchingInterval, zone: str
) -> None:
    """The minutes in which a window is right by itself, on the band."""
    (left, right) = axes.get_xlim()
    if fit.end_s < left or fit.start_s > right:
        return
    openings = list(dict.fromkeys(series.opening for series in mine))
    colour = LEVELS[openings.index(fit.opening) % len(LEVELS)]
    band = next(series.band for series in mine if series.opening == fit.opening)
    middle = (sum((fit.start_s, fit.end_s)) / 2, sum(band) / 2)
    axes.plot(*middle, marker="v", ms=6.0, mfc=colour, mec=PAPER, mew=0.5, zorder=3.0)
    labels.avoid_spot(middle, 4.0)
    name = f"{fit.opening} " if len(openings) > 1 else ""
    text = f"{name}{Moment(fit.start_s, zone)} – {Moment(fit.end_s, zone)}, {fit.sky}"
    toward = 180.0 if middle[0] > (left + right) / 2 else 0.0
    letters = Letters(colour, size=SMALL / TEXT)
    labels.add(Label(text, middle, letters, away_pt=9.0, toward_deg=toward))


def _signed(windows: Sequence[WindowSeries]) -> dict[int, list[str]]:
    """The windows that have a sign, by its number: those that share their panel with others."""
    named: dict[int, list[str]] = {}
    for setup in dict.fromkeys(series.setup.name for series in windows):
        mine = list(
            dict.fromkeys(series.opening for series in windows if series.setup.name == setup)
        )
        for which, opening in enumerate(mine if len(mine) > 1 else []):
            names = named.setdefault(which % len(MARKERS), [])
            names += [opening] if opening not in names else []
    return named


def _signs(windows: Sequence[WindowSeries]) -> list[Line2D | Patch]:
    skies = dict.fromkeys(series.sky for series in windows)
    handles: list[Line2D | Patch] = [
        Line2D([], [], color=INK, lw=1.6, ls=dashed(SKY_DASH[sky]), label=f"{sky} sky")
        for sky in skies
    ]
    handles += [
        Line2D(
            [],
            [],
            color=LEVELS[number],
            lw=1.6,
            marker=MARKERS[number],
            ms=4.0,
            label=", ".join(names),
        )
        for number, names in _signed(windows).items()
    ]
    handles.append(Patch(facecolor=BAND, edgecolor=BAND_EDGE, lw=0.7, label="wanted"))
    handles.append(Line2D([], [], ls="", marker="v", ms=5.5, color=INK, label="matches untreated"))
    if any(series.sun_in_frame.any() for series in windows):
        handles.append(
            Line2D([], [], ls="", marker="o", ms=6.5, mfc=SUN, mec=INK, label="the sun in frame")
        )
    return handles
