"""`sunplan new`: places as people write them, towns by name, and the file that is written."""

from __future__ import annotations

import codecs
import gzip
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
import zoneinfo
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inside import command
from pygeomag import GeoMag

from sunplan.data import __file__ as data
from sunplan.errors import InputError
from sunplan.location.lengths import Units
from sunplan.location.place import Place, parse_place, timezone_at, units_of
from sunplan.location.read import Location, read
from sunplan.report import new as new_report
from sunplan.survey.compass import declination_note
from sunplan.survey.first_location import (
    First,
    parse_bearing,
    parse_error,
    parse_name,
    parse_plan_up,
    parse_room,
)
from sunplan.survey.towns import find, fold, place_of, towns

EXAMPLES = (
    "52.0907,5.1214, 52°05'26.5\"N 5°07'17.0\"E or geo:52.0907,5.1214 (latitude first, then "
    "longitude)"
)
LOCK = "52.0907,5.1214"
CTRL_C = "\x03"
HALF_A_STEP_DEG = 0.5e-6  # places are kept to the sixth decimal


def run(*args: object, stdin: str = "") -> subprocess.CompletedProcess[str]:
    """The command in a script: standard input is no terminal."""
    return command(*args, stdin=stdin)


def refused(*args: object) -> str:
    """The one message of a command that is refused."""
    done = run(*args)
    assert done.returncode == 2, (done.stdout, done.stderr)
    assert done.stdout == ""
    return done.stderr


def message(text: str) -> str:
    with pytest.raises(InputError) as caught:
        parse_place(text)
    return str(caught.value)


# Degrees, minutes, seconds of one spot, worked out by hand.
NORTH = 52 + 5 / 60 + 26.5 / 3600
EAST = 5 + 7 / 60 + 17.0 / 3600
NORTH_BY_MINUTES = 52 + 5.442 / 60
EAST_BY_MINUTES = 5 + 7.283 / 60


