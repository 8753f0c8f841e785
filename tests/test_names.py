"""Names come out as they were written, in every output: whatever signs they are made of.

The same house is told twice, once with plain names and once with names of signs that mean something
to a terminal's markup, to HTML, to TeX, to typst, to a spreadsheet or to a shell. Each output must
be the one with the odd names put in the place of the plain ones: nothing swallowed, nothing run.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import tomllib
import unicodedata
from collections.abc import Iterator
from functools import cached_property
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import icalendar
import places
import pypdf
import pytest
from browser import launched, opened
from hypothesis import given, settings
from hypothesis import strategies as st
from inside import command
from playwright.sync_api import sync_playwright
from rich.console import Console

from sunplan import api
from sunplan.day.plan import Plan
from sunplan.location.kit import read_kit
from sunplan.location.read import Location
from sunplan.report import kit as kit_report
from sunplan.report.document import Document, Line, Section, Table
from sunplan.survey.questions import sheet as sheet_of
from sunplan.write import calendar, folder, page, sheet, terminal
from sunplan.write.form_files import write as write_form
from sunplan.write.pictures import save

DAY = "2027-03-20"
SIGNS = (
    "window [left]",
    "x [/] y",
    "$g$ $\\frac{h}{2}$",
    "*b* **c**",
    "🔥 s",
    "_c_ __d__",
    "שלום t",
    "=1+2",
    "[bold]b[/bold]",
    "</script><!--",
    "\u200fu \u202ev\u202c",
    "# d",
    "<i>e</i>",
    "{a} {0} {{",
    "&amp; f &",
    "[link=a]b",
    "j | k",
    "l\\n \\[m",
    "\"n\" 'o' `p`",
    "+3-4",
    "@q ;,",
    ":fire: r",
    "%s %(a)s",
    "--force",
    "~ //w",
)
# The body's text but for that of its scripts, one of which holds all names.
SHOWN = """() => {
  const body = document.body.cloneNode(true);
  for (const script of body.querySelectorAll("script")) script.remove();
  return body.textContent;
}"""
KIT = "the [kit]"  # a file's name, which may hold less
ODD = [
    f"{SIGNS[number % len(SIGNS)]} {SIGNS[(2 * number + 11) % len(SIGNS)]} {number}"
    for number in range(60)
]
# In the same order: what is sorted by name stays where it is.
PLAIN = [f"q{sorted(ODD).index(name):02}q" for name in ODD]


def quoted(value: Any) -> str:
    """A value as TOML takes it, which for texts, numbers and lists is as JSON does."""
    return json.dumps(value, ensure_ascii=False)


class House:
    """A house with plain names or odd ones, and what stands for what."""

    def __init__(self, at: Path, *, odd: bool) -> None:
        self.odd, self.at = odd, at
        self.names: dict[str, str] = {}  # what stands in each plain name's place
        self.file = places.written(self._raw(), at)

    def name(self) -> str:
        """The next name."""
        number = len(self.names)
        self.names[PLAIN[number]] = (ODD if self.odd else PLAIN)[number]
        return self.names[PLAIN[number]]

    def _raw(self) -> dict[str, Any]:
        raw = places.bare()
        raw["location"] |= {"name": self.name(), "plan_up_error": 1.0}
        raw["day"] = {"call": "11:00", "wrap": "17:30"}
        room, setup = raw["room"][0], raw["setup"][0]
        wall, mark = room["opening"][0], room["mark"][0]
        room["name"] = setup["room"] = self.name()
        wall |= {"name": self.name(), "size_error": 0.0}
        room["opening"] = [
            wall | {"size": [1.5, 1.2]},
            wall | {"name": self.name(), "wall": "D", "along": 0.4},
            {"name": self.name(), "ceiling": True, "at": [3, 1], "size": [0.8, 0.8]},
        ]
        room["mark"] = [
            mark | {"name": self.name(), "place_error": 0.0},
            mark | {"name": self.name(), "at": [3.2, 2.2]},
        ]
        room["practical"] = [
            {"name": self.name(), "at": [0.3, 0.3], "height": 1.5}
            | {"shade": [0.2, 0.2], "lumens": 400}
        ]
        raw["outside"] = [
            {"name": self.name(), "at": [9, -9], "size": [5, 5, 9], "size_error": 0.0}
        ]
        raw["circuit"] = [{"name": self.name(), "amps": 6, "volts": 230, "rooms": [room["name"]]}]
        things = self._kit()
        setup |= {"name": self.name(), "plays": "day", "mark": room["mark"][0]["name"], "kit": KIT}
        setup["camera"]["toward"] = wall["name"]
        setup["key"] = {"lamp": things["lamp"], "frame": things["frame"], "height": 2.0}
        setup["key"]["from"] = [0.6, 2.4]
        raw["setup"].append(
            {"name": self.name(), "outside": True, "at": [2, -4], "plays": "night"}
            | {"camera": {"bearing": 200, "height": 1.5, "view": [40, 23]}, "minutes": 20}
            | {"exposure": {"iso": 1600, "stop": 2.0}}
        )
        return raw

    def _kit(self) -> dict[str, str]:
        """Write the package's own kit, everything in it renamed; the first of each kind."""
        kit = tomllib.loads((files("sunplan.data") / "kit.toml").read_text(encoding="utf-8"))
        first: dict[str, str] = {}
        lines = [f"name = {quoted(self.name())}"]
        for kind, things in kit.items():
            for thing in things if isinstance(things, list) else ():
                thing["name"] = self.name()
                first.setdefault(kind, thing["name"])
                lines += [f"[[{kind}]]"]
                lines += [f"{key} = {quoted(value)}" for key, value in thing.items()]
        self.kit = self.at / "shared" / "kits" / f"{KIT}.toml"
        self.kit.parent.mkdir(parents=True)
        self.kit.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return first

    def instead(self, text: str) -> str:
        """A text of the plain house with this house's names in it."""
        return re.sub("q[0-9]{2}q", lambda found: self.names[found[0]], text)

    def within(self, value: Any) -> Any:
        """What JSON holds of the plain house with this house's names in it."""
        if isinstance(value, dict):
            return {self.instead(key): self.within(each) for key, each in value.items()}
        if isinstance(value, list):
            return [self.within(each) for each in value]
        return self.instead(value) if isinstance(value, str) else value

    @cached_property
    def location(self) -> Location:
        return api.read(self.file)

    @cached_property
    def day(self) -> api.Result[Plan]:
        return api.plan(self.location, DAY, sky="clear")

    @cached_property
    def results(self) -> dict[str, api.Result[Any]]:
        """Of every command that has one; `plan` has what several of them say."""
        place = self.location
        return {
            "check": api.check(place),
            "plan": self.day,
            "gap": api.gap(place, DAY, at="15:00"),
            "hours": api.hours(place, DAY, from_="15:00", to="15:15"),
            "negfill": api.negfill(place, DAY, "15:00"),
            "blackout": api.blackout(place, DAY, from_="15:00", to="15:15"),
        }

    def told(self) -> Iterator[tuple[str, str]]:
        """All that commands print for people."""
        for name, result in self.results.items():
            yield name, wide(result.document)
        yield "why", wide(api.why(self.location, DAY, "15:00"))
        yield "kit", wide(kit_report.report(read_kit(self.kit)))


