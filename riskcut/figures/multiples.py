"""Small multiples: one panel a limit state, each at its worst block, the worst first."""

from __future__ import annotations

from collections.abc import Sequence

import xarray as xr
from matplotlib.axes import Axes

from riskcut.figures.choosing import Place, in_pages, names, worst_places
from riskcut.figures.labels import filled, wrapped
from riskcut.figures.palette import INK, PALE
from riskcut.figures.sheet import Head
from riskcut.results.wording import in_words, limit_state_label


def pages_of(tree: xr.DataTree, group: str, most: int, columns: int) -> list[list[str]]:
    """Return the limit states on each sheet; no sheet where the results lack the group."""
    if group not in tree.children:
        return []
    return in_pages([place.limit_state_name for place in worst_places(tree)], most, columns)


def places_of(tree: xr.DataTree, limit_states: Sequence[str]) -> list[Place]:
    """Return the worst block of each of these limit states.

    Raises
    ------
    ValueError
        A limit state governs or applies nowhere, so that it has no worst block.
    """
    places = {place.limit_state_name: place for place in worst_places(tree)}
    for name in limit_states:
        if name not in places:
            raise ValueError(
                f"{name!r} has no worst block: it governs nowhere, applies nowhere or cannot fail"
            )
    return [places[name] for name in limit_states]


def where(tree: xr.DataTree, place: Place) -> str:
    """Name the block of a place; its section only where there are several."""
    stage = in_words(place.stage_name)
    return f"{in_words(place.section_name)}, {stage}" if len(names(tree, "section")) > 1 else stage


def head_of(tree: xr.DataTree, place: Place, characters: int) -> Head:
    """Return the limit state and its block, as they stand above a panel with room for so many characters."""
    title = wrapped(limit_state_label(place.limit_state_name), characters)
    return Head(title, wrapped(where(tree, place), characters + 6))


def say_why_empty(axes: Axes, reason: str, *, characters: int) -> None:
    """Leave a panel empty, but for the reason."""
    axes.text(
        0.5,
        0.5,
        "\n".join(filled(reason, characters)),
        transform=axes.transAxes,
        ha="center",
        va="center",
        fontsize=8,
        color=INK,
    )
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(True)
        spine.set_color(PALE)
