"""An invented propped box, 13 m deep in clay over sand, as a results tree of any size.

The numbers are made, not computed: a smooth rule gives each limit state a probability that grows as the cut
deepens, and the counts, intervals and histograms are drawn from it. Every status occurs.
"""

from __future__ import annotations

import numpy as np
import xarray as xr
from box_cut import cut_group
from box_scenario import (
    ATTRIBUTES,
    BINS,
    CHECKPOINTS,
    PROPS,
    ROWS,
    STAGES,
    STATES,
    STRATA,
    VARIABLES,
    standing,
)
from scipy import special

from riskcut.results.names import TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import assemble, blank


def _index(p: np.ndarray) -> np.ndarray:
    return -special.ndtri(p)


def _proportion(failures: np.ndarray, rows: int) -> np.ndarray:
    """Clopper-Pearson, one-sided at 95 % where nothing or everything failed; bounds last."""
    k = np.asarray(failures, dtype=float)
    tail = np.where((k == 0) | (k == rows), 0.05, 0.025)
    with np.errstate(invalid="ignore"):
        lower = np.where(k == 0, 0.0, special.betaincinv(np.maximum(k, 1), rows - k + 1, tail))
        upper = np.where(k == rows, 1.0, special.betaincinv(k + 1, np.maximum(rows - k, 1), 1 - tail))
    return np.stack([lower, upper], axis=-1)


