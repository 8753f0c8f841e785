"""The table of commands and options in docs/options.md, made from the command line itself.

`python tests/option_table.py` writes it anew.
"""

from __future__ import annotations

from pathlib import Path

from typer.main import get_command

from sunplan.cli import app

FILE = Path(__file__).parent.parent / "docs" / "options.md"
HEAD = """# Commands and options

Made from the code. An option means the same in every command that has it: ● it may be given, ◆ it
must be.

"""


def table() -> str:
    """Markdown: a row an option, those of most commands first; a column a command."""
    commands = get_command(app).commands  # type: ignore[attr-defined]
    marks: dict[str, dict[str, str]] = {}
    for name, command in commands.items():
        for param in command.params:
            if param.param_type_name == "option":
                marks.setdefault(param.opts[0], {})[name] = "◆" if param.required else "●"
    options = sorted(marks, key=lambda option: (-len(marks[option]), option))
    rows = [("", *commands), ("---", *[":-:"] * len(commands))]
    rows += [
        (f"`{option}`", *(marks[option].get(name, "") for name in commands)) for option in options
    ]
    return HEAD + "".join(f"| {' | '.join(row)} |\n" for row in rows)


if __name__ == "__main__":
    FILE.write_text(table(), encoding="utf-8")
