"""Every command once, of a wheel in environments made for it: `make smoke`.

An environment with the lowest versions that pyproject.toml allows (constraints-lowest.txt), then
one for each Python that is here with the pinned ones of constraints.txt. What they say of the gap
is compared with the first. Needs a package index; `python tests/smoke.py PYTHON …` takes others.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
LOWEST = "constraints-lowest.txt"
PYTHONS = "python3.11", "python3.12", "python3.13", "python3.14"
SAME_STOPS = 0.01  # between versions of pvlib, scipy and numpy; nobody can tell that from none
FILE, DATE = "locations/lock-house.toml", "--date 2027-03-20"
COMMANDS = (
    "--version",
    f"check {FILE} --draw rooms.png",
    f"entry {FILE} {DATE} --draw sun.svg",
    f"flags {FILE} {DATE} --from 12:00 --to 16:00 --draw flags.png",
    f"gap {FILE} {DATE} --from 12:00 --to 19:00 --json",
    f"gap {FILE} {DATE} --draw gap.svg",
    f"hours {FILE} {DATE} --from 15:00 --to 17:00 --csv",
    f"key {FILE} --units ft",
    f"negfill {FILE} {DATE} --at 16:00",
    f"blackout {FILE} {DATE} --from 15:00 --to 16:00",
    f"order {FILE} {DATE}",
    f"pack {FILE} {DATE} --json",
    f"plan {FILE} {DATE} --out day",
    f"ask {FILE} --out form.pdf --out answers.csv",
    'new house.toml --place 52.0907,5.1214 --first-room "kitchen 4.2 x 3.1 x 2.5" --plan-up 12',
    "bearing house.toml --compass 'kitchen A: 104 ±5' --write",
    "skyline house.toml --sight '80: 4' --sight '120: 9' --write",
)
WRITTEN = (
    "rooms.png",
    "sun.svg",
    "flags.png",
    "gap.svg",
    "form.pdf",
    "day/plan.html",
    "day/plan.pdf",
)
LIBRARY = f"""
import sunplan
frame = sunplan.entry(sunplan.read("{FILE}"), "2027-03-20").frame
assert str(frame["from"].dt.tz) == "Europe/Amsterdam", frame.dtypes
assert frame.attrs["units"]["largest_patch_m2"] == "m²"
"""


class StepError(Exception):
    """A step that did not end well; what it said."""


def run(*arguments: str | Path, cwd: Path) -> str:
    """What a program prints.

    Raises
    ------
    StepError
        Where it ends with another status than 0.
    """
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    env["OPENBLAS_NUM_THREADS"] = "1"
    done = subprocess.run(arguments, cwd=cwd, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        said = "\n".join([*done.stdout.splitlines()[-5:], *done.stderr.splitlines()[-15:]])
        raise StepError(f"{' '.join(map(str, arguments))}: exit status {done.returncode}\n{said}")
    return done.stdout


def built(folder: Path) -> Path:
    """The wheel, built from a copy of the sources so that nothing lies about in them."""
    source = folder / "source"
    source.mkdir()
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    ignored = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "sunplan", source / "sunplan", ignore=ignored)
    build = "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--wheel-dir"
    run(sys.executable, "-m", *build, folder, source, cwd=folder)
    (wheel,) = folder.glob("sunplan-*.whl")
    return wheel


def here(pythons: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Those interpreters that run, with their versions."""
    for python in pythons:
        try:
            said = run(python, "-c", "import sys; print(*sys.version_info[:3], sep='.')", cwd=ROOT)
        except (OSError, StepError):
            print(f"{python}: not here")
        else:
            yield python, said.strip()


def stops(text: str) -> list[float]:
    """What windows are over mid-grey, in the JSON of `gap`."""
    return [
        opening["stops"]
        for setup in json.loads(text)["setups"]
        for moment in setup["times"]
        for opening in moment["openings"]
        if opening["stops"] is not None
    ]


def smoke(python: str, wheel: Path, constraints: str, folder: Path) -> list[float]:
    """Install the wheel, run every command; the gap's stops."""
    folder.mkdir()
    run(python, "-m", "venv", folder / "venv", cwd=folder)
    pip = folder / "venv" / "bin" / "python", "-m", "pip", "install", "--quiet"
    run(*pip, "--constraint", ROOT / constraints, wheel, cwd=folder)
    for name in ("locations", "shared"):
        shutil.copytree(ROOT / name, folder / name)
    gap: list[float] = []
    for command in COMMANDS:
        said = run(folder / "venv" / "bin" / "sunplan", *shlex.split(command), cwd=folder)
        if command.startswith("gap") and "--json" in command:
            gap = stops(said)
    run(folder / "venv" / "bin" / "python", "-c", LIBRARY, cwd=folder)
    missing = [name for name in WRITTEN if (folder / name).stat().st_size < 1000]
    if missing:
        raise StepError(f"too small to be anything: {', '.join(missing)}")
    return gap


def lowest_are_pyprojects() -> list[str]:
    """Lower bounds of pyproject.toml that constraints-lowest.txt does not pin."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pinned = (ROOT / LOWEST).read_text(encoding="utf-8").splitlines()
    versions = dict(line.split("==") for line in pinned)

    def digits(version: str) -> tuple[int, ...]:
        parts = [int(part) for part in re.findall(r"\d+", version)]
        return tuple(parts + [0] * (4 - len(parts)))

    bounds = (line.split(">=") for line in project["dependencies"])
    return [
        f"{name}>={bound}"
        for name, bound in bounds
        if digits(versions.get(name, "-1")) != digits(bound)
    ]


def main(pythons: list[str]) -> int:
    """Every environment; the number of those that failed."""
    if unpinned := lowest_are_pyprojects():
        print(f"{LOWEST} does not pin {', '.join(unpinned)}")
        return 1
    failed = 0
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        wheel = built(folder)
        cases = [(*found, "constraints.txt") for found in here(pythons)]
        cases.insert(0, (*cases[0][:2], LOWEST))
        first: list[float] = []
        for python, version, constraints in cases:
            begun = time.monotonic()
            print(f"Python {version}, {constraints}: ", end="", flush=True)
            try:
                gap = smoke(python, wheel, constraints, folder / f"{version}-{constraints}")
                first = first if first else gap
                off = max(abs(a - b) for a, b in zip(first, gap, strict=True))
                if off > SAME_STOPS:
                    raise StepError(f"the gap is {off:g} stops off")
            except StepError as error:
                failed += 1
                print(f"failed\n{error}")
            else:
                took = time.monotonic() - begun
                print(f"{len(COMMANDS)} commands in {took:.0f} s, {off:.1g} stops off the first")
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or list(PYTHONS)))
