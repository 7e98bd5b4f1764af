r"""Base heave below the toe of an embedded wall: bearing capacity there, and adhesion on the wall inside.

The clay inside can only rise by sliding up along the embedded part of the wall, and the ground fails below the
toe. The adhesion counts as far as the wall can take it: it must not lift the wall, and the wall must stand where
it is, bending below the lowest prop.
"""

from __future__ import annotations

import numpy as np

from riskcut.ground import profile, reach
from riskcut.mechanisms import edge_loads, heave_forms, wall_friction
from riskcut.mechanisms.contract import Step
from riskcut.mechanisms.heave_common import (
    EVEN,
    Common,
    Form,
    load_steps,
    lowest_prop,
    strays,
    toe_limits,
    toe_reason,
)
from riskcut.study.block import Block, Number, Wall


def held_embedment(
    *,
    embedment: Number,
    below_prop: Number,
    load: Number,
    strength_above: Number,
    strength_below: Number,
    bending: Number,
) -> Number:
    r"""Return the embedment over which a wall's bending below the lowest prop can hold it in place.

    .. math::

        D_e = \min\left( D,\; \sqrt{h^2 + \frac{2 M_l}{p}} - h \right) \quad (p > 0), \qquad
        p = S - 4 s_{u,D}, \qquad M_l = M_R - \max(S - 2 s_{u,h}, 0) \frac{h^2}{2}

    Parameters
    ----------
    embedment : float or ndarray
        *D* below formation, m.
    below_prop : float or ndarray
        Height *h* of the lowest prop above formation, m.
    load : float or ndarray
        *S* at formation level, kPa.
    strength_above, strength_below : float or ndarray
        Mean undrained strength over *h* and over *D*, kPa.
    bending : float or ndarray
        :math:`M_R`, kN m/m.

    Returns
    -------
    float or ndarray
        m, from 0 to *D*.

    Notes
    -----
    Reasoned, no source: the wall hangs from the lowest prop, the clay outside pushes with its active pressure
    (over *h* with that at formation, on the safe side), below formation the passive pressure inside is taken off.
    Where the clay inside holds more than the outside pushes (*p* of 0 and below), it bears the wall: all of *D* counts
    if the moment about the prop over all of it stays within :math:`M_R`, and none if not. Strength of the
    soil as it is, without the model factor.
    """
    above = np.maximum(np.subtract(load, 2.0 * np.asarray(strength_above)), 0.0)
    below = np.subtract(load, 4.0 * np.asarray(strength_below))
    height = np.maximum(below_prop, 0.0)
    left = np.subtract(bending, 0.5 * above * np.square(height))
    pushed = np.greater(below, 0.0)
    reached = np.sqrt(np.square(height) + 2.0 * np.maximum(left, 0.0) / np.where(pushed, below, 1.0)) - height
    borne = below * embedment * (height + 0.5 * np.asarray(embedment))
    unpushed = np.where(np.greater_equal(left, borne), embedment, 0.0)
    held: Number = np.where(pushed, np.minimum(embedment, reached), unpushed)[()]
    return held


def not_applicable(block: Block) -> str | None:
    """Return why the form says nothing at the means, None where it does."""
    reason = toe_reason(block)
    if reason is None and block.wall is not None and block.wall.adhesion is None:
        return "the adhesion of the clay on the wall is not stated (works.wall.adhesion)"
    return reason