def wide(document: Document) -> str:
    """As printed on so wide a paper that nothing is folded."""
    file = io.StringIO()
    terminal.show(document, "m", Console(file=file, width=10_000))
    return file.getvalue()


def folded(text: str) -> str:
    """Without blanks and the rules under tables, whose lengths hang on the names."""
    return unicodedata.normalize("NFC", re.sub(r"[\s─]+", "", text))


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("plain"), odd=False)


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("odd"), odd=True)


def mangled(odd: House, expected: str, text: str, *, marks: bool = True) -> list[str]:
    """Names that the plain house's text has and that this one lacks.

    Without `marks`, the marks of writing directions do not count: on paper they leave no trace.
    """

    def said(text: str) -> str:
        letters = text if marks else (one for one in text if unicodedata.category(one) != "Cf")
        return folded("".join(letters))

    shown = [name for name in odd.names if name in expected]
    assert len(shown) >= 4
    return [odd.names[name] for name in shown if said(odd.names[name]) not in said(text)]


def test_text(plain: House, odd: House) -> None:
    """Each name with all that stands round it; what would turn its direction is told by number."""
    marks = str.maketrans({mark: f"\\u{ord(mark):04x}" for mark in "\u202e\u202c"})
    said = set()
    for (name, expected), (_, text) in zip(plain.told(), odd.told(), strict=True):
        said |= {plain_name for plain_name in plain.names if plain_name in expected}
        assert folded(text) == folded(odd.instead(expected).translate(marks)), name
    assert len(said) == len(plain.names)


def test_notebooks(plain: House, odd: House) -> None:
    """Names are no tags and no entities there, and nothing of a formula: told to be left alone."""
    for name, result in odd.results.items():
        shown = Texts(result._repr_html_())
        expected = Texts(plain.results[name]._repr_html_())
        marks = str.maketrans({mark: f"\\u{ord(mark):04x}" for mark in "\u202e\u202c"})
        assert folded(shown.text) == folded(odd.instead(expected.text).translate(marks)), name
        assert shown.tags == expected.tags, name


