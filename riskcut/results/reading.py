"""What figures and the command line both ask of a results tree."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import xarray as xr

from riskcut.results import wording
from riskcut.results.errors import ResultsError
from riskcut.results.estimate import Estimate, Influence
from riskcut.results.names import FIXED
from riskcut.results.status import Status
from riskcut.results.wording import in_words

AS_PLANNED = "as planned"
"""Label of the scenario in which no event happens."""


def labels(tree: xr.DataTree, dim: str) -> list[str]:
    """Return the labels of a root coordinate; none where the tree has no such coordinate."""
    return [str(label) for label in tree.coords[dim].to_numpy()] if dim in tree.coords else []


def estimate(tree: xr.DataTree, section: str, stage: str, limit_state: str) -> Estimate:
    """Return the estimate of one limit state of one section at one stage.

    Raises
    ------
    ResultsError
        The results have no such section, stage or limit state.
    """
    return _estimate(tree, "", section=section, stage=stage, limit_state=limit_state)


def estimates(
    tree: xr.DataTree,
    *,
    section: str | None = None,
    stage: str | None = None,
    limit_state: str | None = None,
    mechanism: str | None = None,
) -> list[Estimate]:
    """Return all estimates that apply, in the order of the tree; each argument narrows the choice.

    Raises
    ------
    ResultsError
        The results have no such section, stage, limit state or mechanism.
    """
    wanted = {"section": section, "stage": stage, "limit_state": limit_state, "mechanism": mechanism}
    for dim, label in wanted.items():
        if label is not None:
            _position(tree, dim, label)
    chosen = {d: [w] if (w := wanted[d]) is not None else labels(tree, d) for d in ("section", "stage")}
    states = [
        state
        for state, of in zip(labels(tree, "limit_state"), labels(tree, "mechanism"), strict=True)
        if limit_state in (None, state) and mechanism in (None, of)
    ]
    arrays = tree["reliability"].dataset.variables
    places = {
        dim: {label: i for i, label in enumerate(labels(tree, dim))}
        for dim in ("section", "stage", "limit_state")
    }
    found = (
        _at(arrays, "", {dim: (name, places[dim][name]) for dim, name in zip(places, names, strict=True)})
        for names in product(chosen["section"], chosen["stage"], states)
    )
    return [e for e in found if e.status is not Status.NOT_APPLICABLE]


def worst(candidates: list[Estimate]) -> Estimate | None:
    """Return the worst of some estimates (the first of equals), None where there is none."""
    return max(candidates, key=lambda e: e.severity, default=None)


def worst_stage(tree: xr.DataTree, section: str, mechanism: str) -> Estimate | None:
    """Return the worst member at the worst stage of a mechanism in a section, None where it never applies."""
    return worst(estimates(tree, section=section, mechanism=mechanism))


def worst_by_mechanism(tree: xr.DataTree, section: str) -> list[Estimate]:
    """Return the worst of each mechanism that applies in a section, the worst mechanism first."""
    found = [worst_stage(tree, section, name) for name in dict.fromkeys(labels(tree, "mechanism"))]
    return sorted((e for e in found if e is not None), key=lambda e: e.severity, reverse=True)


def stage_system(tree: xr.DataTree, section: str, stage: str) -> Estimate:
    """Return the estimate of a stage of a section as a system of its governing limit states."""
    return _estimate(tree, "stage_", section=section, stage=stage)


def section_system(tree: xr.DataTree, section: str) -> Estimate:
    """Return the estimate of a section as a system over all its stages."""
    return _estimate(tree, "section_", section=section)


def overall(tree: xr.DataTree, dependence: str = FIXED["dependence"][0]) -> Estimate:
    """Return the estimate of the whole, under one of the two dependences of the sections."""
    return _estimate(tree, "overall_", dependence=dependence)


def influences(tree: xr.DataTree, section: str, stage: str, limit_state: str) -> list[Influence]:
    """Return the inputs that a margin reads, by falling total order; none where there are no indices.

    Dependent inputs share one index and are named together.

    Raises
    ------
    ResultsError
        The results have no such section, stage or limit state.
    """
    wanted = {"section": section, "stage": stage, "limit_state": limit_state}
    where = {dim: _position(tree, dim, label) for dim, label in wanted.items()}
    if "sensitivity" not in tree.children:
        return []
    group = tree["sensitivity"].to_dataset().isel(where)
    if int(group["sensitivity_status"]) != Status.COMPUTED:
        return []
    numbers = group["dependent_group"].to_numpy()
    gathered: dict[tuple[bool, int], list[int]] = {}
    for i in np.flatnonzero(group["variable_status"].to_numpy() == Status.COMPUTED).tolist():
        together = bool(numbers[i] >= 0)
        gathered.setdefault((together, int(numbers[i]) if together else i), []).append(i)
    names = labels(tree, "variable")
    found = [
        Influence(
            variables=tuple(names[i] for i in members),
            first=float(group["first_order"][members[0]]),
            first_bounds=_pair(group["first_order_bounds"][members[0]].to_numpy()),
            total=float(group["total_order"][members[0]]),
            total_bounds=_pair(group["total_order_bounds"][members[0]].to_numpy()),
        )
        for members in gathered.values()
    ]
    return sorted(found, key=lambda influence: -influence.total)


def governs(tree: xr.DataTree, of: Estimate) -> bool:
    """Return whether a limit state enters the system of its stage."""
    return bool(_pick(tree, "reliability", "governing", of))


def governing_note(tree: xr.DataTree, of: Estimate) -> str:
    """Return why a limit state enters the system or is only shown, and what else a reader should know of it."""
    return str(_pick(tree, "reliability", "governing_note", of))


def outside_range(tree: xr.DataTree, of: Estimate) -> tuple[float, str]:
    """Return the share of rows outside the range of use of a limit state, and which limits are left."""
    outside = float(_pick(tree, "reliability", "share_outside_range", of))
    return outside, str(_pick(tree, "reliability", "outside_range", of))


def leading_inputs(tree: xr.DataTree, of: Estimate) -> str:
    """Return the sentence that says which inputs decide a margin; empty where there is none."""
    return str(_pick(tree, "sensitivity", "leading_inputs", of)) if "sensitivity" in tree.children else ""


@dataclass(frozen=True, slots=True)
class Likeliest:
    """What one input is where a limit state fails most easily."""

    variable: str
    value: float
    """At the design point."""
    mean: float
    unit: str
    importance: float
    """Square of its direction cosine; dependent inputs share one."""


def likeliest_failure(tree: xr.DataTree, of: Estimate) -> list[Likeliest]:
    """Return the inputs at the design point of a limit state, by falling importance; none where there is no point."""
    if "design_point" not in tree.children or int(_pick(tree, "design_point", "design_status", of)):
        return []
    status = _pick(tree, "design_point", "design_variable_status", of)
    value = _pick(tree, "design_point", "design_value", of)
    importance = _pick(tree, "design_point", "importance_factor", of)
    inputs = tree["inputs"].dataset
    found = [
        Likeliest(
            variable=name,
            value=float(value[i]),
            mean=float(inputs["mean"][i]),
            unit=str(inputs["unit"].to_numpy()[i]),
            importance=float(importance[i]),
        )
        for i, name in enumerate(labels(tree, "variable"))
        if status[i] == Status.COMPUTED
    ]
    return sorted(found, key=lambda one: -one.importance)


def first_failures(tree: xr.DataTree, section: str) -> dict[str, float]:
    """Return the probability that a section fails first at each stage, of the stages where it is known."""
    arrays = tree["reliability"].dataset.variables
    if "first_failure_probability" not in arrays:
        return {}
    values = arrays["first_failure_probability"].to_numpy()[_position(tree, "section", section)]
    stages = zip(labels(tree, "stage"), values.tolist(), strict=True)
    return {stage: p for stage, p in stages if not math.isnan(p)}


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one event brings to the failure probability of a limit state."""

    of: Estimate
    probability: float
    """Of the event, in the stage."""
    share: float
    """Of the failure probability."""
    added: float
    """Share of the failure probability by which the event makes it larger than without."""
    text: str
    """The failure probability given the event, with its interval."""


