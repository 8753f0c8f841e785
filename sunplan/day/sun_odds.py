"""How often the sun shines at an hour of the year: counted in a typical year of hourly weather.

A weather file holds the means of 8760 hours, in its station's standard time, each row labelled
with the hour's end (EPW and TMY3 alike: hour 1 runs from 00:00 to 01:00). Rows count by their
place in the year, so that neither daylight saving nor a reader's labels can shift them: pvlib
labels TMY3 rows with the end of the hour and EPW rows with its start.

References
----------
[1] WMO-No. 8, Guide to Instruments and Methods of Observation, chapter 8: sunshine is direct solar
    irradiance over 120 W/m². That holds for a moment; here it is asked of an hour's mean.
[2] Wilcox, S., Marion, W. (2008). Users Manual for TMY3 Data Sets. NREL/TP-581-43156. What is
    missing is −9900 in TMY3 files, as in those that pvlib carries, and 9999 in EPW files; from
    memory.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NoReturn

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..location.messages import on_one_line
from ..location.model import Site
from ..location.read import Location
from ..location.toml_file import text_of
from ..sun.position import Floats
from ..sun.track import track_over

Ints = NDArray[np.int64]
Kind = Literal["EPW", "TMY3"]

SUNSHINE_W_M2 = 120.0  # [1]
WITHIN_DAYS = 15  # on either side of a date; a choice, no source
MISSING_W_M2 = 9000.0  # no irradiance comes near: −9900 and 9999 say that there is none, [2]
YEARS = {8760: 2001, 8784: 2000}  # hours of a year, and a year that has as many
LEAP_DAY = 59  # from 1 January
EARTH_M = 6371008.8  # mean radius, GRS80; from memory
STARTS: dict[Kind, str] = {"EPW": "LOCATION,", "TMY3": "Date (MM/DD/YYYY),"}
DNI = "DNI (W/m^2)"
EPW_HEAD, EPW_COLUMNS = 8, 35  # lines before the hours, and what a row of hours holds


@dataclass(frozen=True, eq=False)
class Odds:
    """How often the sun shines through the year near a location, by a weather file's typical year.

    The station lies at `latitude_deg`, `longitude_deg`: from the location `distance_m` away toward
    the true bearing `bearing_deg`. `years` are the first and the last that the typical year's
    months come from. `shares` (365 or 366, 24) are by date and hour of the station's standard time,
    which is `ahead_s` ahead of UTC.
    """

    file: str
    kind: Kind
    latitude_deg: float
    longitude_deg: float
    distance_m: float
    bearing_deg: float
    years: tuple[int, int]
    ahead_s: float
    shares: Floats
    location: Location

    def share(self, moment_s: Floats) -> Floats:
        """Share of days on which the sun shines, 0 to 1, at moments (T,), seconds since 1970 UTC.

        Of the 31 days within 15 of the moment's date in the typical year, those on which the hour's
        mean of direct normal irradiance is over 120 W/m² [1]; between the middles of hours
        linearly. 0 while the middle of the sun is below the location's level horizon; the hours of
        rise and set hold dark minutes too, which makes their shares low. 29 February counts as
        1 March where the file has none.
        """
        if not moment_s.size:
            return np.zeros_like(moment_s)
        hours = (moment_s + self.ahead_s) / 3600.0 - 0.5
        before = np.floor(hours).astype(np.int64)
        first, second = self._hourly(before), self._hourly(before + 1)
        track = track_over(self.location, float(moment_s.min()), float(moment_s.max()))
        shares = first + (hours - before) * (second - first)
        return np.where(track.at(moment_s).altitude_deg > 0.0, shares, 0.0)

    def _hourly(self, hours: Ints) -> Floats:
        """Shares of hours (T,), counted from 1970 in the station's standard time."""
        dates = (hours // 24).astype("datetime64[D]")
        years = dates.astype("datetime64[Y]")
        day = (dates - years).astype(np.int64)
        leap = (years + 1).astype(dates.dtype) - years.astype(dates.dtype) > np.timedelta64(365)
        if len(self.shares) == 366:
            day += ~leap & (day >= LEAP_DAY)
        else:
            day -= leap & (day > LEAP_DAY)
        shares: Floats = self.shares[day, hours % 24]
        return shares


def odds_of(path: Path, location: Location) -> Odds:
    """Odds of sun near a location, by an EPW or TMY3 file with a typical year of hourly values.

    A station far off is no mistake: it is for the caller to tell.

    Parameters
    ----------
    path
        The weather file.

    Raises
    ------
    InputError
        Where the file cannot be read, is neither, or is not a whole year of direct normal
        irradiance in order.

    Examples
    --------
    >>> import pvlib
    >>> from sunplan import read
    >>> file = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    >>> odds = odds_of(file, read("locations/lock-house.toml"))
    >>> odds.kind, odds.shares.shape
    ('TMY3', (365, 24))
    """

    def refuse(fault: str) -> NoReturn:
        raise InputError(on_one_line(f"{path}: {fault}"))

    # A station's name may be in any encoding, and nobody asks for it.
    text = text_of(path, "an EPW or TMY3 file", errors="replace")
    kind = _kind(text)
    if kind is None:
        refuse(
            f'is neither an EPW file, whose first line starts with "{STARTS["EPW"]}", nor a TMY3 '
            f'file, whose second line starts with "{STARTS["TMY3"]}"'
        )
    if kind == "TMY3" and DNI not in text.split("\n", 2)[1]:
        refuse(f'has no column "{DNI}"; expected it, the direct normal irradiance')
    try:
        labels, irradiance_w_m2, station = _read(kind, text)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        refuse(f"is a damaged {kind} file ({error}); expected it as it was published")
    latitude, longitude, ahead_h = (station[key] for key in ("latitude", "longitude", "TZ"))
    wrong = _wrong_year(labels[1:], irradiance_w_m2) or _wrong_place(latitude, longitude, ahead_h)
    if wrong:
        refuse(wrong)
    distance_m, bearing_deg = _apart(location.site, latitude, longitude)
    shines = (irradiance_w_m2 > SUNSHINE_W_M2).reshape(-1, 24)
    around = range(-WITHIN_DAYS, WITHIN_DAYS + 1)
    return Odds(
        file=str(path),
        kind=kind,
        latitude_deg=latitude,
        longitude_deg=longitude,
        distance_m=distance_m,
        bearing_deg=bearing_deg,
        years=(int(labels[0].min()), int(labels[0].max())),
        ahead_s=3600.0 * ahead_h,
        shares=np.mean([np.roll(shines, days, axis=0) for days in around], axis=0),
        location=location,
    )


def _kind(text: str) -> Kind | None:
    lines = text.split("\n", 2)
    if lines[0].startswith(STARTS["EPW"]):
        return "EPW"
    return "TMY3" if lines[1:] and lines[1].startswith(STARTS["TMY3"]) else None


def _read(kind: Kind, text: str) -> tuple[Ints, Floats, dict[str, Any]]:
    """Year, month, day and hour of all rows (4, N), direct normal irradiance (N,), the station."""
    from pvlib.iotools import read_epw, read_tmy3  # pandas and all: only when asked

    if kind == "EPW":
        # Older files lack the last columns, which pvlib wants to find in the first row of hours.
        lines = text.split("\n", EPW_HEAD + 1)
        if len(lines) > EPW_HEAD and lines[EPW_HEAD]:
            lines[EPW_HEAD] += "," * (EPW_COLUMNS - 1 - lines[EPW_HEAD].count(","))
        data, station = read_epw(io.StringIO("\n".join(lines)))
        labels = data[["year", "month", "day", "hour"]].astype(np.int64).to_numpy().T
    else:
        data, station = read_tmy3(io.StringIO(text), map_variables=True)
        dates = data["Date (MM/DD/YYYY)"].str.split("/", expand=True).astype(np.int64).to_numpy().T
        hours = data["Time (HH:MM)"].str.split(":").str[0].astype(np.int64).to_numpy()
        labels = np.stack((dates[2], dates[0], dates[1], hours))
    return labels, data["dni"].to_numpy(np.float64), station


def _wrong_year(labels: Ints, irradiance_w_m2: Floats) -> str:
    """Why month, day and hour (3, N) with their irradiance (N,) make no year; "" where they do."""
    hours = len(irradiance_w_m2)
    if hours not in YEARS:
        return f"has {hours} rows of hours; expected 8760, or 8784 in a leap year"
    astray = np.flatnonzero((labels != _calendar(hours)).any(axis=0))
    if astray.size:
        month, day, hour = labels[:, astray[0]]
        return (
            f"row {astray[0] + 1} of hours is month {month}, day {day}, hour {hour}; expected all "
            "hours of a year in order, from month 1, day 1, hour 1 to month 12, day 31, hour 24"
        )
    missing = np.count_nonzero(~(np.abs(irradiance_w_m2) < MISSING_W_M2))
    if missing:
        return f"has no direct normal irradiance in {missing} of {hours} hours; expected it in all"
    return ""


def _wrong_place(latitude_deg: float, longitude_deg: float, ahead_h: float) -> str:
    """Why a station can be nowhere; "" where it can."""
    if abs(latitude_deg) <= 90 and abs(longitude_deg) <= 180 and abs(ahead_h) <= 14:
        return ""
    return (
        f"has its station at latitude {latitude_deg:g}, longitude {longitude_deg:g}, {ahead_h:g} "
        "hours ahead of UTC; expected at most 90, 180 and 14, on either side of 0"
    )


def _calendar(hours: int) -> Ints:
    """Month, day and hour, 1 to 24, of all hours of a year, (3, hours)."""
    starts = np.datetime64(str(YEARS[hours]), "h") + np.arange(hours)
    months, dates = starts.astype("datetime64[M]"), starts.astype("datetime64[D]")
    days = (dates - months.astype(dates.dtype)).astype(np.int64)
    return np.stack((months.astype(np.int64) % 12, days, np.arange(hours) % 24)) + 1


def _apart(site: Site, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
    """How far a station is from a site, metres, and toward which bearing, on a round Earth."""
    import erfa

    here = np.radians((site.longitude, site.latitude))
    there = np.radians((longitude_deg, latitude_deg))
    bearing = float(np.degrees(erfa.pas(*here, *there)))
    return EARTH_M * float(erfa.seps(*here, *there)), bearing % 360.0
