"""The page in a real browser: Debian's Chromium, driven by Playwright; nothing may be asked for."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, Playwright

ARGUMENTS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
]

# Corners of all that is drawn, in the picture's own pixels, through whatever moves them there.
DRAWN = """() => {
  const svg = document.querySelector("#drawing svg");
  const home = svg.getScreenCTM().inverse();
  const moved = (one, flat) => {
    const way = home.multiply(one.getScreenCTM());
    const out = [];
    for (let i = 0; i < flat.length; i += 2) {
      const at = new DOMPoint(flat[i], flat[i + 1]).matrixTransform(way);
      out.push([at.x, at.y]);
    }
    return out;
  };
  const numbers = (text) => text.match(/-?[\\d.]+(e-?\\d+)?/g).map(Number);
  const rings = (one) => one.getAttribute("d").split("Z").filter(Boolean)
    .map((ring) => moved(one, numbers(ring)));
  const outline = svg.querySelector("polygon.floor");
  const shown = "svg.plan > polygon:is(.flag, .negative)";
  const standing = [...svg.parentNode.querySelectorAll(shown)];
  return {
    standing: standing.map((one) => [
      one.getAttribute("class"), moved(one, numbers(one.getAttribute("points"))),
    ]),
    outline: moved(outline, numbers(outline.getAttribute("points"))),
    walls: [...svg.querySelectorAll("polygon.laid")].map((one) => [
      one.dataset.of, moved(one, numbers(one.getAttribute("points"))),
    ]),
    patches: [...svg.querySelectorAll("path.patch")].map((one) => ({
      surface: one.dataset.surface, opening: one.dataset.opening, rings: rings(one),
    })),
  };
}"""


def chromium() -> str:
    """Chromium's path; CHROMIUM in the environment names another."""
    found = shutil.which(os.environ.get("CHROMIUM", "chromium"))
    if found is None:
        pytest.fail(
            "the page is tested in Chromium, and there is none: as root `apt-get install chromium`,"
            " or set CHROMIUM to where it is"
        )
    return found


def launched(playwright: Playwright) -> Browser:
    """A browser with an empty profile of its own."""
    return playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)


@contextmanager
def opened(
    browser: Browser, file: Path, *, width: int = 1440, height: int = 900, **context: Any
) -> Iterator[Page]:
    """The page from its file; any word on the console, error, or request besides fails."""
    wrong: list[str] = []
    around = browser.new_context(viewport={"width": width, "height": height}, **context)
    page = around.new_page()
    page.on("console", lambda one: wrong.append(f"console: {one.text}"))
    page.on("pageerror", lambda one: wrong.append(f"error: {one}"))
    page.on("request", lambda one: wrong.append(f"request: {one.url}"))
    try:
        page.goto(file.as_uri())
        assert wrong == [f"request: {file.as_uri()}"]
        wrong.clear()
        yield page
        assert wrong == []
    except Exception as error:
        if wrong:  # what the page itself says tells more
            raise AssertionError(wrong) from error
        raise
    finally:
        around.close()


class Drawing:
    """What is drawn of a room, back in metres by its outline in the location file."""

    def __init__(self, page: Page, outline_m: np.ndarray) -> None:
        self._found = page.evaluate(DRAWN)
        self._outline_m = outline_m
        drawn = np.array(self._found["outline"])
        # x = a·u + b, y = −a·v + c: one scale, and y up the sheet.
        rows = [[u, 1.0, 0.0] for u, _ in drawn] + [[-v, 0.0, 1.0] for _, v in drawn]
        wanted = np.concatenate((outline_m[:, 0], outline_m[:, 1]))
        self._map, *_ = np.linalg.lstsq(np.array(rows), wanted, rcond=None)
        off = np.abs(np.array(rows) @ self._map - wanted).max()
        assert off < 0.0006, f"the outline is drawn {1000 * off:.1f} mm off"

    def _metres(self, ring: list[list[float]]) -> np.ndarray:
        scale, right, up = self._map
        u, v = np.array(ring).T
        return np.stack((scale * u + right, up - scale * v), axis=-1)

    def standing(self, kind: str) -> list[np.ndarray]:
        """Corners on the plan of flags or negatives, metres."""
        return [self._metres(ring) for name, ring in self._found["standing"] if name == kind]

    def patches(self) -> dict[tuple[str, str], list[np.ndarray]]:
        """Rings by surface and opening, in metres of the floor or of the wall."""
        feet = {letter: self._metres(ring) for letter, ring in self._found["walls"]}
        found: dict[tuple[str, str], list[np.ndarray]] = {}
        for one in self._found["patches"]:
            rings = [self._metres(ring) for ring in one["rings"]]
            if one["surface"] != "floor":
                rings = [self._on_wall(one["surface"], feet, ring) for ring in rings]
            found.setdefault((one["surface"], one["opening"]), []).extend(rings)
        return found

    def _on_wall(self, letter: str, feet: dict[str, np.ndarray], ring: np.ndarray) -> np.ndarray:
        """Of a wall laid down outward: along it from its first corner, and up it."""
        index = ord(letter) - ord("A")
        first, second = self._outline_m[[index, (index + 1) % len(self._outline_m)]]
        way = (second - first) / np.linalg.norm(second - first)
        out = np.array([way[1], -way[0]])
        foot = feet[letter][:2] - first
        # It lies square before its own place, foot toward the room.
        assert np.abs(foot @ way - [0.0, np.linalg.norm(second - first)]).max() < 0.002
        assert np.ptp(foot @ out) < 0.001
        assert (foot @ out).min() > 0.0
        off = ring - first
        return np.stack((off @ way, off @ out - (foot @ out).mean()), axis=-1)
