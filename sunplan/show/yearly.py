"""The picture of the hours: dates down, hours across, how many stops the windows must lose."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib import colormaps, rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import BoundaryNorm, LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from ..day.hours import Quarters, SetupHours
from ..location.read import Location
from ..sun.calendar import to_local
from .drawing import INK, SOFT, save

if TYPE_CHECKING:
    from matplotlib.axes import Axes

COLOURS = LinearSegmentedColormap.from_list(  # light to dark in grey as well
    "stops", colormaps["YlGnBu"](np.linspace(0.0, 0.85, 64))
)
EDGES = [0.0, 0.01, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0]  # stops
MOST_DOTS = 60  # dates that show where the sun falls; of more only every few do
TITLE = 92  # signs of a panel's title in a line
TOO_DARK = "#c8bfc4"
MOST_ROWS = 32  # with marks of full size
ROW_IN, LEAST_IN, MOST_IN = 0.16, 0.6, 3.2
ON_MARK: dict[str, Any] = {"marker": "o", "ms": 4.0, "mfc": "white", "mec": INK, "mew": 0.7}
PATCH: dict[str, Any] = {"marker": "D", "ms": 3.6, "mfc": INK, "mec": "white", "mew": 0.5}


def draw_hours(
    location: Location, span: tuple[date, date], found: Sequence[SetupHours], path: Path, sky: str
) -> None:
    """Draw all setups, one above the other, to a PNG or SVG."""
    days = (span[1] - span[0]).days + 1
    tall = min(max(LEAST_IN, ROW_IN * days), MOST_IN)
    with rc_context({"font.family": "DejaVu Sans", "font.size": 8, "svg.fonttype": "none"}):
        figure = Figure(
            figsize=(9.0, (tall + 0.75) * len(found) + 1.2),
            layout=ConstrainedLayoutEngine(rect=(0.01, 0.0, 0.98, 1.0)),
        )
        FigureCanvasAgg(figure)
        panels = figure.subplots(len(found), 1, squeeze=False)[:, 0]
        norm = BoundaryNorm(EDGES, COLOURS.N)
        for axes, one in zip(panels, found, strict=True):
            quarters = one.quarters
            places = _places(location, quarters)
            hours = np.arange(places.min(), places.max() + 1) / 4.0
            lose = np.full((days, len(hours)), np.nan)
            lose[quarters.day, places - places.min()] = quarters.lose_stops(location)
            axes.set_facecolor(TOO_DARK)
            image = axes.imshow(
                lose,
                cmap=COLOURS,
                norm=norm,
                aspect="auto",
                interpolation="nearest",
                extent=(hours[0] - 0.125, hours[-1] + 0.125, days - 0.5, -0.5),
            )
            _sun(axes, location, quarters, days)
            windows = ", ".join(opening.name for opening in quarters.trace.windows)
            setup = quarters.setup
            what = windows or "no window in frame, the shadow side's stops over its look"
            title = f"{setup.name} ({setup.room}), plays {setup.plays}: {what}"
            axes.set_title(
                "\n".join(textwrap.wrap(title, TITLE)), loc="left", color=INK, fontsize=9
            )
            rows = np.unique(np.linspace(0, days - 1, min(days, 13)).round().astype(int))
            axes.set_yticks(rows)
            axes.set_yticklabels([f"{span[0] + timedelta(days=int(at)):%Y-%m-%d}" for at in rows])
            axes.set_xticks(np.arange(np.ceil(hours[0]), hours[-1] + 0.01))
            axes.xaxis.set_major_formatter(lambda value, _: f"{value % 24:02.0f}:00")
            axes.tick_params(colors=SOFT, length=2)
        panels[-1].set_xlabel(f"clock of {location.timezone}", color=SOFT)
        bar = figure.colorbar(
            image, ax=list(panels), location="right", ticks=[0.0, *EDGES[2:]], aspect=30
        )
        bar.set_label("stops that its windows in frame must lose together", color=SOFT)
        dark = Patch(facecolor=TOO_DARK, edgecolor=SOFT, lw=0.5, label="too dark for its look")
        figure.suptitle(
            f"{location.site.name}, {sky} sky", x=0.01, ha="left", color=INK, fontsize=10
        )
        figure.legend(
            handles=[
                Line2D([], [], ls="", label="sun on the mark", **ON_MARK),
                Line2D([], [], ls="", label="sun patch in frame", **PATCH),
                dark,
            ],
            loc="outside lower left",
            ncols=3,
            frameon=False,
        )
        save(figure, path)


def _places(location: Location, quarters: Quarters) -> NDArray[np.intp]:
    """The quarter hour of the clock that each moment is, counted from midnight, (T,)."""
    local = [to_local(moment, location.timezone) for moment in quarters.moments.tolist()]
    return np.array([one.hour * 4 + one.minute // 15 for one in local], dtype=np.intp)


def _sun(axes: Axes, location: Location, quarters: Quarters, days: int) -> None:
    """Marks where direct sun falls; of many dates only some, evenly."""
    every = int(np.ceil(days / MOST_DOTS))
    chosen = quarters.day % every == every // 2 if every > 1 else np.ones(len(quarters.day), bool)
    places, sun = _places(location, quarters), quarters.sunlight
    size = 1.0 if days <= MOST_ROWS else 0.5
    on_mark = np.flatnonzero(sun.on_mark.any(axis=1) & chosen)
    patch = np.flatnonzero((sun.in_frame | sun.behind) & chosen)
    for rows, style in ((patch, PATCH), (on_mark, ON_MARK)):
        axes.plot(
            places[rows] / 4.0,
            quarters.day[rows],
            ls="",
            ms=size * style["ms"],
            **{name: value for name, value in style.items() if name != "ms"},
        )
