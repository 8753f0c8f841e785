"""The wheel: what an index asks of it, what is in it, that it runs where only it is installed."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from email import message_from_bytes
from email.message import Message
from pathlib import Path

import pytest
import smoke
import typer

import sunplan
from sunplan.cli import app

PACKAGE = smoke.ROOT / "sunplan"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return smoke.built(tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def metadata(wheel: Path) -> Message:
    with zipfile.ZipFile(wheel) as packed:
        (name,) = [name for name in packed.namelist() if name.endswith(".dist-info/METADATA")]
        return message_from_bytes(packed.read(name))


def test_an_index_takes_it(wheel: Path) -> None:
    """By twine, warnings of its description as errors."""
    check = sys.executable, "-m", "twine", "--no-color", "check", "--strict", wheel
    done = subprocess.run(check, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "PASSED" in done.stdout


def test_metadata(metadata: Message) -> None:
    """Version, licence as SPDX has it (PEP 639), README as Markdown; no made-up URL."""
    assert metadata["Version"] == sunplan.__version__
    assert metadata["License-Expression"] == "MIT"
    assert metadata["Requires-Python"] == ">=3.11"
    assert metadata["Description-Content-Type"].startswith("text/markdown")
    assert str(metadata.get_payload()).startswith("# ")
    assert "Typing :: Typed" in metadata.get_all("Classifier", [])
    assert metadata.get_all("Project-URL") is None
    assert metadata["Home-page"] is None


def test_all_files_are_in_it(wheel: Path) -> None:
    """All of the package's sources, tables, Typst, page assets, and nothing else."""
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    sources = {
        str(file.relative_to(smoke.ROOT))
        for file in PACKAGE.rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    }
    assert packed == sources
    kinds = {Path(name).suffix for name in packed}
    assert {".py", ".toml", ".typ", ".html", ".css", ".js", ".gz", ".typed"} <= kinds


def test_it_runs_where_it_is_installed(wheel: Path, tmp_path: Path) -> None:
    """In an environment that has the wheel and sees the tests' libraries, far from the sources."""
    home = tmp_path / "environment"
    venv.create(home, symlinks=True)
    pip = sys.executable, "-m", "pip", "--python", home / "bin" / "python"
    install = "install", "--quiet", "--no-deps", "--no-index", "--no-compile"
    smoke.run(*pip, *install, wheel, cwd=tmp_path)
    (packages,) = home.glob("lib/python*/site-packages")
    # The tests' own sunplan is found by a .pth file there, which does not count in another's.
    (packages / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    for name in ("locations", "shared"):
        shutil.copytree(smoke.ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("*.png"))

    def ran(*arguments: str) -> str:
        return smoke.run(home / "bin" / "sunplan", *arguments, cwd=tmp_path)

    where = "import sunplan; print(sunplan.__file__)"
    installed = smoke.run(home / "bin" / "python", "-c", where, cwd=tmp_path).strip()
    assert Path(installed).is_relative_to(home)
    assert ran("--version") == f"sunplan {sunplan.__version__}\n"
    assert "canal window" in ran("entry", smoke.FILE, *smoke.DATE.split())
    ran("ask", smoke.FILE, "--out", "form.pdf")  # by Typst, from the wheel's own files
    assert (tmp_path / "form.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("command", smoke.COMMANDS)
def test_smoke_asks_what_there_is(command: str) -> None:
    """What `make smoke` runs are commands and options of today."""
    name, *options = shlex.split(command)
    if not name.startswith("--"):
        known = typer.main.get_command(app).commands  # type: ignore[attr-defined]
        known[name].make_context(name, options)


def test_lowest_versions_are_those_allowed() -> None:
    """What `make smoke` runs with are the lower bounds of pyproject.toml."""
    assert smoke.lowest_are_pyprojects() == []
