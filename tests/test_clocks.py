"""Clock times as they are typed, on the command line and in a file."""

from __future__ import annotations

from datetime import time
from pathlib import Path

import pytest
from places import bare, made

from sunplan.day.arguments import a_clock
from sunplan.errors import InputError
from sunplan.location.clocks import parse_clock


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("9:00", time(9)),
        ("09:00", time(9)),
        (" 16:30 ", time(16, 30)),
        ("16:30:05", time(16, 30, 5)),
        ("T16:30", time(16, 30)),  # ISO 8601
        ("4:30 pm", time(16, 30)),
        ("4:30PM", time(16, 30)),
        ("4 p.m.", time(16)),
        # The usual reading of noon and midnight, as digital clocks show them: from memory.
        ("12 am", time(0)),
        ("12:05 p.m.", time(12, 5)),
    ],
)
def test_clock_times(text: str, at: time) -> None:
    assert parse_clock(text) == at
    assert a_clock(text, "start") == at


@pytest.mark.parametrize(
    "text", ["9", "", "25:00", "9:60", "9:5", "13 pm", "0 am", "9-30", "16:30+01:00", "noon"]
)
def test_no_clock_times(text: str) -> None:
    with pytest.raises(ValueError):
        parse_clock(text)
    with pytest.raises(InputError, match="is no clock time; expected HH:MM such as 16:30"):
        a_clock(text, "start")


def test_in_a_file(tmp_path: Path) -> None:
    raw = bare()
    raw["day"] = {"call": "8:30 am", "wrap": "7 pm"}
    found = made(raw, tmp_path).day
    assert (found.call, found.wrap) == (time(8, 30), time(19))
