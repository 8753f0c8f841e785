"""The page in a real browser: it shows what was computed, to hands, eyes, ears and paper alike."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import oneray
import pytest
import random_rooms
import shapely
from browser import Drawing, launched, opened
from demos import planned
from places import bare, made
from playwright.sync_api import Browser, Page, expect, sync_playwright

from sunplan.day.plan import Plan, plan
from sunplan.draw import signs
from sunplan.light.daylight import Weather, skies_by_weather
from sunplan.light.face import Faces, faces
from sunplan.light.meter import stops
from sunplan.light.resolved import resolve
from sunplan.location.lengths import FOOT_M
from sunplan.rig.gap import gaps
from sunplan.room.beam import beam_of
from sunplan.room.entry import SunTests
from sunplan.room.patches import sun_patches
from sunplan.sun.track import track_over
from sunplan.write import page as pages

ROOT = Path(__file__).parent.parent
LOCK = ROOT / "locations" / "lock-house.toml"
DAY = date(2027, 3, 20)
TIMES = ("09:40", "11:25", "14:00", "16:45", "18:10")
OUTLINE_M = 0.001  # the page's lengths are whole millimetres
STOPS = 0.05
WIDTHS = (375, 768, 1440)
MOST_BYTES = 2_000_000
AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        one = launched(playwright)
        yield one
        one.close()


@pytest.fixture(scope="module")
def lock() -> Plan:
    return planned("lock-house", DAY)


@pytest.fixture(scope="module")
def lock_file(lock: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(lock, tmp_path_factory.mktemp("lock"))


@pytest.fixture(scope="module")
def rooms(lock: Plan) -> list[Faces]:
    return faces(lock.location, resolve(lock.location))


def written(one: Plan, folder: Path) -> Path:
    file = folder / "plan.html"
    file.write_text(pages.html(one), encoding="utf-8")
    return file


def subjects(page: Page) -> list[str]:
    """What the buttons of setups and rooms say first."""
    return page.locator("#setups b").all_text_contents()


def choose(page: Page, name: str) -> None:
    title = page.locator(f"b:text-matches('(^|(st|nd|rd|th): ){name}$')")
    page.locator("#setups button", has=title).click()


def scrub(page: Page, clock: str) -> float:
    """Move to a clock time; the moment, seconds since 1970 UTC."""
    data = json.loads(page.locator("#data").text_content() or "")
    hours, minutes = clock.split(":")
    step = data["clock"].index(60 * int(hours) + int(minutes))
    page.locator("#scrub").fill(str(step))
    assert page.locator("#time").text_content() == clock
    moment = datetime.fromisoformat(f"{data['date']}T{clock}+01:00").timestamp()
    assert moment == data["start"] + step * data["every"]
    return moment


@pytest.mark.parametrize("clock", TIMES)
def test_patches_are_drawn_where_sun_falls(
    clock: str, browser: Browser, lock: Plan, lock_file: Path
) -> None:
    """Against the beam of that moment, and against rays followed one at a time (`oneray.py`)."""
    location, raw = lock.location, random_rooms.read_location(LOCK)
    shown = 0
    with opened(browser, lock_file) as page:
        for name in ("reading the gauge", "last coffee", "cannot sleep"):
            choose(page, name)
            moment = scrub(page, clock)
            light = SunTests(location, track_over(location, moment, moment + 1.0))
            sun = light.plan_vectors(light.above_horizon(np.array([moment])))[0]
            setup = next(one for one in resolve(location) if one.name == name)
            room = location.room_named(setup.room)
            drawn = Drawing(page, np.array(room.outline)).patches()
            beam, scene = beam_of(location, room), oneray.Scene(raw, room.name)
            wanted = {
                (patch.surface, patch.opening): patch.shape
                for index in range(len(beam.apertures))
                for patch in sun_patches(beam, index, sun[None])[0]
            }
            assert set(drawn) == set(wanted), (name, clock)
            for (surface, opening), shape in wanted.items():
                claimed = shapely.union_all(
                    [shapely.Polygon(ring) for ring in drawn[surface, opening]]
                )
                far = claimed.boundary.hausdorff_distance(shape.boundary)
                assert far < OUTLINE_M, (surface, opening, clock)
                # Rays start from the drawn corners; on whole millimetres some stand beside a
                # sliver of light, so that only the way from the true rim to the drawn one counts.
                index = beam.index(opening)
                error = scene.outline_error(surface, drawn[surface, opening], index, sun)
                assert error.missed_m < OUTLINE_M, (surface, opening, clock, error)
                true_m2 = scene.patch_area(surface, index, sun)
                assert abs(claimed.area - true_m2) < OUTLINE_M * claimed.length
                shown += 1
    assert shown > 3


def test_patches_of_a_plan_in_feet(browser: Browser, tmp_path: Path) -> None:
    raw = bare()
    raw["location"]["units"] = "ft"
    location = made(raw, tmp_path)
    with opened(browser, written(plan(location, DAY), tmp_path)) as page:
        moment = scrub(page, "11:00")
        light = SunTests(location, track_over(location, moment, moment + 1.0))
        sun = light.plan_vectors(light.above_horizon(np.array([moment])))[0]
        patches = sun_patches(beam_of(location, location.room[0]), 0, sun[None])[0]
        outline = np.array(raw["room"][0]["outline"]) * FOOT_M
        drawn = Drawing(page, outline).patches()
        assert len(drawn) == len(patches) > 0
        for patch in patches:
            (ring,) = drawn[patch.surface, patch.opening]
            assert shapely.Polygon(ring).hausdorff_distance(patch.shape) < OUTLINE_M
        assert page.locator("#units input[value=ft]").is_checked()
        assert page.locator("#drawing text", has_text="3 ft").count() == 1


@pytest.mark.parametrize("clock", TIMES)
def test_stops_of_windows_and_faces(
    clock: str, browser: Browser, lock: Plan, rooms: list[Faces], lock_file: Path
) -> None:
    """Against the gaps of that moment alone, both skies; in the table, and beside the window."""
    location = lock.location
    with opened(browser, lock_file) as page:
        for name in ("last coffee", "the kettle"):
            choose(page, name)
            moment = scrub(page, clock)
            setup = next(one for one in resolve(location) if one.name == name)
            for sky in ("clear", "overcast"):
                page.get_by_role("radio", name=sky, exact=True).check()
                above = skies_by_weather(location, [moment], [Weather(sky)])
                (gap,) = gaps(location, [setup], above, rooms=rooms)
                (at,) = gap.times
                wanted = {one.opening: one.stops for one in at.openings if one.in_frame}
                wanted |= {
                    "face, key side": stops(at.face.key_lux, gap.key_lux),
                    "face, fill side": stops(at.face.fill_lux, gap.key_lux),
                    "wall behind": stops(at.face.wall_lux, gap.key_lux),
                }
                rows = page.locator("#card .look tbody tr").evaluate_all(
                    "rows => rows.map((row) => [row.querySelector('th').textContent,"
                    " Number(row.querySelector('data').value),"
                    " row.querySelector('data').textContent])"
                )
                assert {row[0] for row in rows} == set(wanted)
                for what, value, text in rows:
                    assert value == pytest.approx(wanted[what], abs=STOPS), (what, clock, sky)
                    assert in_stops(text) == pytest.approx(value, abs=STOPS + 1e-9), (what, text)
                signs = page.locator("#drawing .label-opening text").all_text_contents()
                beside = [one.split(" ", 1)[1] for one in signs if " " in one]
                assert beside == [text for what, _, text in rows if what in signs_of(at)]


def in_stops(text: str) -> float:
    """A level as it is said: "4.3 over", "2.2 under", "even"."""
    figure, _, side = text.partition(" ")
    return {"over": 1.0, "under": -1.0}[side] * float(figure) if side else {"even": 0.0}[text]


def signs_of(at: Any) -> set[str]:
    return {one.opening for one in at.openings if one.in_frame}


def test_flags_and_negative_stand_where_they_hang(
    browser: Browser, lock: Plan, lock_file: Path
) -> None:
    """A flag is black while there is sun to stop, dashed at other times."""
    location = lock.location
    with opened(browser, lock_file) as page:
        for name, clock in (("reading the gauge", "13:00"), ("last coffee", "17:30")):
            choose(page, name)
            moment = scrub(page, clock)
            (found,) = (one for one in lock.flags if one.setup.name == name)
            outline = np.array(location.room_named(found.setup.room).outline)
            now, waits = [], []
            for option in found.taken:
                stops_sun = any(first <= moment <= last for first, last in option.spans)
                for at in option.positions:
                    if at.start_s <= moment <= at.end_s:
                        (now if stops_sun else waits).extend(at.pieces)
            assert now
            drawing = Drawing(page, outline)
            for kind, pieces in (("flag", now), ("flag idle", waits)):
                drawn = drawing.standing(kind)
                assert len(drawn) == len(pieces)
                for ring, piece in zip(drawn, pieces, strict=True):
                    assert np.abs(ring - piece.corners()[:, :2]).max() < OUTLINE_M
            scrub(page, "08:00")
            assert Drawing(page, outline).standing("flag") == []
        assert lock.pack is not None
        slot = next(s for s in lock.pack.running.slots if s.setup.name == "cannot sleep")
        assert slot.needs.panel is not None
        choose(page, "cannot sleep")
        outline = np.array(location.room_named(slot.setup.room).outline)
        (ring,) = Drawing(page, outline).standing("negative")
        corners = slot.needs.panel.screen.corners()[:, :2]
        assert np.abs(ring - corners).max() < OUTLINE_M


def test_marks_are_told_while_sun_is_on_them(browser: Browser, lock: Plan, lock_file: Path) -> None:
    """The list and the drawing agree with the moments of `entry`."""
    spans = [
        span for one in lock.entries.marks if one.mark == "at the gauge" for span in one.intervals
    ]
    with opened(browser, lock_file) as page:
        choose(page, "reading the gauge")
        seen = set()
        for clock in ("12:20", "12:25", "12:30", "14:45", "14:50"):
            moment = scrub(page, clock)
            lit = any(span.start_s <= moment <= span.end_s for span in spans)
            row = page.locator("#lies > div", has_text="at the gauge").first
            assert ("DIRECT SUN" in (row.text_content() or "")) == lit
            assert page.locator("#drawing .mark.hit").count() == lit
            seen.add(lit)
        assert seen == {True, False}


def focusable(page: Page) -> int:
    return page.locator(
        "a[href]:visible, button:visible, summary:visible, input[type=range], input:checked"
    ).count()


def test_the_keyboard_reaches_everything(browser: Browser, lock: Plan, lock_file: Path) -> None:
    """Tab alone comes by every control, each then has a ring; arrows and Enter work them."""
    with opened(browser, lock_file) as page:
        met: list[str] = []
        for _ in range(focusable(page) + 5):
            page.keyboard.press("Tab")
            told = page.evaluate(
                """() => {
                  const one = document.activeElement;
                  if (one === document.body) return null;
                  const ring = one.id === "scrub" ? document.getElementById("strip")
                    : one.type === "radio" ? one.nextElementSibling : one;
                  const style = getComputedStyle(ring);
                  const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
                  const box = one.getBoundingClientRect();
                  const dock = document.getElementById("dock");
                  const hidden = !dock.contains(one) && box.top > dock.getBoundingClientRect().top;
                  return [one.id || one.name || one.textContent, seen, hidden];
                }"""
            )
            if told is None:
                break
            met.append(told[0])
            assert told[1], f"no ring on {told[0]}"
            assert not told[2], f"{told[0]} lies under the clock"
        assert len(met) == focusable(page)
        assert {"sky", "units", "theme", "scrub", "back", "on"} <= set(met)
        assert sum(text.startswith(("1st: ", "2nd: ", "3rd: ")) for text in met) >= 3

        before = page.locator("#time").text_content()
        page.locator("#scrub").focus()
        page.keyboard.press("ArrowRight")
        assert page.locator("#time").text_content() != before
        page.keyboard.press("ArrowLeft")
        assert page.locator("#time").text_content() == before
        assert before is not None
        assert before in (page.locator("#scrub").get_attribute("aria-valuetext") or "")

        page.locator("#setups button").nth(2).focus()
        page.keyboard.press("Enter")
        assert lock.pack is not None
        third = lock.pack.running.slots[2].setup.name
        assert page.locator("#card-title").text_content() == third
        go = page.locator("#lies .go").first
        wanted = go.text_content()
        go.focus()
        page.keyboard.press("Enter")
        assert wanted is not None
        # The first step at which it holds.
        told_ = page.locator("#time").text_content() or ""
        assert 0 <= minutes(told_) - minutes(wanted) < 5
        assert page.evaluate("document.activeElement.classList.contains('go')")


def minutes(clock: str) -> int:
    return 60 * int(clock[:2]) + int(clock[3:5])


def test_a_change_is_said_once_the_hand_rests(browser: Browser, lock_file: Path) -> None:
    with opened(browser, lock_file) as page:
        choose(page, "reading the gauge")
        scrub(page, "13:00")
        said = page.locator("#said[role=status]")
        # What was said of the choice may stand there until the hand has rested from the move.
        told_ = re.compile(r"^13:00, sun 38° up, 184° S\. Sun on at the gauge\.")
        expect(said).to_have_text(told_)
        expect(said).to_contain_text("Through roof light: wall C at 1.4 m.")


def test_a_setup_is_shown_when_it_is_shot(browser: Browser, lock: Plan, lock_file: Path) -> None:
    """Unless the time stands in its turn already; one that is left out, or outdoors, keeps it."""
    assert lock.ordered is not None
    assert lock.pack is not None
    zone = ZoneInfo(lock.location.timezone)

    def clock(moment_s: float) -> str:
        """On the five minutes from then on."""
        return f"{datetime.fromtimestamp(300.0 * math.ceil(moment_s / 300.0), zone):%H:%M}"

    with opened(browser, lock_file) as page:
        for slot in lock.pack.running.slots:
            first, last = slot.shoot_s
            scrub(page, "06:30")
            choose(page, slot.setup.name)
            assert page.locator("#time").text_content() == clock(first)
            for within in (slot.start_s, last - 300.0):
                scrub(page, clock(within))
                choose(page, slot.setup.name)
                assert page.locator("#time").text_content() == clock(within)
        (left_out,) = lock.ordered.best.dropped
        for name in (left_out.name, "the lock at night"):
            scrub(page, "06:30")
            choose(page, name)
            assert page.locator("#time").text_content() == "06:30"


def test_a_finger_moves_the_clock(browser: Browser, lock: Plan, lock_file: Path) -> None:
    with opened(browser, lock_file, width=375, height=667, has_touch=True) as page:
        strip = page.locator("#strip").bounding_box()
        assert strip is not None
        told = []
        for share in (0.3, 0.6, 0.9):
            x, y = strip["x"] + share * strip["width"], strip["y"] + 12
            page.touchscreen.tap(x, y)
            told.append(page.locator("#time").text_content() or "")
        assert told == sorted(set(told))
        # On the order's row it picks what is shot then.
        page.touchscreen.tap(strip["x"] + 0.78 * strip["width"], strip["y"] + strip["height"] - 8)
        assert page.locator("#card-title").text_content() == [*lock.slots][-1]


CLIPPED = """() => {
  const wrong = [], wide = document.documentElement.clientWidth;
  const say = (one, what) => wrong.push(`${one.tagName} ${one.textContent.slice(0, 30)} ${what}`);
  if (document.documentElement.scrollWidth > wide) wrong.push("the page scrolls sideways");
  for (const one of document.querySelectorAll("body *")) {
    if (one.closest(".heard, .skip, script, svg") || !one.checkVisibility()) continue;
    const box = one.getBoundingClientRect();
    if (box.width && (box.left < -0.5 || box.right > wide + 0.5)) say(one, "sticks out");
    const cuts = getComputedStyle(one).overflowX !== "visible";
    if (one.scrollWidth > one.clientWidth + 1 && cuts) say(one, "is cut");
  }
  for (const svg of document.querySelectorAll("svg")) {
    const frame = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      const beside = box.left < frame.left - 1 || box.right > frame.right + 1;
      const beyond = box.top < frame.top - 2 || box.bottom > frame.bottom + 2;
      if (beside || beyond) say(text, "is cut by its picture");
    }
  }
  return wrong;
}"""


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut_or_sticks_out(width: int, browser: Browser, lock_file: Path) -> None:
    with opened(browser, lock_file, width=width, height=800) as page:
        for index in range(page.locator("#setups button").count()):
            page.locator("#setups button").nth(index).click()
            page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
            for step in (0, 60, 130):
                page.evaluate(
                    "step => { const scrub = document.getElementById('scrub'); scrub.value = step;"
                    " scrub.dispatchEvent(new Event('input')); }",
                    step,
                )
                assert page.evaluate(CLIPPED) == [], (subjects(page)[index], step)


@pytest.mark.parametrize("theme", ["dark", "light"])
@pytest.mark.parametrize("width", [375, 1440])
def test_accessibility(theme: str, width: int, browser: Browser, lock_file: Path) -> None:
    """axe-core's rules, contrast among them; nothing serious or critical."""
    with opened(browser, lock_file, width=width, height=900) as page:
        page.get_by_role("radio", name=theme, exact=True).check()
        page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
        page.evaluate(AXE)
        for name in ("reading the gauge", "the lock at night"):
            choose(page, name)
            page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
            found = page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")
            grave = [
                (one["id"], one["nodes"][0]["html"])
                for one in found["violations"]
                if one["impact"] in ("serious", "critical")
            ]
            assert grave == []
            assert any(one["id"] == "color-contrast" for one in found["passes"])


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_contrast_of_words_and_signs(theme: str, lock_file: Path) -> None:
    """WCAG 2.2's ratio: 4.5:1 for words on every ground, also in pictures; 3:1 for signs."""
    css = lock_file.read_text(encoding="utf-8").split("<style>")[1].split("</style>")[0]
    first, second = re.findall(r":root(?:\[data-theme=\"light\"\])? \{(.*?)\}", css, re.S)[:2]
    colours = dict(re.findall(r"--([\w-]+): (#\w{6})", first if theme == "dark" else second))

    def ratio(one: str, other: str) -> float:
        low, high = sorted((luminance(colours[one]), luminance(colours[other])))
        return (high + 0.05) / (low + 0.05)

    for ground in ("ground", "paper", "floor", "laid"):
        for words in ("ink", "soft"):
            assert ratio(words, ground) >= 4.5, (words, ground)
    for letters in signs.TEXTS.values():
        assert ratio(letters.colour, letters.ground) >= 4.5, letters
    assert ratio("sun-ink", "sun") >= 4.5
    assert ratio("press-ink", "press") >= 4.5
    assert ratio("focus", "paper") >= 4.5
    for sign in ("glass", "sun-edge", "mark", "camera", "lamp", "wall"):
        for ground in ("paper", "floor"):
            assert ratio(sign, ground) >= 3.0, (sign, ground)
    # Black flags have a light rim: one of the two stands out on any ground.
    for ground in ("floor", "sun", "laid"):
        assert max(ratio("flag", ground), ratio("rim", ground)) >= 4.5