def form(block: Block, shared: Common, *, theta: Number) -> Form:
    """Return the form in a block with a wall and an adhesion, impossible rows not yet marked.

    Notes
    -----
    Rows in which the toe lies in drained ground read the clay between formation and there, on the safe side;
    rows in which it does not lie below formation have no embedment. Both are outside the range of use.

    Raises
    ------
    ValueError
        If the block has no wall, or its adhesion is not stated.
    """
    wall = block.wall
    if wall is None or wall.adhesion is None:
        raise ValueError("base_heave has no member 'embedded_wall' in this block")
    strata, formation = block.strata, block.formation
    toe = np.minimum(wall.toe, formation)
    clay = reach.undrained_depth(strata, level=toe)
    ended = np.less_equal(clay, 0.0)
    failing = heave_forms.failing_breadth(width=block.width, clay_thickness=clay)
    breadth = np.where(ended, shared.breadth, failing)[()]
    end = toe - breadth
    below = profile.mean_strength(strata, upper=toe, lower=end)
    strength = np.where(ended, shared.strength, below)[()]
    edge = edge_loads.on_failing_ground(block.edge_loads, breadth=breadth, length=block.length)
    action = shared.ground + edge
    factor = heave_forms.bearing_factor(depth=shared.depth, width=block.width, length=block.length)
    held, cap_steps = _held(block, wall, toe=toe, load=action)
    around = wall_friction.around(block)
    inside = (
        around * wall.adhesion * profile.strength_integral(strata, upper=formation, lower=formation - held)
    )
    top = block.surface if wall.top is None else wall.top
    weight = around * wall.thickness * wall.unit_weight * np.maximum(np.subtract(top, wall.toe), 0.0)
    outer = np.minimum(top, block.surface)
    outside = around * wall.adhesion * profile.strength_integral(strata, upper=outer, lower=formation)
    counted = heave_forms.wall_adhesion(inside=inside, outside=outside, weight=weight, model_factor=theta)
    resistance = heave_forms.embedded_wall_resistance(
        strength_below_toe=strength, factor_nc=factor, adhesion=counted, model_factor=theta
    )
    lifts = np.where(np.less(counted, np.multiply(theta, inside)), 1.0, 0.0)[()]
    steps = (
        *load_steps(block, shared, edge=edge, action=action),
        Step(symbol="D", meaning="embedment of the wall", unit="m", value=np.subtract(formation, toe)),
        *cap_steps,
        Step(symbol="B_t", meaning="breadth of the failing block below the toe", unit="m", value=breadth),
        Step(symbol="su_t", meaning="mean strength over B_t below the toe", unit="kPa", value=strength),
        Step(symbol="N_c", meaning="bearing capacity factor", unit="1", value=factor),
        Step(symbol="T_i", meaning="adhesion on the wall inside, over D_e", unit="kPa", value=inside),
        Step(symbol="T_o", meaning="adhesion on the wall outside above formation", unit="kPa", value=outside),
        Step(symbol="W_w", meaning="weight of the wall over the plan area", unit="kPa", value=weight),
        Step(symbol="T_a", meaning="adhesion counted, model factor in it", unit="kPa", value=counted),
        Step(symbol="lifts", meaning="1 where the wall would be lifted, 0 where not", unit="1", value=lifts),
    )
    uneven = strays(strata, upper=toe, lower=end, mean=strength)
    return Form(resistance, action, {**toe_limits(block, wall), EVEN: uneven}, steps)


def _held(block: Block, wall: Wall, *, toe: Number, load: Number) -> tuple[Number, tuple[Step, ...]]:
    """Return the embedment that counts for adhesion, with its steps."""
    embedment = np.subtract(block.formation, toe)
    if wall.bending_resistance is None or not block.props:
        missing = "no prop stands" if wall.bending_resistance is not None else "bending is not stated"
        step = Step(
            symbol="D_e", meaning=f"embedment counted: all of it, {missing}", unit="m", value=embedment
        )
        return embedment, (step,)
    lowest = lowest_prop(block)
    above, below = (
        profile.strength_integral(block.strata, upper=upper, lower=lower)
        / np.where(np.greater(upper, lower), np.subtract(upper, lower), np.inf)[()]
        for upper, lower in ((lowest, block.formation), (block.formation, toe))
    )
    held = held_embedment(
        embedment=embedment,
        below_prop=np.subtract(lowest, block.formation),
        load=load,
        strength_above=above,
        strength_below=below,
        bending=wall.bending_resistance,
    )
    return held, (
        Step(
            symbol="M_R",
            meaning="bending resistance of the wall",
            unit="kN m/m",
            value=wall.bending_resistance,
        ),
        Step(symbol="D_e", meaning="embedment that the wall's bending can hold", unit="m", value=held),
    )
