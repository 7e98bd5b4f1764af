"""Each notebook runs from top to bottom."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_it_runs(path):
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=240, resources={"metadata": {"path": str(path.parent)}}).execute()
    printed = "".join(
        output.get("text", "")
        for cell in notebook.cells
        if cell.cell_type == "code"
        for output in cell.outputs
    )
    assert "plug uplift" in printed


def test_there_is_one_for_the_lead():
    assert [path.stem for path in NOTEBOOKS] == ["geotechnical_lead"]
