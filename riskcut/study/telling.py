"""Where each fault stands: what sections share is told once, what a section changes at its own line."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from riskcut.study.errors import Fault, Path, address
from riskcut.study.sections import SectionTree
from riskcut.study.source import Source
from riskcut.study.spelling import Said, Spelling

LISTS_OF_NAMES = ("install", "remove")
"""Their entries have no address of their own, only a line."""


@dataclass(frozen=True)
class Judged:
    """A section and everything that was found wrong with its tree."""

    section: SectionTree
    spelling: Spelling
    said: list[Said]


def fault_at(source: Source, path: Path, given: str, wanted: str) -> Fault:
    """Return a fault at an address of the file, with its line."""
    named = path[:-1] if len(path) > 1 and path[-2] in LISTS_OF_NAMES else path
    return Fault(source.line(path), address(named), given, wanted)


def faults_of(source: Source, judged: list[Judged], base: Judged) -> list[Fault]:
    """Return the faults of all sections, located in the file.

    Parameters
    ----------
    source
        The file.
    judged
        Its sections.
    base
        What is wrong with the tree that the sections share, judged by itself: a fault that is in it and
        in every section has nothing to do with any of them.
    """
    faults = []
    outside: dict[Path, list[tuple[SectionTree, Said]]] = defaultdict(list)
    for each in judged:
        for path, given, wanted in each.said:
            place = each.spelling.place(path, each.section.origin)
            if place != each.spelling.written(path):
                faults.append(fault_at(source, place, given, wanted))
            else:
                outside[place].append((each.section, (place, given, wanted)))
    alone = [(base.spelling.written(path), given, wanted) for path, given, wanted in base.said]
    for place, told in outside.items():
        shared = [said for said in alone if said[0] == place]
        if shared and len({section.name for section, _ in told}) == len(judged):
            faults += [fault_at(source, *said) for said in shared]
        else:
            faults += _of_some(source, told)
    return faults


def _of_some(source: Source, told: list[tuple[SectionTree, Said]]) -> list[Fault]:
    """Return faults that arise only where certain sections lay their changes over what is shared."""
    faults = []
    mentioned: dict[Said, list[str]] = defaultdict(list)
    for section, said in told:
        own = (*section.root, *said[0])
        if said[0] and own in source.lines:
            faults.append(fault_at(source, own, said[1], said[2]))
        else:
            mentioned[said].append(section.name)
    for (path, given, wanted), names in mentioned.items():
        where = f"section{'s' if len(names) > 1 else ''} {', '.join(names)}"
        faults.append(fault_at(source, path, f"{given} (in {where})", wanted))
    return faults