def test_feet_and_metres(browser: Browser, lock_file: Path) -> None:
    with opened(browser, lock_file) as page:
        choose(page, "reading the gauge")
        hung = page.locator("#card ul.lines")
        assert "level, 2.5 m up" in " ".join(hung.all_text_contents())
        page.get_by_role("radio", name="ft", exact=True).check()
        feet = " ".join(hung.all_text_contents())
        assert "level, 8'4\" up" in feet
        assert not re.search(r"\d m\b", feet)
        assert page.locator("#drawing text", has_text="3 ft").count() == 1


def test_now_on_the_day(browser: Browser, lock_file: Path) -> None:
    """On the day it opens at now, shows a line there, and comes back to it."""
    with opened(browser, lock_file) as page:
        assert page.locator("#now").is_hidden()
        assert page.locator("#rows .now").count() == 0
    around = browser.new_context(timezone_id="America/Los_Angeles")
    page = around.new_page()
    page.clock.set_fixed_time(datetime.fromisoformat("2027-03-20T14:32:00+01:00"))
    page.goto(lock_file.as_uri())
    assert page.locator("#time").text_content() == "14:30"
    line = page.locator("#rows .now").get_attribute("x1")
    page.locator("#scrub").focus()
    page.keyboard.press("End")
    assert page.locator("#rows .now").get_attribute("x1") == line
    page.locator("#now").click()
    assert page.locator("#time").text_content() == "14:30"
    around.close()


