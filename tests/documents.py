"""README and docs/: what in them is made by running, and the same made anew.

Made are the output of each ```console block, by its command, and the table under each
`<!-- made: NAME -->` (`doc_tables.py`). `make docs` writes all of it anew; words on the command
line name the documents to do.
"""

from __future__ import annotations

import re
import shlex
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from doc_tables import TABLES
from inside import command

ROOT = Path(__file__).parent.parent
DOCUMENTS = (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md")))
MADE_TABLE = re.compile(r"(<!-- made: (.*?) -->\n)((?:\|.*\n)*)")
_BLOCK = re.compile(r"```console\n\$ sunplan ((?:.*\\\n)*.*)\n((?:.*\n)*?)```\n")
FOLD = "\\\n"  # a command that goes on on the next line
_WRITES = re.compile(
    r"new |.* --(write|fill)\b", re.DOTALL
)  # later commands may want what these write


@dataclass(frozen=True)
class Block:
    """A command of a document with what it prints; `before` are commands that it builds on."""

    document: str
    typed: str
    output: str
    before: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.document}: sunplan {' '.join(self.typed.replace(FOLD, '').split())}"

    def run(self, folder: Path) -> str:
        """What it prints, run in a folder with copies of the demos.

        A command may end in ` | head -N`, and a line of it in a backslash, as in a shell.
        """
        for name in ("locations", "shared"):
            ignored = shutil.ignore_patterns("pictures")
            shutil.copytree(ROOT / name, folder / name, ignore=ignored)
        for typed in (*self.before, self.typed):
            asked, _, most = typed.replace(FOLD, "").partition(" | head -")
            done = command(*shlex.split(asked), cwd=folder)
            assert (done.returncode, done.stderr) == (0, ""), (typed, done.stderr)
        lines = done.stdout.splitlines(keepends=True)
        return "".join(lines[: int(most)] if most else lines)


def blocks(document: Path) -> list[Block]:
    """The console blocks of a document."""
    found: list[Block] = []
    for typed, output in _BLOCK.findall(document.read_text(encoding="utf-8")):
        before = tuple(block.typed for block in found if _WRITES.match(block.typed))
        found.append(Block(document.name, typed, output, before))
    return found


def with_tables(text: str) -> str:
    """A document's text with its made tables anew."""
    return MADE_TABLE.sub(lambda place: place[1] + TABLES[place[2]](), text)


def anew(document: Path) -> str:
    """A document's text with all that is made in it made anew."""
    text = with_tables(document.read_text(encoding="utf-8"))
    for block in blocks(document):
        with TemporaryDirectory() as folder:
            output = block.run(Path(folder))
        if output != block.output:
            print(block)
        shown = f"```console\n$ sunplan {block.typed}\n"
        assert text.count(shown + block.output) == 1
        text = text.replace(shown + block.output, shown + output)
    return text


def main() -> None:
    for document in DOCUMENTS:
        if not sys.argv[1:] or document.name in sys.argv[1:]:
            document.write_text(anew(document), encoding="utf-8")


if __name__ == "__main__":
    main()
