"""What a simulation counted, as the results' groups ``reliability``, ``margins`` and ``convergence``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.binding import WHOLE, Bound, BoundBlock
from riskcut.analysis.limit_states import LimitState
from riskcut.reliability.estimates import Estimate, estimate
from riskcut.reliability.plan import Pilot
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.system import independent_union, independent_union_bounds
from riskcut.reliability.tally import ComponentTally, SystemTally, Tally
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank

CONDITIONAL_ON = (
    "each probability is that of its own stage, whether or not earlier stages stood; all are conditional on "
    "the mechanisms, distributions and stages of the study"
)
NO_FAILURE = "no row failed: only an upper bound is known"
ALL_FAILED = "every row failed: only a lower bound is known"
CANNOT_FAIL = "no uncertain input enters, and the margin is positive"
ALWAYS_FAILS = "no uncertain input enters, and the margin is negative: it fails for certain"
NOT_HERE = "does not exist at this stage"


@dataclass(frozen=True)
class Judged:
    """An estimate with its status, ready to be stored."""

    probability: float
    bounds: tuple[float, float]
    index: float
    index_bounds: tuple[float, float]
    variation: float
    status: Status
    reason: str


def judge(estimated: Estimate, place: Any, constant: float | None) -> Judged:
    """Return what may be said of an estimate: a zero count and a full one have one bound and no number.

    Parameters
    ----------
    estimated
        Of one or several limit states.
    place
        Index of the one.
    constant
        The margin's value where it does not vary at all, else None.
    """
    nothing = float("nan")
    if constant is not None and constant >= 0:
        return Judged(
            nothing, (nothing,) * 2, nothing, (nothing,) * 2, nothing, Status.CANNOT_FAIL, CANNOT_FAIL
        )
    probability = float(estimated.failure_probability[place])
    bounds = (float(estimated.bounds[place][0]), float(estimated.bounds[place][1]))
    index = estimated.reliability_index_bounds[place]
    index_bounds = (float(index[0]), float(index[1]))
    if 0.0 < probability < 1.0:
        variation = float(estimated.coefficient_of_variation[place])
        own = float(estimated.reliability_index[place])
        return Judged(probability, bounds, own, index_bounds, variation, Status.COMPUTED, "")
    reason = NO_FAILURE if probability == 0.0 else ALWAYS_FAILS if constant is not None else ALL_FAILED
    return Judged(nothing, bounds, nothing, index_bounds, nothing, Status.UPPER_BOUND_ONLY, reason)


class Gatherer:
    """Fills the arrays of the three groups, block by block."""

    def __init__(
        self, bound: Bound, pilot: Pilot, tally: Tally, coords: dict[str, list[Any]], quantiles: list[float]
    ) -> None:
        self.bound, self.pilot, self.tally, self.coords, self.quantiles = (
            bound,
            pilot,
            tally,
            coords,
            quantiles,
        )
        self.sizes = {name: len(labels) for name, labels in coords.items()} | {"bound": 2, "dependence": 2}
        self.sizes["margin_edge_index"] = self.sizes["margin_bin"] + 1
        self.reliability = self._blank("reliability")
        self.margins = self._blank("margins")
        self.convergence = self._blank("convergence")

    def _blank(self, group: str) -> dict[str, Any]:
        from riskcut.results.names import TABLE

        return {name: blank(group, name, self.sizes) for name, entry in TABLE[group].items() if entry.dims}

    def gather(self) -> dict[str, dict[str, Any]]:
        """Return the groups."""
        self.reliability["reason"][...] = NOT_HERE
        for block in self.bound.blocks:
            self._block(block)
        self._sections()
        self._overall()
        scalars = {
            "rows": np.int64(self.tally.rows),
            "margin_evaluations": np.int64(
                self.tally.margin_evaluations + self.pilot.tally.margin_evaluations
            ),
            "conditional_on": CONDITIONAL_ON,
        }
        return {
            "reliability": {**self.reliability, **scalars},
            "margins": self.margins,
            "convergence": self.convergence,
        }

    def _at(self, block: BoundBlock) -> tuple[int, int]:
        return (
            self.coords["section"].index(block.template.section),
            self.coords["stage"].index(block.template.stage),
        )

    def _block(self, block: BoundBlock) -> None:
        at, group, template = self._at(block), self.reliability, block.template
        group["phase"][at] = template.phase
        group["stage_applies"][at] = 1
        group["has_target"][at] = 1
        group["target_reliability_index"][at] = template.target.beta
        group["target_source"][at] = template.target.source
        for state in block.states:
            place = (*at, self.coords["limit_state"].index(state.label))
            group["response_unit"][place[2]] = state.mechanism.unit
            if not state.applies:
                group["reason"][place] = state.member.not_applicable
        component = self.tally.components.get(block.name)
        if component is None:
            group["stage_reason"][at] = "no limit state applies"
            return
        for i, state in enumerate(block.applying):
            self._limit_state(
                block, state, component, i, (*at, self.coords["limit_state"].index(state.label))
            )
        self._system("stage_", at, component.system)

    def _limit_state(
        self,
        block: BoundBlock,
        state: LimitState,
        component: ComponentTally,
        i: int,
        at: tuple[int, int, int],
    ) -> None:
        group = self.reliability
        constant = float(self.pilot.value[block.name][i]) if self.pilot.constant[block.name][i] else None
        judged = judge(component.estimate(), i, constant)
        _store(group, "", at, judged)
        group["coefficient_of_variation_of_estimate"][at] = judged.variation
        group["reason"][at] = judged.reason or state.member.note
        group["governing"][at] = state.member.governing
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
        self._convergence(component, i, at, judged.status)

    def _outside(self, block: BoundBlock, state: LimitState) -> str:
        """Name the limits of the range of use that are left at the means, else all that the mechanism has."""
        outside = block.outcome_at_means(state).outside
        return "; ".join([limit for limit, left in outside.items() if left] or list(outside))

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
        self, component: ComponentTally, i: int, at: tuple[int, int, int], status: Status
    ) -> None:
        if status is Status.CANNOT_FAIL:
            self.convergence["convergence_status"][at] = status
            return
        rows = np.asarray(self.tally.checkpoints) * BLOCK_ROWS
        record = estimate(component.failures_at[:, i], component.impossible_at[:, i], rows)
        inner = (record.failure_probability > 0) & (record.failure_probability < 1)
        self.convergence["convergence_failure_probability"][at] = np.where(
            inner, record.failure_probability, np.nan
        )
        self.convergence["convergence_failure_probability_bounds"][at] = record.bounds
        complete = bool(inner.all())
        self.convergence["convergence_status"][at] = Status.COMPUTED if complete else Status.UPPER_BOUND_ONLY

    def _system(self, prefix: str, at: Any, system: SystemTally) -> None:
        if not system.limit_states:
            self.reliability[f"{prefix}reason"][at] = "no governing limit state"
            return
        judged = judge(system.estimate(), (), None)
        _store(self.reliability, prefix, at, judged)
        self.reliability[f"{prefix}reason"][at] = judged.reason

    def _sections(self) -> None:
        for name in self.coords["section"]:
            if name in self.tally.unions:
                self._system("section_", (self.coords["section"].index(name),), self.tally.unions[name])

    def _overall(self) -> None:
        """Tell the whole twice: by the rows, in which sections share their ground, and as if independent."""
        self._system("overall_", (0,), self.tally.unions[WHOLE])
        unions = [self.tally.unions[name] for name in self.coords["section"] if name in self.tally.unions]
        sections = [union.estimate() for union in unions if union.limit_states]
        if not sections:
            return
        p: NDArray[np.float64] = independent_union(np.array([float(s.failure_probability) for s in sections]))
        bounds = independent_union_bounds(np.array([s.bounds for s in sections]))
        combined = Estimate(p, bounds, np.full_like(p, np.nan))
        judged = judge(combined, (), None)
        _store(self.reliability, "overall_", (1,), judged)
        self.reliability["overall_reason"][1] = judged.reason


def _store(group: dict[str, Any], prefix: str, at: Any, judged: Judged) -> None:
    group[f"{prefix}failure_probability"][at] = judged.probability
    group[f"{prefix}failure_probability_bounds"][at] = judged.bounds
    group[f"{prefix}reliability_index"][at] = judged.index
    group[f"{prefix}reliability_index_bounds"][at] = judged.index_bounds
    group[f"{prefix}status"][at] = judged.status
