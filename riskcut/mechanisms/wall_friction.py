"""Friction of the ground on the faces of the walls, for the mechanisms that lift the walls or hang on them.

In undrained layers the adhesion is a share of the undrained strength, in drained layers the friction a share of
the vertical effective stress of the stage. What the study does not state is not counted: **where the wall moves
away from the ground, or slurry or bentonite coats it, neither ratio may be stated**. Nothing is counted for load
on the surface.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from riskcut.ground import effective_stress, pore_pressure, profile
from riskcut.ground.straight import Piece
from riskcut.mechanisms.contract import Symbol
from riskcut.study.block import Block, Number, Wall

SYMBOLS: Final = (
    Symbol(symbol="alpha_w", meaning="adhesion on the wall over undrained strength", unit="1"),
    Symbol(symbol="beta_w", meaning="friction on the wall over vertical effective stress", unit="1"),
)


def around(block: Block) -> Number:
    r"""Return the length of the walls over the plan area of the cut, :math:`2 (B + L)/(B L)`, 1/m; corners left out."""
    perimeter: Number = 2.0 * np.add(block.width, block.length) / np.multiply(block.width, block.length)
    return perimeter


def stated(wall: Wall) -> bool:
    """Whether the study states any friction of the ground on the wall."""
    return wall.adhesion is not None or wall.friction_ratio is not None


def on_a_face(block: Block, wall: Wall, *, pore: tuple[Piece, ...], upper: Number, lower: Number) -> Number:
    r"""Return the friction of the ground on a metre of one face of the wall.

    .. math:: f = \alpha_w \int_{undrained} s_u \, \mathrm{d}z
              + \beta_w \int_{drained} \max(\sigma'_v, 0) \, \mathrm{d}z

    Parameters
    ----------
    block : Block
        For its strata.
    wall : Wall
        With the ratios; a ratio that is not stated adds nothing.
    pore : tuple of Piece
        Pore pressure on that side from the surface of the ground there down to ``lower``, kPa; read only
        where the wall has a friction ratio.
    upper, lower : float or ndarray
        Levels of the ends of the face, m; nothing where they are in the other order.

    Returns
    -------
    float or ndarray
        kN/m, before any model factor.

    Notes
    -----
    Common practice, no one source.
    """
    total: Number = 0.0
    if wall.adhesion is not None:
        total = wall.adhesion * profile.strength_integral(block.strata, upper=upper, lower=lower)
    if wall.friction_ratio is not None:
        layers = effective_stress.layers(block.strata, pore)
        stress = effective_stress.effective_integral(
            layers, upper=upper, lower=lower, weight=lambda s: 0.0 if s.undrained else 1.0, floor=True
        )
        total = total + wall.friction_ratio * stress
    return total


def outside(block: Block, wall: Wall) -> Number:
    """Return the friction on a metre of the wall's outer face, over its buried height, kN/m."""
    top = block.surface if wall.top is None else np.minimum(wall.top, block.surface)
    pore = () if wall.friction_ratio is None else pore_pressure.outside(block, down_to=wall.toe)
    return on_a_face(block, wall, pore=pore, upper=top, lower=wall.toe)


def inside(block: Block, wall: Wall, *, lower: Number, water_level: Number) -> Number:
    """Return the friction on a metre of the wall's inner face, from the formation down to a level, kN/m.

    Parameters
    ----------
    block : Block
        For its strata and its formation.
    wall : Wall
        No deeper than its toe is counted.
    lower : float or ndarray
        Level of the lower end, m.
    water_level : float or ndarray
        Level of the water at the formation, m, not below it.
    """
    end = np.minimum(np.maximum(lower, wall.toe), block.formation)
    pore: tuple[Piece, ...] = ()
    if wall.friction_ratio is not None:
        pore = pore_pressure.inside(block, down_to=end, level=water_level)
    return on_a_face(block, wall, pore=pore, upper=block.formation, lower=end)


def not_counted(block: Block, wall: Wall, *, upper: float, lower: float) -> str | None:
    """Return why nothing is counted on a face between two levels at the means, None where something is."""
    drained = float(profile.drained_thickness(block.strata, upper=upper, lower=lower))
    undrained = float(profile.undrained_thickness(block.strata, upper=upper, lower=lower))
    keys = {"works.wall.adhesion": (undrained, wall.adhesion)}
    keys["works.wall.friction_ratio"] = (drained, wall.friction_ratio)
    if any(thickness > 0.0 and ratio is not None for thickness, ratio in keys.values()):
        return None
    missing = " and ".join(key for key, (thickness, _) in keys.items() if thickness > 0.0)
    return f"friction of the ground on the walls is not stated ({missing})"
