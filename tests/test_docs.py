"""README and docs/ tell the truth: what is made in them is made again, what they name is there."""

from __future__ import annotations

import doctest
import re
import shlex
from pathlib import Path

import pytest
import typer
from doc_tables import PARTS, TABLES
from documents import DOCUMENTS, MADE_TABLE, ROOT, Block, blocks, with_tables

from sunplan.cli import app
from sunplan.location import kit
from sunplan.location.read import read

TEXTS = {path: path.read_text(encoding="utf-8") for path in DOCUMENTS}
BLOCKS = [block for path in DOCUMENTS for block in blocks(path)]
COMMANDS = typer.main.get_command(app).commands  # type: ignore[attr-defined]
each_document = pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.name)


@pytest.mark.parametrize("block", BLOCKS, ids=str)
def test_output(block: Block, tmp_path: Path) -> None:
    """`make docs` writes it anew."""
    assert block.run(tmp_path) == block.output


def test_every_block_is_run() -> None:
    """None is written so that the search for blocks passes it over; no command is asked twice."""
    assert len(BLOCKS) == sum(text.count("```console") for text in TEXTS.values())
    assert len({block.typed for block in BLOCKS}) == len(BLOCKS)


def test_the_walkthrough_has_every_command() -> None:
    shown = [block.typed.split()[0] for block in BLOCKS if block.document == "walkthrough.md"]
    assert set(shown) == set(COMMANDS)


def test_readme_is_short() -> None:
    """So that it is read: 200 lines at most."""
    assert len(TEXTS[ROOT / "README.md"].splitlines()) <= 200


@each_document
def test_tables_are_those_of_the_code(path: Path) -> None:
    """`make docs` writes them anew."""
    assert with_tables(TEXTS[path]) == TEXTS[path]


def test_every_table_stands_once() -> None:
    shown = [place[1] for text in TEXTS.values() for place in MADE_TABLE.findall(text)]
    assert sorted(shown) == sorted(TABLES)


@pytest.mark.parametrize("part", PARTS)
def test_every_key_is_explained(part: str) -> None:
    """Every key of the models stands in a table of documents, described in words of its own."""
    rows = re.findall(r"^\| `(\w+)` \| (.*?) \|", "".join(TEXTS.values()), re.MULTILINE)
    described = dict.fromkeys(rows)
    for name, field in PARTS[part].model_fields.items():
        key = name if field.alias is None else field.alias
        words = [text for known, text in described if known == key]
        assert words, key
        assert not [text for text in words if re.search(r"default|above 0|^$", text)], key


def test_python() -> None:
    """What is shown of the library, run as it stands there."""
    examples = [
        (path, example)
        for path, text in TEXTS.items()
        for example in re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    ]
    assert examples
    for path, example in examples:
        test = doctest.DocTestParser().get_doctest(example, {}, path.name, path.name, 0)
        assert test.examples
        done = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test)
        assert done.failed == 0


def test_whole_files_read(tmp_path: Path) -> None:
    """Each toml block is a location or a kit as sunplan takes it."""
    samples = re.findall(r"```toml\n(.*?)```", "".join(TEXTS.values()), re.DOTALL)
    file = tmp_path / "sample.toml"
    kinds = []
    for sample in samples:
        file.write_text(sample, encoding="utf-8")
        kinds.append("kit" if kit.is_kit(file) else "location")
        if kinds[-1] == "kit":
            assert kit.read_kit(file).lamp
        else:
            assert read(file).timezone == "Europe/Amsterdam"
    assert sorted(kinds) == ["kit", "location"]


def headings(path: Path) -> set[str]:
    """The anchors of a Markdown file's headings, as forges make them."""
    titles = re.findall(r"^#+ (.*)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in titles}


@each_document
def test_links_lead_somewhere(path: Path) -> None:
    """Links and pictures are relative, so that they lead on in any checkout."""
    for link in re.findall(r"\]\(([^)\s]+)\)", TEXTS[path]):
        name, _, anchor = link.partition("#")
        target = (path.parent / name).resolve() if name else path
        assert target.is_relative_to(ROOT), link
        assert target.stat().st_size > 1000, link
        assert not anchor or anchor in headings(target), link


def test_readme_leads_to_all() -> None:
    readme = TEXTS[ROOT / "README.md"]
    assert not [path for path in DOCUMENTS[1:] if f"](docs/{path.name})" not in readme]


@each_document
def test_commands_and_options_are_todays(path: Path) -> None:
    """A command that is shown without its output, an option in a sentence."""
    text = TEXTS[path]
    known = {
        option for command in COMMANDS.values() for param in command.params for option in param.opts
    }
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", text))
    assert not named - known - {"--help", "--version", "--install-completion"}
    for line in re.findall(r"^ +sunplan (.*)$", text, re.MULTILINE):
        name, *arguments = shlex.split(line)
        COMMANDS[name].make_context(name, arguments)
    for name in re.findall(r"`sunplan ([a-z]+)", text):
        assert name in COMMANDS
