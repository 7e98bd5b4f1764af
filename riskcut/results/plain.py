"""The answer of a run as plain data, for programs that read what the command line prints."""

from __future__ import annotations

import math
from typing import Any

import xarray as xr

from riskcut.results import reading
from riskcut.results.estimate import Estimate
from riskcut.results.status import Status


def plain(tree: xr.DataTree) -> dict[str, Any]:
    """Return every estimate that applies, the systems and the run's own particulars.

    A number that does not exist is null, never NaN, so that any JSON reader takes it.
    """
    sections, stages = reading.labels(tree, "section"), reading.labels(tree, "stage")
    systems = [reading.stage_system(tree, section, stage) for section in sections for stage in stages]
    return {
        "title": tree.attrs["title"],
        "seed": int(tree.attrs["seed"]),
        "method": str(tree["reliability"]["method"].item()),
        "rows": int(tree["reliability"]["rows"]),
        "aimed_rows": int(tree["reliability"]["aimed_rows"]),
        "margin_evaluations": int(tree["reliability"]["margin_evaluations"]),
        "conditional_on": str(tree["reliability"]["conditional_on"].item()),
        "limit_states": [_limit_state(tree, estimate) for estimate in reading.estimates(tree)],
        "stages": [
            {"section": e.section, "stage": e.stage, **_said(e)}
            for e in systems
            if e.status is not Status.NOT_APPLICABLE
        ],
        "sections": [{"section": name, **_said(reading.section_system(tree, name))} for name in sections],
        "overall": [
            {"dependence": name, **_said(reading.overall(tree, name))}
            for name in reading.labels(tree, "dependence")
        ],
        "not_covered": str(tree.attrs["not_covered"]).splitlines(),
        "caution": tree.attrs["caution"],
    }


def _limit_state(tree: xr.DataTree, estimate: Estimate) -> dict[str, Any]:
    share, limit = reading.outside_range(tree, estimate)
    return {
        "section": estimate.section,
        "stage": estimate.stage,
        "limit_state": estimate.limit_state,
        "enters_the_system": reading.governs(tree, estimate),
        "governing_note": reading.governing_note(tree, estimate),
        **_said(estimate),
        "target_reliability_index": _number(estimate.target),
        "verdict": estimate.verdict,
        "factor_of_safety_at_means": _number(estimate.factor_of_safety),
        "share_outside_range": _number(share),
        "outside_range": limit,
        "leading_inputs": reading.leading_inputs(tree, estimate),
        "likeliest_failure": {one.variable: one.value for one in reading.likeliest_failure(tree, estimate)},
    }


def _said(estimate: Estimate) -> dict[str, Any]:
    return {
        "status": estimate.status.meaning,
        "reason": estimate.reason,
        "estimated_by": estimate.estimated_by,
        "failure_probability": _number(estimate.failure_probability),
        "failure_probability_bounds": [_number(bound) for bound in estimate.bounds],
        "reliability_index": _number(estimate.reliability_index),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
