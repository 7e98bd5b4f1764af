r"""Lateral pressure on a wall from a load on the surface beside it, by elasticity.

A load on the surface of an elastic half-space presses sideways on a vertical plane. Where the plane is a wall
that does not yield, a mirror image of the load stands behind it and the pressure is doubled; a wall that moves
with the ground feels the single value. Both are in use: the doubled one is the customary design value.

Poisson's ratio is 0.5 throughout (undrained, and on the safe side for the wall).
"""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number

RIGID = 2.0
"""Factor on the half-space's pressure for a wall that does not yield."""


def strip_pressure(*, depth: Number, pressure: Number, distance: Number, width: Number) -> Number:
    r"""Return the lateral pressure of a strip load along the wall, without end.

    .. math:: \sigma_h = k \frac{q}{\pi} \left( \theta_2 - \theta_1 -
              \sin(\theta_2 - \theta_1) \cos(\theta_2 + \theta_1) \right), \qquad
              \theta_1 = \arctan(a/z), \; \theta_2 = \arctan((a + b)/z)

    Parameters
    ----------
    depth : float or ndarray
        *z* below the surface, m, 0 or more.
    pressure : float or ndarray
        *q* on the strip, kPa.
    distance : float or ndarray
        *a* from the wall's face to the strip's near edge, m, 0 or more.
    width : float or ndarray
        *b* of the strip across the wall, m.

    Returns
    -------
    float or ndarray
        kPa on a wall that does not yield (*k* = 2), of the broadcast shape.

    Notes
    -----
    Boussinesq's solution integrated over the strip, as in Terzaghi (1954), "Anchored bulkheads", Transactions
    of the ASCE 119, 1243-1280, and in UFC 3-220-20 (recalled). A strip from the wall to infinity gives the
    whole *q* at the surface and, on a wall that does not yield, at every depth.
    """
    near, far = np.arctan2(distance, depth), np.arctan2(np.add(distance, width), depth)
    between = far - near
    value: Number = RIGID * pressure / np.pi * (between - np.sin(between) * np.cos(far + near))
    return value


def patch_pressure(
    *, depth: Number, pressure: Number, distance: Number, width: Number, length: Number
) -> Number:
    r"""Return the lateral pressure of a rectangular load, opposite the middle of its length.

    With :math:`\sigma_c(x, y)` beneath the corner of a rectangle *x* by *y*,

    .. math:: \sigma_c = \frac{q}{2\pi} \left( \arctan\frac{x y}{z R} - \frac{x y z}{(x^2 + z^2) R} \right),
              \quad R^2 = x^2 + y^2 + z^2

    the patch is :math:`\sigma_h = 2 k \left( \sigma_c(a + b, l/2) - \sigma_c(a, l/2) \right)`.

    Parameters
    ----------
    depth, pressure, distance, width : float or ndarray
        As in :func:`strip_pressure`.
    length : float or ndarray
        *l* of the patch along the wall, m.

    Returns
    -------
    float or ndarray
        kPa on a wall that does not yield (*k* = 2), of the broadcast shape; zero at the surface, but the whole *q*
        there where the patch begins at the wall.

    Notes
    -----
    Holl (1940), "Stress transmission in earths", Proceedings of the Highway Research Board 20, 709-721, as in
    Poulos & Davis (1974), Elastic solutions for soil and rock mechanics (recalled; checked in the tests
    against the sum of Boussinesq's point loads). The section opposite the middle of the patch is the one
    that it loads most.
    """
    far = _beneath_corner(np.add(distance, width), 0.5 * length, depth)
    near = _beneath_corner(distance, 0.5 * length, depth)
    value: Number = 2.0 * RIGID * pressure * (far - near)
    return value


def _beneath_corner(x: Number, y: Number, z: Number) -> Number:
    """Return the stress along x beneath the corner of a unit load on x by y, at depth z."""
    reach = np.sqrt(np.square(x) + np.square(y) + np.square(z))
    across = np.square(x) + np.square(z)
    # Of no breadth at no depth nothing is defined: zero is its limit from below.
    safe = np.where(across > 0.0, across, 1.0)
    lateral = np.arctan2(np.multiply(x, y), z * reach) - np.multiply(x, y) * z / (safe * reach)
    value: Number = np.where(across > 0.0, lateral, 0.0)[()] / (2.0 * np.pi)
    return value