class Texts(HTMLParser):
    """What a piece of HTML says, and its tags."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text, self.tags = "", list[str]()
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(f"{tag} {attrs}")

    def handle_data(self, data: str) -> None:
        self.text += data


def test_readings_and_answers(plain: House, odd: House, monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands that take names in what they are given; the owner's answers go into the file."""
    monkeypatch.setattr(terminal, "WIDTH", 10_000)
    told = []
    for house in (plain, odd):
        room = house.location.room[0]
        file = Path(shutil.copy(house.file, house.at / "answered.toml")).name
        first, *_ = sheet_of(house.location).questions()
        rows = f"id,answer\n{first.id},about 4.2 m\n"
        (house.at / "answers.csv").write_text(rows, encoding="utf-8")
        told.append(
            "".join(
                command(*arguments, cwd=house.at).stdout
                for arguments in (
                    ("bearing", file, "--compass", f"{room.name} A: 92"),
                    ("ask", file),
                    ("ask", file, "--fill", "answers.csv"),
                )
            )
        )
    assert len(told[0]) > 5000
    assert folded(told[1]) == folded(odd.instead(told[0]))


@settings(derandomize=True, max_examples=200)
@given(st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp", "Zs"))))
def test_any_text(name: str) -> None:
    """A heading, a line, an item and a cell, on a wide paper and on a narrow one."""
    blocks = [Section("", f"h {name}", [f"a {name}", Line(name, [name], number=1)])]
    document = Document(name, [*blocks, Table(("name", "at"), [(name, f"{name} b")])])
    expected = [name, f"h{name}", f"a{name}", f"1.{name}", name, "nameat", f"{name}{name}b"]
    assert folded(wide(document)) == folded("".join(expected))
    narrow = Document(name, blocks)
    assert folded(terminal.text(narrow, "m")) == folded("".join(expected[:5]))


def test_json_and_csv(plain: House, odd: House) -> None:
    for name, result in odd.results.items():
        expected = plain.results[name]
        assert result.answer == odd.within(expected.answer), name
        rows = [list(csv.reader(io.StringIO(one.csv))) for one in (result, expected)]
        assert rows[0] == odd.within(rows[1]), name


def test_calendar(plain: House, odd: House) -> None:
    """Read back with icalendar."""

    def events(house: House) -> list[Any]:
        made = icalendar.Calendar.from_ical(calendar.calendar(house.day.value))
        keys = ("summary", "description", "location")
        return [[str(event.get(key)) for key in keys] for event in made.walk("VEVENT")]

    assert len(events(plain)) > 5
    assert events(odd) == odd.within(events(plain))


def test_page(plain: House, odd: House, tmp_path: Path) -> None:
    """The data in it, and what a browser makes of that."""
    pages = [page.html(house.day.value) for house in (plain, odd)]
    data = re.compile('<script type="application/json" id="data">(.*?)</script>', re.S)
    expected, found = (json.loads(data.findall(text)[0]) for text in pages)
    # Drawings are SVG, laid out anew for each name: the browser says below what they show.
    for whole in (expected, found):
        for kind in ("rooms", "setups", "outdoors"):
            for one in whole[kind]:
                one.pop("drawings", None)
    assert found == odd.within(expected)
    said = []
    with sync_playwright() as playwright:
        browser = launched(playwright)
        for text in pages:
            file = tmp_path / "plan.html"
            file.write_text(text, encoding="utf-8")
            with opened(browser, file) as shown:
                assert shown.locator("script").count() == 2
                said.append(shown.evaluate(SHOWN))
        browser.close()
    assert mangled(odd, *said) == []


def test_paper(plain: House, odd: House, tmp_path: Path) -> None:
    """The sheet and the owner's form, read back with pypdf."""

    def words(file: Path) -> str:
        return folded("".join(one.extract_text() for one in pypdf.PdfReader(file).pages))

    file, said = tmp_path / "paper.pdf", {}
    for house in (plain, odd):
        sheet.write(house.day.value, file)
        said["sheet", house.odd] = words(file)
        write_form(house.location, sheet_of(house.location), [file], force=True)
        said["form", house.odd] = words(file)
    for kind in ("sheet", "form"):
        assert mangled(odd, said[kind, False], said[kind, True], marks=False) == []


def test_pictures(plain: House, odd: House, tmp_path: Path) -> None:
    """The texts of SVGs; of PNGs they are the same."""

    def words(house: House, kind: str, which: str) -> str:
        save(folder._figure(house.day.value, kind, which), tmp_path / "a.svg")
        drawn = ElementTree.parse(tmp_path / "a.svg")
        texts = drawn.iter("{http://www.w3.org/2000/svg}text")
        return "".join("".join(text.itertext()) for text in texts)

    kinds = set()
    for kind, which in folder._pictures(plain.day.value):
        kinds.add(kind)
        expected, text = words(plain, kind, which), words(odd, kind, odd.names.get(which, which))
        assert mangled(odd, expected, text) == [], kind
    assert kinds == {"rooms", "day", "sun", "gap", "flags"}
