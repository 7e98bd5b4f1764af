"""What a figure shows: each limit state at its worst block, worst first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from riskcut.results.status import Status

ESTIMATED = (Status.COMPUTED, Status.FIRST_ORDER_ONLY, Status.UNTRUSTED)
"""Statuses under which there is a number to show."""
SHOWN = (*ESTIMATED, Status.UPPER_BOUND_ONLY)


@dataclass(frozen=True, slots=True)
class Place:
    """One limit state in one block, by its positions in the tree and by its names."""

    section: int
    stage: int
    limit_state: int
    section_name: str
    stage_name: str
    limit_state_name: str

    @property
    def at(self) -> tuple[int, int, int]:
        """The index into an array over (section, stage, limit_state)."""
        return self.section, self.stage, self.limit_state


def values(tree: xr.DataTree, group: str, name: str, dims: tuple[str, ...]) -> NDArray[Any]:
    """Return one array of the tree with its dimensions in the order asked for."""
    array: xr.DataArray = tree[group].dataset[name]
    return np.asarray(array.transpose(*dims).values)


def names(tree: xr.DataTree, coordinate: str) -> list[str]:
    """Return the labels of a root coordinate; none where the tree has no such coordinate."""
    return [str(label) for label in tree.coords[coordinate].values] if coordinate in tree.coords else []


_BLOCKS = ("section", "stage", "limit_state")


def worst_places(tree: xr.DataTree, sections: Sequence[str] | None = None) -> list[Place]:
    """Choose for each governing limit state its block with the lowest reliability index, worst first.

    Parameters
    ----------
    tree
        The results.
    sections
        Look in these sections only.

    Notes
    -----
    A block where only a bound is known ranks after every block with an estimate, by the least reliability
    index that the bound allows, then by the factor of safety at the means; one where every row failed ranks
    first. A limit state that governs nowhere, applies nowhere or cannot fail has no place.
    """
    status = values(tree, "reliability", "status", _BLOCKS)
    index = values(tree, "reliability", "reliability_index", _BLOCKS)
    bounds = values(tree, "reliability", "reliability_index_bounds", (*_BLOCKS, "bound"))
    safety = values(tree, "reliability", "factor_of_safety_at_means", _BLOCKS)
    governing = values(tree, "reliability", "governing", _BLOCKS).astype(bool)
    if sections is not None:
        governing = governing & np.isin(names(tree, "section"), sections)[:, None, None]

    shown = governing & np.isin(status, SHOWN)
    all_failed = (status == Status.UPPER_BOUND_ONLY) & ~_only_lower(bounds)
    estimated = (np.isin(status, ESTIMATED) & ~np.isnan(index)) | all_failed
    key = np.where(estimated, np.where(all_failed, -np.inf, index), np.fmin(bounds[..., 0], bounds[..., 1]))
    key = np.where(np.isnan(key), np.inf, key)
    safety = np.where(np.isnan(safety), np.inf, safety)

    labels = tuple(names(tree, dim) for dim in _BLOCKS)
    places: list[tuple[tuple[bool, float, float], Place]] = []
    for k in range(status.shape[2]):
        blocks = [
            ((not estimated[i, j, k], float(key[i, j, k]), float(safety[i, j, k])), int(i), int(j))
            for i, j in np.argwhere(shown[:, :, k])
        ]
        if blocks:
            rank, i, j = min(blocks)
            places.append((rank, Place(i, j, k, labels[0][i], labels[1][j], labels[2][k])))
    return [place for _, place in sorted(places, key=lambda pair: pair[0])]


def _only_lower(index_bounds: NDArray[Any]) -> NDArray[np.bool_]:
    """Whether a one-sided interval of the reliability index is bounded below (no row failed)."""
    return np.asarray(np.isfinite(index_bounds[..., 0]))


def in_pages(items: Sequence[str], most: int, columns: int) -> list[list[str]]:
    """Deal items over the fewest pages, about as many on each, with full rows on all pages but the last.

    Parameters
    ----------
    items
        In order.
    most
        On a page; a multiple of ``columns``.
    columns
        In a row of a page.
    """
    if not items:
        return []
    pages = -(-len(items) // most)
    size = -(-len(items) // (pages * columns)) * columns
    return [list(items[start : start + size]) for start in range(0, len(items), size)]