def contribution(tree: xr.DataTree, of: Estimate, event: str) -> Contribution | None:
    """Return what an event brings to an estimate, None where it cannot happen or nothing was seen to fail."""
    if "scenarios" not in tree.children or not of.failure_probability > 0:
        return None
    group = tree["scenarios"].dataset
    where = {"section": of.section, "stage": of.stage, "limit_state": of.limit_state, "scenario": event}
    at = {dim: _position(tree, dim, label) for dim, label in where.items()}

    def pick(name: str, scenario: str = event) -> Any:
        variable, there = group[name].variable, {**at, "scenario": _position(tree, "scenario", scenario)}
        return variable.to_numpy()[tuple(there[str(d)] for d in variable.dims if d in there)]

    def known(scenario: str) -> float:
        p = float(pick("scenario_failure_probability", scenario))
        # Every row failing has no number: the bound next to one stands for it here.
        full = _pair(pick("scenario_failure_probability_bounds", scenario))[0] > 0.5
        return p if not math.isnan(p) else float(full)

    status = Status(int(pick("scenario_status")))
    if not int(pick("scenario_applies")) or status is Status.NOT_APPLICABLE:
        return None
    p, bounds = (
        float(pick("scenario_failure_probability")),
        _pair(pick("scenario_failure_probability_bounds")),
    )
    probability, total = float(pick("scenario_probability")), of.failure_probability
    return Contribution(
        of=of,
        probability=probability,
        share=min(probability * known(event) / total, 1.0),
        added=probability * (known(event) - known(AS_PLANNED)) / total,
        text=wording.probability(p, *bounds, status=status),
    )


