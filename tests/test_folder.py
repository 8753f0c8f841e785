"""A day's folder: replaced as a whole, whole whatever happens while it is made."""

from __future__ import annotations

import os
import signal
from datetime import date
from pathlib import Path

import icalendar
import places
import pypdf
import pytest

from sunplan.day.plan import Plan, plan
from sunplan.errors import InputError, OutputError
from sunplan.write import folder

NAMES = {"plan.txt", "plan.json", "plan.html", "plan.ics", "plan.pdf"}
PICTURES = {"rooms.png", "day.png", "sun-room.png", "gap.png", "flags-watch.png"}


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan(places.made(places.bare(), tmp_path_factory.mktemp("place")), date(2027, 3, 20))


def test_what_is_not_ours_is_not_lost(day: Plan, tmp_path: Path) -> None:
    out = tmp_path / "day"
    folder.write(day, out)
    (out / "notes.txt").write_text("call the owner")
    (out / "photos").mkdir()
    with pytest.raises(InputError, match=r"holds notes\.txt, photos besides what sunplan made"):
        folder.write(day, out)
    assert (out / "notes.txt").read_text() == "call the owner"
    other = tmp_path / "other"
    other.mkdir()
    (other / "plan.json").write_text('{"made_by": "somebody"}')
    with pytest.raises(InputError, match="holds files that sunplan did not make"):
        folder.write(day, other)


def test_a_day_on_which_nothing_fits(tmp_path: Path) -> None:
    """It is written all the same, and says so on paper, in text and on the page."""
    raw = places.bare()
    raw["day"] = {"call": "09:00", "wrap": "09:10"}
    found = plan(places.made(raw, tmp_path), date(2027, 3, 20))
    assert found.pack is not None
    assert found.pack.running.slots == ()
    out = tmp_path / "day"
    names = folder.write(found, out)
    assert set(names) <= NAMES | PICTURES
    says = "DOES NOT FIT: watch"
    assert says in pypdf.PdfReader(out / "plan.pdf").pages[0].extract_text()
    assert says in (out / "plan.txt").read_text(encoding="utf-8")
    assert "does not fit this day: see the order" in (out / "plan.html").read_text(encoding="utf-8")
    events = icalendar.Calendar.from_ical((out / "plan.ics").read_bytes()).walk("VEVENT")
    assert not any(str(one["SUMMARY"]).startswith(("Rig", "Shoot", "Strike")) for one in events)


def test_its_own_folder_is_replaced_and_nothing_else_is_left(day: Plan, tmp_path: Path) -> None:
    out = tmp_path / "day"
    for _ in range(2):
        assert set(folder.write(day, out)) == NAMES | PICTURES
        assert {one.name for one in out.iterdir()} == NAMES | PICTURES
        assert (out / "rooms.png").stat().st_size > 1000
        assert [one.name for one in tmp_path.iterdir()] == ["day"]
        (out / "rooms.png").write_bytes(b"old")


def test_what_a_killed_copy_leaves_is_drawn(
    day: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn, first = folder._figure, os.getpid()

    def killed(*asked: object) -> object:
        if os.getpid() != first:
            os.kill(os.getpid(), signal.SIGKILL)
        return drawn(*asked)  # type: ignore[arg-type]

    monkeypatch.setattr(folder, "_figure", killed)
    folder.write(day, tmp_path / "day")
    assert {one.name for one in (tmp_path / "day").iterdir()} == NAMES | PICTURES


def test_a_picture_that_fails_leaves_the_old_folder(
    day: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "day"
    folder.write(day, out)
    before = {one.name: one.read_bytes() for one in out.iterdir()}

    def full(*_: object) -> object:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(folder, "_figure", full)
    with pytest.raises(OutputError, match="No space left"):
        folder.write(day, out)
    assert {one.name: one.read_bytes() for one in out.iterdir()} == before
    assert [one.name for one in tmp_path.iterdir()] == ["day"]
