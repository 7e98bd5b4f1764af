"""Base heave with tension piles through the failing ground: what they hold across the slip, added on top.

The piles tie the ground that rises to the ground below the slip. They and the clay need different movements to
give all that they have, so the sum is an upper bound; it governs only where the study says so.
"""

from __future__ import annotations

import numpy as np

from riskcut.mechanisms import heave_forms
from riskcut.mechanisms.contract import Step
from riskcut.mechanisms.heave_common import EVEN, Common, Form, block_steps
from riskcut.mechanisms.tension_piles import pile_tension, shaft_friction
from riskcut.study.block import Block, Number


def not_applicable(block: Block) -> str | None:
    """Return why the form says nothing at the means, None where it does."""
    return None if block.piles is not None else "no tension piles stand in the ground at this stage"


def form(block: Block, shared: Common, *, clay: Number, friction: Number) -> Form:
    r"""Return the bearing form with what the piles hold per plan area.

    .. math:: R = \theta_b N_c s_{u,b} + \frac{\min(\theta R_{below}, \theta R_{within}, R_{steel})}{a_1 a_2}

    Parameters
    ----------
    block : Block
    shared : Common
    clay : float or ndarray
        :math:`\theta_b`, the model factor of the bearing form: the clay is the same, so that piles never take
        anything away.
    friction : float or ndarray
        :math:`\theta`, on the friction of the shafts.

    Notes
    -----
    The slip is taken at :math:`B_1` below formation, the deepest that the failing block reaches. Shaft in
    undrained ground alone: in drained ground it hangs on a stress that heave itself disturbs (on the safe side).

    Raises
    ------
    ValueError
        If no piles stand at this stage.
    """
    piles = block.piles
    if piles is None:
        raise ValueError("base_heave has no member 'with_piles' in this block")
    head = np.minimum(piles.head, block.formation)
    toe = np.subtract(piles.head, piles.length)
    slip = block.formation - shared.breadth
    within = shaft_friction(block, piles, upper=head, lower=np.maximum(slip, toe), stress_at_upper=None)
    below = shaft_friction(block, piles, upper=np.minimum(slip, head), lower=toe, stress_at_upper=None)
    one = pile_tension(
        shaft_below=below, shaft_within=within, steel=piles.steel_resistance, model_factor=friction
    )
    area = np.multiply(piles.spacing_along, piles.spacing_across)
    held = one / area
    factor = heave_forms.bearing_factor(depth=shared.depth, width=block.width, length=block.length)
    bearing = heave_forms.bearing_resistance(
        strength_below=shared.strength, factor_nc=factor, model_factor=clay
    )
    steps = (
        *block_steps(block, shared),
        Step(symbol="z_s", meaning="level of the slip, B_1 below formation", unit="m", value=slip),
        Step(symbol="N_c", meaning="bearing capacity factor", unit="1", value=factor),
        Step(symbol="theta_b", meaning="model factor of the bearing form", unit="1", value=clay),
        Step(symbol="R_b", meaning="shaft below the slip, one pile", unit="kN", value=below),
        Step(symbol="R_i", meaning="shaft above the slip, one pile", unit="kN", value=within),
        Step(symbol="R_t", meaning="steel of one pile", unit="kN", value=piles.steel_resistance),
        Step(symbol="A_p", meaning="plan area of one pile", unit="m2", value=area),
        Step(symbol="R_p", meaning="piles per plan area", unit="kPa", value=held),
    )
    return Form(bearing + held, shared.action, {EVEN: shared.uneven}, steps)
