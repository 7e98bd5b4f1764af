"""Keys that are misspelt, read as the keys that they nearly are, with what the writer wrote kept beside."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from riskcut.study.errors import Path, all_nearest, near_matches, nearest, one_of
from riskcut.study.lookup import SECTIONS, is_group, keys_at, required
from riskcut.study.overlay import origin_of
from riskcut.study.uncertain import is_number

Said = tuple[Path, str, str]
"""Address in the section's own tree, what was given, what is wanted."""


@dataclass
class Spelling:
    """How the addresses of a tree are written in the file."""

    misspelt: dict[Path, str] = field(default_factory=dict)
    """Address to the last key of it as the writer has it."""
    unwritten: set[Path] = field(default_factory=set)
    """Addresses that the writer has a key shorter: ``su.at_top`` where ``su`` is one number."""

    def copy(self) -> Spelling:
        """Return a copy that can go its own way."""
        return Spelling(dict(self.misspelt), set(self.unwritten))

    def written(self, path: Path) -> Path:
        """Return an address as the writer has it."""
        out: Path = ()
        for length in range(1, len(path) + 1):
            if path[:length] not in self.unwritten:
                out = (*out, self.misspelt.get(path[:length], path[length - 1]))
        return out

    def place(self, path: Path, origin: dict[Path, Path]) -> Path:
        """Return the address in the file of an entry of a section's tree, as the writer has it."""
        written = self.written(path)
        for spelt in (written, path):  # what a section lays over is found by its own keys
            if (place := origin_of(spelt, origin)) != spelt:
                return place
        return written

    def respell(self, tree: dict[str, Any], said: list[Said]) -> dict[str, Any]:
        """Return a tree with every key that is near one of the schema's read as that; note each as a fault."""
        spelt: dict[str, Any] = self._respelt(tree, (), said)
        return spelt

    def _respelt(self, node: Any, path: Path, said: list[Said]) -> Any:
        if isinstance(node, list):
            return [self._respelt(item, (*path, index), said) for index, item in enumerate(node)]
        if not isinstance(node, dict) or (is_number(node) and not is_group(path)):
            return node
        fields = keys_at(path)
        names = {key: key for key in node}
        for key in node if fields else ():
            if key in fields:
                continue
            free = [name for name in fields if name not in names.values() and name != SECTIONS]
            meant = nearest(key, [name for name in free if required((*path, name))])
            if meant is None and set(near := all_nearest(key, fields)) <= set(free):
                meant = next(iter(near), None)
            if meant is not None:
                names[key] = meant
                self.misspelt[(*path, meant)] = key
                said.append(
                    ((*path, meant), f"the key {key}", f"{one_of(fields)}{near_matches(key, fields)}")
                )
        return {names[key]: self._respelt(value, (*path, names[key]), said) for key, value in node.items()}
