"""Pictures of README and the gallery, made anew from the demos: `make gallery`.

Every picture is what one command of the program makes; photographs of the page are taken by a
browser, of the sheet by the typesetter.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

ROOT = Path(__file__).parent.parent
OUT = ROOT / "locations" / "pictures"
DAY = "2027-03-20"
COLOURS = 64  # of a picture: flat drawings lose nothing
DRAWN = (  # file, what it shows, the command without what it draws to
    ("lock-house-rooms", "The rooms as they were understood", "check locations/lock-house.toml"),
    (
        "lock-house-entry",
        "Direct sun of a day",
        f"entry locations/lock-house.toml --date {DAY}",
    ),
    (
        "lock-house-sky",
        "The sky over the stove",
        f'entry locations/lock-house.toml --date {DAY} --over-mark "at the stove"',
    ),
    (
        "lock-house-flags",
        "Where the kettle's flags hang",
        f'flags locations/lock-house.toml --date {DAY} --setup "the kettle"',
    ),
    (
        "lock-house-gap",
        "Stops of the window in frame through the day",
        f'gap locations/lock-house.toml --date {DAY} --setup "last coffee"',
    ),
    (
        "lock-house-hours",
        "Stops over the look by date and hour",
        "hours locations/lock-house.toml --date 2027-01-01 --to-date 2027-12-31",
    ),
    ("ferry-shop-rooms", "A shop in the south", "check locations/ferry-shop.toml"),
    ("ferry-shop-entry", "Its sun", f"entry locations/ferry-shop.toml --date {DAY}"),
    ("gate-house-rooms", "A gate house, in feet", "check locations/gate-house.toml"),
    ("gate-house-gap", "Its windows in frame", f"gap locations/gate-house.toml --date {DAY}"),
)


def run(command: str) -> None:
    subprocess.run(
        [sys.executable, "-m", "sunplan", *shlex.split(command)],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        check=True,
    )


def small(path: Path) -> None:
    """The same picture with few colours: a quarter of the bytes."""
    with Image.open(path) as picture:
        flat = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    flat.save(path, optimize=True)


def plan(folder: Path) -> Path:
    """A planned day of the lock-keeper's house."""
    run(f"plan locations/lock-house.toml --date {DAY} --out {folder / 'day'}")
    return folder / "day"


def page(path: Path) -> None:
    """The page when the last coffee is shot, on a laptop."""
    from playwright.sync_api import sync_playwright

    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        day = plan(Path(folder))
        browser = playwright.chromium.launch(
            executable_path=shutil.which(os.environ.get("CHROMIUM", "chromium")),
            args=["--no-sandbox", "--disable-gpu"],
        )
        tab = browser.new_page(viewport={"width": 1280, "height": 860})
        tab.goto((day / "plan.html").as_uri())
        tab.get_by_role("button", name="last coffee").first.click()
        tab.screenshot(path=path)
        browser.close()


def sheet(path: Path) -> None:
    """A room's page of the sheet."""
    with TemporaryDirectory() as folder:
        pdf = plan(Path(folder)) / "plan.pdf"
        made = subprocess.run(
            ["pdftoppm", "-r", "80", "-f", "3", "-l", "3", "-png", str(pdf)],
            capture_output=True,
            check=True,
        )
    path.write_bytes(made.stdout)


PHOTOGRAPHS = (
    ("lock-house-page", "The page: last coffee", page),
    ("lock-house-sheet", "The sheet: a room", sheet),
)


def main() -> None:
    OUT.mkdir(exist_ok=True)
    lines = [
        "# Gallery",
        "",
        "Made by `make gallery` from the demos, all of them invented.",
    ]
    for name, title, command in DRAWN:
        path = OUT / f"{name}.png"
        run(f"{command} --draw {path}")
        small(path)
        lines += ["", f"## {title}", "", f"    sunplan {command} --draw {name}.png", ""]
        lines.append(f"![{title}]({name}.png)")
        print(f"{path.name}: {path.stat().st_size // 1000} kB")
    for name, title, draw in PHOTOGRAPHS:
        path = OUT / f"{name}.png"
        draw(path)
        small(path)
        lines += ["", f"## {title}", "", f"![{title}]({name}.png)"]
        print(f"{path.name}: {path.stat().st_size // 1000} kB")
    (OUT / "README.md").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