@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("52.0907,5.1214", 52.0907, 5.1214),
        (" 52.0907 , 5.1214 ", 52.0907, 5.1214),
        ("52.0907 5.1214", 52.0907, 5.1214),
        ("52.0907/5.1214", 52.0907, 5.1214),
        ("52,0907 5,1214", 52.0907, 5.1214),
        ("52,0907, 5,1214", 52.0907, 5.1214),
        ("52,0907; 5,1214", 52.0907, 5.1214),
        ("52,0907,5,1214", 52.0907, 5.1214),
        ("52,09 5,12", 52.09, 5.12),
        ("52,5", 52.0, 5.0),
        ("-42.8826,147.3281", -42.8826, 147.3281),
        ("−42.8826, −147.3281", -42.8826, -147.3281),
        ("+52.5, +5", 52.5, 5.0),
        ("52.0907° N, 5.1214° E", 52.0907, 5.1214),
        ("52.0907N 5.1214W", 52.0907, -5.1214),
        ("N52.0907 W5.1214", 52.0907, -5.1214),
        ("N52.0907W5.1214", 52.0907, -5.1214),
        ("52.0907s5.1214e", -52.0907, 5.1214),
        ("52.0907º, 5.1214º", 52.0907, 5.1214),
        ("52°05'26.5\"N 5°07'17.0\"E", NORTH, EAST),
        ("52°05'26.5\"N5°07'17.0\"E", NORTH, EAST),
        ("52° 05' 26.5\" N, 5° 07' 17.0\" E", NORTH, EAST),
        ("52°05′26.5″N 5°07′17.0″E", NORTH, EAST),
        ("52°05’26.5”N 5°07’17.0”E", NORTH, EAST),
        ("52°05''26.5 5", None, None),
        ("52°05'26.5''N 5°07'17.0''E", NORTH, EAST),
        ("52°05'26,5\"N 5°07'17,0\"E", NORTH, EAST),
        ("N 52°05'26.5\" E 5°07'17.0\"", NORTH, EAST),
        ("52°05'26.5\"S 5°07'17.0\"W", -NORTH, -EAST),
        ("52°05'26.5\"S 5°07'17.0\"O", -NORTH, -EAST),
        ("5°07'17.0\"E 52°05'26.5\"N", NORTH, EAST),
        ("-52°05'26.5\" -5°07'17.0\"", -NORTH, -EAST),
        ("52 05 26.5 N 5 07 17.0 E", NORTH, EAST),
        ("N 52 05 26.5, E 5 07 17.0", NORTH, EAST),
        ("52°05.442'N 5°07.283'E", NORTH_BY_MINUTES, EAST_BY_MINUTES),
        ("52° 05.442′ N 5° 07.283′ E", NORTH_BY_MINUTES, EAST_BY_MINUTES),
        ("52°05,442'N 5°07,283'E", NORTH_BY_MINUTES, EAST_BY_MINUTES),
        ("N 52 05.442 W 5 07.283", NORTH_BY_MINUTES, -EAST_BY_MINUTES),
        ("90,180", 90.0, 180.0),
        ("-90,-180", -90.0, -180.0),
    ],
)
def test_coordinates(text: str, latitude: float | None, longitude: float | None) -> None:
    if latitude is None or longitude is None:
        assert message(text).startswith("is no place; ")
        return
    found = parse_place(text)
    assert found.latitude_deg == pytest.approx(latitude, abs=HALF_A_STEP_DEG)
    assert found.longitude_deg == pytest.approx(longitude, abs=HALF_A_STEP_DEG)
    says = "O is read as west (oeste, ouest); write E for east" if "O" in text else None
    assert found.remark == says


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", f"is no place; expected one such as {EXAMPLES}"),
        ("52", f"is no place; expected one such as {EXAMPLES}"),
        ("hello", f"is no place; expected one such as {EXAMPLES}"),
        ("52.0907N", f"is no place; expected one such as {EXAMPLES}"),
        ("5°E 5°E", f"is no place; expected one such as {EXAMPLES}"),
        ("52N, 5", f"is no place; expected one such as {EXAMPLES}"),
        ("-52N, 5E", f"is no place; expected one such as {EXAMPLES}"),
        ("N52N, 5E", f"is no place; expected one such as {EXAMPLES}"),
        ("52.5°30'N 5°E", f"is no place; expected one such as {EXAMPLES}"),
        ("52° 05.442", f"is no place; expected one such as {EXAMPLES}"),
        ("52°05' 26.5\"", f"is no place; expected one such as {EXAMPLES}"),
        ("52 5 6 7", f"is no place; expected one such as {EXAMPLES}"),
        ("1e3,5", f"is no place; expected one such as {EXAMPLES}"),
        ("nan,nan", f"is no place; expected one such as {EXAMPLES}"),
        ("٥٢,٥", f"is no place; expected one such as {EXAMPLES}"),
        ("52,090,5", f"can be read in more than one way; write it as {EXAMPLES}"),
        ("9" * 200, f"is too long for a place; expected one such as {EXAMPLES}"),
        ("52°60'N 5°1'E", "has minutes or seconds of 60 or more; expected less than 60"),
        ("52°5'60\"N 5°E", "has minutes or seconds of 60 or more; expected less than 60"),
        (
            "147.3,-42.9",
            "has the latitude 147.3; expected −90 to 90, latitude first, then longitude",
        ),
        ("5,-181", "has the longitude -181; expected −180 to 180"),
        ("geo:52", "is no geo: link; expected one such as geo:52.0907,5.1214,5;u=40"),
        ("geo:52,5?z=3", "is no geo: link; expected one such as geo:52.0907,5.1214,5;u=40"),
        ("geo:+52,5", "is no geo: link; expected one such as geo:52.0907,5.1214,5;u=40"),
        ("geo:95,5", "has the latitude 95; expected −90 to 90, latitude first, then longitude"),
        ("geo:5,5;u=40;U=50", "has u twice; give it once"),
        ("geo:5,5;u=near", 'has "near" as its u; expected metres, such as u=40'),
        ("geo:5,5;u=-4", 'has "-4" as its u; expected metres, such as u=40'),
        (
            "geo:5,5;crs=moon-2011",
            'is in the reference system "moon-2011"; expected WGS 84 (crs=wgs84)',
        ),
        ("geo:5,5,12000", "is 12000 m above the sea; expected −500 to 9000 m"),
    ],
)
def test_no_place(text: str, says: str) -> None:
    assert message(text) == says


# RFC 5870's own examples, from memory: section 1 and 6.1 (decimal degrees), 6.2 (altitude), 6.3
# (reference system and uncertainty), 6.4 (pairs that are equal).
@pytest.mark.parametrize(
    ("uri", "latitude", "longitude", "elevation", "within"),
    [
        ("geo:13.4125,103.8667", 13.4125, 103.8667, None, None),
        ("geo:48.2010,16.3695,183", 48.201, 16.3695, 183.0, None),
        ("geo:48.198634,16.371648;crs=wgs84;u=40", 48.198634, 16.371648, None, 40.0),
        ("geo:90,-22.43;crs=WGS84", 90.0, -22.43, None, None),
        ("geo:22.300,-118.44", 22.3, -118.44, None, None),
        ("geo:22.3,-118.4400", 22.3, -118.44, None, None),
        ("geo:66,30;u=6.500;FOo=this%2dthat", 66.0, 30.0, None, 6.5),
        ("geo:66.0,30;u=6.5;foo=this-that", 66.0, 30.0, None, 6.5),
        ("geo:70,20;foo=1.00;bar=white", 70.0, 20.0, None, None),
        ("geo:47,11;bar=white;foo=blue", 47.0, 11.0, None, None),
        ("GEO:22,0;bar=Blue;crs=WGS84", 22.0, 0.0, None, None),
    ],
)
def test_geo_links(
    uri: str, latitude: float, longitude: float, elevation: float | None, within: float | None
) -> None:
    assert parse_place(uri) == Place(
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=elevation,
        uncertainty_m=within,
    )


