"""A YAML file read to plain values, with the line of every key kept beside them."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq, CommentedSet
from ruamel.yaml.constructor import DuplicateKeyError
from ruamel.yaml.error import MarkedYAMLError, ReusedAnchorWarning, YAMLError
from ruamel.yaml.reader import ReaderError

from riskcut.study.errors import Fault, Path, StudyError, address, shown

VALID = "valid YAML: `key: value`, indented by spaces"
A_STUDY = "a mapping with title, targets, ground, water, works, stages"
MOST_ENTRIES = 100_000
"""A file that holds more (a few aliases of aliases are enough) is refused before it fills the memory."""

MOST_DEEP = 50
"""Keys above an entry: far more than a study has, and few enough for whatever goes through the tree."""

MOST_BITS = 1024
"""A whole number of more, which YAML lets one write in hexadecimal, is no float."""

UNREADABLE = (YAMLError, ValueError, TypeError, AttributeError, LookupError, ArithmeticError)
"""What ruamel.yaml raises, all but the first at a value that is not what its tag or its looks promise:
``!!float soft``, ``!!int``, ``2025-13-01``."""


@dataclass(frozen=True)
class Source:
    """The plain tree of a YAML file and where each entry of it was written."""

    file: str
    tree: dict[str, Any]
    lines: dict[Path, int]
    """Line of each entry, counted from 1; of one that an alias or a merge brought in, where it stands."""

    def line(self, path: Path) -> int:
        """Return the line of an entry, or of the nearest entry that holds it."""
        while path not in self.lines and path:
            path = path[:-1]
        return self.lines.get(path, 1)


def read_source(file: str, content: bytes) -> Source:
    """Read a YAML file.

    Parameters
    ----------
    file
        The name to use in messages.
    content
        The file's bytes, UTF-8.

    Raises
    ------
    StudyError
        Where the file is no UTF-8, no YAML, repeats a key, or is not a mapping.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        fault = Fault(line, "", "bytes that are not UTF-8", "a text file in UTF-8")
        raise StudyError(file, [fault]) from None
    loaded = _load(file, text)
    reading = _Reading(file)
    try:
        if isinstance(loaded, CommentedMap):
            return Source(file, reading.plain(loaded, ()), reading.lines)
        given = "an empty file" if loaded is None else shown(list(loaded) if _listed(loaded) else str(loaded))
        fault = Fault(1, "", given, A_STUDY)
    except ValueError:  # Python refuses to write out a whole number of thousands of digits
        fault = Fault(1, "", "a whole number of thousands of digits", VALID)
    raise StudyError(file, [fault])


