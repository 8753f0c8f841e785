"""Levels as rigged, against Radiance: stored results of `radiance_rigged.py`, one case run live."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import radiance
import radiance_rigged
from test_radiance import sky_of

import sunplan
from sunplan.light.daylight import Skies, Weather, skies_by_weather
from sunplan.light.face import faces
from sunplan.light.screen import Screen
from sunplan.location.kit import Flag
from sunplan.rig.flag_placement import Position
from sunplan.rig.flags import FlagOption
from sunplan.rig.negative_fill import Panel
from sunplan.rig.rigged_levels import RiggedLevels, rigged_levels
from sunplan.rig.room_treatment import OpeningTreatment, RoomTreatment

ROOT = Path(__file__).parent.parent
STOPS = 0.15
CORNER_STOPS = 0.25  # by light that only comes round an inner corner of the room
STORED = json.loads(radiance_rigged.OUT.read_text(encoding="utf-8"))
CASES = list(zip(radiance_rigged.CASES, STORED["cases"], strict=True))
TITLES = [case.title for case in radiance_rigged.CASES]


def screen_of(panel: radiance.Panel) -> Screen:
    across, up = np.array(panel.across), np.array(panel.up)
    return Screen(np.array(panel.centre), across, up, panel.size_m)


def rigged(
    case: radiance_rigged.Case, entry: dict[str, Any]
) -> tuple[RiggedLevels, dict[str, Any], int]:
    """The program's levels, the traced reading that they are held against, and the fill side."""
    location, room = radiance_rigged.face_of(case)
    assert room.transfer.points == pytest.approx(np.array(entry["points"]), abs=1e-5)
    assert room.transfer.normals == pytest.approx(np.array(entry["normals"]), abs=1e-5)
    (setup,) = room.setups
    above = Skies((sky_of(entry["sky"]),))
    openings = tuple(
        OpeningTreatment(
            opening, "black" if opening.name in case.black else "leave", 0, False, None
        )
        for opening in room.transfer.beam.apertures
    )
    treated = RoomTreatment(setup, 0.0, 0.0, openings, 0.0, 0.0, 0.0)
    stock = Flag(name="flag", owned=1, size=(1.0, 1.0))
    flags = [
        FlagOption(
            opening=openings[0].opening.name,
            covers="sun",
            placement="on a stand",
            flags=(stock,),
            stand=None,
            positions=(_position(screen_of(flag)),),
            ground_m=0.0,
            spans=((0.0, 0.0),),
        )
        for flag in case.flags
    ]
    daylight = room.transfer.illuminance_lux(above, treated.shares_left)[:, :2]
    side = int(room.fill_side(setup, daylight)[0])
    before = radiance_rigged.panel_of(case, room, side)
    panel = None
    if before is not None:
        assert case.panel_m is not None
        panel = Panel(stock, None, screen_of(before), case.panel_m, 0.0, 0.0, True)
    (levels,) = rigged_levels(location, treated, above, room=room, flags=flags, panel=panel)
    (reading,) = (one for one in entry["readings"] if one["panel_before"] in (None, side))
    return levels, reading, side


def _position(screen: Screen) -> Position:
    return Position(0.0, 0.0, screen, (screen,), screen.size, screen.centre, True, True, 0.0)


@pytest.mark.parametrize(("case", "entry"), CASES, ids=TITLES)
def test_levels_as_rigged(case: radiance_rigged.Case, entry: dict[str, Any]) -> None:
    """Key side, fill side and wall, daylight and lamp, with all that hangs in place."""
    levels, reading, side = rigged(case, entry)
    traced = np.array(reading["lux"])
    # The lamp alone lights where all is black: then it is dimmed as the program says.
    share = levels.lamp_share if case.key else 1.0
    mine = np.array([levels.key_lux, levels.fill_lux, levels.wall_lux])
    off = np.log2(mine / (share * traced[[1 - side, side, 3]]))
    assert np.abs(off).max() < (CORNER_STOPS if case.corner else STOPS), off.round(3)


def test_there_are_enough() -> None:
    assert sum(not case.corner for case in radiance_rigged.CASES) >= 7
    assert any(case.black for case in radiance_rigged.CASES)
    assert any(case.flags for case in radiance_rigged.CASES)


def test_live() -> None:
    """Traced here and now, with fewer rays: the stored results are no accident."""
    case, entry = CASES[5]
    again = radiance_rigged.compute(case, radiance.Settings(divisions=1024, repeats=4))
    traced, stored = (np.array(one["readings"][0]["lux"]) for one in (again, entry))
    assert np.abs(np.log2(traced / stored)).max() < 0.1


@pytest.mark.parametrize("name", ["lock-house", "ferry-shop", "gate-house"])
def test_the_pack_tells_what_the_function_says(name: str) -> None:
    """Each setup has the levels of its own needs at its own time, at key where that can be."""
    location = sunplan.read(ROOT / "locations" / f"{name}.toml")
    result = sunplan.pack(location, "2027-03-20", best=True)
    for slot, told in zip(result.value.running.slots, result.answer["running"], strict=True):
        (room,) = faces(location, [slot.setup])
        moments = [slot.shoot_s[0], slot.middle_s, slot.shoot_s[1]]
        again = rigged_levels(
            location,
            slot.needs.treated,
            skies_by_weather(location, moments, [Weather("clear")]),
            room=room,
            flags=slot.needs.flags,
            panel=slot.needs.panel,
        )
        for levels, entry in zip(again, told["levels"], strict=True):
            assert entry["fill_lux"] == pytest.approx(levels.fill_lux, rel=1e-6)
            assert entry["ratio"] == pytest.approx(levels.key_lux / levels.fill_lux, rel=1e-6)
            if 0.0 < entry["lamp_share"] < 1.0:
                assert entry["key_lux"] == pytest.approx(entry["wanted_lux"], rel=1e-9)
            wanted = slot.setup.contrast
            if wanted is not None and not slot.needs.unmet:
                assert entry["ratio"] > 0.95 * wanted
