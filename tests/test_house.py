"""The house's own rules: a class name means one thing, a function fits on a screen."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import sunplan

PACKAGE = Path(sunplan.__file__).parent
LONGEST = 60  # lines of a function without its docstring


def trees() -> Iterator[tuple[str, ast.Module]]:
    """Each module's path within the package, with its syntax tree."""
    for path in sorted(PACKAGE.rglob("*.py")):
        yield str(path.relative_to(PACKAGE)), ast.parse(path.read_text(encoding="utf-8"))


def shared_names(modules: Iterator[tuple[str, ast.Module]]) -> dict[str, list[str]]:
    """Names of classes that stand in several modules, a leading underscore aside."""
    places: dict[str, list[str]] = defaultdict(list)
    for path, tree in modules:
        for node in tree.body:
            if isinstance(node, ast.ClassDef):
                places[node.name.lstrip("_")].append(path)
    return {name: where for name, where in places.items() if len(where) > 1}


def long_functions(modules: Iterator[tuple[str, ast.Module]]) -> list[str]:
    """Functions of more lines than fit."""
    found = []
    for path, tree in modules:
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                told = node.body[0] if ast.get_docstring(node) is not None else None
                lines = _lines(node) - (0 if told is None else _lines(told))
                if lines > LONGEST:
                    found.append(f"{path}: {node.name}, {lines} lines")
    return found


def _lines(node: ast.stmt) -> int:
    assert node.end_lineno is not None
    return node.end_lineno - node.lineno + 1


def test_no_class_name_is_used_for_two_things() -> None:
    assert shared_names(trees()) == {}


def test_functions_fit_on_a_screen() -> None:
    assert long_functions(trees()) == []


def test_developers_names_files_that_are_there() -> None:
    root = PACKAGE.parent
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z0-9_/-]+\.(?:py|typ|js|css|html|toml))`", text))
    folders = [
        root,
        PACKAGE,
        root / "tests",
        *(path for path in PACKAGE.rglob("*") if path.is_dir()),
    ]
    lacking = [one for one in named if not any((folder / one).is_file() for folder in folders)]
    assert len(named) > 80
    assert lacking == []


def test_these_rules_notice_what_breaks_them() -> None:
    twin = ast.parse("class _Way: ...\nclass Way: ...")
    assert shared_names(iter([("a.py", twin)])) == {"Way": ["a.py", "a.py"]}
    body = "\n".join(["def f():", '    """Told."""', *["    x = 1"] * LONGEST])
    assert long_functions(iter([("a.py", ast.parse(body))])) == ["a.py: f, 61 lines"]
    assert long_functions(iter([("a.py", ast.parse(body.rpartition("\n")[0]))])) == []