@pytest.mark.parametrize(
    ("day", "before", "after"),
    [
        (date(2026, 3, 29), "01:55 (+01:00)", "03:00 (+02:00)"),
        (date(2026, 10, 25), "02:55 (+02:00)", "02:00 (+01:00)"),
    ],
)
def test_a_day_on_which_the_clocks_change(
    day: date, before: str, after: str, browser: Browser, tmp_path: Path
) -> None:
    """The place's clock, whatever the reader's: an hour is left out, or there twice."""
    raw = bare()
    del raw["setup"]
    raw["day"] = {"call": "01:00", "wrap": "19:00"}
    file = written(plan(made(raw, tmp_path), day), tmp_path)
    with opened(browser, file, timezone_id="Asia/Kathmandu") as page:
        page.locator("#scrub").focus()
        page.keyboard.press("Home")
        told = [page.locator("#time").text_content() or ""]
        for _ in range(30):
            page.keyboard.press("ArrowRight")
            told.append(page.locator("#time").text_content() or "")
        at = told.index(before)
        assert told[at + 1] == after
        assert told[0].startswith("01:00")


def test_no_sign_is_two_things(browser: Browser, lock_file: Path) -> None:
    """Openings, marks and setups' turns are told apart by their signs alone."""
    with opened(browser, lock_file) as page:
        turns = {one.split(":")[0] for one in subjects(page) if one[0].isdigit()}
        choose(page, "last coffee")
        signs = page.locator("#lies .sign").all_text_contents()
        assert len(turns) == 3  # the fourth does not fit the day
        assert len({*signs, *turns}) == len(signs) + len(turns)
        drawn = page.locator("#drawing text").all_text_contents()
        assert {one for one in signs if one[0] == "M"} <= set(drawn)


