"""A section's tree read by the schema, with every fault told once and the rest still readable.

Where an entry is at fault, something stands in for it (an unknown number, say) and its address is
remembered as unknown, so that the rules can look at everything else and stay silent about it. A key
that is misspelt is read as the key that it nearly is.
"""

from __future__ import annotations

import copy
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from riskcut.study.errors import Path, near_matches, one_of, shown
from riskcut.study.lookup import keys_at, model_at, required, stand_in, wanted_at
from riskcut.study.number_entries import Files, no_files
from riskcut.study.schema import Study, strength
from riskcut.study.spelling import Said, Spelling

ROUNDS = 20
"""A stand-in may need another: more rounds than the schema has levels."""


@dataclass
class Unknown:
    """Addresses of which nothing is known, because what the writer gave there is at fault."""

    paths: set[Path] = field(default_factory=set)

    def __contains__(self, path: Path) -> bool:
        """Whether an entry, or one that holds it, is unknown."""
        return any(path[: length + 1] in self.paths for length in range(len(path)))

    def touches(self, path: Path) -> bool:
        """Whether an entry, one that holds it or one within it, is unknown."""
        return path in self or any(known[: len(path)] == path for known in self.paths)


@dataclass
class Draft:
    """One section's tree on its way to a :class:`Study`."""

    tree: dict[str, Any]
    spelling: Spelling = field(default_factory=Spelling)
    files: Files = no_files
    said: list[Said] = field(default_factory=list)
    unknown: Unknown = field(default_factory=Unknown)
    study: Study | None = None
    """None where not even stand-ins make it one."""

    def say(self, path: Path, given: str, wanted: str) -> None:
        """Note a fault, unless it lies where nothing is known any more."""
        if path not in self.unknown:
            self.said.append((path, given, wanted))

    def read(self) -> None:
        """Read the tree, round by round, until the schema takes it."""
        self.tree = self.spelling.respell(copy.deepcopy(self.tree), self.said)
        self._long_strengths()
        self._nothing(self.tree, ())
        for _ in range(ROUNDS):
            try:
                self.study = Study.model_validate(self.tree, context=self.files)
                return
            except ValidationError as error:
                self._mend(error.errors(include_url=False))
        if not self.said:
            self.said.append(((), "a tree that cannot be read", wanted_at(())))

    def _long_strengths(self) -> None:
        """Write ``su: 35`` as ``su: {at_top: 35}``, whose fields have addresses."""
        ground = self.tree.get("ground")
        strata = ground.get("strata") if isinstance(ground, dict) else None
        for name, layer in strata.items() if isinstance(strata, dict) else ():
            given = layer.get("su") if isinstance(layer, dict) else None
            if given is not None and (long := strength(given)) is not given:
                layer["su"] = long
                self.spelling.unwritten.add(("ground", "strata", name, "su", "at_top"))

    def _nothing(self, node: dict[str, Any], path: Path) -> None:
        """Note the keys without a value: one that may be left out would else go unnoticed."""
        model = model_at(path)
        for key, value in list(node.items()):
            here = (*path, key)
            for below, inner in self._within(value, here):
                self._nothing(inner, below)
            if isinstance(value, dict | list):
                continue
            if value is None and model is not None and key in model.model_fields and not required(here):
                self.say(here, "nothing", f"{wanted_at(here)} (or leave the key out)")
                self._forget(here)

    @staticmethod
    def _within(value: Any, path: Path) -> list[tuple[Path, dict[str, Any]]]:
        """Return the mappings that an entry is or lists."""
        entries = [(path, value)]
        if isinstance(value, list):
            entries = [((*path, index), item) for index, item in enumerate(value)]
        return [(at, entry) for at, entry in entries if isinstance(entry, dict)]

    def _mend(self, details: Iterable[Any]) -> None:
        """Put pydantic's errors into our words, and stand-ins where they arose."""
        strange: dict[Path, list[str]] = defaultdict(list)
        absent: dict[Path, list[str]] = defaultdict(list)
        for detail in details:
            path = tuple(key for key in detail["loc"] if key != "[key]")
            if detail["type"] == "extra_forbidden":
                strange[path[:-1]].append(str(path[-1]))
            elif detail["type"] == "missing":
                absent[path[:-1]].append(str(path[-1]))
            elif path not in self.unknown:
                self._say(path, detail)
                self._forget(path)
        for path, keys in strange.items():
            if path not in self.unknown:
                self._strange(path, keys, absent[path])
        for path, keys in absent.items():
            for key in keys:
                self.say(path, f"no {key}", f"{key}: {wanted_at((*path, key))}")
            for key in keys:
                self._forget((*path, key))

    def _strange(self, path: Path, keys: list[str], absent: list[str]) -> None:
        """Leave out keys that the schema does not know; any key that is not there may be what was meant."""
        fields, node = keys_at(path), self._node(path)
        for key in keys:
            self.say((*path, key), f"the key {key}", f"{one_of(fields)}{near_matches(key, fields)}")
            node.pop(key)
        self.unknown.paths.update((*path, name) for name in fields if name not in node and name not in absent)
        if len(keys) >= len(absent):
            for key in absent:
                self._forget((*path, key))
            absent.clear()

    def _say(self, path: Path, detail: Any) -> None:
        """Put one of pydantic's errors into our words."""
        kind, given = detail["type"], detail["input"]
        if kind == "quantity":
            for at, words, wanted in detail["ctx"]["faults"]:
                self.say((*path, *at), words, wanted)
        elif kind == "wanted":
            self.say(path, shown(given), str(detail["ctx"]["wanted"]))
        elif kind == "literal_error":
            words = str(detail["ctx"]["expected"]).replace(" or ", ", ").replace("'", "").split(", ")
            self.say(path, shown(given), one_of(words) + near_matches(str(given), words))
        elif kind == "too_short":
            self.say(path, shown(given), wanted_at(path))
        else:  # a mapping is wanted where something else stands
            self.say(path, shown(given), wanted_at(path))

    def _node(self, path: Path) -> Any:
        node: Any = self.tree
        for key in path:
            node = node[key]
        return node

    def _forget(self, path: Path) -> None:
        """Put a stand-in in place of a faulty entry and count it as unknown."""
        self.unknown.paths.add(path)
        parent, key = self._node(path[:-1]), path[-1]
        value = stand_in(path)
        if isinstance(parent, list) or value is not None:
            parent[key] = value
        else:
            parent.pop(key, None)


def validate(tree: dict[str, Any], spelling: Spelling, files: Files = no_files) -> Draft:
    """Read one section's tree by the schema.

    Parameters
    ----------
    tree
        The section's own tree.
    spelling
        How the keys of it that were respelt already are written in the file.
    files
        The data files that its numbers are fitted to.

    Returns
    -------
    Draft
        With the study, every fault of shape, and the addresses of which nothing is known.
    """
    draft = Draft(tree, spelling.copy(), files)
    draft.read()
    return draft
