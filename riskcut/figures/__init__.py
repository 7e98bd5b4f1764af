"""The figures of a run, drawn from its results tree alone.

Each figure is one module with the same face:

``NAME``, ``TITLE``
    For files and headings.
``sheets(tree)``
    What goes on each sheet: names of sections, or of limit states. No sheet, nothing to show.
``draw(tree, figure, chosen)``
    Draws one sheet on an empty :class:`matplotlib.figure.Figure`, and returns its axes.
``panel(tree, axes, ...)``
    Draws one panel of it on axes of your own.
``alternative_text(tree, chosen)``
    The sheet in words: its caption, and its text in the files.

Nothing here computes more than what is shown and where; nothing touches pyplot or changes matplotlib's
settings.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import matplotlib as mpl
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from riskcut.figures import (
    convergence,
    cut_section,
    long_profile,
    margin_distributions,
    reliability_by_stage,
    sobol_bars,
)
from riskcut.figures.saving import save

STYLE = Path(__file__).with_name("style.mplstyle")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of figure."""

    name: str
    title: str
    sheets: Callable[[xr.DataTree], list[list[str]]]
    draw: Callable[[xr.DataTree, Figure, list[str]], list[Axes]]
    alternative_text: Callable[[xr.DataTree, list[str]], str]
    named_by_content: bool = False
    """Whether one of several sheets is named by what it shows; else it is numbered."""


KINDS = (
    Kind(
        reliability_by_stage.NAME,
        reliability_by_stage.TITLE,
        reliability_by_stage.sheets,
        reliability_by_stage.draw,
        reliability_by_stage.alternative_text,
    ),
    Kind(
        long_profile.NAME,
        long_profile.TITLE,
        long_profile.sheets,
        long_profile.draw,
        long_profile.alternative_text,
    ),
    Kind(
        margin_distributions.NAME,
        margin_distributions.TITLE,
        margin_distributions.sheets,
        margin_distributions.draw,
        margin_distributions.alternative_text,
    ),
    Kind(sobol_bars.NAME, sobol_bars.TITLE, sobol_bars.sheets, sobol_bars.draw, sobol_bars.alternative_text),
    Kind(
        convergence.NAME,
        convergence.TITLE,
        convergence.sheets,
        convergence.draw,
        convergence.alternative_text,
    ),
    Kind(
        cut_section.NAME,
        cut_section.TITLE,
        cut_section.sheets,
        cut_section.draw,
        cut_section.alternative_text,
        named_by_content=True,
    ),
)


def draw_all(
    tree: xr.DataTree,
    folder: Path | str,
    stem: str,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> list[Path]:
    """Draw every figure of a run, each as PNG and as SVG.

    Parameters
    ----------
    tree
        The results.
    folder
        Made where it does not exist.
    stem
        The files are ``<stem>_<figure>.png`` and ``.svg``. Where a figure takes several sheets they are
        ``<stem>_<figure>_1`` and so on; the drawn sections are named by their section.
    progress
        Called with sheets done and sheets in all, after each.

    Returns
    -------
    list of Path
        What was written, in order.
    """
    work = [(kind, name, chosen) for kind in KINDS for name, chosen in _named(kind, kind.sheets(tree))]
    written: list[Path] = []
    for done, (kind, name, chosen) in enumerate(work, start=1):
        with mpl.rc_context(fname=str(STYLE)):
            figure = Figure()
            kind.draw(tree, figure, chosen)
            title = f"{tree.attrs['title']}: {kind.title}"
            description = kind.alternative_text(tree, chosen)
            written += save(figure, folder, stem, name, title=title, description=description)
        if progress is not None:
            progress(done, len(work))
    return written


def _named(kind: Kind, sheets: list[list[str]]) -> list[tuple[str, list[str]]]:
    """Give each sheet the name that its files have after the stem."""
    if len(sheets) < 2:
        return [(kind.name, chosen) for chosen in sheets]
    named: list[tuple[str, list[str]]] = []
    taken: set[str] = set()
    for number, chosen in enumerate(sheets, start=1):
        ending = re.sub(r"[^\w-]+", "_", chosen[0]) if kind.named_by_content else str(number)
        while ending.casefold() in taken:  # two sections that a file system would not tell apart
            ending += f"_{number}"
        taken.add(ending.casefold())
        named.append((f"{kind.name}_{ending}", chosen))
    return named