LATITUDES = st.floats(-90, 90)
LONGITUDES = st.floats(-180, 180)


def sixty(value: float, *, letters: str, seconds: bool, form: tuple[str, str, str]) -> str:
    """An angle as a map prints it, to a tenth of a second or a thousandth of a minute."""
    per_degree, digits = (36000, 1) if seconds else (60000, 3)
    ticks = round(abs(value) * per_degree)
    degrees, rest = divmod(ticks, per_degree)
    letter = letters[value < 0]
    if seconds:
        minutes, last = divmod(rest, 600)
        return f"{degrees}{form[0]}{minutes:02d}{form[1]}{last / 10:04.{digits}f}{form[2]}{letter}"
    return f"{degrees}{form[0]}{rest / 1000:06.{digits}f}{form[1]}{letter}"


@given(LATITUDES, LONGITUDES, st.sampled_from([",", ", ", " ", "; "]), st.integers(0, 6))
def test_decimals_read_back(latitude: float, longitude: float, gap: str, digits: int) -> None:
    found = parse_place(f"{latitude:.{digits}f}{gap}{longitude:.{digits}f}")
    assert found.latitude_deg == pytest.approx(round(latitude, digits), abs=1e-9)
    assert found.longitude_deg == pytest.approx(round(longitude, digits), abs=1e-9)
    link = parse_place(f"geo:{latitude:.{digits}f},{longitude:.{digits}f}")
    assert link == found


@given(LATITUDES, LONGITUDES, st.sampled_from([", ", " ", "; "]), st.integers(1, 6))
def test_decimal_commas_read_back(latitude: float, longitude: float, gap: str, digits: int) -> None:
    text = gap.join(f"{one:.{digits}f}".replace(".", ",") for one in (latitude, longitude))
    found = parse_place(text)
    assert found.latitude_deg == pytest.approx(round(latitude, digits), abs=1e-9)
    assert found.longitude_deg == pytest.approx(round(longitude, digits), abs=1e-9)


@given(
    LATITUDES,
    LONGITUDES,
    st.booleans(),
    st.sampled_from([("°", "'", '"'), ("° ", "′ ", "″ "), ("º", "’", "”"), (" ", " ", " ")]),
    st.sampled_from(["EW", "EO"]),
    st.booleans(),
    st.sampled_from(["", " ", ", "]),
)
def test_degrees_and_minutes_read_back(
    latitude: float,
    longitude: float,
    seconds: bool,
    form: tuple[str, str, str],
    sides: str,
    swapped: bool,
    gap: str,
) -> None:
    texts = [
        sixty(latitude, letters="NS", seconds=seconds, form=form),
        sixty(longitude, letters=sides, seconds=seconds, form=form),
    ]
    found = parse_place(gap.join(texts[::-1] if swapped else texts))
    half_deg = 0.5 / (36000 if seconds else 60000) + HALF_A_STEP_DEG
    assert found.latitude_deg == pytest.approx(latitude, abs=half_deg)
    assert found.longitude_deg == pytest.approx(longitude, abs=half_deg)


@given(st.text(alphabet="0123456789.,;° '\"NSEWO+-geo:u=", max_size=30))
def test_any_text_is_a_place_or_refused(text: str) -> None:
    try:
        found = parse_place(text)
    except InputError:
        return
    assert abs(found.latitude_deg) <= 90
    assert abs(found.longitude_deg) <= 180


