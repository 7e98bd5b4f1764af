"""The sections of a study file: which there are, and the tree of each with what it changes laid over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from riskcut.study.errors import Path, near_matches, nearest, shown
from riskcut.study.fields import A_NAME, NAME
from riskcut.study.lookup import SECTIONS, keys_at, required
from riskcut.study.overlay import SECTION_KEYS, Tree, lay_over, taken_from_nothing
from riskcut.study.spelling import Said, Spelling

ONLY_SECTION = "whole_cut"
"""Name of the section of a study that states none."""

CHANGES = "a mapping of what the section changes ({} for nothing)"


@dataclass(frozen=True)
class SectionTree:
    """One section's own tree."""

    name: str
    tree: Tree
    origin: dict[Path, Path]
    """Address in the section's tree to the address in the file, of what the section changes."""
    root: Path
    """Where the section stands in the file."""


class Sections:
    """Parts a study file into what all sections share and what each changes."""

    def __init__(self, tree: Tree) -> None:
        self.key, self.said = SECTIONS, list[Said]()
        self._misspelt(tree)
        self.spelling = Spelling()
        """Of what all sections share."""
        respelt: list[Said] = []
        shared = {key: value for key, value in tree.items() if key != self.key}
        self.base = self.spelling.respell(shared, respelt)
        self.said += [(self.spelling.written(path), given, wanted) for path, given, wanted in respelt]
        self._stated = self.key in tree
        self._over = tree.get(self.key)

    def _misspelt(self, tree: Tree) -> None:
        """Read a key that nearly is ``sections`` as that: everything else would be judged without it."""
        known = keys_at(())
        for key in tree if SECTIONS not in tree else ():
            if key not in known and nearest(key, known) == SECTIONS:
                wanted = f"one of {', '.join(known)}{near_matches(key, known)}"
                self.said.append(((key,), f"the key {key}", wanted))
                self.key = key
                return

    def trees(self) -> Iterator[SectionTree]:
        """Yield the tree of each section; what is wrong with the sections themselves goes to ``said``."""
        if not self._stated:
            yield SectionTree(ONLY_SECTION, self.base, {}, ())
            return
        if not isinstance(self._over, dict) or not self._over:
            given = "no section" if self._over in (None, {}) else shown(self._over)
            self._note((self.key,), given, "a mapping of section names to what each section changes")
            yield SectionTree(ONLY_SECTION, self.base, {}, ())
            return
        good = 0
        for name, over in self._over.items():
            root: Path = (self.key, name)
            if not NAME.fullmatch(name):
                self._note(root, f"the name {shown(name)}", A_NAME)
            if not isinstance(over, dict):
                self._note(root, shown(over), CHANGES)
                continue
            good += 1
            laid, origin = lay_over(self.base, self._known(over, root), root)
            _leave_to_others(laid, self.base)
            yield SectionTree(name, laid, origin, root)
        if not good:
            yield SectionTree(ONLY_SECTION, self.base, {}, ())

    def _note(self, path: Path, given: str, wanted: str) -> None:
        self.said.append((path, given, wanted))

    def _known(self, over: Tree, root: Path) -> Tree:
        """Return what of a section can be laid over; what cannot is noted."""
        known: Tree = {}
        for key, value in over.items():
            if key in SECTION_KEYS:
                known[key] = value
                continue
            hint = near_matches(key, SECTION_KEYS)
            self._note((*root, key), f"the key {key}", f"one of {', '.join(SECTION_KEYS)}{hint}")
        self._strangers(known, root, ("stages",), "stage")
        self._strangers(known, root, ("ground", "strata"), "stratum")
        self._strangers(known, root, ("works", "props"), "prop")
        for path in taken_from_nothing(self.base, known):
            there = list(_at(self.base, path[:-1]))
            wanted = (
                f"an entry to take away that is there: {', '.join(there)}{near_matches(str(path[-1]), there)}"
            )
            self._note((*root, *path), "nothing", wanted)
        return known

    def _strangers(self, known: Tree, root: Path, path: Path, what: str) -> None:
        """Leave out entries whose name the sections do not share: any stage, else one that is not whole."""
        ours, common = _at(known, path), _at(self.base, path)
        strangers = []
        for name, entry in ours.items() if common else ():
            if name in common or entry is None:
                continue
            keys = [key for key in keys_at((*path, name)) if required((*path, name, key))]
            whole = what != "stage" and isinstance(entry, dict) and all(key in entry for key in keys)
            if not whole:
                wanted = f"one that the sections share: {', '.join(common)}{near_matches(name, common)}"
                wanted += "" if what == "stage" else f" (a new one needs {', '.join(keys)})"
                self._note((*root, *path, name), f"the {what} {name}", wanted)
                strangers.append(name)
        if strangers:
            self._drop(known, path, strangers)

    @staticmethod
    def _drop(tree: Tree, path: Path, names: list[str]) -> None:
        """Replace the mapping at a path by one without some names, whatever else refers to it."""
        for key in path[:-1]:
            tree[str(key)] = tree = dict(tree[str(key)])
        tree[str(path[-1])] = {k: v for k, v in tree[str(path[-1])].items() if k not in names}


def _leave_to_others(tree: Tree, base: Tree) -> None:
    """Take the stages that a section has taken away out of the events that all sections share."""
    gone = _at(base, ("stages",)).keys() - _at(tree, ("stages",)).keys()
    for event in _at(tree, ("events",)).values() if gone else ():
        stages = event.get("stages") if isinstance(event, dict) else None
        if isinstance(stages, list) and (left := [stage for stage in stages if stage not in [*gone]]):
            event["stages"] = left


def _at(tree: Any, path: Path) -> Tree:
    """Return the mapping at a path, an empty one where there is none."""
    for key in path:
        tree = tree.get(key) if isinstance(tree, dict) else None
    return tree if isinstance(tree, dict) else {}
