"""The mains of a place: its country against GeoNames' towns, its figures against norms."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import places
import pytest
from demos import LOCATIONS, MARCH, asked, planned
from inside import command

from sunplan.data import table
from sunplan.errors import LocationError
from sunplan.light.resolved import resolve
from sunplan.location.kit import read_kit
from sunplan.location.mains import usual_mains
from sunplan.location.place import country_at
from sunplan.location.read import Location, read
from sunplan.report.circuits import usual
from sunplan.rig.electrical_load import CONTINUOUS, load
from sunplan.survey.towns import find, towns
from sunplan.write import sheet
from sunplan.write.page import data

SEA = 40.0, -40.0  # the middle of the North Atlantic
ROWS = table("mains")["mains"]


def country(town: str) -> str | None:
    place = find(town)
    return country_at(latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg)


def moved(folder: Path, spot: tuple[float, float], **more: Any) -> Location:
    """The bare place elsewhere, with a lamp of 1500 W; its clock is found there."""
    raw = places.bare()
    raw["location"] |= {"latitude": spot[0], "longitude": spot[1]} | more
    raw["location"].pop("timezone", None)
    lamp = {"name": "stove", "at": [1.0, 1.0], "height": 1.0, "shade": [0.2, 0.2], "lumens": 300}
    raw["room"][0]["practical"] = [{**lamp, "watts": 1500}]
    return places.made(raw, folder)


def test_country_of_every_town() -> None:
    """GeoNames tells the country of 34 006 towns by maps of its own. Those that differ, 39 of them,
    lie on borders, or where a border is disputed (Kosovo 21, the West Bank 7)."""
    wrong = Counter(
        (town.country_code, code)
        for town in towns()
        if (code := country_at(latitude_deg=town.latitude_deg, longitude_deg=town.longitude_deg))
        != town.country_code
    )
    assert sum(wrong.values()) <= 45
    assert wrong.pop(("XK", "RS")) <= 21
    assert max(wrong.values()) <= 5


@pytest.mark.parametrize(
    ("town", "code"),
    [
        ("Hanoi", "VN"),  # keeps the time of Bangkok, by tzdata in a zone of Thailand
        ("Vientiane", "LA"),
        ("Udon Thani", "TH"),
        ("San Juan, PR", "PR"),  # overseas territories have codes, and mains, of their own
        ("Willemstad, CW", "CW"),
        ("Saint-Denis, RE", "RE"),
        ("Nouméa", "NC"),
        ("Gibraltar", "GI"),
        ("Tórshavn", "FO"),
        ("Belfast, GB", "GB"),
        ("Basel", "CH"),  # at two borders
        ("Weil am Rhein", "DE"),
        ("Strasbourg, FR", "FR"),
        ("Niagara Falls, CA", "CA"),
    ],
)
def test_countries_that_a_clock_alone_mixes_up(town: str, code: str) -> None:
    assert country(town) == code


def test_no_country_twice() -> None:
    codes = [code for row in ROWS for code in row["countries"]]
    assert len(codes) == len(set(codes))
    # All that have towns, but Western Sahara, North Korea, two capitals of some dozens, and Kosovo,
    # which has no code in ISO 3166.
    assert {town.country_code for town in towns()} - set(codes) == {"EH", "KP", "GS", "PN", "XK"}


@pytest.mark.parametrize(
    ("codes", "volts"),
    [
        # IEC 60038:2009, table 1: 230 V at 50 Hz in all of Europe (CENELEC HD 472 S1), Australia
        # and New Zealand (AS 60038, NZ regulations), South Africa (SANS 1019), India (IS 12360).
        ("AT BE BG CH CY CZ DE DK EE ES FI FR GB GR HR HU IE IT LT LU LV MT NL NO PL PT RO SE SI "
         "SK AU NZ ZA IN", 230),
        ("US CA PR", 120),  # IEC 60038, table 1: 120/240 V at 60 Hz; ANSI C84.1
        ("JP", 100),  # its Electricity Business Act: 101 V ± 6 V
    ],
)  # fmt: skip
def test_nominal_volts(codes: str, volts: float) -> None:
    """The standards' values are from memory."""
    known = {code: row["volts"] for row in ROWS for code in row["countries"]}
    assert {code: known[code] for code in codes.split()} == dict.fromkeys(codes.split(), volts)


@pytest.mark.parametrize(
    ("codes", "amps"),
    [
        ("US CA MX", 15),  # NEMA 5-15R; NEC table 210.24: 15 A branch circuits
        ("GB IE SG HK MY", 13),  # BS 1363: the largest fuse of a plug
        ("DE NL AT FR ES KR", 16),  # CEE 7/3 and 7/5
        ("AU NZ AR CN BR CH", 10),  # AS/NZS 3112, IRAM 2073, GB 2099, NBR 14136, SN 441011 type 13
        ("JP", 15),  # JIS C 8303
        ("ZA IL", 16),  # SANS 164-1, SI 32
        ("IN", 6),  # IS 1293: the smaller of its two
    ],
)
def test_no_more_than_a_socket_gives(codes: str, amps: float) -> None:
    """Rated currents of the usual socket by national standards; the values are from memory."""
    known = {code: row["amps"] for row in ROWS for code in row["countries"]}
    assert {code: known[code] for code in codes.split()} == dict.fromkeys(codes.split(), amps)