def _load(file: str, text: str) -> Any:
    """Return what ruamel.yaml makes of a text; what it cannot read is told in our words."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ReusedAnchorWarning)
            return YAML(typ="rt").load(io.StringIO(text))
    except DuplicateKeyError as error:
        fault = _twice(text, error)
    except MarkedYAMLError as error:
        problem = str(error.problem or error.context)
        unended = "end of stream" in problem and error.context_mark
        mark = error.context_mark if unended else error.problem_mark or error.context_mark
        given, wanted = f"text that YAML cannot read ({problem})", VALID
        if "'\\t'" in problem:
            given, wanted = "a tab", "spaces (YAML does not take tabs)"
        elif "mapping values are not allowed" in problem:
            given = "a second colon in one entry"
            wanted = "one `key: value` a line, and quotes around a text that holds a colon"
        elif "another document" in problem:
            given, wanted = "a second document (after ---)", "one study a file"
        fault = Fault(mark.line + 1 if mark else 1, "", given, wanted)
    except ReaderError as error:
        line = text[: error.position].count("\n") + 1
        code = error.character if isinstance(error.character, int) else ord(str(error.character)[0])
        fault = Fault(
            line, "", f"the control character {code:#04x}", "a text file without control characters"
        )
    except UNREADABLE as error:
        said = (str(error).splitlines() or ["unknown"])[0]
        fault = Fault(1, "", f"a value that YAML cannot read ({said})", VALID)
    except RecursionError:
        fault = Fault(1, "", "entries nested too deep to read", A_STUDY)
    raise StudyError(file, [fault])


def _twice(text: str, error: DuplicateKeyError) -> Fault:
    """Return the fault of a repeated key, at the address of the mapping in which it is repeated."""
    key = str(error.problem).split('"')[1] if '"' in str(error.problem) else "a key"
    line = error.problem_mark.line + 1 if error.problem_mark else 1
    begins = error.context_mark.line + 1 if error.context_mark else 1
    lenient = YAML(typ="rt")
    lenient.allow_duplicate_keys = True
    try:
        reading = _Reading("")
        reading.plain(lenient.load(io.StringIO(text)), ())
        mappings = {path[:-1] for path in reading.lines if path[-1] == key}
        for above in sorted(mappings, key=len):
            if min(at for path, at in reading.lines.items() if path[:-1] == above) == begins:
                return Fault(line, address((*above, key)), f"the key {key} twice", "each key once")
    except (*UNREADABLE, RecursionError, StudyError):
        pass  # something further on cannot be read: the key alone is told
    return Fault(line, key, f"the key {key} twice", "each key once")


def _listed(node: Any) -> bool:
    return isinstance(node, CommentedSeq | CommentedSet)


@dataclass
class _Reading:
    """Strips the reader's own types and notes the line of every entry."""

    file: str
    lines: dict[Path, int] = field(default_factory=dict)
    open: set[int] = field(default_factory=set)
    """Identities of the mappings and lists that are being read, to see one that holds itself."""

    def plain(self, node: Any, path: Path) -> Any:
        """Return a node as plain dictionaries, lists, texts and numbers."""
        if isinstance(node, CommentedMap) or _listed(node):
            line = self.lines.get(path, 1)
            if len(path) > MOST_DEEP:
                raise StudyError(self.file, [Fault(line, "", "entries nested too deep to read", A_STUDY)])
            if id(node) in self.open or len(self.lines) > MOST_ENTRIES:
                given = "an alias that holds itself" if id(node) in self.open else "aliases upon aliases"
                raise StudyError(self.file, [Fault(line, "", given, "entries written out")])
            self.open.add(id(node))
            if isinstance(node, CommentedMap):
                value: Any = self._mapping(node, path, line)
            else:
                value = self._list(node, path, line)
            self.open.discard(id(node))
            return value
        if isinstance(node, bool) or node is None:
            return node
        if isinstance(node, int) and node.bit_length() > MOST_BITS:
            given = "a whole number of hundreds of digits"
            raise StudyError(self.file, [Fault(self.lines.get(path, 1), address(path), given, "a number")])
        for kind in (int, float, str):
            if isinstance(node, kind):
                return kind(node)
        return str(node)  # a date, say: shown back to the writer as it stands

    def _mapping(self, node: CommentedMap, path: Path, line: int) -> dict[str, Any]:
        plain = {}
        for key, value in node.items():
            word = key if isinstance(key, str) else shown(key)
            here = (*path, str(word))
            self.lines[here] = _line_of(node, key, line)
            plain[str(word)] = self.plain(value, here)
        return plain

    def _list(self, node: Any, path: Path, line: int) -> list[Any]:
        marks = node.lc.data or {}
        values = []
        for index, value in enumerate(node):
            here = (*path, index)
            self.lines[here] = marks[index][0] + 1 if index in marks else line
            values.append(self.plain(value, here))
        return values


def _line_of(node: CommentedMap, key: Any, otherwise: int) -> int:
    """Return the line of a key; of one that came in by a merge (``<<``), the line that it came from."""
    marks = node.lc.data or {}
    if key in marks:
        return int(marks[key][0]) + 1
    for merged in node.merge or ():
        if isinstance(merged, CommentedMap) and key in merged:
            return _line_of(merged, key, otherwise)
    return otherwise
