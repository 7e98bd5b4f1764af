"""Two invented studies and what the tests of this room do with them: change a line, read, compile."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from riskcut.study.block import Block
from riskcut.study.compiling import Compiled, compile_study
from riskcut.study.errors import StudyError
from riskcut.study.quantity import Quantity
from riskcut.study.reading import StudyFile, parse_study
from riskcut.study.template import Template

HERE = Path(__file__).parent
BOX = (HERE / "good" / "box.yaml").read_text(encoding="utf-8")
"""A propped box in clay over a confined gravel, with everything that a study may hold but sections."""
CUTS = (HERE / "good" / "sections.yaml").read_text(encoding="utf-8")
"""An underpass with three sections."""


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """Return a text with some passages, each there exactly once, replaced."""
    for old, new in pairs:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in the text"
        text = text.replace(old, new)
    return text


def read(text: str, data: Mapping[str, bytes] | None = None) -> StudyFile:
    return parse_study("study.yaml", text.encode(), (data or {}).get)


def faults(text: str) -> list[tuple[int, str, str, str]]:
    """Return what is wrong with a study: line, path, given, wanted."""
    try:
        read(text)
    except StudyError as error:
        return [(f.line, f.path, f.given, f.wanted) for f in error.faults]
    return []


def compiled(text: str, factors: Mapping[str, Quantity] | None = None) -> Compiled:
    named = {key: (key, factor) for key, factor in (factors or {}).items()}
    return compile_study(read(text), lambda _block: named)


def template(study: Compiled, stage: str, section: str = "whole_cut") -> Template:
    return next(t for t in study.templates if (t.section, t.stage) == (section, stage))


def at_means(study: Compiled, stage: str, section: str = "whole_cut") -> Block:
    return template(study, stage, section).fill(study.means)


def keys(study: Compiled, address: str) -> list[tuple[str, str]]:
    """Return section and stage of every draw of a number."""
    return [(column.section, column.stage) for column in study.columns if column.address == address]
