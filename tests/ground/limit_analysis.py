r"""Upper bounds of earth pressure by limit analysis, to hold closed forms against: the log-sandwich mechanism.

A wedge at the wall, a fan bounded by a logarithmic spiral about the top of the wall, and a wedge that comes out at
the surface; no velocity jumps between them. Chen (1975), Limit Analysis and Soil Plasticity, chapter 5 (the
mechanism is his, the working here is our own, from velocities). The work of the wall's pressure equals that of
weight and load plus what cohesion dissipates. In the active state the strengths are negative and the greatest
pressure counts; in the passive state the least. Without a fan it is Coulomb's plane.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize, minimize_scalar

NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)


def along(angle: float) -> np.ndarray:
    """Return the radius at an angle from straight down, x into the ground, y up."""
    return np.array([np.sin(angle), -np.cos(angle)])


def across(angle: float) -> np.ndarray:
    """Return the direction at right angles to a radius, away from the wall and up."""
    return np.array([np.cos(angle), np.sin(angle)])


def meet(start: np.ndarray, one: np.ndarray, other: np.ndarray) -> tuple[float, float]:
    """Return how far along two directions, one from a start and one from the top of the wall, they meet."""
    first, second = np.linalg.solve(np.array([one, -other]).T, -start)
    return float(first), float(second)


def triangle(one: np.ndarray, other: np.ndarray) -> float:
    return 0.5 * abs(one[0] * other[1] - one[1] * other[0])


def normal_force(
    first: float,
    fan: float,
    *,
    friction: float,
    on_wall: float,
    slope: float,
    batter: float,
    weight: float = 0.0,
    load: float = 0.0,
    cohesion: float = 0.0,
    adhesion: float = 0.0,
) -> float:
    """Return the force normal to a wall of unit height; NaN where the mechanism is none.

    ``first`` and ``fan`` are the angles of the wedge at the wall and of the fan; all angles in radians. ``load`` is
    vertical, on the horizontal projection of the surface.
    """
    if fan < 0.0 or first <= 0.0:
        return np.nan
    tangent, length = np.tan(friction), 1.0 / np.cos(batter)
    begin, end = batter + first, batter + first + fan
    toe = length * along(batter)
    plane, radius = meet(toe, across(begin - friction), along(begin))
    grown = np.exp(fan * tangent)
    corner = radius * grown * along(end)
    surface = np.array([np.cos(slope), np.sin(slope)])
    out, reach = meet(corner, across(end - friction), surface)
    if min(plane, radius, out, reach) <= 0.0:
        return np.nan
    velocity = across(begin)
    angles = begin + 0.5 * fan * (NODES + 1.0)
    lifted = triangle(toe, radius * along(begin)) * velocity[1]
    lifted += (
        0.25 * fan * radius**2 * np.sum(WEIGHTS * np.exp(3.0 * (angles - begin) * tangent) * np.sin(angles))
    )
    lifted += triangle(corner, reach * surface) * grown * np.sin(end)
    raised = reach * np.cos(slope) * grown * np.sin(end)
    spread = fan if tangent == 0.0 else (grown**2 - 1.0) / (2.0 * tangent)
    dissipated = (plane + out * grown) * np.cos(friction) + 2.0 * radius * spread
    slid = along(batter) @ velocity
    work = weight * lifted + load * raised + cohesion * dissipated - adhesion * length * slid
    pushed = across(batter) @ velocity + np.tan(on_wall) * slid
    return work / pushed if pushed > 0.0 else np.nan


def bound(
    sign: int,
    *,
    friction: float,
    on_wall: float = 0.0,
    slope: float = 0.0,
    batter: float = 0.0,
    plane: bool = False,
    cohesion: float = 0.0,
    adhesion: float = 0.0,
    **action: float,
) -> float:
    """Return the least passive (sign 1) or the greatest active (-1) force normal to a wall of unit height.

    Angles in degrees; ``plane`` leaves the fan out. The strengths are given positive.
    """
    given = {
        "friction": sign * np.radians(friction),
        "on_wall": sign * np.radians(on_wall),
        "slope": np.radians(slope),
        "batter": np.radians(batter),
        "cohesion": sign * cohesion,
        "adhesion": sign * adhesion,
    }

    def cost(angles: np.ndarray) -> float:
        force = normal_force(float(angles[0]), float(angles[1]), **given, **action)
        return np.inf if np.isnan(force) else sign * force

    firsts = np.linspace(0.05, 1.6, 25)
    if plane:
        start = min(firsts, key=lambda first: cost(np.array([first, 0.0])))
        step = firsts[1] - firsts[0]
        found = minimize_scalar(
            lambda first: cost(np.array([first, 0.0])),
            bounds=(max(start - step, 1e-6), start + step),
            method="bounded",
            options={"xatol": 1e-12},
        )
        return sign * float(found.fun)
    grid = [np.array([first, fan]) for first in firsts for fan in np.linspace(0.0, 2.0, 9)]
    simplex = minimize(
        cost,
        min(grid, key=cost),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-13, "maxiter": 2000},
    )
    return sign * float(simplex.fun)
