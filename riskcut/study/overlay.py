"""Sections: what one section changes, laid over what all share, with the origin of every entry kept."""

from __future__ import annotations

import copy
from typing import Any

from riskcut.study.errors import Path
from riskcut.study.lookup import is_group
from riskcut.study.uncertain import is_number

SECTION_KEYS = ("ground", "water", "loads", "works", "stages", "models", "model_factors")
"""What a section may change; title, targets and dependence are the whole study's."""

Tree = dict[str, Any]


def lay_over(base: Tree, over: Tree, over_root: Path) -> tuple[Tree, dict[Path, Path]]:
    """Return a section's own tree and the address in the file that each changed entry came from.

    Mappings are merged key by key; anything else replaces; an entry that is null is taken away. A
    mapping that states a distribution replaces the number it is laid over, as a whole.

    Parameters
    ----------
    base
        The tree that all sections share.
    over
        What the section changes.
    over_root
        Where ``over`` stands in the file, ``('sections', 'west')``.
    """
    tree = copy.deepcopy(base)
    origin: dict[Path, Path] = {}
    _merge(tree, over, (), over_root, origin)
    return tree, origin


def _merge(tree: Tree, over: Tree, path: Path, root: Path, origin: dict[Path, Path]) -> None:
    for key, value in over.items():
        here = (*path, key)
        below = tree.get(key)
        # An entry may be called ``low`` or ``mean`` without making a number of the mapping that it is in.
        group = is_group(here)
        groups = all(isinstance(node, dict) and (group or not is_number(node)) for node in (value, below))
        if value is None:
            tree.pop(key, None)
        elif groups:
            _merge(tree[key], value, here, root, origin)
        elif isinstance(value, dict) and key in tree and not isinstance(below, dict) and group:
            continue  # what all share is at fault here, and is told there
        else:
            tree[key] = copy.deepcopy(value)
            origin[here] = (*root, *here)


def taken_from_nothing(base: Tree, over: Tree, path: Path = ()) -> list[Path]:
    """Return the entries that a section takes away (null) although they are not there."""
    idle: list[Path] = []
    for key, value in over.items():
        here = (*path, key)
        below = base.get(key)
        if value is None and key not in base:
            idle.append(here)
        elif isinstance(value, dict) and isinstance(below, dict):
            idle += taken_from_nothing(below, value, here)
    return idle


def origin_of(path: Path, origin: dict[Path, Path]) -> Path:
    """Return the address in the file of an entry of a section's own tree."""
    for length in range(len(path), 0, -1):
        if path[:length] in origin:
            return (*origin[path[:length]], *path[length:])
    return path
