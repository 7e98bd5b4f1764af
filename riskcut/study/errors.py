"""What is said of a study that cannot be used: every problem with its file, line, path, given and wanted."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

Path = tuple[str | int, ...]
"""The address of an entry, as the keys from the root."""

NEAR = 0.6
"""Share of letters in common from which one word is taken for a misspelling of another."""


def address(path: Sequence[str | int]) -> str:
    """Return the address of a path as it is written everywhere: keys joined by dots."""
    return ".".join(str(key) for key in path)


def nearest(word: str, known: Iterable[str], cutoff: float = NEAR) -> str | None:
    """Return the known word that a misspelt one most likely stands for, None where none is near."""
    near = difflib.get_close_matches(str(word), [str(k) for k in known], n=1, cutoff=cutoff)
    return near[0] if near else None


def all_nearest(word: str, known: Iterable[str]) -> list[str]:
    """Return the known words that a misspelt one is nearest to: several where they are equally near."""
    shares = {name: difflib.SequenceMatcher(None, name, word).ratio() for name in known}
    most = max(shares.values(), default=0.0)
    return [name for name, share in shares.items() if share >= max(most, NEAR) - 1e-9]


def near_matches(word: str, known: Iterable[str]) -> str:
    """Return ``; did you mean a or b?``, empty where nothing known is near."""
    others = [str(k) for k in known if str(k) != str(word)]
    near = difflib.get_close_matches(str(word), others, n=2, cutoff=NEAR)
    return f"; did you mean {' or '.join(near)}?" if near else ""


def one_of(words: Iterable[str]) -> str:
    """Return ``one of a, b, c``, of a single word the word."""
    several = list(words)
    return several[0] if len(several) == 1 else f"one of {', '.join(several)}"


def shown(given: Any) -> str:
    """Return what a writer gave as it is repeated to them: one line, short, in YAML's own words."""
    if given is None:
        return "nothing"
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, dict):
        text = f"a mapping with {', '.join(map(str, given))}" if given else "an empty mapping"
    elif isinstance(given, list):
        inner = ", ".join("..." if isinstance(item, dict | list) else shown(item) for item in given)
        text = f"a list [{inner}]" if given else "an empty list"
    elif isinstance(given, str):
        text = repr(given) if given.strip() else "an empty text"
    else:
        text = str(given)
    return text if len(text) <= 60 else text[:57] + "..."


def _plain(text: str) -> str:
    """Return a text with line ends and control characters, such as a key may hold, written as escapes."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing in a study that cannot be used."""

    line: int
    """Counted from 1; 0 where the fault belongs to no line."""
    path: str
    given: str
    wanted: str

    def text(self, file: str) -> str:
        """Return the one line that is shown to the writer of the study."""
        where = f"{file}:{self.line}" if self.line else file
        what = f"{self.path}: " if self.path else ""
        return _plain(f"{where}: {what}given {self.given}; wanted {self.wanted}")


class StudyError(Exception):
    """A study cannot be used; holds every fault that was found in it."""

    exit_code = 2

    def __init__(self, file: str, faults: Iterable[Fault]) -> None:
        self.file = file
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(fault.text(file) for fault in self.faults))