# Names, and degrees and minutes, of the list of places that astral 3.2 carries (Apache 2.0).
@pytest.mark.parametrize(
    ("name", "country", "there"),
    [
        ("Amsterdam, NL", "The Netherlands", "52°23'N 4°54'E"),
        ("Athens, Greece", "Greece", "37°58'N 23°46'E"),
        ("Berlin, DE", "Germany", "52°30'N 13°25'E"),
        ("Bern", "Switzerland", "46°57'N 7°28'E"),
        ("Cairo, EG", "Egypt", "30°01'N 31°14'E"),
        ("Chicago", "United States", "41°50'N 87°41'W"),
        ("Denver", "United States", "39°44'N 104°59'W"),
        ("Glasgow, UK", "United Kingdom", "55°50'N 4°15'W"),
        ("dublin, ie", "Ireland", "53°21'N 6°15'W"),
        ("Jakarta", "Indonesia", "6°09'S 106°49'E"),
        ("Lisbon", "Portugal", "38°42'N 9°10'W"),
        ("Nairobi", "Kenya", "1°17'S 36°48'E"),
        ("OSLO", "Norway", "59°55'N 10°45'E"),
        ("Perth, Australia", "Australia", "31°56'S 115°50'E"),
        ("Reykjavík", "Iceland", "64°10'N 21°57'W"),
        ("Rome, IT", "Italy", "41°54'N 12°29'E"),
        ("Seattle", "United States", "47°36'N 122°19'W"),
        ("Stockholm", "Sweden", "59°20'N 18°05'E"),
        ("Tokyo", "Japan", "35°41'N 139°41'E"),
        ("Wellington, NZ", "New Zealand", "41°19'S 174°46'E"),
        ("Zurich", "Switzerland", "47°22'N 8°33'E"),
    ],
)
def test_towns_lie_where_another_list_has_them(name: str, country: str, there: str) -> None:
    town, expected = find(name), parse_place(there)
    assert town.country == country
    # Both mean a town's middle, which one may put a few kilometres from where another does.
    assert town.latitude_deg == pytest.approx(expected.latitude_deg, abs=0.1)
    assert town.longitude_deg == pytest.approx(expected.longitude_deg, abs=0.1)
    assert town.timezone == timezone_at(
        latitude_deg=town.latitude_deg, longitude_deg=town.longitude_deg
    )


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Sao Paulo", "São Paulo"),
        ("SÃO PAULO", "São Paulo"),
        ("Sa\u0303o Paulo", "São Paulo"),
        ("München", "Munich"),
        ("Munchen", "Munich"),
        ("Muenchen", "Munich"),
        ("Koeln", "Köln"),
        ("cologne", "Köln"),
        ("Lodz", "Łódź"),
        ("Den Haag", "The Hague"),
        ("Saint Louis, US", "St. Louis"),
        ("st louis, missouri", "St. Louis"),
        ("NDjamena", "N'Djamena"),
        ("Springfield, IL", "Springfield"),
        ("Hengelo, Enschede", "Hengelo"),
        ("Utrecht, Netherlands", "Utrecht"),
        ("Mianzhu, Deyang, Sichuan", "Mianzhu, Deyang, Sichuan"),
    ],
)
def test_names_as_they_are_typed(written: str, name: str) -> None:
    assert find(written).name == name


def refusal(name: str) -> str:
    with pytest.raises(InputError) as caught:
        find(name)
    return str(caught.value)


def test_several_towns_of_a_name_are_listed() -> None:
    assert refusal("Paris") == (
        "2 towns are called so; give one of these:\n"
        '  --town "Paris, FR": region of Paris, France, 2 100 000 people\n'
        '  --town "Paris, US": Texas, United States, 25 000 people'
    )
    assert refusal("Springfield") == (
        "8 towns are called so; give one of these:\n"
        '  --town "Springfield, Missouri": Missouri, United States, 170 000 people\n'
        '  --town "Springfield, Massachusetts": Massachusetts, United States, 150 000 people\n'
        '  --town "Springfield, Illinois": Illinois, United States, 110 000 people\n'
        '  --town "Springfield, Oregon": Oregon, United States, 61 000 people\n'
        '  --town "Springfield, Ohio": Ohio, United States, 60 000 people\n'
        '  --town "Springfield, Virginia": Virginia, United States, 30 000 people\n'
        '  --town "Springfield, Pennsylvania": Pennsylvania, United States, 23 000 people\n'
        '  --town "Springfield, Tennessee": Tennessee, United States, 17 000 people'
    )
    # CA is Canada and California.
    assert refusal("Richmond, CA") == (
        "2 towns are called so; give one of these:\n"
        '  --town "Richmond, Canada": region of Vancouver, Canada, 210 000 people\n'
        '  --town "Richmond, California": California, United States, 110 000 people'
    )


@pytest.mark.parametrize("name", ["Paris", "Springfield", "San José", "Santa Cruz", "Victoria"])
def test_what_is_listed_leads_to_one_place(name: str) -> None:
    lines = refusal(name).splitlines()[1:]
    assert len(lines) >= 2
    spots = set()
    for line in lines:
        option, text = re.findall(r'^  --(town|place) "(.*?)": ', line)[0]
        place = place_of(text)
        assert (option == "town") == (place.town is not None)
        spots.add((place.latitude_deg, place.longitude_deg))
    assert len(spots) == len(lines)


def test_no_such_town() -> None:
    assert refusal("Utrechd") == ('is no town of over 15 000 people; did you mean "Utrecht, NL"?')
    assert refusal("Xqzzyk") == (
        "is no town of over 15 000 people; give a larger one nearby, or coordinates with --place"
    )
    assert refusal("") == refusal(",") == refusal("Xqzzyk")
    assert refusal("Utrecht, FR") == (
        'there is none in "FR"; known:\n'
        '  --town "Utrecht, NL": region of Utrecht, The Netherlands, 380 000 people'
    )


