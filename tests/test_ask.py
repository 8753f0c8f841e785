"""What a house's owner is asked, and their answers in the file: byte by byte, and by tomllib."""

from __future__ import annotations

import csv
import io
import json
import math
import subprocess
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
import typst
from fontTools.fontBuilder import FontBuilder
from inside import command
from places import bare, written
from pypdf import PdfReader

from sunplan.draw.layout import fitted, lay_out
from sunplan.draw.scene import room_scene
from sunplan.errors import InputError
from sunplan.location.model import wall_letter
from sunplan.location.read import read
from sunplan.report.corrections import report
from sunplan.report.document import Document
from sunplan.survey.corrections import Corrections, corrections
from sunplan.survey.questions import sheet
from sunplan.survey.replies import COLUMNS
from sunplan.write import form, terminal, typeset
from sunplan.write.form import APART, LETTERS_APART_PT, LETTERS_PT, MARGINS_PT, TOGETHER, Paper
from sunplan.write.form_files import write
from sunplan.write.location_file import write_corrections as put
from sunplan.write.message import message as written_message

ROOT = Path(__file__).parent.parent
DEMOS = ("lock-house", "gate-house", "ferry-shop")
SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}  # ISO 216 and ANSI A, in points
INCH_M = 0.0254
MM = 25.4 / 72.0  # of a point


def plain(document: Document) -> str:
    return terminal.text(document, "m")


def demo(name: str, folder: Path) -> Path:
    """A demo without its kit, to write into."""
    file = folder / f"{name}.toml"
    text = (ROOT / "locations" / file.name).read_bytes()
    file.write_bytes(text.replace(b'kit = "van"', b"# its kit stays at home"))
    return file


def answered(folder: Path, answers: Mapping[str, str], *, sign: str = ",", head: str = "") -> Path:
    """A sheet with an answer for each of these ids, as a spreadsheet saves it."""
    out = io.StringIO()
    rows = csv.writer(out, delimiter=sign)
    rows.writerow(COLUMNS)
    for ident, answer in answers.items():
        rows.writerow((ident, "", "", "", answer, ""))
    file = folder / "answers.csv"
    file.write_text(head + out.getvalue(), encoding="utf-8", newline="")
    return file


def fill(file: Path, answers: Path) -> Corrections:
    location = read(file)
    found = corrections(location, answers)
    put(location, found)
    return found


def replaced(file: Path, *pairs: tuple[str, str]) -> bytes:
    """A file's bytes with each of these texts, which stand in it once, become another."""
    text = file.read_bytes()
    for old, new in pairs:
        assert text.count(old.encode()) == 1, old
        text = text.replace(old.encode(), new.encode())
    return text


# The form


@pytest.mark.parametrize("name", DEMOS)
def test_the_message_names_every_wall_and_opening(name: str) -> None:
    location = read(ROOT / "locations" / f"{name}.toml")
    asked = sheet(location)
    message = written_message(location, asked)
    assert max(map(len, message.splitlines())) <= 80
    boxes = message.split()
    for one in asked.questions():
        assert one.id in boxes or f"{one.id}:" in boxes, one.id
    for number, room in enumerate(location.room, start=1):
        assert f"Room {number}: {room.name}\n" in message
        assert all(f"{number}{wall_letter(at)}" in boxes for at in range(len(room.outline)))
        assert all(f": {opening.name}, in " in message for opening in room.opening)
    for warning in ("do not climb", "not go on a roof", "Never look at the sun", "touch no switch"):
        assert warning in " ".join(message.split())


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("paper", SIZES)
def test_the_printed_form(name: str, paper: str, tmp_path: Path) -> None:
    """By pypdf: paper, pages, every font embedded, every box's name in the text."""
    location = read(ROOT / "locations" / f"{name}.toml")
    asked, file = sheet(location), tmp_path / "form.pdf"
    assert write(location, asked, [file], paper=paper) == f"{file}: written\n"
    pages = PdfReader(file).pages
    assert len(pages) == (2 if paper == "letter" and name != "gate-house" else 1)
    words: set[str] = set()
    for page in pages:
        assert [float(page.mediabox.width), float(page.mediabox.height)] == pytest.approx(
            SIZES[paper], abs=0.1
        )
        words |= set(page.extract_text().replace(":", " ").replace(",", " ").split())
        for font in page["/Resources"]["/Font"].values():
            (inner,) = font.get_object()["/DescendantFonts"]
            descriptor = inner.get_object()["/FontDescriptor"].get_object()
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)
    assert {one.id for one in asked.questions()} <= words
    again = tmp_path / "again.pdf"
    write(location, asked, [again], paper=paper)
    assert again.read_bytes() == file.read_bytes()


