"""Every bad study tells its faults, all of them, each once, where it marks them.

A faulty line ends in ``# wrong: path | given | wanted``: the address exactly, and what must appear in the
other two. Several faults of one line are parted by ``&&``.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from riskcut.study.errors import StudyError
from riskcut.study.reading import read_study

BAD = sorted((Path(__file__).parent / "bad").glob("*.yaml"))
MARK = "# wrong: "


def marked(file: Path) -> list[tuple[int, str, str, str]]:
    """Return line, path, and fragments of given and wanted of every fault that a file marks."""
    marks = []
    for number, line in enumerate(file.read_bytes().decode("latin-1").splitlines(), start=1):
        if MARK in line:
            for mark in line.split(MARK)[1].split(" && "):
                path, given, wanted = (part.strip() for part in f" {mark}".split(" | "))
                assert given
                assert wanted
                marks.append((number, path, given, wanted))
    return marks


def test_there_are_many() -> None:
    assert len(BAD) >= 150


@pytest.mark.parametrize("file", BAD, ids=lambda file: file.stem)
def test_the_marked_faults_are_told_and_nothing_else(file: Path) -> None:
    expected = marked(file)
    assert expected
    with pytest.raises(StudyError) as raised:
        read_study(file)
    told = list(raised.value.faults)
    for line, path, given, wanted in expected:
        fits = [
            f for f in told if f.line == line and f.path == path and given in f.given and wanted in f.wanted
        ]
        assert len(fits) == 1, f"{line}: {path} | {given} | {wanted} is not among\n{raised.value}"
        told.remove(fits[0])
    assert not told, f"told beyond what is marked:\n{raised.value}"
    for text, fault in zip(str(raised.value).splitlines(), raised.value.faults, strict=True):
        assert text.startswith(f"{file}:{fault.line}: ")
        assert text.endswith(f"given {fault.given}; wanted {fault.wanted}")


def test_a_file_that_is_not_there_or_is_a_folder_is_told(tmp_path: Path) -> None:
    for file in (tmp_path / "none.yaml", tmp_path):
        with pytest.raises(StudyError, match="wanted a study file that can be read") as raised:
            read_study(file)
        assert raised.value.exit_code == 2
        assert str(raised.value).startswith(f"{file}: given ")
