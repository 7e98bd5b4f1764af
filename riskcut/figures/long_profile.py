"""Figure: the reliability index along a long cut, above a drawn long section of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import xarray as xr
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from riskcut.figures.choosing import values
from riskcut.figures.labels import counted, with_unit, wrapped
from riskcut.figures.palette import GREY, INK, SHORT, TARGET, WATER, mark
from riskcut.figures.series import AT_LEAST, AT_LEAST_IN_KEY, HIGHEST
from riskcut.figures.sheet import Frame, Key, lay_out
from riskcut.results import reading
from riskcut.results.estimate import Estimate
from riskcut.results.status import Status
from riskcut.results.wording import in_words

NAME = "long_profile"
TITLE = "Reliability index along the cut"
WALL_TOE = (0.0, (1.2, 0.8))
NAMED_SECTIONS = 16
"""Up to as many sections are named on the axis."""


def sheets(tree: xr.DataTree) -> list[list[str]]:
    """Return one sheet with every section; none where there is only one."""
    sections = reading.labels(tree, "section")
    return [sections] if len(sections) > 1 and "cut" in tree.children else []


def draw(tree: xr.DataTree, figure: Figure, sections: Sequence[str] | None = None) -> list[Axes]:
    """Draw the sheet on an empty figure.

    Parameters
    ----------
    tree
        The results.
    figure
        Takes the size that the sheet needs.
    sections
        Those shown; all unless stated.

    Returns
    -------
    list of Axes
        The indices, and the long section under them.
    """
    sections = list(sections) if sections is not None else reading.labels(tree, "section")
    mechanisms = list(_worst(tree, sections))
    handles: list[Artist] = [_handle(number) for number in range(len(mechanisms))]
    words = [in_words(name) for name in mechanisms]
    handles += [
        Line2D([], [], color=TARGET, linewidth=1.4),
        Line2D([], [], linestyle="none", marker=AT_LEAST_IN_KEY, markersize=11, markeredgecolor=GREY),
        Patch(facecolor=SHORT, edgecolor=GREY, linewidth=0.6),
        Line2D([], [], color=INK, linewidth=2.0, linestyle=WALL_TOE),
        Line2D([], [], color=GREY, linewidth=1.0, linestyle="--"),
        Line2D([], [], color=WATER, linewidth=1.2),
    ]
    words += [
        "target of one limit state",
        "greater than: no row failed (95 %)",
        "dug out",
        "toe of the wall",
        "top of a stratum",
        "free water outside",
    ]
    axes = lay_out(
        figure,
        tree,
        panels=2,
        frame=Frame(columns=1, panel_height=3.3, left=0.55, down=0.35, above=0.1, below=0.75),
        title=TITLE,
        caption=alternative_text(tree, sections),
        key=Key(handles, words, columns=3),
    )
    panel(tree, axes[0], sections=sections)
    long_section(tree, axes[1], sections=sections)
    axes[0].set_xlabel("")
    axes[0].tick_params(labelbottom=False)
    return axes


def panel(tree: xr.DataTree, axes: Axes, *, sections: Sequence[str]) -> Axes:
    """Draw each mechanism's index at its worst stage, section by section, on axes of your own.

    Parameters
    ----------
    tree
        The results.
    axes
        To draw on.
    sections
        Those shown.
    """
    start, end = chainage(tree, sections)
    for number, (mechanism, worst) in enumerate(_worst(tree, sections).items()):
        style = mark(number)
        for i, found in enumerate(worst):
            if found is None:
                continue
            middle = 0.5 * (start[i] + end[i])
            if math.isfinite(found.reliability_index):
                axes.plot(
                    [start[i], end[i]],
                    [found.reliability_index] * 2,
                    color=style.colour,
                    linestyle=style.dashes,
                    linewidth=1.8,
                    label=mechanism,
                )
                low, high = found.index_bounds
                if found.status is not Status.FIRST_ORDER_ONLY:  # of which simulation bounds one side alone
                    high = high if math.isfinite(high) else found.reliability_index
                    axes.plot([middle] * 2, [low, high], color=style.colour, linewidth=1.0)
                axes.plot(
                    [middle], [found.reliability_index], marker=style.marker, color=style.colour, markersize=5
                )
            elif found.status is Status.UPPER_BOUND_ONLY and math.isfinite(found.index_bounds[0]):
                shift = (number - 1) * 0.12 * (end[i] - start[i])
                axes.plot(
                    [middle + shift],
                    [found.index_bounds[0]],
                    linestyle="none",
                    marker=AT_LEAST,
                    markersize=20,
                    markerfacecolor="none",
                    markeredgecolor=style.colour,
                    label=f"{mechanism}, greater than",
                )
    for target, phases in targets(tree).items():
        axes.axhline(target, color=TARGET, linewidth=1.4, zorder=1.5, label="target")
        axes.annotate(
            phases,
            (start.min(), target),
            xytext=(4, 2),
            textcoords="offset points",
            fontsize=8,
            color=TARGET,
        )
    axes.set_xlim(start.min(), end.max())
    low, high = axes.get_ylim()
    high = HIGHEST if high > HIGHEST >= low + 1.0 else high + 0.35  # room for the arrows
    axes.set_ylim(low - 0.1, high)
    axes.grid(axis="y")
    axes.set_ylabel(with_unit("reliability index at the worst stage", "1"))
    _name_chainage(tree, axes, sections)
    return axes


def long_section(tree: xr.DataTree, axes: Axes, *, sections: Sequence[str]) -> Axes:
    """Draw the long section: ground, water, deepest formation, walls and strata, at the means.

    Parameters
    ----------
    tree
        The results.
    axes
        To draw on.
    sections
        Those shown.
    """
    start, end = chainage(tree, sections)
    at = [reading.labels(tree, "section").index(name) for name in sections]
    surface = values(tree, "cut", "ground_surface", ("section",))
    formation = np.nanmin(values(tree, "cut", "formation", ("section", "stage")), axis=1)
    toe = values(tree, "cut", "wall_toe", ("section",))
    water = np.nanmax(values(tree, "cut", "water_table", ("section", "stage")), axis=1)
    tops = values(tree, "cut", "stratum_top", ("section", "stratum"))
    deepest = min(np.nanmin(formation[at]), np.nanmin(toe[at], initial=np.inf))
    for i, place in enumerate(at):
        reach = [start[i], end[i]]
        axes.fill_between(reach, formation[place], surface[place], color=SHORT, linewidth=0, label="dug out")
        axes.plot(reach, [formation[place]] * 2, color=INK, linewidth=1.6, label="formation")
        axes.plot(reach, [surface[place]] * 2, color=INK, linewidth=1.0, label="ground surface")
        axes.plot(reach, [water[place]] * 2, color=WATER, linewidth=1.2, label="free water")
        for top in tops[place][1:]:
            if math.isfinite(top):
                axes.plot(reach, [top] * 2, color=GREY, linewidth=1.0, linestyle="--", label="stratum")
        if math.isfinite(toe[place]):
            axes.plot(reach, [toe[place]] * 2, color=INK, linewidth=2.0, linestyle=WALL_TOE, label="wall toe")
    names = reading.labels(tree, "stratum")
    last = at[-1]
    for name, top in zip(names, tops[last], strict=True):
        if math.isfinite(top):
            axes.annotate(
                in_words(name),
                (end[-1], top),
                xytext=(-4, -2),
                textcoords="offset points",
                ha="right",
                va="top",
                fontsize=8,
                color=INK,
                annotation_clip=False,
            )
    lowest = min(deepest, np.nanmin(tops[at]))
    highest = float(np.nanmax(surface[at]))
    axes.set_ylim(lowest - 0.12 * (highest - lowest), highest + 0.08 * (highest - lowest))
    axes.set_xlim(start.min(), end.max())
    axes.set_ylabel("level (m)")
    _name_chainage(tree, axes, sections)
    return axes


def chainage(tree: xr.DataTree, sections: Sequence[str]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where each section starts and ends: its chainage where all state it, else its number in the order."""
    at = [reading.labels(tree, "section").index(name) for name in sections]
    start = values(tree, "cut", "chainage_start", ("section",))[at]
    end = values(tree, "cut", "chainage_end", ("section",))[at]
    if np.isfinite(start).all() and np.isfinite(end).all():
        return start, end
    numbers = np.arange(len(at), dtype=np.float64)
    return numbers + 0.5, numbers + 1.5