def test_without_a_lamp_none_is_dimmed(browser: Browser, tmp_path: Path) -> None:
    raw = bare()
    assert "key" not in raw["setup"][0]
    with opened(browser, written(plan(made(raw, tmp_path), DAY), tmp_path)) as page:
        for clock in ("06:30", "12:00"):
            scrub(page, clock)
            told = page.locator("#card .look").text_content() or ""
            assert "no lamp" in told
            assert "dim the lamp" not in told
            assert "at full" not in told


def test_names_are_text(browser: Browser, tmp_path: Path) -> None:
    """Whatever a name holds, it is shown as it stands and does nothing."""
    evil = "<img src=x onerror=\"document.title='hit'\">"
    raw = bare()
    raw["location"]["name"] = "</script><script>document.title='hit'</script>"
    raw["room"][0]["name"] = raw["setup"][0]["room"] = evil
    raw["room"][0]["opening"][0]["name"] = raw["setup"][0]["camera"]["toward"] = f"{evil} window"
    raw["room"][0]["mark"][0]["name"] = raw["setup"][0]["mark"] = "<b>chair</b>"
    raw["setup"][0]["name"] = "<!-- <script>"
    with opened(browser, written(plan(made(raw, tmp_path), DAY), tmp_path)) as page:
        assert page.locator("img").count() == 0
        assert "hit" not in page.title().split(",")[-1]
        assert page.locator("h1").text_content() == raw["location"]["name"]
        assert page.locator("#view-title").text_content() == evil
        assert page.locator("#card-title").text_content() == "<!-- <script>"
        assert "<b>chair</b>" in (page.locator("#lies").text_content() or "")
        assert page.evaluate("document.querySelectorAll('script').length") == 2


