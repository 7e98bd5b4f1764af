"""From the bytes of a study file to its sections, with every fault of the file told at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path as FilePath

from riskcut.study.columns import SHARED
from riskcut.study.errors import Fault, Path, StudyError, address, near_matches, shown
from riskcut.study.number_entries import NO_FILE, Files
from riskcut.study.overlay import origin_of
from riskcut.study.rules import check
from riskcut.study.schema import Study
from riskcut.study.sections import ONLY_SECTION, Sections, SectionTree
from riskcut.study.shape import Draft, validate
from riskcut.study.source import Source, read_source
from riskcut.study.spelling import Said
from riskcut.study.telling import Judged, fault_at, faults_of
from riskcut.study.walk import quantities

__all__ = ["ONLY_SECTION", "InputFile", "Section", "StudyFile", "parse_study", "read_study"]


@dataclass(frozen=True)
class InputFile:
    """One file that went into a run."""

    name: str
    """As the study names it; of the study itself, its file name."""
    content: bytes

    @property
    def sha256(self) -> str:
        """Return the hash of its bytes, in hexadecimal."""
        return hashlib.sha256(self.content).hexdigest()


@dataclass(frozen=True)
class Section:
    """One section of the cut: the study with what the section changes laid over."""

    name: str
    study: Study
    origin: dict[Path, Path]
    lines: dict[Path, int]
    """Line of every entry of the file."""

    def path(self, path: Path) -> Path:
        """Return the place in the file of an entry of the section's own tree."""
        place = origin_of(path, self.origin)
        short = place[:-1]
        # A strength written as one number (``su: 35``) is read as ``su.at_top``, but stands at ``su``.
        written_short = place[-1] == "at_top" and place not in self.lines and short in self.lines
        return short if written_short else place

    def address(self, path: Path) -> str:
        """Return the address in the file of an entry of the section's own tree."""
        return address(self.path(path))


@dataclass(frozen=True)
class StudyFile:
    """A study file that was read and found in order."""

    source: Source
    sections: tuple[Section, ...]
    files: tuple[InputFile, ...]
    """The study itself, then the data files that its numbers name."""

    @property
    def study(self) -> Study:
        """What all sections share: title, targets, dependence, models."""
        return self.sections[0].study

    @property
    def stages(self) -> tuple[str, ...]:
        """Return the stages that any section has, in the order of building, which all sections share."""
        theirs = dict.fromkeys(stage for section in self.sections for stage in section.study.stages)
        shared = self.source.tree.get("stages", {})  # not there where each section has stages of its own
        return tuple(stage for stage in {**shared, **theirs} if stage in theirs)

    def states(self, name: str) -> bool:
        """Whether the file itself states the number at an address (a mechanism's default it does not)."""
        written = {address(path) for path in self.source.lines}
        return name in written or (name.endswith(f".{SHARED}") and name.removesuffix(f".{SHARED}") in written)

    def fault(self, path: Path, given: str, wanted: str) -> Fault:
        """Return a fault at an address of the file, with its line."""
        return Fault(self.source.line(path), address(path), given, wanted)


def read_study(file: FilePath) -> StudyFile:
    """Read a study from disk.

    Raises
    ------
    StudyError
        With every fault of the file.
    """
    try:
        content = file.read_bytes()
    except OSError as error:
        wanted = "a study file that can be read"
        raise StudyError(str(file), [Fault(0, "", str(error.strerror).lower(), wanted)]) from None

    def data(name: str) -> bytes | None:
        try:
            return (file.parent / name).read_bytes()
        except (OSError, ValueError):  # not there, a folder, not to be read, no name that a file can have
            return None

    return parse_study(str(file), content, data)