def targets(tree: xr.DataTree) -> dict[float, str]:
    """Return the different targets of the study, ascending, each with the phases that it is for."""
    stated = values(tree, "reliability", "target_reliability_index", ("section", "stage"))
    phases = values(tree, "reliability", "phase", ("section", "stage"))
    found: dict[float, list[str]] = {}
    for at in np.argwhere(np.isfinite(stated)):
        named = found.setdefault(float(stated[tuple(at)]), [])
        if (phase := str(phases[tuple(at)])) not in named:
            named.append(phase)
    return {target: " and ".join(found[target]) for target in sorted(found)}


def _worst(tree: xr.DataTree, sections: Sequence[str]) -> dict[str, list[Estimate | None]]:
    """Return, for each mechanism that applies anywhere, its worst governing estimate in each section."""
    found: dict[str, list[Estimate | None]] = {}
    for mechanism in dict.fromkeys(reading.labels(tree, "mechanism")):
        worst = [
            reading.worst(
                [
                    e
                    for e in reading.estimates(tree, section=s, mechanism=mechanism)
                    if reading.governs(tree, e)
                ]
            )
            for s in sections
        ]
        if any(e is not None for e in worst):
            found[mechanism] = worst
    return found


def _handle(number: int) -> Line2D:
    style = mark(number)
    return Line2D([], [], color=style.colour, marker=style.marker, linestyle=style.dashes, markersize=5)