def test_the_towns() -> None:
    known = towns()
    assert len(known) > 30_000
    assert all(-90 <= one.latitude_deg <= 90 and one.name for one in known)
    assert {one.timezone for one in known} <= zoneinfo.available_timezones()
    in_feet = {one.country_code for one in known if units_of(one.timezone) == "ft"}
    assert in_feet == {"US", "LR", "MM"}
    in_metres = {one.country_code for one in known if units_of(one.timezone) == "m"}
    assert not in_feet & in_metres


def test_the_towns_file_says_whose_it_is_and_is_small() -> None:
    file = Path(data).parent / "towns.csv.gz"
    packed = file.read_bytes()
    assert len(packed) < 700_000
    assert packed[4:8] == bytes(4)  # no date: the same towns make the same file
    head = gzip.decompress(packed).decode().splitlines()[:5]
    assert "GeoNames" in head[0]
    assert "CC BY 4.0" in head[0]


@given(st.text(max_size=30))
def test_folding_twice_changes_nothing(name: str) -> None:
    assert fold(fold(name)) == fold(name)


def test_declination() -> None:
    """The sentence has the model's sign; it says so where the model does not hold."""
    model = GeoMag()
    for latitude, longitude, way in ((52.0907, 5.1214, "add"), (39.8, -89.6, "take")):
        found = model.calculate(glat=latitude, glon=longitude, alt=0.0, time=2027 + 78 / 365).d
        turn = f"{abs(found):.1f}°"
        does = f"add {turn} to a reading" if way == "add" else f"take {turn} off a reading"
        assert (found > 0) == (way == "add")
        assert declination_note(
            latitude_deg=latitude, longitude_deg=longitude, elevation_m=0.0, day=date(2027, 3, 20)
        ) == (
            f"a compass here shows magnetic north; {does} for true, on 2027-03-20, "
            "World Magnetic Model 2025"
        )
    assert declination_note(
        latitude_deg=86.0, longitude_deg=150.0, elevation_m=0.0, day=date(2027, 3, 20)
    ) == (
        "too near a magnetic pole to trust a compass, World Magnetic Model 2025; "
        "use the sun or a map"
    )
    for day in (date(2024, 12, 31), date(2030, 6, 1)):
        assert declination_note(latitude_deg=0.0, longitude_deg=0.0, elevation_m=0.0, day=day) == (
            f"a compass shows magnetic north; how far off on {day} is beyond the "
            "World Magnetic Model 2025"
        )


@pytest.mark.parametrize(
    ("text", "units", "name", "metres"),
    [
        ("kitchen 4.2 x 3.1 x 2.5", "m", "kitchen", (4.2, 3.1, 2.5)),
        ("kitchen 4,2x3,1×2,5", "m", "kitchen", (4.2, 3.1, 2.5)),
        ("4 x 3 x 2.5", "m", "room", (4.0, 3.0, 2.5)),
        ("box room 13 x 10 x 8", "ft", "box room", (13 * 0.3048, 10 * 0.3048, 8 * 0.3048)),
        ("room 2 12 ft 6 in x 3.1 m x 8'", "ft", "room 2", (12.5 * 0.3048, 3.1, 8 * 0.3048)),
        ("room 2 4 X 3 X 250 cm", "m", "room 2", (4.0, 3.0, 2.5)),
    ],
)
def test_rooms(text: str, units: Units, name: str, metres: tuple[float, ...]) -> None:
    room = parse_room(text, units)
    assert room.name == name
    sides = (room.width.metres, room.depth.metres, room.height.metres)
    assert sides == pytest.approx(metres)


def first(**changes: object) -> First:
    given = {
        "name": "Lock-keeper's cousin",
        "place": parse_place(LOCK),
        "units": "m",
        "plan_up_deg": 12.0,
        "plan_up_error_deg": 5.0,
        "room": parse_room("kitchen 4.2 x 3.1 x 2.5", "m"),
        "compass": "a compass here shows magnetic north",
    }
    return First(**(given | changes))  # type: ignore[arg-type]


def made(folder: Path, **changes: object) -> Location:
    file = folder / "first.toml"
    file.write_text(new_report.text(first(**changes)), encoding="utf-8")
    return read(file)


SIDE_M = st.floats(1.0, 20.0).map(lambda side: round(side, 2))