def test_many_rooms_go_on_pages_of_their_own(tmp_path: Path) -> None:
    raw = bare()
    for number in range(2, 9):
        raw["room"].append({**raw["room"][0], "name": f"room {number}"})
    location = read(written(raw, tmp_path))
    write(location, sheet(location), [tmp_path / "form.pdf"])
    pages = [page.extract_text() for page in PdfReader(tmp_path / "form.pdf").pages]
    assert len(pages) > 2
    for number in range(1, 9):  # whole, on one page
        assert sum(f"Room {number}:" in page and f"b{number}" in page for page in pages) == 1


def test_a_room_without_an_opening_is_asked_for(tmp_path: Path) -> None:
    raw = bare()
    del raw["room"][0]["opening"], raw["setup"]
    location = read(written(raw, tmp_path))
    write(location, sheet(location), [tmp_path / "form.pdf", tmp_path / "form.txt"])
    assert "how wide" not in (tmp_path / "form.txt").read_text(encoding="utf-8")
    assert "1top" in PdfReader(tmp_path / "form.pdf").pages[0].extract_text()


@pytest.mark.parametrize("margin_pt", [14.0, 16.0, 17.0, MARGINS_PT[0], 22.0, 24.0])
@pytest.mark.parametrize("sizes", [TOGETHER, APART])
@pytest.mark.parametrize(
    "outline",
    [
        *(
            [[0, 0], [6, 0], [6, 5 - n], [6 - n, 5 - n], [6 - n, 5], [0, 5]]
            for n in (0.4, 1, 2.2, 3)
        ),
        [[0, 0], [6.2, 0], [6.2, 3.4], [4.0, 3.4], [4.0, 5.6], [0, 5.6]],
        [[0, 0], [12, 0], [12, 9], [11, 9], [11, 8], [10, 8], [10, 9], [0, 9]],
        [[0, 0], [6, 0], [6, 5], [3.4, 5], [3.4, 4.6], [2.2, 4.6], [2.2, 5], [0, 5]],
    ],
)
def test_letters_do_not_touch(
    outline: list[list[float]], sizes: Paper, margin_pt: float, tmp_path: Path
) -> None:
    """By shapely: letters as 3 mm squares, walls as lines of 0.5 mm, numbers as discs of 3.7 mm."""
    raw = bare()
    raw["room"][0]["outline"] = outline
    raw["room"][0]["opening"][0] |= {"wall": "A", "along": 0.4}
    location = read(written({key: raw[key] for key in ("location", "room")}, tmp_path))
    room = location.room[0]
    scene = room_scene(location, room, numbers={"window": "1"}, marks=(), practicals=False)
    height_mm = 5.0 * (sizes.wide_mm - 2 * margin_pt * MM) / 6.0 + 2 * margin_pt * MM
    size = sizes.wide_mm / MM, height_mm / MM
    frame = fitted(scene.bounds(), *size, (margin_pt,) * 4)
    drawing = lay_out(scene, frame, LETTERS_PT, apart_pt=LETTERS_APART_PT)
    spots = {
        kind: [MM * text.middle for text in drawing.texts if text.label.kind == kind]
        for kind in ("wall", "opening")
    }

    def at(points: Sequence[Sequence[float]]) -> np.ndarray:
        return MM * drawing.frame.put(np.array(points))

    assert len(spots["wall"]) == len(outline)
    letters = [shapely.box(x - 1.5, y - 1.3, x + 1.5, y + 1.3) for x, y in spots["wall"]]
    ring = shapely.LinearRing(at(room.outline))
    (number,) = spots["opening"]
    others = [ring.buffer(0.25), shapely.Point(number).buffer(1.85)]
    wide_mm, high_mm = MM * drawing.frame.width_pt, MM * drawing.frame.height_pt
    for index, letter in enumerate(letters):
        assert not any(letter.intersects(one) for one in [*others, *letters[index + 1 :]]), index
        assert letter.distance(shapely.LineString(at(room.wall(index)))) < 7.0
        assert shapely.box(0, 0, wide_mm, high_mm).contains(letter)


