"""What the reliability index owes to each certain number of the study, at the design points."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.binding import Bound
from riskcut.analysis.parts import Part, component
from riskcut.reliability.design_point import DesignPoint
from riskcut.reliability.standard_space import StandardSpace
from riskcut.results.stated_numbers import told_change
from riskcut.study.columns import Column
from riskcut.study.quantity import Quantity
from riskcut.study.stated_numbers import opened, stated_numbers

Floats = NDArray[np.float64]

_STEP = 1e-3
"""Step of the differences, in changes as they are told: 0.1 mm of a level or a length, 1e-5 of another number."""
_KINK = 0.05
"""Where the differences to both sides are apart by more than this share of the greater, there is no derivative..."""
_NOTHING = 1e-4
"""... unless that is less than this of the index, for a change as it is told."""


@dataclass(frozen=True)
class IndexDerivatives:
    """Derivatives of the first-order index with the certain numbers of a block."""

    value: Floats
    """(c,), per unit of the number; NaN where it cannot be had."""
    steady: NDArray[np.bool_]
    """(c,), whether it is the same to both sides; False where there is none."""


def constants(bound: Bound) -> dict[str, Quantity]:
    """Return the certain numbers that the blocks as planned read, by address."""
    found: dict[str, Quantity] = {}
    for block in bound.blocks:
        found |= stated_numbers(block.template.pattern)
    return found


def index_derivatives(
    bound: Bound, part: Part, space: StandardSpace, points: Mapping[int, DesignPoint]
) -> dict[int, IndexDerivatives]:
    """Return what the index of each limit state of a part owes to each of :func:`stated_numbers` of its block.

    Parameters
    ----------
    bound
        The study.
    part
        The limit states.
    space
        Of the part alone.
    points
        Place in the part to the design point, of those limit states that have one.

    Notes
    -----
    d beta/d c = (d g/d c)/|grad g|, the gradient by the independent standard normals and both at the design point
    (Madsen, Krenk & Lind 1986, Methods of structural safety; recalled): the point is stationary, so that to first
    order only the surface moves. By central differences; a number that stands at its bound is only raised. All
    numbers of all the limit states are moved in one call.
    """
    numbers = stated_numbers(part.block.template.pattern)
    smooth = {i: p for i, p in points.items() if p.kind == "point" and p.gradient_norm > 0.0}
    count = len(numbers)
    nothing = IndexDerivatives(np.full(count, np.nan), np.zeros(count, dtype=bool))
    found = dict.fromkeys(points, nothing)
    if not (smooth and numbers):
        return found
    first = len(bound.compiled.columns)
    template = opened(part.block.template, {address: first + i for i, address in enumerate(numbers)})
    moving = dataclasses.replace(part, block=dataclasses.replace(part.block, template=template))
    table = [
        *bound.compiled.columns,
        *(Column(address, "", "", number, -1) for address, number in numbers.items()),
    ]
    stated = np.array([number.value for number in numbers.values()])
    up = _STEP * np.array([abs(told_change(n.value, n.unit)) or 1.0 for n in numbers.values()])
    down = np.where(
        [_holds(n, n.value - step) for n, step in zip(numbers.values(), up, strict=True)], up, 0.0
    )
    values = space.values(np.array([point.u for point in smooth.values()]), 0)
    moved = np.concatenate([np.zeros((1, count)), np.diag(up), np.diag(-down)])
    rows = np.hstack([np.repeat(values, len(moved), axis=0), np.tile(stated + moved, (len(smooth), 1))])
    margins = component(moving, table).margins(np.asfortranarray(rows), tuple(smooth))
    for k, (i, point) in enumerate(smooth.items()):
        g = margins[k * len(moved) : (k + 1) * len(moved), k] / point.gradient_norm
        found[i] = _derivatives(g[0], g[1 : count + 1], g[count + 1 :], up, down)
    return found


def _derivatives(at: float, raised: Floats, lowered: Floats, up: Floats, down: Floats) -> IndexDerivatives:
    value = (raised - lowered) / (up + down)
    forward = (raised - at) / up
    backward = np.where(down > 0.0, (at - lowered) / np.where(down > 0.0, down, 1.0), forward)
    apart = np.abs(forward - backward)
    close = apart <= _KINK * np.maximum(np.abs(forward), np.abs(backward))
    steady = np.isfinite(value) & (close | (apart * up <= _STEP * _NOTHING))
    return IndexDerivatives(value, steady)


def _holds(number: Quantity, value: float) -> bool:
    """Whether a number may have a value."""
    above = number.above is None or value > number.above
    return above and (number.at_least is None or value >= number.at_least)
