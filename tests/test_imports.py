"""Imports go one way, from the location to the command line, and the command line starts light."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import sunplan

PACKAGE = Path(sunplan.__file__).parent
STAGES = [
    "location",
    "sun",
    "survey",
    "room",
    "light",
    "rig",
    "day",
    "report",
    "draw",
    "write",
    "api",
    "cli",
    "__main__",
]
FOR_ALL = ["errors", "data"]  # whoever likes imports them; they import none of the package
HEAVY = ["numpy", "pvlib", "shapely", "matplotlib", "pandas", "pydantic"]


def imported(module: str, text: str, *, package: bool) -> Iterator[tuple[int, str]]:
    """Line and full name of everything that a source text imports, wherever it stands in it."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, one.name) for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            parts = module.split(".")
            outer = parts[: len(parts) - node.level + package] if node.level else []
            base = ".".join([*outer, *([node.module] if node.module else [])])
            yield from ((node.lineno, f"{base}.{one.name}") for one in node.names)


def wrong_way(module: str, text: str, *, package: bool = False) -> list[str]:
    """Imports of the package that do not go to the left, each with its line."""
    own = module.split(".")[1]
    allowed = [] if own in FOR_ALL else [*FOR_ALL, *STAGES[: STAGES.index(own)]]
    names = {path.stem for path in PACKAGE.iterdir()} | {*STAGES, *FOR_ALL}
    wrong = []
    for line, name in imported(module, text, package=package):
        parts = name.split(".")
        # `from . import __version__` takes a value of the package itself, not a module.
        if parts[0] == "sunplan" and parts[1:] and parts[1] in names - {own, *allowed}:
            wrong.append(f"{module}, line {line}: {name}")
    return wrong


def modules() -> Iterator[tuple[str, Path]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def test_every_module_imports_to_the_left() -> None:
    checked, wrong = [], []
    for name, path in modules():
        text = path.read_text(encoding="utf-8")
        if name == "sunplan":
            # Of itself only what it offers, for whoever checks types.
            mine = {one for _, one in imported(name, text, package=True) if "sunplan" in one}
            assert mine == {f"sunplan.api.{one}" for one in sunplan.OFFERED}
            continue
        checked.append(name)
        wrong += wrong_way(name, text, package=path.name == "__init__.py")
    assert {"sunplan.location.read", "sunplan.sun.position", "sunplan.cli"} <= set(checked)
    assert wrong == []


@pytest.mark.parametrize(
    ("module", "text", "names"),
    [
        ("sunplan.location.read", "from ..sun.position import Track", "sunplan.sun.position.Track"),
        ("sunplan.location.read", "from .. import sun", "sunplan.sun"),
        ("sunplan.location.read", "from sunplan import room", "sunplan.room"),
        ("sunplan.sun.position", "import sunplan.report.words", "sunplan.report.words"),
        ("sunplan.room.beam", "import numpy, sunplan.rig.flags as f", "sunplan.rig.flags"),
        ("sunplan.rig.flags", "def f():\n    from ..day import order", "sunplan.day.order"),
        (
            "sunplan.light.sky",
            "if True:\n    from ..rig.rays import a",
            "sunplan.rig.rays.a",
        ),
        ("sunplan.report.words", "from ..cli import app", "sunplan.cli.app"),
        ("sunplan.data.more", "from ..location.model import Room", "sunplan.location.model.Room"),
        ("sunplan.data.more", "from ..errors import Problem", "sunplan.errors.Problem"),
        ("sunplan.errors", "from .location import model", "sunplan.location.model"),
        ("sunplan.cli", "from .__main__ import main", "sunplan.__main__.main"),
    ],
)
def test_the_check_finds_a_wrong_way(module: str, text: str, names: str) -> None:
    line = text.count("\n") + 1
    assert wrong_way(module, text) == [f"{module}, line {line}: {names}"]


def test_the_check_knows_the_package_of_a_folder() -> None:
    text = "from ..room.beam import beam\nfrom .position import Track"
    assert wrong_way("sunplan.sun", text, package=True) == [
        "sunplan.sun, line 1: sunplan.room.beam.beam"
    ]


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("sunplan.location.read", "from .model import Room\nfrom . import kit"),
        ("sunplan.location.read", "from ..data import table\nfrom ..errors import Problem"),
        ("sunplan.report.words", "from ..room import beam\nimport sunplan.location.lengths"),
        ("sunplan.cli", "from . import __version__\nfrom .report import words\nimport rich"),
        ("sunplan.sun.position", "import room, report.words\nfrom rig import flags"),
    ],
)
def test_the_check_lets_the_right_way_pass(module: str, text: str) -> None:
    assert wrong_way(module, text) == []


def test_a_folder_of_no_stage_is_noticed() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/*.py")}
    files = {path.stem for path in PACKAGE.glob("*.py")} - {"__init__"}
    assert folders | files <= {*STAGES, *FOR_ALL}


def loaded(module: str) -> set[str]:
    """The heavy packages that a fresh interpreter has after importing one module."""
    code = f"import sys, {module}\nprint(*[name for name in {HEAVY} if name in sys.modules])"
    ran = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, timeout=60
    )
    return set(ran.stdout.split())


def test_the_command_line_starts_without_the_heavy_packages() -> None:
    assert loaded("sunplan.cli") == set()


def test_heavy_packages_would_be_noticed() -> None:
    assert {"pydantic", "shapely", "numpy"} <= loaded("sunplan.location.read")


def test_the_library_starts_without_sun_light_and_rig() -> None:
    """A location and the forms of an answer are all that it loads; the rest when it is asked."""
    code = "import sys, sunplan.api\nprint(*[name for name in sys.modules if 'sunplan.' in name])"
    ran = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, timeout=60
    )
    loads = set(ran.stdout.split()) - {"sunplan.light", "sunplan.light.sky_names"}
    folders = {name.split(".")[1] for name in loads}
    assert {"location", "report", "day"} <= folders
    assert folders & {"survey", "room", "light", "rig", "draw", "write"} == set()
    assert "sunplan.day.order" not in loads


@pytest.mark.parametrize("module", ["cli", "api"])
def test_the_front_names_few_modules(module: str) -> None:
    """What a question takes is put together in the stages, not before them."""
    text = (PACKAGE / f"{module}.py").read_text(encoding="utf-8")
    known = {name for name, _ in modules()}
    names = {
        name if name in known else name.rpartition(".")[0]
        for _, name in imported(f"sunplan.{module}", text, package=False)
        if name.startswith("sunplan.")
    }
    assert {"sunplan.errors", "sunplan.day.arguments"} <= names
    assert len(names) <= 40
