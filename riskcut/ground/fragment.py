r"""Flow round the lower edge of a wall on one side of it: the rectangle below the ground surface, solved exactly.

The method of fragments (Harr 1962) cuts the flow round a wall at the vertical below the wall's edge and takes
that vertical for a line of equal head. What is left on each side is a rectangle of thickness *T*: water enters
(or leaves) through its upper side, and leaves (or enters) through the gap under the wall; the wall above the
gap, the base, and the middle of the cut are tight. The rectangle is mapped onto a half-plane by
:math:`t = \operatorname{sn}^2(K_r z/T)`, the modulus :math:`k_r` of which has :math:`K'_r/K_r = b/T` with
*b* the half width of the cut. The theta series below converge in four terms for any shape, because they
start from the shorter of the two sides.

In a rectangle without end (*b* infinite) this is Harr's fragment of type II. The rectangle of finite width
follows from the same mapping and is derived here.
"""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import ellipkm1

from riskcut.study.block import Number

Plane = Number | complex | NDArray[np.complex128]
"""A number of the plane, or one a row."""


class Image(NamedTuple):
    """Where a point of the rectangle lies in the half-plane."""

    at: Plane
    """Its image *t*: 0 at the upper end of the wall's line, 1 at its lower end on the base."""
    rest: Plane
    """*1 - t*, exact where the image is close to 1."""
    scale: Number
    """:math:`K_r/T`, 1/m."""


def image(*, depth: Plane, thickness: Number, half_width: Number) -> Image:
    r"""Return the image of a point of the rectangle.

    Parameters
    ----------
    depth : float, complex or ndarray
        Below the surface along the wall's line, m, above 0 and below *T*; a complex number
        :math:`s + \mathrm{i} x` is the point at the distance *x* from that line.
    thickness : float or ndarray
        *T*, m, finite.
    half_width : float or ndarray
        *b*, m; may be infinite.

    Returns
    -------
    Image
        Of the broadcast shape.

    Notes
    -----
    Theta functions with the nome of the longer over the shorter side, :math:`e^{-\pi}` or less; the first
    term left out is below 1e-16. Between a wide and a narrow rectangle lies Jacobi's imaginary
    transformation: the function is one and the same.
    """
    if np.ndim(half_width) == 0 and np.isposinf(half_width):
        angle = np.pi / 2.0 * np.divide(depth, thickness)
        return Image(np.sin(angle) ** 2, np.cos(angle) ** 2, np.pi / 2.0 / np.asarray(thickness)[()])
    wide = np.greater_equal(half_width, thickness)
    shorter, longer = np.minimum(half_width, thickness), np.maximum(half_width, thickness)
    log_q = -np.pi * np.divide(longer, shorter)
    q = np.exp(log_q)
    two, three, four = 1.0 + q**2 + q**6, 1.0 + 2.0 * (q + q**4 + q**9), 1.0 - 2.0 * (q - q**4 + q**9)
    u = np.pi / 2.0 * np.divide(depth, shorter)
    if np.all(wide):
        sine, cosine = _wide(u, q)
    elif not np.any(wide):
        sine, cosine = _narrow(u, log_q)
    else:
        # Each formula sees rows of its own kind only: the other's would overflow.
        by_wide = _wide(np.where(wide, u, 0.0), q)
        by_narrow = _narrow(np.where(wide, 0.0, u), log_q)
        sine, cosine = (np.where(wide, one, other) for one, other in zip(by_wide, by_narrow, strict=True))
    sine = sine * (three / np.where(wide, two, four)[()])
    cosine = cosine * (np.where(wide, four, two)[()] / np.where(wide, two, four)[()])
    scale = np.pi / 2.0 * three**2 / shorter
    return Image(sine**2, cosine**2, scale)


def _wide(u: Plane, q: Number) -> tuple[Plane, Plane]:
    """Return the series of sn and cn over their constants, the wall's line along the shorter side."""
    even = 1.0 - 2.0 * q * np.cos(2.0 * u) + 2.0 * q**4 * np.cos(4.0 * u) - 2.0 * q**9 * np.cos(6.0 * u)
    sine = np.sin(u) - q**2 * np.sin(3.0 * u) + q**6 * np.sin(5.0 * u)
    cosine = np.cos(u) + q**2 * np.cos(3.0 * u) + q**6 * np.cos(5.0 * u)
    return sine / even, cosine / even


def _narrow(u: Plane, log_q: Number) -> tuple[Plane, Plane]:
    """Return the same where the wall's line is the longer side: growing terms are taken with their factor."""
    down = np.exp(-2.0 * u)
    first, second, third = (np.exp(n * n * log_q + 2.0 * n * u) for n in (1.0, 2.0, 3.0))
    twice, thrice = np.exp(2.0 * log_q + 2.0 * u), np.exp(6.0 * log_q + 4.0 * u)
    even = 1.0 - first * (1.0 + down**2) + second * (1.0 + down**4) - third * (1.0 + down**6)
    sine = 1.0 - down - twice * (1.0 - down**3) + thrice * (1.0 - down**5)
    cosine = 1.0 + down + twice * (1.0 + down**3) + thrice * (1.0 + down**5)
    return sine / cosine, 2.0 * np.exp(-u) * even / cosine


class Fragment(NamedTuple):
    """Resistance to flow of one side of a wall, and the gradient at its surface."""

    form_factor: Number
    """Head lost, over flow per unit of length and of permeability."""
    exit_gradient: Number
    """At the surface beside the wall, for a head loss of 1 m in this fragment, 1/m."""


def fragment(*, embedment: Number, thickness: Number, half_width: Number = np.inf) -> Fragment:
    r"""Return form factor and exit gradient of the ground on one side of a wall.

    .. math:: \Phi = \frac{K(m)}{K'(m)}, \qquad i = \frac{K_r}{K(m)\, m\, T}, \qquad
              m = \operatorname{sn}(K_r s/T), \quad \frac{K'_r}{K_r} = \frac{b}{T}

    Parameters
    ----------
    embedment : float or ndarray
        *s* of the wall below the surface on this side, m, above 0.
    thickness : float or ndarray
        *T* of the permeable ground below the surface on this side, m, above *s*.
    half_width : float or ndarray
        *b* from the wall to the line of symmetry, m; infinite for ground without end.

    Returns
    -------
    Fragment
        Of the broadcast shape.

    Notes
    -----
    Without end :math:`m = \sin(\pi s/2T)`, :math:`i = \pi/(2 K T m)`: Harr's. In a narrow cut both tend
    to flow straight up: :math:`\Phi = s/b`, :math:`i = 1/s`.

    References
    ----------
    Harr, M. E. (1962), Groundwater and Seepage, McGraw-Hill, chapters 4 and 5.
    """
    point = image(depth=embedment, thickness=thickness, half_width=half_width)
    # A point of the wall's line has a real image.
    at, quarter = cast(Number, point.at), ellipkm1(cast(Number, point.rest))
    return Fragment(quarter / ellipkm1(at), point.scale / (quarter * np.sqrt(at)))
