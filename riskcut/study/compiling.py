"""A study compiled: its column table and, for each section at each stage, a block template."""

from __future__ import annotations

from dataclasses import dataclass

from riskcut.study.blocks import FactorsOf, SectionCompiler, Template
from riskcut.study.columns import Column, ColumnTable
from riskcut.study.reading import StudyFile


@dataclass(frozen=True)
class Compiled:
    """What the probability side is given, still in the words of the study."""

    file: StudyFile
    columns: tuple[Column, ...]
    drivers: int
    templates: tuple[Template, ...]
    """By section, then by stage, as the study has them."""

    @property
    def means(self) -> dict[int, float]:
        """Return the mean of every column."""
        return {index: column.mean for index, column in enumerate(self.columns)}


def compile_study(file: StudyFile, factors_of: FactorsOf) -> Compiled:
    """Compile a study.

    Parameters
    ----------
    file
        The study, read and in order.
    factors_of
        From a block at the means: the mechanism's own model factor of each limit state that has one.
    """
    table = ColumnTable()
    templates: list[Template] = []
    for section in file.sections:
        templates += SectionCompiler(section, table, factors_of).templates()
    return Compiled(file, tuple(table.columns), table.drivers, tuple(templates))
