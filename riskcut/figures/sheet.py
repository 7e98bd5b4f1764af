"""The sheet that every figure is drawn on: heading, panels, key, caption and footer, placed in inches.

Nothing is fitted by trial (no layout engine): every length is known before anything is drawn, so that forty
sections cost forty times one, and the same results give the same sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.legend_handler import HandlerBase
from matplotlib.lines import Line2D

from riskcut.figures.labels import filled, wrapped
from riskcut.figures.palette import GREY, INK
from riskcut.results.wording import CAUTION

WIDTH = 10.0
"""Of every sheet, inches; shrunk to the width of an A4 page its smallest text is still above 5 points."""
TALLEST = 13.6
"""Inches: the shape of an A4 page."""
QUIET = "#4a5056"
SIDE = 0.3
HEADING = 0.52
LINE = 0.165
"""Height of a line of the caption and of the key, inches."""
FOOTER = 0.68
TITLE_WIDTH = 76
TITLE_LINE = 0.2
HEAD_LINE = 0.155
KEY_WIDTH = 44
CAPTION_WIDTH = 148
"""Characters on a line of the heading, of a label of the key, and of the caption, each in its own size."""


@dataclass(frozen=True, slots=True)
class Head:
    """What stands above a panel: its title, and under it what is shown there; both may have several lines."""

    title: str
    note: str

    @property
    def lines(self) -> int:
        """Of both together."""
        return self.title.count("\n") + self.note.count("\n") + 2

    def write(self, axes: Axes, *, inset: float = 0.0) -> None:
        """Write it, starting ``inset`` (a share of the panel's width) left of the panel."""
        room = 4 + 12 * (self.note.count("\n") + 1)
        axes.set_title(self.title, loc="left", x=-inset, y=1.0, pad=room)
        axes.annotate(
            self.note,
            (-inset, 1.0),
            xytext=(0, 4),
            xycoords="axes fraction",
            textcoords="offset points",
            fontsize=8,
            color=QUIET,
            va="bottom",
            annotation_clip=False,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Room for each panel and about the panels, inches."""

    columns: int
    panel_height: float
    left: float = 0.62
    right: float = 0.1
    across: float = 0.3
    """Between neighbours in a row."""
    down: float = 0.6
    """Between rows: the heading of the lower and the tick labels of the upper."""
    above: float = 0.28
    below: float = 0.5
    """Under the last row: tick labels and the name of the axis."""

    @property
    def panel_width(self) -> float:
        """Width of a panel, inches."""
        taken = 2 * SIDE + self.left + self.right + (self.columns - 1) * self.across
        return (WIDTH - taken) / self.columns

    def for_heads(self, heads: Sequence[Head]) -> Frame:
        """Return the same with room for heads of more than the two lines that it allows for."""
        extra = max((head.lines for head in heads), default=2) - 2
        if extra <= 0:
            return self
        return replace(self, above=self.above + extra * HEAD_LINE, down=self.down + extra * HEAD_LINE)


@dataclass(frozen=True, slots=True)
class Key:
    """What the marks mean: the legend under the panels."""

    handles: Sequence[Artist]
    labels: Sequence[str]
    columns: int = 3
    handlers: dict[type | Artist, HandlerBase] | None = None

    def fitted(self) -> Key:
        """Return the same with long labels broken, in as many columns as the sheet has room for."""
        labels = [wrapped(label, KEY_WIDTH) for label in self.labels]
        columns = self.columns
        while columns > 1 and sum(map(_key_width, _dealt(labels, columns))) > WIDTH - 2 * SIDE:
            columns -= 1
        return replace(self, labels=labels, columns=columns)

    @property
    def height(self) -> float:
        """Room that it takes, inches."""
        lines = [sum(label.count("\n") + 1 for label in part) for part in _dealt(self.labels, self.columns)]
        return max(lines, default=0) * LINE + 0.16


def _dealt(labels: Sequence[str], columns: int) -> list[list[str]]:
    """Deal labels over columns as a legend does: one column after the other, the first ones longer."""
    size, longer = divmod(len(labels), columns)
    starts = [number * size + min(number, longer) for number in range(columns + 1)]
    return [list(labels[a:b]) for a, b in pairwise(starts)]


def _key_width(labels: Sequence[str]) -> float:
    """Estimate the width of a column of the key from above, inches."""
    return max((len(line) for label in labels for line in label.split("\n")), default=0) * 0.06 + 0.55


def lay_out(
    figure: Figure,
    tree: xr.DataTree,
    *,
    panels: int,
    frame: Frame,
    title: str,
    caption: str,
    key: Key | None = None,
) -> list[Axes]:
    """Size the figure, write all that stands about the panels, and return the panels' empty axes.

    Parameters
    ----------
    figure
        An empty figure; its size is set here.
    tree
        The results, for the footer: title, seed and rows.
    panels
        How many; filled row by row.
    frame
        Room about them.
    title, caption
        Above and below the panels.
    key
        The legend, between panels and caption.
    """
    rows = -(-panels // frame.columns)
    key = key.fitted() if key is not None else None
    titles = filled(title, TITLE_WIDTH)
    heading = HEADING + (len(titles) - 1) * TITLE_LINE
    lines = filled(caption, CAPTION_WIDTH)
    key_height = key.height if key is not None else 0.0
    bottom = FOOTER + len(lines) * LINE + 0.1 + key_height
    height = (
        heading + frame.above + rows * frame.panel_height + (rows - 1) * frame.down + frame.below + bottom
    )
    figure.set_size_inches(WIDTH, height)

    _write_around(figure, tree, "\n".join(titles), lines, height)
    if key is not None:
        _write_key(figure, key, (FOOTER + len(lines) * LINE + 0.1 + key_height) / height)

    axes = []
    for number in range(panels):
        row, column = divmod(number, frame.columns)
        left = SIDE + frame.left + column * (frame.panel_width + frame.across)
        top = heading + frame.above + row * (frame.panel_height + frame.down)
        box = (
            left / WIDTH,
            1 - (top + frame.panel_height) / height,
            frame.panel_width / WIDTH,
            frame.panel_height / height,
        )
        axes.append(figure.add_axes(box))
    return axes


def _write_around(figure: Figure, tree: xr.DataTree, title: str, caption: list[str], height: float) -> None:
    left, right = SIDE / WIDTH, 1 - SIDE / WIDTH
    figure.text(left, 1 - 0.17 / height, title, fontsize=12, fontweight="bold", va="top", gid="heading")
    figure.text(
        left,
        FOOTER / height,
        "\n".join(caption),
        fontsize=8.5,
        va="bottom",
        color=INK,
        linespacing=1.3,
        gid="caption",
    )
    rule = (FOOTER - 0.1) / height
    figure.add_artist(Line2D([left, right], [rule, rule], color=GREY, linewidth=0.6))
    reliability = tree["reliability"].dataset
    aimed = int(reliability["aimed_rows"].item()) if "aimed_rows" in reliability else 0
    rows = f"{int(reliability['rows'].item()):,} rows" + (f", {aimed:,} aimed" if aimed else "")
    run = f"{tree.attrs['title']} · seed {tree.attrs['seed']} · {rows}"
    for lowest, words, name in (
        (0.44, run, "footer"),
        (0.1, "\n".join(filled(CAUTION, CAPTION_WIDTH)), "caution"),
    ):
        figure.text(left, lowest / height, words, fontsize=8, va="bottom", color=QUIET, gid=name)


def _write_key(figure: Figure, key: Key, top: float) -> None:
    figure.legend(
        list(key.handles),
        list(key.labels),
        loc="upper left",
        bbox_to_anchor=(SIDE / WIDTH, top),
        ncols=key.columns,
        handler_map=key.handlers,
    )


def lowest_in_column(number: int, panels: int, columns: int) -> bool:
    """Whether no panel lies under this one, so that it carries the labels of its x axis."""
    return number + columns >= panels