def _pick(tree: xr.DataTree, group: str, name: str, of: Estimate) -> Any:
    """Return the element of an array by limit state that belongs to an estimate."""
    wanted = {"section": of.section, "stage": of.stage, "limit_state": of.limit_state}
    where = tuple(_position(tree, dim, label) for dim, label in wanted.items())
    return tree[group].dataset.variables[name].to_numpy()[where]


def _estimate(tree: xr.DataTree, prefix: str, **wanted: str) -> Estimate:
    where = {dim: (label, _position(tree, dim, label)) for dim, label in wanted.items()}
    return _at(tree["reliability"].dataset.variables, prefix, where)


def _at(arrays: Mapping[Any, xr.Variable], prefix: str, where: Mapping[str, tuple[str, int]]) -> Estimate:
    """Return the estimate of an array name's prefix at labelled positions."""

    def label(dim: str) -> str:
        return where[dim][0] if dim in where else ""

    def pick(name: str, missing: Any = math.nan) -> Any:
        """Take one element, or what stands for an array that these results do not hold."""
        if name not in arrays:
            return missing
        array = arrays[name]
        return array.to_numpy()[tuple(where[str(d)][1] for d in array.dims if d in where)]

    return Estimate(
        section=label("section"),
        stage=label("stage"),
        limit_state=label("limit_state"),
        failure_probability=float(pick(f"{prefix}failure_probability")),
        bounds=_pair(pick(f"{prefix}failure_probability_bounds", (math.nan, math.nan))),
        reliability_index=float(pick(f"{prefix}reliability_index")),
        index_bounds=_pair(pick(f"{prefix}reliability_index_bounds", (math.nan, math.nan))),
        status=Status(int(pick(f"{prefix}status", Status.NOT_APPLICABLE))),
        reason=str(pick(f"{prefix}reason", "")),
        target=math.nan if prefix else float(pick("target_reliability_index")),
        factor_of_safety=math.nan if prefix else float(pick("factor_of_safety_at_means")),
        estimated_by=str(pick(f"{prefix}estimated_by", "")),
    )


def _position(tree: xr.DataTree, dim: str, label: str) -> int:
    known = labels(tree, dim)
    if label not in known:
        has = ", ".join(known) or "none"
        raise ResultsError(f"the results have no {in_words(dim)} {label!r}; they have: {has}")
    return known.index(label)


def _pair(values: Any) -> tuple[float, float]:
    return float(values[0]), float(values[1])