def odd_places() -> dict[str, tuple[dict[str, Any], date]]:
    """Plans with something missing."""
    idle, blind = bare(), bare()
    del idle["setup"]
    blind["room"][0]["opening"] = []
    blind["setup"][0]["camera"]["toward"] = "chair"
    blind["setup"][0]["camera"]["at"] = [0.5, 2.5]
    far = bare()
    far["location"] |= {"latitude": 78.2, "longitude": 15.6, "timezone": "Arctic/Longyearbyen"}
    return {
        "no setups": (idle, DAY),
        "no openings": (blind, DAY),
        "polar night": (far, date(2026, 12, 21)),
        "polar day": (far, date(2026, 6, 21)),
    }


@pytest.mark.parametrize("name", odd_places())
def test_plans_with_something_missing(name: str, browser: Browser, tmp_path: Path) -> None:
    raw, day = odd_places()[name]
    with opened(browser, written(plan(made(raw, tmp_path), day), tmp_path), width=375) as page:
        assert page.locator("#drawing svg").count() == 1
        assert page.evaluate(CLIPPED) == []
        page.locator("#scrub").focus()
        for key in ("Home", "ArrowRight", "PageUp", "End"):
            page.keyboard.press(key)
        said = page.locator("#stands").text_content() or ""
        if name == "polar night":
            assert "down" in said
            assert "no sun this day" in (page.locator("#lies").text_content() or "")
        if name == "polar day":
            page.keyboard.press("Home")
            assert page.locator("#time").text_content() == "00:00"
            assert "up" in (page.locator("#stands").text_content() or "")
        if name == "no setups":
            assert "No setup in room" in (page.locator("#card").text_content() or "")


