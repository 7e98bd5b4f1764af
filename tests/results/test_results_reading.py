"""What figures and the command line ask of the results, asked of results that are known."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import xarray as xr
from invented_results import arrays, attributes, coordinates

from riskcut.results import reading
from riskcut.results.errors import ResultsError
from riskcut.results.estimate import Estimate
from riskcut.results.status import Status
from riskcut.results.vocabulary import assemble

PLUG, UPPER, LOWER = coordinates()["limit_state"]


def built(**changes: dict[tuple[int, ...], Any]) -> xr.DataTree:
    """Build the invented tree with some elements of the group ``reliability`` changed."""
    groups = arrays()
    for name, elements in changes.items():
        for at, value in elements.items():
            groups["reliability"][name][at] = value
    return assemble("Quay box", coordinates(), groups, attributes())


def an(**changes: Any) -> Estimate:
    given: dict[str, Any] = {
        "section": "west", "stage": "first dig", "limit_state": PLUG, "failure_probability": 1.7e-3,
        "bounds": (1.6e-3, 1.8e-3), "reliability_index": 2.93, "index_bounds": (2.91, 2.95),
        "status": Status.COMPUTED, "reason": "", "target": 3.3, "factor_of_safety": 1.24,
    }  # fmt: skip
    return Estimate(**(given | changes))


def test_one_estimate(tree: xr.DataTree) -> None:
    found = reading.estimate(tree, "east", "props in", LOWER)
    group = tree["reliability"]
    at = (1, 1, 2)
    assert (found.section, found.stage, found.limit_state) == ("east", "props in", LOWER)
    assert found.failure_probability == group["failure_probability"].values[at]
    assert list(found.bounds) == group["failure_probability_bounds"].values[at].tolist()
    assert found.reliability_index == group["reliability_index"].values[at]
    assert list(found.index_bounds) == group["reliability_index_bounds"].values[at].tolist()
    assert found.target == group["target_reliability_index"].values[1, 1]
    assert found.factor_of_safety == group["factor_of_safety_at_means"].values[at]
    assert found.status is Status.COMPUTED
    assert found.reason.startswith("reason")


@pytest.mark.parametrize(
    ("labels", "text"),
    [
        (("north", "first dig", PLUG), "no section 'north'; they have: west, east"),
        (("west", "dig", PLUG), "no stage 'dig'; they have: first dig, props in, last dig"),
        (("west", "first dig", "plug"), "no limit state 'plug'"),
    ],
)
def test_a_label_that_is_not_there_is_named_with_those_that_are(
    labels: tuple[str, str, str], text: str
) -> None:
    tree = built()
    with pytest.raises(ResultsError, match=text):
        reading.estimate(tree, *labels)
    with pytest.raises(ResultsError, match=text):
        reading.influences(tree, *labels)


def test_estimates_are_narrowed_and_leave_out_what_does_not_apply() -> None:
    tree = built(status={(0, 0, 0): Status.NOT_APPLICABLE})
    assert len(reading.estimates(tree)) == 17
    assert len(reading.estimates(tree, section="west")) == 8
    assert len(reading.estimates(tree, stage="first dig", limit_state=PLUG)) == 1
    props = reading.estimates(tree, mechanism="prop_overload")
    assert {e.limit_state for e in props} == {UPPER, LOWER}
    assert len(props) == 12
    assert reading.estimates(tree, mechanism="plug_uplift", limit_state=UPPER) == []
    with pytest.raises(ResultsError, match="no mechanism 'plug'; they have: plug_uplift, prop_overload"):
        reading.estimates(tree, mechanism="plug")


def test_the_worst_stage_is_over_members_and_stages() -> None:
    tree = built(failure_probability={(0, 2, 1): 0.95, (1, 0, 0): 0.97})
    found = reading.worst_stage(tree, "west", "prop_overload")
    assert found is not None
    assert (found.stage, found.limit_state, found.failure_probability) == ("last dig", UPPER, 0.95)
    assert reading.worst_stage(built(status={(0, ...): Status.NOT_APPLICABLE}), "west", "plug_uplift") is None
    order = reading.worst_by_mechanism(tree, "east")
    assert [e.limit_state.partition("/")[0] for e in order] == ["plug_uplift", "prop_overload"]
    assert order[0].failure_probability == 0.97


def test_severity_orders_what_was_seen_before_what_was_not() -> None:
    one_sided = {"status": Status.UPPER_BOUND_ONLY, "failure_probability": 0.0}
    worse_first = [
        an(status=Status.UPPER_BOUND_ONLY, failure_probability=math.nan, bounds=(0.9996, 1.0)),
        an(failure_probability=1.7e-3),
        an(failure_probability=1e-9, status=Status.FIRST_ORDER_ONLY, bounds=(math.nan, math.nan)),
        an(**one_sided, bounds=(0.0, 1e-5)),
        an(**one_sided, bounds=(0.0, 1e-6), factor_of_safety=1.5),
        an(**one_sided, bounds=(0.0, 1e-6), factor_of_safety=2.5),
        an(**one_sided, bounds=(math.nan, 1e-6), factor_of_safety=math.nan),
        an(status=Status.CANNOT_FAIL, failure_probability=math.nan, bounds=(math.nan, math.nan)),
        an(status=Status.NOT_APPLICABLE, failure_probability=math.nan, bounds=(math.nan, math.nan)),
    ]
    for seed in range(20):
        mixed = list(np.random.default_rng(seed).permutation(np.array(worse_first, dtype=object)))
        assert sorted(mixed, key=lambda e: e.severity, reverse=True) == worse_first
        assert reading.worst(mixed) is worse_first[0]
    assert reading.worst([]) is None


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({"target": 2.9}, "meets"),
        ({"target": 2.91}, "meets"),
        ({"target": 2.92}, "undecided"),
        ({"target": 2.95}, "undecided"),
        ({"target": 2.96}, "short"),
        ({"target": math.nan}, "no target"),
        ({"target": 3.3, "status": Status.UPPER_BOUND_ONLY, "index_bounds": (4.8, math.inf)}, "meets"),
        ({"target": 5.2, "status": Status.UPPER_BOUND_ONLY, "index_bounds": (4.8, math.inf)}, "undecided"),
        ({"target": 5.2, "status": Status.UPPER_BOUND_ONLY, "index_bounds": (4.8, math.nan)}, "undecided"),
        ({"target": 3.3, "status": Status.UPPER_BOUND_ONLY, "index_bounds": (-math.inf, -3.9)}, "short"),
        ({"target": 2.0, "status": Status.UNTRUSTED}, "undecided"),
        ({"target": 2.0, "status": Status.FIRST_ORDER_ONLY}, "undecided"),
        ({"target": 4.0, "status": Status.FIRST_ORDER_ONLY, "failure_probability": 3.1e-7}, "meets"),
        ({"target": 4.0, "status": Status.FIRST_ORDER_ONLY, "failure_probability": 3.2e-7}, "undecided"),
        ({"target": 9.0, "status": Status.CANNOT_FAIL}, "meets"),
        ({"target": 2.0, "status": Status.NOT_APPLICABLE}, "no target"),
    ],
)
def test_a_target_is_met_only_by_the_whole_interval(changes: dict[str, Any], verdict: str) -> None:
    assert an(**changes).verdict == verdict


def test_an_estimate_says_itself() -> None:
    assert an().probability_text == "1.7e-3 (1.6 to 1.8e-3)"
    assert an().index_text == "2.93"
    none_failed = an(
        status=Status.UPPER_BOUND_ONLY, failure_probability=0.0, bounds=(0.0, 7.1e-7),
        reliability_index=math.inf, index_bounds=(4.82, math.inf),
    )  # fmt: skip
    assert (none_failed.probability_text, none_failed.index_text) == ("< 7.1e-7 at 95 %", "> 4.8")


def test_systems(tree: xr.DataTree) -> None:
    group = tree["reliability"]
    stage = reading.stage_system(tree, "east", "last dig")
    assert stage.failure_probability == group["stage_failure_probability"].values[1, 2]
    assert list(stage.bounds) == group["stage_failure_probability_bounds"].values[1, 2].tolist()
    assert (stage.limit_state, stage.verdict) == ("", "no target")
    section = reading.section_system(tree, "west")
    assert section.failure_probability == group["section_failure_probability"].values[0]
    assert (section.section, section.stage) == ("west", "")
    shared, apart = (reading.overall(tree), reading.overall(tree, "sections independent"))
    assert [shared.failure_probability, apart.failure_probability] == group[
        "overall_failure_probability"
    ].values.tolist()
    with pytest.raises(ResultsError, match="no dependence 'none'"):
        reading.overall(tree, "none")


def test_arrays_that_the_results_do_not_hold_are_missing() -> None:
    """Results of an earlier or smaller run: no targets, no bounds of the index."""
    groups = arrays()["reliability"]
    few = {n: groups[n] for n in ("failure_probability", "failure_probability_bounds", "status")}
    tree = assemble("Quay box", coordinates(), {"reliability": few}, attributes())
    found = reading.estimate(tree, "west", "first dig", PLUG)
    assert math.isnan(found.target)
    assert math.isnan(found.index_bounds[0])
    assert found.reason == ""
    assert found.verdict == "no target"
    assert reading.influences(tree, "west", "first dig", PLUG) == []
    assert reading.labels(tree, "section") == ["west", "east"]
    assert reading.labels(assemble("Quay box", {}, {}, {}), "section") == []


def test_influences_fall_and_dependent_inputs_stand_together() -> None:
    """The second and the last input depend on each other; the third is not read."""
    at = (1, 2, 0)
    groups = arrays()
    sensitivity = groups["sensitivity"]
    sensitivity["dependent_group"][:] = [-1, 0, -1, 0]
    sensitivity["variable_status"][(*at, 2)] = Status.NOT_APPLICABLE
    for name, values in (("first_order", [0.2, 0.6, np.nan, 0.6]), ("total_order", [0.3, 0.7, np.nan, 0.7])):
        sensitivity[name][at] = values
        sensitivity[f"{name}_bounds"][at] = np.add.outer(values, [-0.01, 0.01])
    sensitivity["sensitivity_status"][0, 0, 1] = Status.UNTRUSTED
    tree = assemble("Quay box", coordinates(), groups, attributes())
    together, alone = reading.influences(tree, "east", "last dig", PLUG)
    assert together.variables == ("ground.strata.clay.su", "works.wall.toe")
    assert (together.first, together.total) == (0.6, 0.7)
    assert together.total_bounds == pytest.approx((0.69, 0.71))
    assert alone.variables == ("ground.head",)
    assert alone.first_bounds == pytest.approx((0.19, 0.21))
    assert reading.influences(tree, "west", "first dig", UPPER) == [], "refused indices are not shown"


def test_what_stands_beside_an_estimate() -> None:
    groups = arrays()
    at = (1, 0, 2)
    groups["reliability"]["governing"][at] = 0
    groups["reliability"]["share_outside_range"][at] = 0.25
    groups["reliability"]["outside_range"][at] = "deeper than 25 m"
    groups["sensitivity"]["leading_inputs"][at] = "The head decides."
    tree = assemble("Quay box", coordinates(), groups, attributes())
    here, beside = (reading.estimate(tree, "east", "first dig", state) for state in (LOWER, UPPER))
    assert not reading.governs(tree, here)
    assert reading.governs(tree, beside)
    assert reading.outside_range(tree, here) == (0.25, "deeper than 25 m")
    assert reading.leading_inputs(tree, here) == "The head decides."
    del groups["sensitivity"]
    assert reading.leading_inputs(assemble("Quay box", coordinates(), groups, attributes()), here) == ""