def parse_study(file: str, content: bytes, data: Files) -> StudyFile:
    """Read a study from its bytes.

    Parameters
    ----------
    file
        Its name, for messages.
    content
        Its bytes.
    data
        Returns the bytes of a data file that the study names, None where there is none.
    """
    source = read_source(file, content)
    data = cache(data)  # what is fitted is what is kept
    sections = Sections(source.tree)
    trees = list(sections.trees())
    drafts = [validate(tree.tree, sections.spelling, data) for tree in trees]
    judged = [_judge(tree, draft) for tree, draft in zip(trees, drafts, strict=True)]
    shared = SectionTree("", sections.base, {}, ())
    alone = (
        judged[0] if not trees[0].root else _judge(shared, validate(sections.base, sections.spelling, data))
    )
    faults = [fault_at(source, *said) for said in sections.said]
    faults += faults_of(source, judged, alone)
    read = [
        Section(tree.name, draft.study, tree.origin, source.lines)
        for tree, draft in zip(trees, drafts, strict=True)
        if draft.study is not None
    ]
    files = [InputFile(FilePath(file).name, content)]
    if read:
        hidden = {name for each, draft in zip(judged, drafts, strict=True) for name in _hidden(each, draft)}
        faults += [fault_at(source, *said) for said in _dependence(read, drafts[0], hidden)]
        found, missing = _data_files(read, data)
        files += found
        faults += [fault_at(source, *said) for said in missing]
    if faults:
        raise StudyError(file, faults)
    return StudyFile(source, tuple(read), tuple(files))


def _judge(tree: SectionTree, draft: Draft) -> Judged:
    """Return everything that is wrong with one tree."""
    rules = check(draft.study, draft.unknown) if draft.study is not None else ()
    return Judged(tree, draft.spelling, [*draft.said, *rules])


def _hidden(judged: Judged, draft: Draft) -> Iterable[str]:
    """Yield the addresses of which nothing should be said because something at or above them is at fault."""
    for path in {*draft.unknown.paths, *draft.spelling.misspelt, *(said[0] for said in judged.said)} - {()}:
        yield address(origin_of(path, judged.section.origin))
        place = judged.spelling.place(path, judged.section.origin)
        yield address(place)
        yield address((*place[:-1], path[-1]))  # as the writer should have spelt it


def _dependence(sections: list[Section], draft: Draft, hidden: set[str]) -> Iterable[Said]:
    """Yield every stated dependence that is not between two uncertain numbers that exist."""
    numbers = [(s.address(path), q.uncertain) for s in sections for path, q, _ in quantities(s.study)]
    uncertain = {name for name, is_uncertain in numbers if is_uncertain}
    certain = {name for name, _ in numbers} - uncertain
    seen: set[frozenset[str]] = set()
    for index, entry in enumerate(sections[0].study.dependence):
        path: Path = ("dependence", index)
        known = not draft.unknown.touches(path)
        if known and (entry.correlation is None) == (entry.rank_correlation is None):
            neither = entry.correlation is None
            given = "neither correlation nor rank_correlation" if neither else "both correlations"
            yield path, given, "correlation or rank_correlation, one of the two"
        at = (*path, "between")
        if path in draft.unknown or at in draft.unknown:
            continue
        pair = frozenset(entry.between)
        for name in entry.between if len(pair) == 2 else ():
            if name in uncertain or "model_factors" in name.split("."):
                continue  # a factor that the study leaves to its mechanism is known only later
            if any(name == one or name.startswith(f"{one}.") for one in hidden):
                continue
            given = f"{name}, which is certain" if name in certain else shown(name)
            yield at, given, f"the address of an uncertain number{near_matches(name, sorted(uncertain))}"
        if len(pair) == 1:
            yield at, "the same number twice", "two different numbers"
        elif pair in seen:
            yield at, "a pair that was stated before", "each pair once"
        seen.add(pair)


def _data_files(sections: list[Section], data: Files) -> tuple[list[InputFile], list[Said]]:
    """Return the data files that the numbers name, each once by name, and what is said of those not there."""
    found: dict[str, InputFile] = {}
    missing: dict[str, Said] = {}
    for section in sections:
        for path, quantity, _ in quantities(section.study):
            name = quantity.data
            if name is None or name in found or name in missing:
                continue
            content = data(name)
            if content is None:
                place = (*section.path(path), "data")
                missing[name] = place, shown(name), NO_FILE
            else:
                found[name] = InputFile(name, content)
    return [found[name] for name in sorted(found)], list(missing.values())
