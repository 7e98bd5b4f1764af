"""What a simulation counted, as the results' groups ``reliability``, ``scenarios``, ``margins`` and ``convergence``."""

from __future__ import annotations

from typing import Any

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.empirical_tails import EmpiricalTails
from riskcut.analysis.gather_systems import SURVIVAL, Systems, store
from riskcut.analysis.limit_states import LimitState
from riskcut.analysis.parts import BoundBlock, Part
from riskcut.analysis.range_left import limits_left
from riskcut.analysis.scenarios import Piece, counted, found, judge, mixture
from riskcut.reliability.assessment import Assessment
from riskcut.reliability.plan import Pilot
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.tally import ComponentTally, Tally
from riskcut.results import wording
from riskcut.results.names import TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank

CONDITIONAL_ON = (
    "each probability is that of its own stage, whether or not earlier stages stood, over the stated events; all are "
    "conditional on the mechanisms, distributions and stages of the study"
)
NOT_HERE = "does not exist at this stage"


class Gatherer:
    """Fills the arrays of the groups, block by block."""

    def __init__(
        self,
        bound: Bound,
        pilot: Pilot,
        tally: Tally,
        assessment: Assessment,
        coords: dict[str, list[Any]],
        quantiles: list[float],
    ) -> None:
        self.bound, self.pilot, self.tally, self.assessment = bound, pilot, tally, assessment
        self._places = {component.name: place for place, component in enumerate(bound.problem.components)}
        self.coords, self.quantiles = coords, quantiles
        self.sizes = {name: len(labels) for name, labels in coords.items()} | {"bound": 2, "dependence": 2}
        self.sizes["margin_edge_index"] = self.sizes["margin_bin"] + 1
        self.reliability = self._blank("reliability")
        self.scenarios = self._blank("scenarios")
        self.margins = self._blank("margins")
        self.convergence = self._blank("convergence")
        every = (*bound.blocks, *bound.events)
        self._blocks = {block.key: block for block in every}
        self._tails = EmpiricalTails(bound)
        self._systems = Systems(bound, assessment, self._tails, coords, self.reliability, self.scenarios)

    def _blank(self, group: str) -> dict[str, Any]:
        return {name: blank(group, name, self.sizes) for name, entry in TABLE[group].items() if entry.dims}

    def gather(self) -> dict[str, dict[str, Any]]:
        """Return the groups."""
        self.reliability["reason"][...] = NOT_HERE
        self.reliability["first_failure_reason"][...] = NOT_HERE
        self.reliability["conditional_reason"][...] = NOT_HERE
        self.scenarios["scenario_reason"][...] = NOT_HERE
        for block in self.bound.blocks:
            self._block(block)
        self._systems.sections()
        spent = self.assessment.ledger
        scalars = {
            "rows": np.int64(self.tally.rows),
            "aimed_rows": np.int64(spent.rows),
            "margin_evaluations": np.int64(
                self.tally.margin_evaluations + self.pilot.tally.margin_evaluations + spent.margin_evaluations
            ),
            "conditional_on": CONDITIONAL_ON,
            "conditional_on_survival": SURVIVAL,
        }
        return {
            "reliability": {**self.reliability, **scalars},
            "scenarios": self.scenarios,
            "margins": self.margins,
            "convergence": self.convergence,
        }

    def _at(self, block: BoundBlock) -> tuple[int, int]:
        template = block.template
        return self.coords["section"].index(template.section), self.coords["stage"].index(template.stage)

    def _of_stage(self, block: BoundBlock) -> list[BoundBlock]:
        """Return a stage's blocks in each of its scenarios, as planned first."""
        section, stage = block.template.section, block.template.stage
        keys = [(section, stage, scenario) for scenario in self.coords["scenario"]]
        return [self._blocks[key] for key in keys if key in self._blocks]

    def _block(self, block: BoundBlock) -> None:
        at, group, template = self._at(block), self.reliability, block.template
        group["phase"][at] = template.phase
        group["stage_applies"][at] = 1
        group["has_target"][at] = 1
        group["target_reliability_index"][at] = template.target.beta
        group["target_source"][at] = template.target.source
        blocks = self._of_stage(block)
        for scenario in blocks:
            place = (*at, self.coords["scenario"].index(scenario.template.scenario))
            self.scenarios["scenario_applies"][place] = 1
            self.scenarios["scenario_probability"][place] = scenario.template.share
        for state in block.states:
            place = (*at, self.coords["limit_state"].index(state.label))
            group["response_unit"][place[2]] = state.mechanism.unit
            if not state.applies:
                group["reason"][place] = state.member.not_applicable
        for label in self.coords["limit_state"]:
            self._limit_state(label, blocks, (*at, self.coords["limit_state"].index(label)))
        self._systems.stage(blocks, at)

    def _limit_state(self, label: str, blocks: list[BoundBlock], at: tuple[int, int, int]) -> None:
        """Put one limit state of a stage together over the stage's scenarios."""
        shares, pieces = [], []
        for scenario in blocks:
            place_in = self._find(scenario, label)
            if place_in is None:
                continue
            part, i, state = place_in
            piece = self._piece(part, i)
            shares.append(scenario.template.share)
            pieces.append(piece)
            place = (*at, self.coords["scenario"].index(scenario.template.scenario))
            store(self.scenarios, "scenario_", place, judge(piece))
            if len(pieces) == 1:  # as planned, or else the first event in which there is anything to evaluate
                self._one_scenario(scenario, state, self.tally.components[part.name], i, at)
        if pieces:
            judged = judge(mixture(shares, pieces))
            store(self.reliability, "", at, judged)
            self.reliability["coefficient_of_variation_of_estimate"][at] = judged.variation
            self.reliability["estimated_by"][at] = judged.method
            self.reliability["governing"][at] = self._governs(blocks, label)
            self.reliability["governing_note"][at] = self._note(blocks, label)
            self.reliability["reason"][at] = judged.reason
            self._convergence(label, blocks, at, judged.status)

    def _find(self, block: BoundBlock, label: str) -> tuple[Part, int, LimitState] | None:
        """Return where a limit state of a block is simulated, None where it does not apply there."""
        for part in self.bound.parts[block.key]:
            for i, state in enumerate(part.states):
                if state.label == label:
                    return part, i, state
        return None

    def _piece(self, part: Part, i: int) -> Piece:
        piece = found(self.assessment.states[self._places[part.name], i])
        return self._tails.of_limit_state(piece, part, part.states[i])

    def _governs(self, blocks: list[BoundBlock], label: str) -> bool:
        return any(s.label == label and s.member.governing for block in blocks for s in block.applying)

    def _note(self, blocks: list[BoundBlock], label: str) -> str:
        """Return what is to be told of a limit state where the works go as planned, or else in the first event."""
        return next((s.member.note for block in blocks for s in block.applying if s.label == label), "")

    def _constant(self, part: Part, i: int) -> float | None:
        return float(self.pilot.value[part.name][i]) if self.pilot.constant[part.name][i] else None

    def _one_scenario(
        self,
        block: BoundBlock,
        state: LimitState,
        component: ComponentTally,
        i: int,
        at: tuple[int, int, int],
    ) -> None:
        """Store what is told of one scenario alone, the stage as planned."""
        group = self.reliability
        group["failures"][at] = component.failures[i]
        group["impossible_rows"][at] = component.impossible[i]
        group["share_outside_range"][at] = component.outside[i] / component.rows
        if component.outside[i]:
            group["outside_range"][at] = self._outside(block, state)
        outcome = block.outcome_at_means(state)
        resistance, action = float(outcome.resistance), float(outcome.action)
        group["resistance_at_means"][at], group["action_at_means"][at] = resistance, action
        group["factor_of_safety_at_means"][at] = resistance / action if action > 0 else np.inf
        group["factor_of_safety_quantile"][at] = component.ratio_quantiles(self.quantiles)[i]
        self._histogram(component, i, at)

    def _outside(self, block: BoundBlock, state: LimitState) -> str:
        """Name the limits of the range of use that rows leave, and how often; all of them where that is too seldom."""
        left = limits_left(self.bound, block, state, seed=self.tally.seed)
        told = [f"{limit} (in {wording.share(part)})" for limit, part in left.items()]
        return "; ".join(told or block.outcome_at_means(state).outside)

    def _histogram(self, component: ComponentTally, i: int, at: tuple[int, int, int]) -> None:
        if component.margin_counts is None or component.margin_edges is None:
            return
        # The open ends are counted apart; a reader adds them to the outermost bins.
        counts = component.margin_counts[i]
        inner = counts[1:-1].copy()
        inner[0] += counts[0]
        inner[-1] += counts[-1]
        self.margins["margin_count"][at] = inner
        self.margins["margin_edge"][at] = component.margin_edges[i]
        self.margins["margin_status"][at] = Status.COMPUTED

    def _convergence(
        self, label: str, blocks: list[BoundBlock], at: tuple[int, int, int], status: Status
    ) -> None:
        if status is Status.CANNOT_FAIL:
            self.convergence["convergence_status"][at] = status
            return
        rows = np.asarray(self.tally.checkpoints) * BLOCK_ROWS
        shares, pieces = [], []
        for block in blocks:
            if (place_in := self._find(block, label)) is not None:
                part, i, _ = place_in
                component, constant = self.tally.components[part.name], self._constant(part, i)
                pieces.append(
                    counted(component.failures_at[:, i], component.impossible_at[:, i], rows, constant)
                )
                shares.append(block.template.share)
        record = mixture(shares, pieces)
        inner = (record.probability > 0) & (record.probability < 1)
        group = self.convergence
        group["convergence_failure_probability"][at] = np.where(inner, record.probability, np.nan)
        bounds = np.stack([record.lower, record.upper], axis=-1)
        group["convergence_failure_probability_bounds"][at] = bounds
        complete = bool(inner.all())
        group["convergence_status"][at] = Status.COMPUTED if complete else Status.UPPER_BOUND_ONLY