def test_on_paper(browser: Browser, lock: Plan, lock_file: Path) -> None:
    """A page a setup, at the hour it is shot, without what only works on a screen."""
    with opened(browser, lock_file) as page:
        paper = page.pdf(format="A4")
        sheets = page.locator(".sheet")
        assert sheets.count() == len(resolve(lock.location)) + len(lock.location.exterior)
        titles = page.locator(".sheet h2").all_text_contents()
        assert sorted(titles) == sorted(
            one.name for one in (*resolve(lock.location), *lock.location.exterior)
        )
        assert lock.pack is not None
        middle = sum(lock.pack.running.slots[0].shoot_s) / 2
        near = [
            f"{datetime.fromtimestamp(300.0 * step, ZoneInfo(lock.location.timezone)):%H:%M}"
            for step in (math.floor(middle / 300.0), math.ceil(middle / 300.0))
        ]
        told = sheets.first.text_content() or ""
        assert any(f"Sun at {clock}" in told for clock in near)
        page.emulate_media(media="print")
        assert page.locator("#dock").is_hidden()
        assert page.locator("#setups").is_hidden()
        assert sheets.first.is_visible()
    assert paper.count(b"/Type /Page\n") >= len(titles)


def test_size_and_nothing_from_outside(lock_file: Path) -> None:
    text = lock_file.read_text(encoding="utf-8")
    assert len(text.encode()) < MOST_BYTES
    # What names another place: only the name of SVG itself.
    addresses = set(re.findall(r"https?://[^\"'\s<]+", text))
    assert addresses == {"http://www.w3.org/2000/svg"}
    assert not re.search(r"\b(?:src|href)=(?!\"(?:#|data:))", text)
    assert "default-src 'none'" in text