def _name_chainage(tree: xr.DataTree, axes: Axes, sections: Sequence[str]) -> None:
    """Put the sections' names, or else the chainage alone, under the axis."""
    start, end = chainage(tree, sections)
    stated = np.isfinite(values(tree, "cut", "chainage_start", ("section",))).all()
    if len(sections) <= NAMED_SECTIONS:
        axes.set_xticks(0.5 * (start + end), [wrapped(in_words(name), 9) for name in sections], fontsize=8)
        axes.set_xticks(np.append(start, end[-1]), minor=True)
        axes.tick_params(axis="x", which="minor", length=5)
        axes.tick_params(axis="x", which="major", length=0)
    reach = f", from {start[0]:g} to {end[-1]:g} m" if stated else ""
    axes.set_xlabel(f"section, in the order of the study{reach}")


def alternative_text(tree: xr.DataTree, sections: Sequence[str] | None = None) -> str:
    """Say what the sheet shows: for each mechanism, where along the cut it is worst.

    Parameters
    ----------
    tree
        The results.
    sections
        As for :func:`draw`.
    """
    sections = list(sections) if sections is not None else reading.labels(tree, "section")
    said = []
    for mechanism, found in _worst(tree, sections).items():
        worst = reading.worst([e for e in found if e is not None])
        if worst is not None:
            where = f"{in_words(worst.section)} at {in_words(worst.stage)}"
            said.append(f"{in_words(mechanism)} {worst.index_text} in {where} ({worst.probability_text})")
    goals = ", ".join(f"{target:.1f} {phases}" for target, phases in targets(tree).items())
    return (
        f"Reliability index along {counted(len(sections), 'section')}, each mechanism at its worst stage in each; "
        f"lowest: {'; '.join(said)}. Targets: {goals}. Below: the long section at the means."
    )