@settings(max_examples=40, deadline=None)
@given(SIDE_M, SIDE_M, SIDE_M, st.sampled_from(["m", "ft"]), st.booleans())
def test_any_room_passes(
    tmp_path_factory: pytest.TempPathFactory,
    width: float,
    depth: float,
    height: float,
    units: Units,
    own: bool,
) -> None:
    """Whatever its size, in either unit, with a unit of its own or without."""
    unit_m = 0.3048 if units == "ft" and not own else 1.0
    behind = " m" if own else ""
    sides = [max(side, 1.0001) / unit_m for side in (width, depth, height)]
    room = parse_room(" x ".join(f"{side:.5f}{behind}" for side in sides), units)
    found = made(tmp_path_factory.mktemp("room"), units=units, room=room)
    (read_room,) = found.room
    assert read_room.height == pytest.approx(height, abs=2e-4)
    assert read_room.outline[2] == pytest.approx((width, depth), abs=2e-4)
    (opening,), (mark,), (setup,) = read_room.opening, read_room.mark, found.setup
    unit_m = 0.3048 if units == "ft" else 0.1
    for length in (*opening.size, opening.sill, *mark.at, *mark.height, *setup.camera.at):
        assert length / unit_m == pytest.approx(round(length / unit_m), abs=1e-6)
        assert length > 0


@pytest.mark.parametrize(
    "at",
    [
        "-42.8826,147.3281",
        "39.8,-89.6",
        "-54.8,-68.3",
        "-16.8,179.99",
        "-16.8,-179.99",
        "0,180",
        "0,-180",
        "90,0",
        "-90,0",
        "89.9,-170",
        "0,0",
        "geo:31.5,35.5,-420;u=12.5",
    ],
)
def test_any_place_passes(at: str, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    done = run("new", file, "--place", at, "--date", "2027-03-20")
    assert done.returncode == 0, done.stderr
    site, place = read(file).site, parse_place(at)
    told = run("check", file).stdout
    # Only what lies at sea, other than about the poles, is doubted.
    at_sea = str(site.timezone).startswith("Etc/") and abs(site.latitude) < 80.0
    assert ("\nNo mistake found.\n" in told) != at_sea
    assert ("lies at sea" in told) == at_sea
    assert (site.latitude, site.longitude) == (place.latitude_deg, place.longitude_deg)
    assert site.elevation == (0.0 if place.elevation_m is None else place.elevation_m)
    assert (site.units == "ft") == (at == "39.8,-89.6")
    assert (site.plan_up, site.plan_up_error) == (0.0, 45.0)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=40), st.text(max_size=40))
def test_any_name_passes(tmp_path_factory: pytest.TempPathFactory, name: str, room: str) -> None:
    try:
        named, roomy = parse_name(name), parse_room(f"{room} 4 x 3 x 2.5", "m")
    except InputError:
        return
    found = made(tmp_path_factory.mktemp("name"), name=named, room=roomy)
    assert found.site.name == named
    assert found.room[0].name == roomy.name


def test_what_is_commented_out_passes_as_well(tmp_path: Path) -> None:
    for units in ("m", "ft"):
        room = parse_room("kitchen 13 x 12 x 9", units)
        head, more = new_report.text(first(units=units, room=room)).split(
            "take the # away to use it."
        )
        used = re.sub(r"^# ?", "", more, flags=re.MULTILINE)
        file = tmp_path / f"{units}.toml"
        file.write_text(head.replace("# elevation", "elevation") + used, encoding="utf-8")
        found = read(file)
        assert found.outside
        assert found.skyline
        assert found.circuit
        assert found.day.lunch is not None
        assert found.site.elevation == 5.0


