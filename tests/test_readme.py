"""README tells the truth: its outputs are run again, its keys are the model's."""

from __future__ import annotations

import doctest
import re
import shlex
from pathlib import Path

import pytest
from inside import command

from sunplan.location import kit, model
from sunplan.location.read import read

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SESSIONS = re.findall(r"```console\n\$ sunplan (.*?)\n(.*?)```", README, re.DOTALL)
PARTS = tuple(
    one
    for module in (model, kit)
    for one in vars(module).values()
    if isinstance(one, type)
    and issubclass(one, model.FilePart)
    and one not in (model.FilePart, model.LocationFile)
)


def test_there_are_outputs() -> None:
    assert len(SESSIONS) >= 5


@pytest.mark.parametrize(("typed", "output"), SESSIONS, ids=[one[0] for one in SESSIONS])
def test_output(typed: str, output: str, tmp_path: Path) -> None:
    for name in ("locations", "shared"):
        (tmp_path / name).symlink_to(ROOT / name)
    if "--draw demo/" in typed:
        (tmp_path / "demo").mkdir()
    done = command(*shlex.split(typed), cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == output


def test_python() -> None:
    """What README shows of the library, run as it stands there."""
    examples = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    assert examples
    for example in examples:
        test = doctest.DocTestParser().get_doctest(example, {}, "README", "README.md", 0)
        assert test.examples
        done = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test)
        assert done.failed == 0


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.__name__)
def test_every_key_is_explained(part: type[model.FilePart]) -> None:
    for name, field in part.model_fields.items():
        key = name if field.alias is None else field.alias
        assert f"| `{key}` | {field.description} |" in README, key


def test_the_small_file_reads(tmp_path: Path) -> None:
    (sample,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    file = tmp_path / "small.toml"
    file.write_text(sample, encoding="utf-8")
    assert read(file).timezone == "Europe/Amsterdam"


def test_pictures_are_there() -> None:
    pictures = re.findall(r"!\[.*?\]\((.*?)\)", README)
    assert pictures
    for picture in pictures:
        assert (ROOT / picture).stat().st_size > 1000