def test_a_note_tells_letters_that_no_font_has(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    notes: list[str] = []
    monkeypatch.setattr(typeset, "note", notes.append)
    location = read(ROOT / "locations" / "lock-house.toml")
    figures = {**form._figures(location, sheet(location), TOGETHER), "title": "łuk 水 月"}
    monkeypatch.setattr(typst, "Fonts", lambda: SimpleNamespace(fonts=list))
    typeset.typeset("form.typ", figures, "a4", tmp_path / "form.pdf")
    assert notes == ["form.pdf: 月 水 are drawn as boxes; no font here has them"]
    builder = FontBuilder(1000)
    builder.setupGlyphOrder([".notdef", "water"])
    builder.setupCharacterMap({ord("水"): "water"})
    builder.save(tmp_path / "water.ttf")
    font = SimpleNamespace(path=tmp_path / "water.ttf", index=0)
    monkeypatch.setattr(typst, "Fonts", lambda: SimpleNamespace(fonts=lambda: [font]))
    assert typeset.missing("łuk 水 月") == ["月"]


# The answers


@pytest.mark.parametrize("name", DEMOS)
def test_the_files_own_values_change_no_byte(name: str, tmp_path: Path) -> None:
    file = demo(name, tmp_path)
    before = file.read_bytes()
    location = read(file)
    write(location, sheet(location), [tmp_path / "answers.csv"])
    answers = tmp_path / "answers.csv"
    rows = list(csv.DictReader(io.StringIO(answers.read_text(encoding="utf-8-sig"))))
    assert list(rows[0]) == list(COLUMNS)
    own = {row["id"]: row["now"] for row in rows if row["now"]}
    found = fill(file, answered(tmp_path, own))
    assert (found.changes, found.contradicted, found.same > 20) == ([], [], True)
    assert file.read_bytes() == before


def test_answers_change_their_own_bytes(tmp_path: Path) -> None:
    """Wall A is 3.2 m: the left edge 1 m from its left corner, 1.12 m wide, is 1.08 m along."""
    file = demo("lock-house", tmp_path)
    old = tomllib.loads(file.read_text(encoding="utf-8"))
    given = {"w1": "1,12 m", "c1": "100cm", "u1": "", "d3": '10 1/2"', "k2": "2400 K"}
    expected = replaced(
        file,
        (
            "along = 0.9\n  sill = 1.0\n  size = [1.1,",
            "along = 1.08\n  sill = 1.0\n  size = [1.12,",
        ),
        (
            "size = [1.4, 1.2]\n  depth = 0.25",
            f"size = [1.4, 1.2]\n  depth = {10.5 * INCH_M:.4f}",
        ),
        ("  lumens = 470\n", "  lumens = 470\n  balance = 2400\n"),
    )
    found = fill(file, answered(tmp_path, given, sign=";", head="\ufeff"))
    assert file.read_bytes() == expected
    assert len(found.changes) == 4
    new = tomllib.loads(file.read_text(encoding="utf-8"))
    old["room"][0]["opening"][0] |= {"along": 1.08, "size": [1.12, 1.2]}
    old["room"][1]["opening"][0]["depth"] = 0.2667
    old["room"][1]["practical"][0]["balance"] = 2400
    assert new == old


def test_a_rectangles_corners_move(tmp_path: Path) -> None:
    """The first corner stays; a file's clockwise outline keeps its own order."""
    file = demo("lock-house", tmp_path)
    clockwise = "outline = [[0, 0], [0, 2.4], [3.2, 2.4], [3.2, 0]]"
    file.write_bytes(
        replaced(file, ("outline = [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]", clockwise))
    )
    given = {"1A": "3.32", "1C": "3.33", "1B": "2.5", "1D": "2.6", "2A": "5.72 m"}
    expected = replaced(file, (clockwise, "outline = [[0, 0], [0, 2.4], [3.325, 2.4], [3.325, 0]]"))
    found = fill(file, answered(tmp_path, given))
    assert file.read_bytes() == expected
    assert found.contradicted == [
        "gauge room: wall B is 2.5 m, wall D across from it 2.6 m; the file has both the same, and "
        "keeps them as they are",
        "kitchen: wall A: the file has 5.6 m, measured 5.72 m; its outline is no plain rectangle "
        "and stays as it is",
    ]


def test_a_skylight_from_two_walls(tmp_path: Path) -> None:
    """The office's corner is at 5.6, 1.0: 1.5 m from wall A is y = 2.5, 1.9 m from D x = 7.5."""
    file = demo("ferry-shop", tmp_path)
    expected = replaced(
        file,
        ("at = [7.3, 2.7]", "at = [7.5, 2.5]"),
        ("size = [1.0, 0.7]", "size = [1.1, 0.7]"),
    )
    fill(file, answered(tmp_path, {"m4": "1,5", "n4": "1,9", "w4": "1,1"}))
    assert file.read_bytes() == expected


def test_feet(tmp_path: Path) -> None:
    """Text stays text where it was said so; 3 ft 8 in of 14 ft, 4 ft wide, leave 6 ft 4 in."""
    file = demo("gate-house", tmp_path)
    given = {"w1": "4 ft", "c1": "3 ft 8", "u2": "3'2\"", "1top": "8 ft 6 in"}
    expected = replaced(
        file,
        ('along = "4 ft 6 in"', f"along = {14 - 44 / 12 - 4:.4f}"),
        ('size = ["3 ft",', 'size = ["4 ft",'),
        ("sill = 3\n", f"sill = {38 / 12:.4f}\n"),
        ('height = "8 ft 4 in"', 'height = "8 ft 6 in"'),
    )
    fill(file, answered(tmp_path, given))
    assert file.read_bytes() == expected
    assert read(file).room[0].opening[0].along == pytest.approx(
        (14 * 12 - 44 - 48) * INCH_M, abs=1e-4
    )


def test_circuits_compass_and_what_is_to_be_known(tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    before = file.read_bytes()
    given = {
        "1way": "190° S",
        "2way": "192",
        "north": "true",
        "f1": "sockets down",
        "a1": "16 A",
        "r1": "Kitchen and attic",
        "a2": "10",
        "q1": "yes, not on the wallpaper",
        "b3": "lace",
    }
    answers = answered(tmp_path, given)
    found = fill(file, answers)
    assert file.read_bytes() == before + (
        b'\n[[circuit]]\nname = "sockets down"\namps = 16\nvolts = 230\n'
        b'rooms = ["kitchen", "attic"]\n\n[[circuit]]\nname = "fuse 2"\namps = 10\nvolts = 230\n'
    )
    said = plain(report(read(file), answers, found))
    assert '\n    --compass-true "gauge room A outward: 190" \\\n' in said
    assert "The mains voltage was not told: 230 V is in the file; check it.\n" in said
    assert "where not: yes, not on the wallpaper\n" in said.replace("\n    ", " ")
    assert "canal window: what hangs before it: lace\n" in said
    once = file.read_bytes()
    assert fill(file, answers).changes == []
    assert file.read_bytes() == once
    fill(file, answered(tmp_path, {**given, "a1": "20", "volt": "240"}))
    new = tomllib.loads(file.read_text(encoding="utf-8"))["circuit"]
    assert [(one["amps"], one["volts"]) for one in new] == [(20, 240), (10, 240)]


def test_what_looks_odd_is_told(tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    answers = answered(tmp_path, {"d3": "2.5", "u3": "1.1", "w4": "39 cm"})
    found = fill(file, answers)
    assert [one.odd for one in found.changes] == [
        "",
        "10 times what the file has: a decimal point off?",
        "2.6 times less than the file has: inches for centimetres, or the other way round?",
    ]
    # A long path is broken over lines.
    said = "".join(plain(report(read(file), answers, found)).split())
    wanted = f"{answers} row 2 (d3), kitchen, canal window, depth, 2.5: 10 times"
    assert "".join(wanted.split()) in said


def test_every_wrong_row_is_told_at_once(tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    before = file.read_bytes()
    given = {
        "w1": "wide",
        "w9": "1",
        "h3": "12",
        "w3": "0",
        "2way": "400",
        "a1": "many",
        "r2": "cellar",
        "north": "up",
        "c4": "2,5",
        "lm1": "-3",
        "3top": "1e3",
    }
    answers = answered(tmp_path, given)
    with pytest.raises(InputError) as refusal:
        fill(file, answers)
    assert str(refusal.value).split("\n") == [
        f"{answers}: {line}"
        for line in (
            'row 2, w1: "wide" is no length; expected 1.12 m, 112 cm or 44 in',
            'row 3: "w9" is no question of this file; did you mean "w1"?',
            'row 4, h3: "12" is 12 m here, more than there is room for (the room\'s height is 2.5 '
            "m): is it 12 in?",
            'row 5, w3: "0" is not right; expected a length above 0',
            'row 6, 2way: "400" is no compass reading; expected degrees, 0 to 360, such as 192',
            'row 7, a1: "many" is no number above 0; expected one in A',
            'row 8, r2: "cellar": no room of the file; expected of gauge room, kitchen, attic, or '
            '"all"',
            'row 9, north: "up" is neither true nor magnetic; leave it empty where not known',
            'row 10, c4: room "kitchen" › opening "gable window" › along: the opening runs from '
            "−0.90 m to 0.10 m along wall B; expected it between 0.00 m and 2.60 m, the wall's "
            "length",
            'row 11, lm1: "-3" is no number above 0; expected one in lm',
            'row 12, 3top: "1e3" is no length; expected 1.12 m, 112 cm or 44 in',
        )
    ]
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "ident", "answer", "message"),
    [
        ("lock-house", "w3", "28", '"28" is 28 m here, more than there is room for (wall A is 5.6 '
         "m): is it 28 in?"),
        ("lock-house", "w3", "140 m", '"140 m" is more than there is room for (wall A is 5.6 m): '
         "is it 140 cm?"),
        ("lock-house", "d3", "25", '"25" is 25 m here, the file has 0.25 m: is it 25 cm? expected '
         "it with its unit"),
        ("lock-house", "1A", "320", '"320" is 320 m here, the file has 3.2 m: is it 320 cm? '
         "expected it with its unit"),
        ("gate-house", "w1", "38", '"38" is 38 ft here, more than there is room for (wall A is 14 '
         "ft): is it 38 in?"),
    ],
)  # fmt: skip
def test_a_slip_of_units_is_told_at_its_row(
    name: str, ident: str, answer: str, message: str, tmp_path: Path
) -> None:
    """One row is told, and nothing that follows from it; the file stays."""
    file = demo(name, tmp_path)
    before = file.read_bytes()
    answers = answered(tmp_path, {ident: answer})
    with pytest.raises(InputError) as refusal:
        fill(file, answers)
    assert str(refusal.value) == f"{answers}: row 2, {ident}: {message}"
    assert file.read_bytes() == before


@pytest.mark.parametrize("said", ["about 1.5 m", "ca. 1,5 m", "~150 cm", "circa 1.5", "≈ 1.5 m"])
def test_about_is_taken_as_about(said: str, tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    expected = replaced(file, ("size = [1.4, 1.2]", "size = [1.5, 1.2]"))
    answers = answered(tmp_path, {"w3": said})
    found = fill(file, answers)
    assert file.read_bytes() == expected
    assert [one.question.id for one in found.about] == ["w3"]
    assert "Told as about; measure it where it counts:" in plain(report(read(file), answers, found))


def test_commands_stay_on_one_line(tmp_path: Path) -> None:
    """What is copied to a shell is not folded, however long the file's name is."""
    folder = tmp_path / "a folder of a long name" / "in which the house is kept for a while"
    folder.mkdir(parents=True)
    file = demo("lock-house", folder)
    answers = answered(tmp_path, {"1way": "190", "2way": "191"})
    told = plain(report(read(file), answers, fill(file, answers)))
    assert f'Next: sunplan check "{file}" --draw rooms.png' in told.splitlines()
    assert f'  sunplan bearing "{file}" \\' in told.splitlines()


@pytest.mark.parametrize("said", ["?", "-", "–", "don't know", "I don’t know", "No idea", "n/a"])
def test_what_is_not_known_is_empty(said: str, tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    before = file.read_bytes()
    found = fill(file, answered(tmp_path, {"w3": said, "b3": said, "a1": said, "north": said}))
    assert (found.changes, found.known, found.same) == ([], [], 0)
    assert file.read_bytes() == before


def test_what_was_measured_may_be_surer(tmp_path: Path) -> None:
    """Where the file has a larger ±; with what lacks; the line is one that the file takes."""
    file = demo("lock-house", tmp_path)
    text = file.read_text(encoding="utf-8").replace(
        "[location]", '[location]\nsize_error = "10 cm"'
    )
    text = text.replace("size = [1.0, 1.2]", "size = [1.0, 1.2]\n  size_error = 0.02")
    file.write_text(text, encoding="utf-8")
    given = {"w1": "1.1", "h1": "1.2", "d1": "0.34", "w3": "1.41", "h3": "~1.2", "w4": "1.0"}
    answers = answered(tmp_path, given)
    found = fill(file, answers)
    said = " ".join(plain(report(read(file), answers, found)).split())
    assert 'street window: size_error = "2 cm" (so far ±0.1 m) kitchen, canal window:' in said
    assert "(so far ±0.1 m), once measured too: height, depth Next: sunplan check" in said
    assert "gable window" not in said
    line = found.surer[0].line
    file.write_text(text.replace("size = [1.1, 1.2]", f"size = [1.1, 1.2]\n  {line}"))
    assert read(file).room[0].opening[0].size_error == 0.02


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a,b\n1,2\n", "has no columns id and answer; expected a first row id,question,"),
        ("", "has no columns id and answer"),
        ("id,answer\nw1,1,12\n", "row 2, w1: has 3 columns; expected 2: put an answer with"),
        ("id,answer\nw1,1\nW1,2\n", "row 3, w1: is answered in row 2 already; expected one answer"),
        ("id,unit,answer\nw1,yd,1\n", 'row 2, w1: the unit "yd" is not known; expected mm, cm, m'),
        ('id,answer\nw1,"1\n', "is no sheet of answers"),
        ("id,answer\nw1,1 m\xe9\n", "is not text in UTF-8"),
    ],
)
def test_a_sheet_that_is_none(text: str, message: str, tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    answers = tmp_path / "answers.csv"
    answers.write_bytes(text.encode("latin-1"))
    with pytest.raises(InputError) as refusal:
        fill(file, answers)
    assert message in str(refusal.value)


def test_a_key_holds_when_numbers_have_moved(tmp_path: Path) -> None:
    """A sheet from before a room was added; a row's own unit counts."""
    file = demo("lock-house", tmp_path)
    answers = tmp_path / "answers.csv"
    answers.write_text("id,unit,answer,key\nw1,cm,123,room.kitchen.opening.gable window.width\n")
    expected = replaced(file, ("size = [1.0, 1.2]", "size = [1.23, 1.2]"))
    fill(file, answers)
    assert file.read_bytes() == expected


# The command


def run(*args: object) -> subprocess.CompletedProcess[str]:
    return command(*args)


def test_the_command(tmp_path: Path) -> None:
    file, answers = demo("gate-house", tmp_path), tmp_path / "answers.csv"
    done = run("ask", file, "--out", tmp_path / "form.pdf", "--out", answers)
    assert (done.returncode, done.stderr) == (0, "")
    size = PdfReader(tmp_path / "form.pdf").pages[0].mediabox
    assert math.isclose(float(size.height), SIZES["letter"][1], abs_tol=0.1)
    rows = answers.read_text(encoding="utf-8-sig").replace("3 ft,,", "3 ft,3 ft 2 in,")
    answers.write_text(rows, encoding="utf-8-sig")
    done = run("ask", "--fill", file, answers)
    assert (done.returncode, done.stderr) == (0, "")
    assert "watch room, lock window, width" in done.stdout
    assert run("check", file).returncode == 0
    assert '["3 ft 2 in", "4 ft 2 in"]' in file.read_text(encoding="utf-8")


def test_answers_are_not_written_over(tmp_path: Path) -> None:
    file, answers = demo("lock-house", tmp_path), tmp_path / "answers.csv"
    assert run("ask", file, "--out", answers).returncode == 0
    answers.write_text("filled in")
    done = run("ask", file, "--out", tmp_path / "form.txt", "--out", answers)
    assert done.returncode == 2
    assert "answers.csv: exists already; give another name, or --force" in done.stderr
    assert answers.read_text() == "filled in"
    assert not (tmp_path / "form.txt").exists()
    assert run("ask", file, "--out", answers, "--force").returncode == 0
    assert answers.read_text(encoding="utf-8-sig").startswith("id,")


def test_for_programs(tmp_path: Path) -> None:
    """The questions, and what was changed by which row, as JSON and as rows."""
    file, answers = demo("lock-house", tmp_path), tmp_path / "answers.csv"
    asked = json.loads(run("ask", file, "--json").stdout)["questions"]
    rows = list(csv.DictReader(io.StringIO(run("ask", file, "--csv").stdout)))
    assert [(one["id"], one["key"], one["question"]) for one in asked] == [
        (one["id"], one["key"], one["question"]) for one in rows
    ]
    assert [one["now"] or "" for one in asked] == [one["now"] for one in rows]
    answers.write_text("id,answer\nw1,123 cm\nh1,1.2 m\nu1,about 95 cm\nb1,a blind\n")
    before = file.read_bytes()
    told = json.loads(run("ask", "--fill", file, answers, "--json").stdout)
    assert told["changes"] == [
        {
            "by": ["w1"],
            "rows": [2],
            "what": "gauge room, street window, width",
            "was": "1.1 m",
            "now": "1.23 m",
            "odd": None,
        },
        {
            "by": ["u1"],
            "rows": [4],
            "what": "gauge room, street window, sill",
            "was": "1 m",
            "now": "0.95 m",
            "odd": None,
        },
    ]
    assert told["same"] == 1
    assert told["about"] == [{"by": ["u1"], "rows": [4], "said": "95 cm"}]
    assert told["known"] == [
        {"question": "gauge room, street window: what hangs before it", "said": "a blind"}
    ]
    file.write_bytes(before)
    (first, second) = csv.DictReader(
        io.StringIO(run("ask", "--fill", file, answers, "--csv").stdout)
    )
    assert (first["now"], second["now"]) == ("1.23 m", "0.95 m")


@pytest.mark.parametrize(
    ("args", "message"),
    [
        (["--csv", "--json"], "--json and --csv: give one of them\n"),
        (["--out", "form.txt", "--json"], "--out: goes without --json and --csv\n"),
        (["--out", "form.doc"], "--out form.doc: expected a name that ends in .pdf, .txt, .csv\n"),
        (["--room", "kitchn"], '--room "kitchn" is not known; did you mean "kitchen"?\n'),
        (["--fill"], "--fill: the sheet of answers is missing; give it behind the file\n"),
    ],
)
def test_a_wrong_option(args: list[str], message: str) -> None:
    done = run("ask", ROOT / "locations" / "lock-house.toml", *args)
    assert (done.returncode, done.stderr) == (2, message)


@pytest.mark.parametrize(
    ("said", "keys"),
    [
        ("ground", {"before": "ground"}),
        ("Garden, 1.4 m", {"before": "ground", "to_ground": 1.4}),
        ("canal", {"before": "water"}),
        ("pavement", {"before": "street"}),
        ("drop 6 m", {"before": "drop", "to_ground": 6.0}),
    ],
)
def test_what_lies_before_a_window(said: str, keys: dict[str, object], tmp_path: Path) -> None:
    """One answer in plain words becomes a key or two; given again it changes nothing."""
    raw = bare()
    raw["room"][0]["opening"][0].pop("before")
    file = written(raw, tmp_path)
    fill(file, answered(tmp_path, {"o1": said, "1wet": "Yes."}))
    room = tomllib.loads(file.read_text(encoding="utf-8"))["room"][0]
    assert {key: room["opening"][0].get(key) for key in keys} == keys
    assert set(room["opening"][0]) - set(raw["room"][0]["opening"][0]) == set(keys)
    assert room["wet"] is True
    once = file.read_bytes()
    assert fill(file, answered(tmp_path, {"o1": said, "1wet": "yes"})).changes == []
    assert file.read_bytes() == once


def test_what_nobody_understands_is_told(tmp_path: Path) -> None:
    file = demo("lock-house", tmp_path)
    with pytest.raises(InputError) as caught:
        fill(file, answered(tmp_path, {"o3": "a bit of both", "o4": "ground far", "2wet": "maybe"}))
    said = str(caught.value)
    assert '"a bit of both" is not understood; expected ground, water, street, drop or' in said
    assert '"far" is no length' in said
    assert '"maybe" is neither yes nor no' in said
