"""Bad studies: each file marks its faulty lines, and exactly those must be told.

A mark is a comment ``# wrong: path | given | wanted``; given and wanted are fragments that must appear.
Several faults of one line are joined by ``&&``.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from riskcut.study.errors import StudyError
from riskcut.study.reading import read_study

BAD = sorted((Path(__file__).parent / "bad").glob("*.yaml"))
MARK = re.compile(rb"# wrong: (.*)")


def marks(path: Path) -> list[tuple[int, str, str, str]]:
    found = []
    for number, line in enumerate(path.read_bytes().splitlines(), start=1):
        told = MARK.search(line)
        for mark in told[1].decode().split(" && ") if told else ():
            place, given, wanted = (part.strip() for part in mark.split(" | "))
            found.append((number, place, given, wanted))
    return found


def test_there_are_many():
    assert len(BAD) >= 50


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_exactly_the_marked_faults_are_told(path):
    expected = marks(path)
    assert expected, "a bad study marks its faulty line"
    with pytest.raises(StudyError) as error:
        read_study(path)
    told = error.value.faults
    listing = "\n" + "\n".join(fault.text(path.name) for fault in told)
    assert len(told) == len(expected), listing
    for line, place, given, wanted in expected:
        matching = [f for f in told if f.line == line and f.path == place]
        assert any(given in f.given and wanted in f.wanted for f in matching), f"{line} {place}{listing}"
    assert error.value.exit_code == 2
    assert str(path) in str(error.value)