class Maker:
    """Fills the groups of one tree."""

    def __init__(self, sections: int, stages: int) -> None:
        self.random = np.random.default_rng(5)
        self.stages = list(STAGES)[:stages]
        self.sections = [f"box_{chr(65 + i // 8)}{i % 8 + 1}" for i in range(sections)]
        self.coords = {
            "section": self.sections,
            "stage": self.stages,
            "limit_state": list(STATES),
            "variable": list(VARIABLES),
            "quantile": [0.05, 0.5, 0.95],
            "sample_size": list(CHECKPOINTS),
            "margin_bin": list(range(BINS)),
            "stratum": list(STRATA),
            "prop": list(PROPS),
            "edge_load": ["crane"],
        }
        self.sizes = {name: len(labels) for name, labels in self.coords.items()}
        self.sizes |= {
            "bound": 2,
            "variable_2": len(VARIABLES),
            "dependence": 2,
            "margin_edge_index": BINS + 1,
        }
        self.shape = (sections, stages, len(STATES))
        self.last = stages - 1

    def blanks(self, group: str) -> dict[str, np.ndarray]:
        return {name: blank(group, name, self.sizes) for name in TABLE[group] if not name.startswith("draw_")}

    def status(self, k: int, j: int) -> Status:
        """Where each limit state applies, with one of every status."""
        name, stage = list(STATES)[k], self.stages[j]
        depth = 3.2 - STAGES[stage]
        if name == "trench/slurry":
            return Status.COMPUTED if j == 0 else Status.NOT_APPLICABLE
        if name.startswith(("prop_overload", "prop_friction")):
            return (
                Status.COMPUTED
                if standing(name.rpartition("/")[2], self.stages[: j + 1])
                else Status.NOT_APPLICABLE
            )
        if name == "tension_piles/shaft" or name == "flotation/slab_and_piles":
            return Status.COMPUTED if "slab" in self.stages[: j + 1] else Status.NOT_APPLICABLE
        if name == "exit_gradient/inside_wall" and stage == "dig_2":
            return Status.CANNOT_FAIL
        if name == "hydraulic_heave/prism" and stage == "dig_4":
            return Status.UNTRUSTED
        if name == "wall_bending/below_lowest_prop" and stage == "dig_3":
            return Status.FIRST_ORDER_ONLY
        return Status.COMPUTED if depth > 0 else Status.NOT_APPLICABLE

    def reliability(self) -> dict[str, np.ndarray]:
        group = self.blanks("reliability")
        sections, stages, states = self.shape
        depth = np.array([3.2 - STAGES[s] for s in self.stages])
        safety = np.zeros(self.shape)
        for k, (_unit, at_depth, _cov, _governs) in enumerate(STATES.values()):
            safety[:, :, k] = (
                at_depth * (1 + 0.22 * (1 - depth / 13.0)) * (1 + 0.03 * np.arange(sections)[:, None] % 0.25)
            )
        cov = np.array([state[2] for state in STATES.values()])
        beta = np.log(safety) / cov
        failures = self.random.binomial(ROWS, special.ndtr(-beta))
        status = np.array([[self.status(k, j) for k in range(states)] for j in range(stages)])
        status = np.broadcast_to(status, self.shape).copy()
        status[(failures == 0) & (status == Status.COMPUTED)] = Status.UPPER_BOUND_ONLY
        applies = np.ones((sections, stages), dtype=bool)
        applies[1::4, 2:3] = False
        status[~applies] = Status.NOT_APPLICABLE
        exists = ~np.isin(status, (Status.NOT_APPLICABLE, Status.CANNOT_FAIL))
        counted = np.isin(status, (Status.COMPUTED, Status.UNTRUSTED))
        bounds = _proportion(failures, ROWS)
        estimate = np.where(status == Status.FIRST_ORDER_ONLY, special.ndtr(-beta), failures / ROWS)
        shown = exists & (status != Status.UPPER_BOUND_ONLY)
        group["status"][...] = status
        group["failures"][...] = np.where(exists, failures, 0)
        group["failure_probability"][...] = np.where(shown, estimate, np.nan)
        bounded = (counted | (status == Status.UPPER_BOUND_ONLY))[..., None]
        group["failure_probability_bounds"][...] = np.where(bounded, bounds, np.nan)
        group["reliability_index"][...] = np.where(shown, _index(estimate), np.nan)
        group["reliability_index_bounds"][...] = np.where(bounded, _index(bounds[..., ::-1]), np.nan)
        group["coefficient_of_variation_of_estimate"][...] = np.where(
            counted, np.sqrt((1 - estimate) / np.maximum(failures, 1)), np.nan
        )
        action = np.broadcast_to(
            np.array([40.0, 40, 35, 20, 0.4, 3000, 3800, 3400, 200, 900, 1400, 110, 300, 30]), self.shape
        )
        for name, number in (
            ("share_outside_range", np.zeros(self.shape)),
            ("factor_of_safety_at_means", safety),
            ("resistance_at_means", safety * action),
            ("action_at_means", action),
        ):
            group[name][...] = np.where(exists | (status == Status.CANNOT_FAIL), number, np.nan)
        group["factor_of_safety_quantile"][...] = np.where(
            exists[..., None],
            safety[..., None] * np.exp(cov[:, None] * special.ndtri([0.05, 0.5, 0.95])),
            np.nan,
        )
        group["governing"][...] = np.array([state[3] for state in STATES.values()]) & exists
        group["response_unit"][...] = [state[0] for state in STATES.values()]
        permanent = np.array([s in ("slab", "in_service") for s in self.stages])
        group["phase"][...] = np.where(permanent, "permanent", "temporary")
        group["stage_applies"][...] = applies
        group["has_target"][...] = 1
        group["target_reliability_index"][...] = np.where(applies, np.where(permanent, 3.8, 3.3), np.nan)
        group["target_source"][...] = "the study"
        self.status_array, self.safety, self.cov, self.action = status, safety, cov, action
        self.failed = np.where(exists, failures, 0)
        self.systems(group, failures, exists)
        group["rows"], group["margin_evaluations"] = np.int64(ROWS), np.int64(ROWS * exists.sum())
        group["method"], group["conditional_on"] = "plain simulation", "the ground model"
        return group

    def systems(self, group: dict[str, np.ndarray], failures: np.ndarray, exists: np.ndarray) -> None:
        governs = group["governing"].astype(bool)
        by_stage = np.minimum(np.where(governs, failures, 0).sum(axis=2), ROWS)
        by_section = np.minimum(by_stage.sum(axis=1), ROWS)
        overall = np.minimum([by_section.max(), by_section.sum()], ROWS)
        for name, count, there in (
            ("stage", by_stage, exists.any(axis=2)),
            ("section", by_section, exists.any(axis=(1, 2))),
            ("overall", overall, np.array([True, True])),
        ):
            status = np.where(count == 0, Status.UPPER_BOUND_ONLY, Status.COMPUTED)
            status = np.where(there, status, Status.NOT_APPLICABLE)
            known, bounds = status == Status.COMPUTED, _proportion(count, ROWS)
            p = np.where(known, count / ROWS, np.nan)
            group[f"{name}_status"][...] = status
            group[f"{name}_failure_probability"][...] = p
            group[f"{name}_failure_probability_bounds"][...] = np.where(there[..., None], bounds, np.nan)
            group[f"{name}_reliability_index"][...] = _index(p)
            group[f"{name}_reliability_index_bounds"][...] = np.where(
                there[..., None], _index(bounds[..., ::-1]), np.nan
            )

    def margins(self) -> dict[str, np.ndarray]:
        group = self.blanks("margins")
        there = ~np.isin(self.status_array, (Status.NOT_APPLICABLE, Status.CANNOT_FAIL))
        # resistance over action is lognormal, so that the share below zero is the probability of failure
        steps = np.exp(self.cov[:, None] * np.linspace(-5, 5, 2001)[[0, -1]])
        lowest, highest = ((self.safety * steps[:, end] - 1) * self.action for end in (0, 1))
        edges = np.linspace(lowest, highest, BINS + 1, axis=-1)
        ratio = 1 + edges / self.action[..., None]
        below = special.ndtr(np.log(ratio / self.safety[..., None]) / self.cov[:, None])
        shares = np.maximum(np.diff(below), 0.0)
        fails = edges[..., 1:] <= 0
        counts = np.zeros(shares.shape, dtype=np.int64)
        for side, rows in ((fails, self.failed), (~fails, ROWS - self.failed)):
            part = np.where(side, shares, 0.0) + np.where(side, 1e-300, 0.0)
            part = part / np.maximum(part.sum(axis=-1, keepdims=True), 1e-300)
            counts += self.random.multinomial(np.where(side.any(axis=-1), rows, 0), part)
        group["margin_count"][...] = np.where(there[..., None], counts, 0)
        group["margin_edge"][...] = np.where(there[..., None], edges, np.nan)
        group["margin_status"][...] = np.where(there, Status.COMPUTED, Status.NOT_APPLICABLE)
        return group

    def sensitivity(self) -> dict[str, np.ndarray]:
        group = self.blanks("sensitivity")
        states, variables = len(STATES), len(VARIABLES)
        read = self.random.random((states, variables)) < 0.65
        read[:, 8] = True
        group["dependent_group"][...] = -1
        group["dependent_group"][2:4] = 0
        read[:, 3] = read[:, 2]
        weight = np.where(read, self.random.gamma(0.35, 1.0, (states, variables)) + 1e-4, 0.0)
        weight[:, 3] = weight[:, 2]
        total = weight / (weight.sum(axis=1) - weight[:, 3])[:, None]
        first = total * self.random.uniform(0.85, 0.98, total.shape)
        first[:, 3] = first[:, 2]
        there = ~np.isin(self.status_array, (Status.NOT_APPLICABLE, Status.CANNOT_FAIL))
        sens = np.where(there, Status.COMPUTED, Status.NOT_APPLICABLE)
        heave = list(STATES).index("hydraulic_heave/prism")
        sens[:, :, heave] = np.where(there[:, :, heave], Status.UNTRUSTED, Status.NOT_APPLICABLE)
        group["sensitivity_status"][...] = sens
        group["sensitivity_reason"][:, :, heave] = "37 of 18,432 rows gave no number"
        known = (sens == Status.COMPUTED)[..., None] & read
        group["variable_status"][...] = np.where(known, Status.COMPUTED, Status.NOT_APPLICABLE)
        for name, number in (("first_order", first), ("total_order", total)):
            group[name][...] = np.where(known, number, np.nan)
            spread = 0.01 + 0.03 * number
            group[f"{name}_bounds"][...] = np.where(
                known[..., None], np.stack([number - spread, number + spread], axis=-1), np.nan
            )
        for name, number in (
            ("base_rows", 1024),
            ("scrambles", 16),
            ("sensitivity_rows", 1024 * 18 * 16),
            ("sensitivity_margin_evaluations", 10**6),
        ):
            group[name] = np.int64(number)
        return group

    def convergence(self, reliability: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        group = self.blanks("convergence")
        status = np.where(
            np.isin(self.status_array, (Status.COMPUTED, Status.UPPER_BOUND_ONLY, Status.UNTRUSTED)),
            self.status_array,
            Status.NOT_APPLICABLE,
        )
        there = status != Status.NOT_APPLICABLE
        p = reliability["failures"] / ROWS
        sizes = np.diff((0, *CHECKPOINTS))
        counts = np.cumsum([self.random.binomial(n, p) for n in sizes], axis=0)
        counts[-1] = reliability["failures"]
        for c, rows in enumerate(CHECKPOINTS):
            group["convergence_failure_probability"][..., c] = np.where(there, counts[c] / rows, np.nan)
            group["convergence_failure_probability_bounds"][..., c, :] = np.where(
                there[..., None], _proportion(counts[c], rows), np.nan
            )
        group["convergence_status"][...] = status
        return group

    def tree(self) -> xr.DataTree:
        reliability = self.reliability()
        groups = {
            "reliability": reliability,
            "margins": self.margins(),
            "sensitivity": self.sensitivity(),
            "convergence": self.convergence(reliability),
            "cut": cut_group(self.blanks("cut"), reliability["stage_applies"], self.stages),
        }
        return assemble("Saltmarsh pumping station, box A", self.coords, groups, ATTRIBUTES)