def test_a_whole_answer(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    done = subprocess.run(
        [sys.executable, "-m", "sunplan", "new", "house.toml", "--place", LOCK,
         "--name", "Lock-keeper's cousin", "--first-room", "kitchen 4.2 x 3.1 x 2.5",
         "--plan-up", "12", "--plan-up-error", "5", "--date", "2027-03-20"],
        capture_output=True, text=True, cwd=tmp_path, stdin=subprocess.DEVNULL, check=True,
    )  # fmt: skip
    note = declination_note(
        latitude_deg=52.0907, longitude_deg=5.1214, elevation_m=0.0, day=date(2027, 3, 20)
    )
    assert done.stderr == ""
    assert " ".join(done.stdout.split()) == (
        "house.toml: written Lock-keeper's cousin: 52.0907° N, 5.1214° E, local time "
        f"(Europe/Amsterdam), lengths in m {note} "
        "Next: put the room right, then sunplan check house.toml --draw rooms.png"
    )
    text = file.read_text(encoding="utf-8")
    assert note in " ".join(text.replace("\n#", "").split())
    assert [one.name for one in tmp_path.iterdir()] == ["house.toml"]
    found = read(file)
    assert found.site.name == "Lock-keeper's cousin"
    assert (found.site.plan_up, found.site.plan_up_error) == (12.0, 5.0)
    assert found.timezone == found.site.timezone == "Europe/Amsterdam"
    assert found.room[0].outline == ((0, 0), (4.2, 0), (4.2, 3.1), (0, 3.1))


def test_the_next_command_is_copied_as_it_stands(tmp_path: Path) -> None:
    """Quoted where its file's name wants that, and on one line however long it is."""
    file = tmp_path / "the cousin's house by the upper lock, as it was measured in spring.toml"
    done = run("new", file, "--place", LOCK, "--date", "2027-03-20")
    command = f'sunplan check "{file}" --draw rooms.png'
    assert f"Next: put the room right, then {command}" in done.stdout.splitlines()


def test_a_town_carries_its_attribution(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    done = run("new", file, "--town", "Springfield, IL", "--date", "2027-03-20")
    assert done.returncode == 0, done.stderr
    credit = "Town: GeoNames (geonames.org), CC BY 4.0"
    assert credit in done.stdout.splitlines()
    text = file.read_text(encoding="utf-8")
    assert f"# {credit}\n" in text
    site = read(file).site
    assert (site.name, site.units, site.timezone) == ("Springfield", "ft", "America/Chicago")
    assert "outline = [[0, 0], [13, 0], [13, 10], [0, 10]]\n" in text
    assert "size = [4, 4]\n" in text
    run("new", file, "--town", "Springfield, IL", "--units", "m", "--force")
    assert read(file).site.units == "m"


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text("mine", encoding="utf-8")
    assert refused("new", file, "--place", LOCK) == (
        f"{file}: exists already; give another name, or --force to replace it\n"
    )
    assert refused("new", file, "--place", "91,5", "--force").startswith("--place")
    assert file.read_text(encoding="utf-8") == "mine"
    assert run("new", file, "--place", LOCK, "--force").returncode == 0
    assert read(file).site.latitude == 52.0907
    assert [one.name for one in tmp_path.iterdir()] == ["house.toml"]


@pytest.mark.parametrize(
    ("args", "says"),
    [
        ((), 'the place is missing; give --place, such as "52.0907,5.1214", or --town\n'),
        (("--place", LOCK, "--town", "Utrecht"), "--place and --town: give one of them\n"),
        (("--place", "52"), f'--place "52": is no place; expected one such as {EXAMPLES}\n'),
        (
            ("--town", "Utrechd"),
            '--town "Utrechd": is no town of over 15 000 people; did you mean "Utrecht, NL"?\n',
        ),
        (
            ("--town", "Paris"),
            '--town "Paris": 2 towns are called so; give one of these:\n'
            '  --town "Paris, FR": region of Paris, France, 2 100 000 people\n'
            '  --town "Paris, US": Texas, United States, 25 000 people\n',
        ),
        (
            ("--place", LOCK, "--name", " "),
            '--name " ": is no name; expected some letters on one line\n',
        ),
        (
            ("--place", LOCK, "--first-room", "kitchen"),
            '--first-room "kitchen": is no room; expected its name, width, depth and height, such '
            'as "room 4 x 3 x 2.5"\n',
        ),
        (
            ("--place", LOCK, "--first-room", "kitchen 4 x 3 x tall", "--units", "ft"),
            '--first-room "kitchen 4 x 3 x tall": is no room; expected its name, width, depth and '
            'height, such as "room 13 x 10 x 8"\n',
        ),
        (
            ("--place", LOCK, "--first-room", "kitchen 4 x 0.3 x 2"),
            '--first-room "kitchen 4 x 0.3 x 2": has a side of 0.3 m; expected 1 m to 100 m each\n',
        ),
        (
            ("--place", LOCK, "--plan-up", "north"),
            '--plan-up "north": is no bearing; expected degrees from true north, 0 to 360, '
            "such as 12\n",
        ),
        (
            ("--place", LOCK, "--plan-up", "361"),
            '--plan-up "361": is no bearing; expected degrees from true north, 0 to 360, '
            "such as 12\n",
        ),
        (
            ("--place", LOCK, "--plan-up", "12", "--plan-up-error", "46"),
            '--plan-up-error "46": is no error of a bearing; expected degrees, 0 to 45, '
            "such as 5\n",
        ),
        (("--place", LOCK, "--plan-up-error", "5"), "--plan-up-error: give --plan-up with it\n"),
        (
            ("--place", LOCK, "--date", "soon"),
            "--date soon: is no date; expected YYYY-MM-DD such as 2026-10-24\n",
        ),
    ],
)
def test_mistakes(args: tuple[str, ...], says: str, tmp_path: Path) -> None:
    assert refused("new", tmp_path / "house.toml", *args) == says
    assert not list(tmp_path.iterdir())


def test_no_place_to_write(tmp_path: Path) -> None:
    assert refused("new", tmp_path, "--place", LOCK) == (
        f"{tmp_path}: is a folder; expected a file to write\n"
    )
    nowhere = tmp_path / "none" / "house.toml"
    assert refused("new", nowhere, "--place", LOCK) == (
        f"{nowhere}: there is no folder {nowhere.parent}; make it first\n"
    )


def test_bearings_and_errors() -> None:
    assert parse_bearing(" 12,5° ") == 12.5
    assert parse_bearing("−10") == 350.0
    assert parse_bearing("360") == 0.0
    assert parse_plan_up(" ") is None
    assert parse_error("0") == 0.0
    for text in ("", "nan", "1e2", "٥", "12 13"):
        with pytest.raises(InputError):
            parse_bearing(text)


def on_a_terminal(folder: Path, *args: str, answers: list[tuple[str, str]]) -> tuple[int, str]:
    """Exit status and all that was shown; each answer is typed once its question stands there."""
    leader, follower = pty.openpty()
    ran = subprocess.Popen(
        [sys.executable, "-m", "sunplan", "new", *args],
        stdin=follower,
        stdout=follower,
        stderr=follower,
        cwd=folder,
        env={**os.environ, "TERM": "dumb", "NO_COLOR": "1"},
    )
    os.close(follower)
    told, end_s = "", time.monotonic() + 60.0
    waiting = list(answers)
    decoder = codecs.getincrementaldecoder("utf-8")(errors="replace")
    seen = 0
    try:
        while time.monotonic() < end_s:
            if not select.select([leader], [], [], 0.2)[0]:
                continue
            try:
                part = os.read(leader, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            told += decoder.decode(part)
            # A question is out as a whole once it ends with its space.
            if waiting and waiting[0][0] in told[seen:] and told.endswith(" "):
                seen = len(told)
                typed = waiting.pop(0)[1]
                if typed == CTRL_C:  # the terminal is not the process's own: it sends no signal
                    time.sleep(0.3)  # one before the process waits is only seen at the next key
                    ran.send_signal(signal.SIGINT)
                else:
                    os.write(leader, typed.encode())
        return ran.wait(timeout=30), told.replace("\r\n", "\n")
    finally:
        ran.kill()
        ran.wait()
        os.close(leader)


def test_asks_on_a_terminal(tmp_path: Path) -> None:
    status, told = on_a_terminal(
        tmp_path,
        "house.toml",
        "--date",
        "2027-03-20",
        answers=[
            ("Where is it", "91,5\n"),
            ("Where is it", "Sao Paulo\n"),
            ("What is it called", "Night shift\n"),
            ("A room to begin with", "\n"),
            ("True bearing", "here\n"),
            ("True bearing", "205\n"),
            ("How far", "\n"),
        ],
    )
    assert status == 0, told
    assert '"91,5": has the latitude 91; expected' in told
    assert "What is it called [São Paulo]: " in told
    assert "width x depth x height in m [room 4 x 3 x 2.5]: " in told
    assert '"here": is no bearing; expected' in told
    assert "± degrees [5]: " in told
    found = read(tmp_path / "house.toml")
    assert found.site.name == "Night shift"
    assert (found.site.plan_up, found.site.plan_up_error) == (205.0, 5.0)
    assert found.timezone == "America/Sao_Paulo"


def test_what_is_given_is_not_asked(tmp_path: Path) -> None:
    status, told = on_a_terminal(
        tmp_path, "house.toml", "--place", LOCK, "--name", "A", "--first-room", "b 4 x 3 x 2.5",
        answers=[("True bearing", "\n")],
    )  # fmt: skip
    assert status == 0, told
    assert "Where" not in told
    assert "How far" not in told
    assert read(tmp_path / "house.toml").site.plan_up_error == 45.0


@pytest.mark.parametrize(
    ("typed", "status", "says"),
    [
        ("\x04", 2, "no answer; nothing was written"),
        (CTRL_C, 130, "interrupted: nothing was written"),
    ],
    ids=["end of input", "Ctrl-C"],
)
def test_questions_can_be_left(typed: str, status: int, says: str, tmp_path: Path) -> None:
    pressed = [("What is it called", typed)]
    found, told = on_a_terminal(tmp_path, "house.toml", "--place", LOCK, answers=pressed)
    assert found == status, told
    assert told.endswith(says + "\n")
    assert not list(tmp_path.iterdir())


def test_a_script_is_never_asked(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    done = run("new", file, "--place", LOCK, stdin="Night shift\n")
    assert done.returncode == 0
    assert done.stderr == ""
    assert read(file).site.name == "house"


def test_other_commands_do_not_load_the_towns() -> None:
    entry = ["entry", "locations/lock-house.toml", "--date", "2027-03-20"]
    for args in (entry, ["new", "--help"]):
        code = (
            "import sys\nfrom sunplan.cli import app\n"
            f"app({args!r}, standalone_mode=False)\n"
            "print('LOADED', [one for one in sys.modules if one in"
            " ('sunplan.survey.towns', 'pygeomag', 'gzip', 'tzfpy')])"
        )
        done = subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            cwd=Path(__file__).parent.parent,
            check=True,
        )
        last = done.stdout.splitlines()[-1]
        assert "towns" not in last, last
        assert "pygeomag" not in last, last
