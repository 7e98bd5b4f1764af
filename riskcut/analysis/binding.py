"""A study bound to its mechanisms: what the probability side is given.

Here a column of the study becomes a marginal, and a block with its mechanisms becomes a component:
a function from rows of numbers to margins. From here on nobody needs to know what the numbers are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.limit_states import (
    factor_faults,
    factors_of,
    limit_states,
    option_faults,
)
from riskcut.analysis.parts import BoundBlock, Key, Part, cut_in_parts
from riskcut.analysis.parts import problem as parts_problem
from riskcut.reliability.problem import Problem
from riskcut.study.columns import Column
from riskcut.study.compiling import Compiled, compile_study
from riskcut.study.errors import Fault, StudyError, address
from riskcut.study.events import AS_PLANNED
from riskcut.study.reading import StudyFile
from riskcut.uncertainty.joint import DependenceError, Joint, normal_correlation, normal_correlation_of_rank
from riskcut.uncertainty.marginals import Marginal

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bound:
    """A compiled study with its mechanisms and the probability problem that they make."""

    compiled: Compiled
    marginals: tuple[Marginal, ...]
    blocks: tuple[BoundBlock, ...]
    """As planned, by section and stage."""
    events: tuple[BoundBlock, ...]
    """The same blocks where an event happens, one for each event that may."""
    parts: Mapping[Key, tuple[Part, ...]]
    """Section, stage and scenario to the parts that are simulated."""
    problem: Problem

    @property
    def labels(self) -> tuple[str, ...]:
        """Return every limit state of the study, each once, by mechanism and in the order met."""
        met: dict[str, dict[str, None]] = defaultdict(dict)
        for block in (*self.blocks, *self.events):
            for state in block.states:
                met[state.mechanism.name].setdefault(state.label)
        return tuple(label for mechanism in sorted(met) for label in met[mechanism])


def bind(file: StudyFile) -> Bound:
    """Bind a study to the mechanisms.

    Raises
    ------
    StudyError
        Where it names mechanisms, members or choices that do not exist, or states a dependence that no
        joint distribution has.
    """
    if wrong := list(option_faults(file)):
        raise StudyError(file.source.file, wrong)
    compiled = compile_study(file, factors_of)
    means = compiled.means
    blocks = []
    members: dict[str, set[str]] = defaultdict(set)
    for template in compiled.templates:
        at_means = template.fill(means)
        states = limit_states(at_means)
        for state in states:
            members[state.mechanism.name].add(state.member.name)
        blocks.append(BoundBlock(template, at_means, states))
    if wrong := list(factor_faults(file, members)):
        raise StudyError(file.source.file, wrong)
    margins = tuple(column.marginal for column in compiled.columns)
    joint = _joint(file, compiled, margins, blocks)
    parts = cut_in_parts(blocks)
    planned = tuple(block for block in blocks if block.template.scenario == AS_PLANNED)
    events = tuple(block for block in blocks if block.template.scenario != AS_PLANNED)
    problem = parts_problem(joint, parts, compiled.columns, list(file.stages))
    return Bound(compiled, margins, planned, events, parts, problem)


def _joint(
    file: StudyFile, compiled: Compiled, margins: Sequence[Marginal], blocks: Iterable[BoundBlock]
) -> Joint:
    """Return the joint distribution of all columns, with the dependence that the study and mechanisms state."""
    columns = compiled.columns
    correlation = np.eye(compiled.drivers)
    stated: set[frozenset[str]] = set()
    for index, entry in enumerate(file.study.dependence):
        first, second = entry.between
        stated.add(frozenset(entry.between))
        for name in entry.between:
            if name not in {column.address for column in columns}:
                known = sorted({column.address for column in columns})
                raise StudyError(file.source.file, [_unknown(file, index, name, known)])
        for a, b in _pairs(columns, first, second):
            try:
                if entry.correlation is not None:
                    rho = normal_correlation(margins[a], margins[b], entry.correlation)
                else:
                    assert entry.rank_correlation is not None
                    rho = normal_correlation_of_rank(entry.rank_correlation)
            except DependenceError as error:
                given = f"a correlation of {entry.correlation:g} between {first} and {second}"
                fault = file.fault(("dependence", index), given, str(error))
                raise StudyError(file.source.file, [fault]) from None
            _correlate(correlation, columns[a].driver, columns[b].driver, rho)
    for a, b, value in _factor_pairs(columns, blocks, stated):
        rho = normal_correlation(margins[a], margins[b], value)
        _correlate(correlation, columns[a].driver, columns[b].driver, rho)
    try:
        return Joint(margins, [column.driver for column in columns], correlation)
    except DependenceError as error:
        given = "correlations that no joint distribution has"
        fault = file.fault(("dependence",), given, f"weaker correlations ({error})")
        raise StudyError(file.source.file, [fault]) from None


def _unknown(file: StudyFile, index: int, name: str, known: Sequence[str]) -> Fault:
    wanted = f"the address of an uncertain number of this study, such as {', '.join(known[:3])}"
    return Fault(file.source.line(("dependence", index)), address(("dependence", index)), name, wanted)


def _correlate(correlation: Array, a: int, b: int, rho: float) -> None:
    correlation[a, b] = correlation[b, a] = rho


def _pairs(columns: Sequence[Column], first: str, second: str) -> Iterable[tuple[int, int]]:
    """Yield the pairs of draws of two numbers that belong to the same section and stage, each pair of drivers once."""
    seen = set()
    for a, one in enumerate(columns):
        for b, other in enumerate(columns):
            if one.address != first or other.address != second:
                continue
            same_section = one.section == other.section or not (one.section and other.section)
            same_stage = one.stage == other.stage or not (one.stage and other.stage)
            drivers = frozenset((one.driver, other.driver))
            if same_section and same_stage and drivers not in seen:
                seen.add(drivers)
                yield a, b


def _factor_pairs(
    columns: Sequence[Column], blocks: Iterable[BoundBlock], stated: set[frozenset[str]]
) -> Iterable[tuple[int, int, float]]:
    """Yield the pairs of model factors that a mechanism correlates by itself, unless the study states the pair."""
    correlations = {s.mechanism.name: s.mechanism.factor(s.member.name) for b in blocks for s in b.states}
    by_mechanism: dict[str, list[int]] = defaultdict(list)
    for index, column in enumerate(columns):
        keys = column.address.split(".")
        if (
            "model_factors" in keys
            and (factor := correlations.get(keys[-2])) is not None
            and factor.correlation
        ):
            by_mechanism[keys[-2]].append(index)
    for mechanism, members in by_mechanism.items():
        factor = correlations[mechanism]
        assert factor is not None
        for i, a in enumerate(members):
            for b in members[i + 1 :]:
                pair = frozenset((columns[a].address, columns[b].address))
                if columns[a].driver != columns[b].driver and pair not in stated:
                    yield a, b, factor.correlation
