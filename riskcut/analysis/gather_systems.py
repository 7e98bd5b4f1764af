"""The figures of systems: a stage, a section over its stages and where it fails first, the whole."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.empirical_tails import EmpiricalTails
from riskcut.analysis.parts import WHOLE, BoundBlock, event_union, stage_union
from riskcut.analysis.scenarios import Judged, Piece, found, judge, mixture, over_stages
from riskcut.reliability.assessment import Assessment
from riskcut.reliability.system import independent_union, independent_union_bounds

SURVIVAL = (
    "that the earlier stages stood tells of what the stages share (ground, works, model factors); loads and heads that "
    "are drawn stage by stage are drawn anew, and undrained survival says nothing of drained strength"
)
NOTHING_GOVERNS = "no governing limit state applies"
NEVER_STOOD = "an earlier stage failed in every row: there is nothing that stood"
_NOTHING = 1e-12
"""Probability of having stood so far that is only rounding."""


class Systems:
    """Fills the arrays of systems.

    Parameters
    ----------
    bound, assessment, tails
        The study, what the engine found, and what it must not be trusted with.
    coords
        Labels by dimension.
    reliability, scenarios
        Arrays of the two groups, that are filled.
    """

    def __init__(
        self,
        bound: Bound,
        assessment: Assessment,
        tails: EmpiricalTails,
        coords: dict[str, list[Any]],
        reliability: dict[str, Any],
        scenarios: dict[str, Any],
    ) -> None:
        self.bound, self.assessment, self.coords = bound, assessment, coords
        self.reliability, self.scenarios = reliability, scenarios
        self._tails = tails
        self._marginal: dict[tuple[str, str], Piece] = {}
        """Of each stage, over its scenarios."""

    def stage(self, blocks: list[BoundBlock], at: tuple[int, int]) -> None:
        """Tell a stage as a system, from its blocks in each scenario, as planned first."""
        shares, pieces = [], []
        for block in blocks:
            piece = self._of(stage_union(*block.key))
            if piece is None:
                continue
            shares.append(block.template.share)
            pieces.append(piece)
            place = (*at, self.coords["scenario"].index(block.template.scenario))
            store(self.scenarios, "scenario_stage_", place, judge(piece))
        if pieces:
            whole = mixture(shares, pieces)
            self._marginal[blocks[0].template.section, blocks[0].template.stage] = whole
            self._system("stage_", at, whole)
        else:
            self.reliability["stage_reason"][at] = NOTHING_GOVERNS

    def _system(self, prefix: str, at: Any, piece: Piece) -> None:
        judged = judge(piece)
        store(self.reliability, prefix, at, judged)
        self.reliability[f"{prefix}reason"][at] = judged.reason
        self.reliability[f"{prefix}estimated_by"][at] = judged.method

    def sections(self) -> None:
        """Tell each section over its stages, and the whole twice: as if sections shared their ground, and apart."""
        sections = []
        for place, name in enumerate(self.coords["section"]):
            piece = self._over_stages(name, {name})
            if piece is not None:
                self._system("section_", (place,), piece)
                self._first_failures(name)
                sections.append(piece)
        whole = self._over_stages(WHOLE, set(self.coords["section"]))
        if whole is None:
            return
        self._system("overall_", (0,), whole)
        probability = independent_union(np.array([float(s.probability) for s in sections]))
        bounds = independent_union_bounds(np.array([[float(s.lower), float(s.upper)] for s in sections]))
        nothing = np.full_like(probability, np.nan)
        apart = Piece(
            probability,
            bounds[..., 0],
            bounds[..., 1],
            nothing,
            methods=tuple(dict.fromkeys(method for piece in sections for method in piece.methods)),
            doubt=next((piece.doubt for piece in sections if piece.doubt), ""),
        )
        self._system("overall_", (1,), apart)

    def _over_stages(self, part: str, sections: set[str]) -> Piece | None:
        """Return the failure of a section (or of the whole) at any stage, over its scenarios."""
        planned = self._of(part)
        if planned is None:
            return None
        none, one = over_stages(self._chances(part, sections))
        pieces = [self._of(event_union(part, *event)) for event in one]
        return mixture([none, *one.values()], [planned, *(piece for piece in pieces if piece is not None)])

    def _chances(self, part: str, sections: set[str]) -> dict[str, dict[str, float]]:
        """Return the events that change how a section (or the whole) may fail, by stage, with their probabilities."""
        events: dict[str, dict[str, float]] = {}
        for block in self.bound.events:
            name, stage = block.template.scenario, block.template.stage
            if (
                block.template.section in sections
                and event_union(part, stage, name) in self.assessment.unions
            ):
                chances = events.setdefault(stage, {})
                chances[name] = max(chances.get(name, 0.0), block.template.share)
        return events

    def _first_failures(self, section: str) -> None:
        """Tell at which stage a section would fail first, and how likely each stage fails once it is reached."""
        none, one = over_stages(self._chances(section, {section}))
        unions = [section, *(event_union(section, *event) for event in one)]
        at_section, stood = self.coords["section"].index(section), 1.0
        for turn, stage in enumerate(self.coords["stage"]):
            found_at = [self.assessment.first_failures.get((union, turn)) for union in unions]
            pieces = [
                self._tails.of_union(found(finding), union)
                for finding, union in zip(found_at, unions, strict=True)
                if finding is not None
            ]
            at = (at_section, turn)
            if len(pieces) < len(unions):
                if self.reliability["stage_applies"][at]:
                    self.reliability["first_failure_reason"][at] = NOTHING_GOVERNS
                    self.reliability["conditional_reason"][at] = NOTHING_GOVERNS
                continue
            piece = _at_most(mixture([none, *one.values()], pieces), self._marginal[section, stage])
            self._first("first_failure", at, judge(piece))
            if stood > _NOTHING:
                self._first("conditional", at, judge(_divided(piece, stood)))
            else:
                self.reliability["conditional_reason"][at] = NEVER_STOOD
            stood -= float(piece.probability)

    def _first(self, name: str, at: tuple[int, int], judged: Judged) -> None:
        whole = name if name == "first_failure" else f"{name}_failure"
        self.reliability[f"{whole}_probability"][at] = judged.probability
        self.reliability[f"{whole}_probability_bounds"][at] = judged.bounds
        self.reliability[f"{name}_status"][at] = judged.status
        self.reliability[f"{name}_reason"][at] = judged.reason

    def _of(self, union: str) -> Piece | None:
        """Return the failure of a union, None where nothing in it governs."""
        finding = self.assessment.unions.get(union)
        return None if finding is None else self._tails.of_union(found(finding), union)


def _at_most(piece: Piece, whole: Piece) -> Piece:
    """Return a piece that is part of another, with no higher upper bound than it."""
    upper = np.maximum(np.minimum(piece.upper, whole.upper), piece.probability)
    return replace(piece, upper=upper)


def _divided(piece: Piece, by: float) -> Piece:
    """Return a piece given that something else happened, of a probability that the same rows gave.

    The error of that probability is left out: of n rows with failures F, of which B stood before, F/B has the variance
    F (B - F)/(n B^3), which is no more than that of F alone over B^2, F (1 - F)/(n B^2).
    """
    return replace(
        piece,
        probability=np.minimum(piece.probability / by, 1.0),
        lower=np.minimum(piece.lower / by, 1.0),
        upper=np.minimum(piece.upper / by, 1.0),
        variance=piece.variance / by**2,
    )


def store(group: dict[str, Any], prefix: str, at: Any, judged: Judged) -> None:
    """Store what is judged of a probability in the arrays of a prefix."""
    group[f"{prefix}failure_probability"][at] = judged.probability
    group[f"{prefix}failure_probability_bounds"][at] = judged.bounds
    group[f"{prefix}status"][at] = judged.status
    if f"{prefix}reliability_index" in group:
        group[f"{prefix}reliability_index"][at] = judged.index
        group[f"{prefix}reliability_index_bounds"][at] = judged.index_bounds
    if prefix == "scenario_":
        group["scenario_reason"][at] = judged.reason
