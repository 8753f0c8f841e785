"""The notebook in docs/ runs from start to end, and shows what it speaks of."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jupytext
import pytest
from nbclient import NotebookClient

DOCS = Path(__file__).parent.parent / "docs"


@pytest.fixture(scope="module")
def cells(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Any]]:
    """Its cells with their outputs; a cell that fails, an assert among them, fails all."""
    notebook = jupytext.read(DOCS / "notebook.py")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path_factory.mktemp("runtime")))
        patch.setenv("IPYTHONDIR", str(tmp_path_factory.mktemp("ipython")))
        client = NotebookClient(notebook, timeout=120, resources={"metadata": {"path": DOCS}})
        yield client.execute().cells


def outputs(cells: list[Any], kind: str) -> list[str]:
    """Outputs of a medium, from cell to cell."""
    return [
        output["data"][kind]
        for cell in cells
        if cell.cell_type == "code"
        for output in cell.outputs
        if kind in output.get("data", {})
    ]


def test_it_runs(cells: list[Any]) -> None:
    code = [cell for cell in cells if cell.cell_type == "code"]
    assert all(cell.execution_count for cell in code)
    said = [output for cell in code for output in cell.outputs if output.output_type == "stream"]
    assert said == []  # no warnings
    assert all(cell.outputs for cell in code)


def test_it_shows_tables_and_a_chart(cells: list[Any]) -> None:
    shown = outputs(cells, "text/html")
    assert sum("<table" in html for html in shown) >= 4
    assert sum('class="sunplan ' in html for html in shown) == 1
    assert "Never look at the sun" in "".join(shown)
    assert len(outputs(cells, "image/png")) == 1
    assert all("\n" not in text for text in outputs(cells, "text/plain") if "sunplan." in text)
