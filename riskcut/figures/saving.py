"""Figures on disk: a PNG and an SVG that say in words what they show, the same bytes for the same figure."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

import matplotlib as mpl
from matplotlib.figure import Figure

RESOLUTION = 150
"""Dots an inch of the PNG."""


def save(
    figure: Figure, folder: Path | str, stem: str, name: str, *, title: str, description: str
) -> list[Path]:
    """Write one figure as ``<stem>_<name>.png`` and ``.svg`` and return both paths.

    Both are made in memory first, then written beside their place and renamed, so that a failure leaves
    earlier files whole.

    Parameters
    ----------
    figure
        What to write.
    folder
        Made where it does not exist.
    stem, name
        The two parts of the file names.
    title, description
        Written into both files; the SVG carries them as its accessible name and description.
    """
    folder = Path(folder)
    png, svg = io.BytesIO(), io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": f"riskcut {name}"}):
        figure.savefig(
            png, format="png", dpi=RESOLUTION, metadata={"Title": title, "Description": description}
        )
        figure.savefig(
            svg,
            format="svg",
            metadata={"Title": title, "Description": description, "Creator": "riskcut", "Date": None},
        )
    drawn = _described(svg.getvalue().decode("utf-8"), description).encode("utf-8")
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"{stem}_{name}.png", folder / f"{stem}_{name}.svg"]
    _write_all(paths, [png.getvalue(), drawn])
    return paths


def _described(svg: str, description: str) -> str:
    """Give the SVG its role and its description, which matplotlib puts into the metadata alone."""
    head, opening, rest = svg.partition("<svg ")
    before, title, after = rest.partition("</title>")
    if not (opening and title):
        raise ValueError("matplotlib wrote an SVG without a title")
    return f'{head}<svg role="img" {before}</title>\n <desc>{escape(description)}</desc>{after}'


def _write_all(paths: Sequence[Path], contents: Sequence[bytes]) -> None:
    """Write every file aside, then rename all: none is in place before all are on disk."""
    aside = [path.with_name(f".{path.name}.{os.getpid()}.part") for path in paths]
    try:
        for temporary, content in zip(aside, contents, strict=True):
            temporary.write_bytes(content)
        for temporary, path in zip(aside, paths, strict=True):
            os.replace(temporary, path)
    finally:
        for temporary in aside:
            temporary.unlink(missing_ok=True)
