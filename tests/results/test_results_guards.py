"""A NaN without a status is refused, whatever the array."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from invented_results import arrays, attributes, coordinates

from riskcut.results.errors import MissingNumberError
from riskcut.results.names import TABLE, Entry
from riskcut.results.status import Status
from riskcut.results.vocabulary import assemble

REAL = [
    pytest.param(group, entry, id=f"{group}/{entry.name}")
    for group, table in TABLE.items()
    for entry in table.values()
    if entry.kind == "real"
]
MISSING = [s for s in Status if s not in (Status.COMPUTED, Status.UPPER_BOUND_ONLY)]


def build(groups: dict[str, dict[str, Any]], *only: str) -> None:
    assemble("Quay box", coordinates(), {g: groups[g] for g in only or groups}, attributes())


@pytest.mark.parametrize(("group", "entry"), REAL)
def test_a_missing_number_needs_a_status_that_says_so(group: str, entry: Entry) -> None:
    groups = arrays()
    groups[group][entry.name][(-1,) * len(entry.dims)] = np.nan
    with pytest.raises(MissingNumberError, match=rf"{group}/{entry.name} is NaN in 1 of \d+ places"):
        build(groups, group)


@pytest.mark.parametrize(("group", "entry"), [p for p in REAL if p.values[1].guards])
def test_each_guard_alone_excuses_the_missing_number(group: str, entry: Entry) -> None:
    for guard in entry.guards:
        other = TABLE[group][guard]
        for code in MISSING if other.kind == "status" else [0]:
            groups = arrays()
            groups[group][entry.name][(-1,) * len(entry.dims)] = np.nan
            groups[group][guard][(-1,) * len(other.dims)] = code
            build(groups, group)


def test_the_message_says_where_and_why() -> None:
    groups = arrays()
    groups["reliability"]["reliability_index"][1, 2, 0] = np.nan
    text = (
        "reliability/reliability_index is NaN in 1 of 18 places, the first at section 'east', "
        "stage 'last dig', limit_state 'plug_uplift/strip', where status says computed"
    )
    with pytest.raises(MissingNumberError) as caught:
        build(groups)
    assert str(caught.value) == text
    groups = arrays()
    groups["inputs"]["mean"][0] = np.nan
    with pytest.raises(
        MissingNumberError, match=r"variable 'ground\.head', and it has no status to allow that"
    ):
        build(groups)
    groups = arrays()
    groups["cut"]["aquifer_head"][0, 1] = np.nan
    with pytest.raises(MissingNumberError, match="where stage_applies says yes and has_aquifer says yes"):
        build(groups)


def test_a_status_elsewhere_excuses_nothing() -> None:
    groups = arrays()
    groups["reliability"]["failure_probability"][0, 0, 0] = np.nan
    groups["reliability"]["status"][0, 0, 1] = Status.NOT_APPLICABLE
    with pytest.raises(MissingNumberError):
        build(groups)


def test_infinity_is_a_number() -> None:
    """A factor of safety is infinite where nothing acts; the index of a certain event is too."""
    groups = arrays()
    groups["reliability"]["factor_of_safety_at_means"][0, 0, 0] = np.inf
    build(groups)


def test_a_one_sided_estimate_keeps_its_bound() -> None:
    at = (0, 1, 2)
    groups = arrays()
    reliability = groups["reliability"]
    reliability["status"][at] = Status.UPPER_BOUND_ONLY
    reliability["failure_probability"][at] = np.nan
    reliability["failure_probability_bounds"][at] = [np.nan, 1e-6]
    reliability["reliability_index"][at] = np.nan
    reliability["reliability_index_bounds"][at] = [4.7, np.nan]
    build(groups)
    reliability["failure_probability_bounds"][at] = np.nan
    with pytest.raises(MissingNumberError, match="has neither bound at section 'west', stage 'props in'"):
        build(groups)
