"""Design points of every limit state as planned, as the results' group ``design_point``."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.binding import Bound
from riskcut.analysis.gather_constants import constants, index_derivatives
from riskcut.analysis.gather_inputs import variables
from riskcut.analysis.parts import Part, stage_union
from riskcut.reliability.assessment import Assessment
from riskcut.reliability.design_point import DesignPoint, Limits
from riskcut.reliability.first_order_sensitivity import sensitivity
from riskcut.reliability.standard_space import StandardSpace
from riskcut.results.names import TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank
from riskcut.study.stated_numbers import stated_numbers


def design_points(bound: Bound, assessment: Assessment, coords: dict[str, list[Any]]) -> dict[str, Any]:
    """Return the group ``design_point``: the nearest point of each limit state of each stage as planned."""
    sizes = {name: len(labels) for name, labels in coords.items()} | {"bound": 2}
    group = {name: blank("design_point", name, sizes) for name in TABLE["design_point"]}
    numbers = constants(bound)
    group["constant_value"][:] = [number.value for number in numbers.values()]
    group["constant_unit"][:] = [number.unit for number in numbers.values()]
    places = {component.name: place for place, component in enumerate(bound.problem.components)}
    for block in bound.blocks:
        at_block = (
            coords["section"].index(block.template.section),
            coords["stage"].index(block.template.stage),
        )
        for part in bound.parts[block.key]:
            place = places[part.name]
            space = StandardSpace(bound.problem, [place])
            nearests: dict[int, DesignPoint] = {}
            for i, state in enumerate(part.states):
                at = (*at_block, coords["limit_state"].index(state.label))
                search = assessment.searches.get((place, i))
                if search is None:
                    group["design_reason"][at] = "the margin does not vary"
                    continue
                group["design_reason"][at] = search.reason
                group["design_points"][at] = len(search.points)
                if not search.points:
                    group["design_status"][at] = Status.UNTRUSTED
                    continue
                status = Status.COMPUTED if search.converged else Status.UNTRUSTED
                group["design_status"][at] = status
                nearest = nearests[i] = search.points[0]
                group["design_residual"][at] = nearest.distance
                group["design_residual_allowed"][at] = Limits().distance * max(1.0, abs(nearest.beta))
                group["first_order_reliability_index"][at] = nearest.beta
                second = assessment.second_order.get((place, i))
                if second is not None:
                    refused = bool(second.reason)
                    group["second_order_status"][at] = Status.UNTRUSTED if refused else Status.COMPUTED
                    group["second_order_reliability_index"][at] = second.reliability_index
                _variables(group, bound, part, space, nearest, at)
                _derivatives(group, bound, space, i, nearest, at)
            _constants(group, bound, part, space, nearests, at_block, coords)
        bounds = assessment.bounds.get(stage_union(block.template.section, block.template.stage))
        if bounds is not None:
            group["stage_first_order_status"][at_block] = Status.COMPUTED
            group["stage_first_order_interval"][at_block] = bounds.lower, bounds.upper
    return group


def _derivatives(
    group: dict[str, Any],
    bound: Bound,
    space: StandardSpace,
    limit_state: int,
    point: DesignPoint,
    at: tuple[int, ...],
) -> None:
    """Store what the index owes to the mean and the spread of each input, in standard deviations of it."""
    of = {address: i for i, address in enumerate(variables(bound))}
    found = sensitivity(space, bound.problem.joint, 0, limit_state, point)
    for column, by_mean, by_sd in zip(found.columns, found.mean, found.sd, strict=True):
        place = (*at, of[bound.compiled.columns[column].address])
        sd = bound.marginals[column].sd
        for name, value in (("index_per_mean", by_mean * sd), ("index_per_spread", by_sd * sd)):
            known = bool(np.isfinite(value))
            group[f"{name}_status"][place] = Status.COMPUTED if known else Status.UNTRUSTED
            group[name][place] = value if known else np.nan


def _constants(
    group: dict[str, Any],
    bound: Bound,
    part: Part,
    space: StandardSpace,
    points: Mapping[int, DesignPoint],
    at_block: tuple[int, int],
    coords: dict[str, list[Any]],
) -> None:
    """Store what the indices of a part owe to the certain numbers of its block."""
    of = {address: i for i, address in enumerate(coords["constant"])}
    read = [of[address] for address in stated_numbers(part.block.template.pattern)]
    for i, found in index_derivatives(bound, part, space, points).items():
        at = (*at_block, coords["limit_state"].index(part.states[i].label))
        trusted = found.steady & (group["design_status"][at] == Status.COMPUTED)
        group["index_sensitivity_to_constant"][*at, read] = found.value
        group["index_sensitivity_to_constant_status"][*at, read] = np.where(
            trusted, Status.COMPUTED, Status.UNTRUSTED
        )


def _variables(
    group: dict[str, Any],
    bound: Bound,
    part: Part,
    space: StandardSpace,
    point: DesignPoint,
    at: tuple[int, ...],
) -> None:
    """Store value and importance of each input that the limit state's block reads."""
    of = {address: i for i, address in enumerate(variables(bound))}
    columns = part.block.template.columns
    values = space.values(point.u[np.newaxis, :], 0)[0]
    shares = shared_importance(bound, space, point.alpha)
    for column, value in zip(columns, values, strict=True):
        place = (*at, of[bound.compiled.columns[column].address])
        group["design_variable_status"][place] = Status.COMPUTED
        group["design_value"][place] = value
        group["importance_factor"][place] = shares[bound.compiled.columns[column].driver]


def shared_importance(bound: Bound, space: StandardSpace, alpha: NDArray[np.float64]) -> dict[int, float]:
    """Return the importance by driver: the square of its direction cosine, of dependent ones their sum."""
    group_of = {driver: g for g, group in enumerate(bound.problem.joint.groups) for driver in group}
    total: dict[int, float] = defaultdict(float)
    for driver, cosine in zip(space.drivers, alpha, strict=True):
        total[group_of[driver]] += float(cosine) ** 2
    return {driver: total[group_of[driver]] for driver in space.drivers}
