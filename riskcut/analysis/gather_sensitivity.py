"""Sobol' indices of every margin of every block, as the results' group ``sensitivity``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.binding import Bound
from riskcut.analysis.gather_inputs import dependent_groups, variables
from riskcut.analysis.parts import BoundBlock, Part, component
from riskcut.reliability.problem import Component
from riskcut.results.names import TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank
from riskcut.results.wording import in_words
from riskcut.sensitivity.design import Design, draw
from riskcut.sensitivity.leader import leader
from riskcut.sensitivity.sobol import SobolIndices, Values, analyse
from riskcut.uncertainty.joint import Joint

SHOWN_IN_A_TIE = 4


def sensitivity(
    bound: Bound,
    coords: dict[str, list[Any]],
    *,
    seed: int,
    base_rows: int,
    scrambles: int,
    workers: int,
    progress: Callable[[int, int], None],
) -> dict[str, Any]:
    """Return the group ``sensitivity``: one study of each block, on the inputs that it reads."""
    sizes = {name: len(labels) for name, labels in coords.items()} | {"bound": 2}
    group = {name: blank("sensitivity", name, sizes) for name, e in TABLE["sensitivity"].items() if e.dims}
    group["dependent_group"] = dependent_groups(bound)
    rows = evaluations = 0
    blocks = [block for block in bound.blocks if block.applying and block.template.columns]
    joints = [bound.problem.joint.restricted(block.template.columns) for block in blocks]
    if joints:  # drawing takes longer than the margins of a block do: once, for the block with most inputs
        most = max(joint.drivers for joint in joints)
        design = draw(drivers=most, base_rows=base_rows, scrambles=scrambles, seed=seed)
    for done, (block, joint) in enumerate(zip(blocks, joints, strict=True), start=1):
        part = Part(" · ".join(block.key), block, block.applying)
        whole = component(part, bound.compiled.columns)
        indices, numbers = _study(joint, whole, design.of(joint.drivers), workers)
        rows += indices.rows
        evaluations += indices.margin_evaluations
        _store(group, bound, block, indices, numbers, coords)
        progress(done, len(blocks))
    return {
        **group,
        "base_rows": np.int64(base_rows),
        "scrambles": np.int64(scrambles),
        "sensitivity_rows": np.int64(rows),
        "sensitivity_margin_evaluations": np.int64(evaluations),
    }


def _study(
    joint: Joint, whole: Component, design: Design, workers: int
) -> tuple[SobolIndices, list[list[int]]]:
    """Return the indices of one block's margins and, for each group of its drivers, the columns in it."""
    every = list(range(len(whole.labels)))

    def transform(w: NDArray[np.float64]) -> NDArray[np.float64]:
        return joint.physical(joint.correlate(w))

    indices = analyse(
        drivers=joint.drivers,
        groups=joint.groups,
        respond=lambda x: whole.margins(x, every),
        margins=len(every),
        base_rows=design.base_rows,
        scrambles=design.scrambles,
        seed=design.seed,
        design=design,
        values=Values(transform, joint.driver),
        workers=workers,
    )
    columns = [
        [column for column, driver in zip(whole.columns, joint.driver, strict=True) if driver in members]
        for members in joint.groups
    ]
    return indices, columns


def _store(
    group: dict[str, Any],
    bound: Bound,
    block: BoundBlock,
    indices: SobolIndices,
    columns: list[list[int]],
    coords: dict[str, list[Any]],
) -> None:
    of = {address: i for i, address in enumerate(variables(bound))}
    places = [[of[bound.compiled.columns[column].address] for column in members] for members in columns]
    names = [" with ".join(coords["variable"][place] for place in members) for members in places]
    at_block = (coords["section"].index(block.template.section), coords["stage"].index(block.template.stage))
    for i, state in enumerate(block.applying):
        at = (*at_block, coords["limit_state"].index(state.label))
        refusal = indices.refusal[i]
        if refusal is not None:
            group["sensitivity_status"][at] = Status.UNTRUSTED
            group["sensitivity_reason"][at] = refusal
            continue
        group["sensitivity_status"][at] = Status.COMPUTED
        for g, members in enumerate(places):
            for variable in members:
                group["variable_status"][(*at, variable)] = Status.COMPUTED
                group["first_order"][(*at, variable)] = indices.first[i, g]
                group["total_order"][(*at, variable)] = indices.total[i, g]
                group["first_order_bounds"][(*at, variable)] = indices.first_bounds[i, g]
                group["total_order_bounds"][(*at, variable)] = indices.total_bounds[i, g]
        group["leading_inputs"][at] = _sentence(block, i, indices, names)


def _sentence(block: BoundBlock, i: int, indices: SobolIndices, names: list[str]) -> str:
    """Say which input leads one margin, or which cannot be told apart."""
    state = block.applying[i]
    of = f"the variance of the {in_words(state.mechanism.name)} margin ({in_words(state.member.name)})"
    where = f"{of} at {block.template.stage}"
    first = leader(names, indices.first[i], indices.first_bounds[i])
    if first.kind == "leader":
        low, high = indices.first_bounds[i][names.index(first.names[0])]
        share = f"{100 * first.share:.0f} % of {where} ({100 * low:.0f} to {100 * high:.0f} %)"
        return f"{first.names[0]} decides {share}."
    if first.kind == "tie":
        shown = ", ".join(first.names[:SHOWN_IN_A_TIE]) + (
            " and others" if len(first.names) > SHOWN_IN_A_TIE else ""
        )
        return f"Tie: {shown} cannot be told apart as the leader of {where}, each near {100 * first.share:.0f} %."
    return f"No single input decides {where}."