def test_nothing_is_less_than_what_is_assumed_where_nothing_is_known() -> None:
    """The least watts but for the small supplies of one country, which are told as such."""
    unknown = table("mains")["unknown"]
    least = unknown["amps"] * unknown["volts"]
    below = [row["countries"] for row in ROWS if row["amps"] * row["volts"] < least]
    assert below == [["ID"]]


def test_four_fifths() -> None:
    """NEC 210.20(A): a breaker of no less than 125 % of the continuous load."""
    assert pytest.approx(1 / 1.25) == CONTINUOUS
    assert {code for row in ROWS if row.get("by_code") for code in row["countries"]} >= {"US", "CA"}


@pytest.mark.parametrize(
    ("name", "amps", "volts", "watts", "country"),
    [
        ("lock-house", 16, 230, 2944, "the Netherlands"),
        ("ferry-shop", 10, 230, 1840, "Australia"),
        ("gate-house", 15, 120, 1440, "the United States"),
    ],
)
def test_demos(name: str, amps: float, volts: float, watts: float, country: str) -> None:
    """What is assumed, why, and what it is planned with, wherever a load or a lamp is told."""
    location, file = read(LOCATIONS / f"{name}.toml"), str(LOCATIONS / f"{name}.toml")
    assert (location.mains.amps, location.mains.volts) == (amps, volts)
    outputs = {
        asked[0]: " ".join(command(*asked).stdout.split())
        for asked in (
            ("check", file),
            ("key", file),
            ("ask", file),
        )
    }
    packed = asked(name, "pack", date=MARCH.isoformat())
    outputs["pack"] = " ".join(str(packed).split())
    assert f"we plan on {amps} A, {volts} V" in outputs.pop("ask")
    day = planned(name, MARCH)
    outputs["sheet"] = " ".join(sheet.figures(day)["cover"]["mains"])
    for words in (*outputs.values(), " ".join(card_lines(data(day)))):
        assert f"one {amps} A, {volts} V " in words
        assert f", as usual in {country}; planned at 80 %" in words
        assert f": {watts} W" in words
    mains = packed.answer["mains"]
    assert (mains["amps"], mains["volts"], mains["allowed_watts"]) == (amps, volts, watts)


def card_lines(page: dict[str, Any]) -> list[str]:
    """What the page says of a lamp, setup by setup."""
    lines = [line["say"] for card in page["setups"] for line in card["lamp"] if "say" in line]
    return [line for line in lines if isinstance(line, str)]


def test_what_fits_on_one_side_of_the_ocean_only(tmp_path: Path) -> None:
    """1500 W go on a socket in Amsterdam, not in Vermont: 60 W over the 1440 W of 15 A at 120 V."""
    for spot, over in (((52.37, 4.9), 0.0), ((44.48, -73.21), 60.0)):
        location = moved(tmp_path, spot)
        (setup,) = resolve(location)
        shared = load(location, setup)
        assert shared.assumed
        assert shared.over_watts == pytest.approx(over)


def test_at_sea(tmp_path: Path) -> None:
    location = moved(tmp_path, SEA)
    assert location.mains.country is None
    said = " ".join(command("check", location.file).stdout.split())
    assert "named: 10 A at 100 V, the least there is anywhere, as the mains of this place" in said
    assert said.count("not known; planned at 80 %, a margin: 800 W") == 1


def test_a_clock_of_another_country_changes_no_volts(tmp_path: Path) -> None:
    """A house in Basel whose file names the clock of Berlin keeps Swiss sockets."""
    raw = places.bare()
    raw["location"] |= {"latitude": 47.555, "longitude": 7.589, "timezone": "Europe/Berlin"}
    assert places.made(raw, tmp_path).mains.country == "Switzerland"


def test_named_circuits_are_not_assumed(tmp_path: Path) -> None:
    """What the file names holds; only rooms that it leaves out are told as assumed."""
    raw = places.bare()
    raw["circuit"] = [{"name": "ring", "amps": 32, "volts": 240, "rooms": ["room"]}]
    said = command("check", places.made(raw, tmp_path).file).stdout
    assert "assumed" not in said
    another = {**raw["room"][0], "name": "hall", "opening": [], "mark": []}
    another["outline"] = [[x + 9.0, y] for x, y in another["outline"]]
    raw["room"].append(another)
    said = command("check", places.made(raw, tmp_path).file).stdout
    assert "assumed, no circuit named for hall: one 16 A" in said


def test_a_kit_says_no_mains(tmp_path: Path) -> None:
    """The socket is the house's, not the crew's: one kit goes to many countries."""
    kit = tmp_path / "kit.toml"
    kit.write_text('name = "ours"\n[mains]\namps = 16\nvolts = 230\n', encoding="utf-8")
    with pytest.raises(LocationError, match="mains"):
        read_kit(kit)


def test_a_name_with_the() -> None:
    told = usual(usual_mains(latitude_deg=14.6, longitude_deg=121.0))
    assert "as usual in the Philippines" in told
