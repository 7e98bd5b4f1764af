"""Second-order reliability: the limit surface taken as a paraboloid about its design point.

About a design point at distance beta the margin is, in units of its gradient and in rotated coordinates,
beta - v_m + sum kappa_i v_i^2/2. The principal curvatures kappa are positive where the surface bends away
from the origin, so that the failure probability is less than Phi(-beta). Where the origin fails (beta < 0) the
formulae are those of the complement, of the same paraboloid seen from the other side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import null_space
from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtr, ndtri

from riskcut.reliability.design_point import DesignPoint
from riskcut.reliability.standard_space import StandardSpace

Floats = NDArray[np.float64]

_STEP = 3e-3
"""Of the second differences, in standard deviations: truncation and rounding are both some 1e-6."""
_NODES = 4000
_SPAN = 9.0


@dataclass(frozen=True)
class SecondOrder:
    """A second-order failure probability, or why there is none."""

    failure_probability: float
    """NaN where it is refused."""
    reliability_index: float
    """-Phi^-1 of the probability."""
    reason: str
    """Empty unless refused."""


def curvatures(
    space: StandardSpace, component: int, limit_state: int, point: DesignPoint, *, step: float = _STEP
) -> Floats:
    """Return the principal curvatures of a limit surface at a design point.

    Parameters
    ----------
    space : StandardSpace
    component, limit_state : int
        Places in the space and in the component.
    point : DesignPoint
    step : float
        Of the differences, standard deviations.

    Returns
    -------
    ndarray, (m - 1,)
        Eigenvalues of the Hessian of the margin within the tangent plane over the length of the gradient, in
        ascending order, per standard deviation. All NaN at a kink, which has none, and where a row is impossible.

    Notes
    -----
    Second differences along a basis of the tangent plane and between its pairs, k (k + 1) + 1 rows in one call for the
    k + 1 variables that the margin's slope at the point depends on; variables without slope have no curvature.
    """
    m = space.dimension
    result = np.full(max(m - 1, 0), np.nan)
    if point.kind != "point" or point.gradient_norm == 0.0:
        return result
    active = np.flatnonzero(point.alpha)
    tangents = np.zeros((max(len(active) - 1, 0), m))
    if len(active) > 1:
        tangents[:, active] = null_space(point.alpha[np.newaxis, active]).T
    k = len(tangents)
    result[:] = 0.0
    if k == 0:
        return result
    first, second = np.triu_indices(k, 1)
    both = tangents[first] + tangents[second]
    moves = np.concatenate((np.zeros((1, m)), tangents, -tangents, both, -both))
    # On the surface itself, whatever small distance the search left.
    found = space.margins(point.beta * point.alpha + step * moves, component, (limit_state,))[:, 0]
    middle, ahead, behind = found[0], found[1 : k + 1], found[k + 1 : 2 * k + 1]
    out, back = np.split(found[2 * k + 1 :], 2)
    hessian = np.zeros((k, k))
    mixed = out + back - ahead[first] - behind[first] - ahead[second] - behind[second] + 2.0 * middle
    hessian[first, second] = 0.5 * mixed
    hessian += hessian.T
    hessian[np.arange(k), np.arange(k)] = ahead - 2.0 * middle + behind
    hessian /= step**2 * point.gradient_norm
    if not np.all(np.isfinite(hessian)):
        return np.full(m - 1, np.nan)
    result[:k] = np.linalg.eigvalsh(hessian)
    return np.sort(result)


def breitung(beta: float, kappas: ArrayLike) -> SecondOrder:
    """Return Phi(-beta) prod (1 + beta kappa_i)^(-1/2), asymptotically exact for large beta [1]_.

    Parameters
    ----------
    beta : float
    kappas : array_like, (k,)

    Returns
    -------
    SecondOrder
        Refused where 1 + beta kappa_i <= 0: the surface is bent towards the origin so much that the point is not
        the nearest one.

    References
    ----------
    .. [1] Breitung, K. (1984). Asymptotic approximations for multinormal integrals. J. Eng. Mech. 110(3), 357-366.
    """
    return _product(beta, kappas, abs(beta))


def improved_breitung(beta: float, kappas: ArrayLike) -> SecondOrder:
    """Return Phi(-beta) prod (1 + psi(beta) kappa_i)^(-1/2) with psi = phi(beta)/Phi(-beta) [1]_.

    Parameters and refusals as in :func:`breitung`, with psi for beta.

    References
    ----------
    .. [1] Hohenbichler, M. & Rackwitz, R. (1988). Improvement of second-order reliability estimates by importance
       sampling. J. Eng. Mech. 114(12), 2195-2199.
    """
    far = abs(beta)
    return _product(
        beta, kappas, math.exp(-0.5 * far * far - float(log_ndtr(-far))) / math.sqrt(2.0 * math.pi)
    )


def tvedt(beta: float, kappas: ArrayLike) -> SecondOrder:
    """Return the probability of the paraboloid itself, by one integral [1]_.

    Parameters
    ----------
    beta : float
    kappas : array_like, (k,)

    Returns
    -------
    SecondOrder
        Refused only where a number is not finite: a paraboloid has a probability whatever its curvatures. Where
        1 + beta kappa_i <= 0 it is a poor likeness of a surface whose nearest point lies elsewhere.

    Notes
    -----
    P(G < 0) = (1/2 pi i) integral over c - i inf to c + i inf of exp(s^2/2 - s beta) prod (1 + s kappa_i)^(-1/2)/s ds,
    0 < c below the least -1/kappa_i, taken through the saddle of the integrand, so that nothing cancels in far
    tails. The trapezoidal rule converges faster than any power there.

    References
    ----------
    .. [1] Tvedt, L. (1990). Distribution of quadratic forms in normal space: application to structural
       reliability. J. Eng. Mech. 116(6), 1183-1197.
    """
    k = np.asarray(kappas, dtype=np.float64)
    if not (math.isfinite(beta) and np.all(np.isfinite(k))):
        return _refused("an index or a curvature is not a finite number")
    if beta < 0.0:
        return _complement(tvedt(-beta, -k))
    end = -1.0 / float(k.min()) if k.size and k.min() < 0.0 else math.inf

    def slope(s: float) -> float:
        return s - beta - 0.5 * float((k / (1.0 + s * k)).sum()) - 1.0 / s

    low = 1e-12
    high = end * (1.0 - 1e-12) if math.isfinite(end) else beta + 2.0 + 0.5 * float(np.abs(k).sum())
    saddle = float(brentq(slope, low, high)) if slope(high) > 0.0 else high
    bend = 1.0 + 1.0 / saddle**2 + 0.5 * float(((k / (1.0 + saddle * k)) ** 2).sum())
    # A step that is fine for the Gaussian of the saddle, up to where exp(-t^2/2) has gone.
    t = np.linspace(0.0, _SPAN, max(_NODES, int(40.0 * _SPAN * math.sqrt(bend))) + 1)
    s = saddle + 1j * t
    at_saddle = 0.5 * saddle**2 - saddle * beta - 0.5 * float(np.log1p(saddle * k).sum())
    logs = 0.5 * s * s - s * beta - 0.5 * np.log(1.0 + s[:, np.newaxis] * k).sum(axis=1) - at_saddle
    values = (np.exp(logs) / s).real
    integral = float(values.sum() - 0.5 * (values[0] + values[-1])) * (t[1] - t[0]) / math.pi
    return _answer(math.exp(at_saddle) * integral)


def _product(beta: float, kappas: ArrayLike, scale: float) -> SecondOrder:
    """Return Phi(-|beta|) prod (1 + scale kappa)^(-1/2), or its complement where beta < 0."""
    k = np.asarray(kappas, dtype=np.float64)
    if not (math.isfinite(beta) and np.all(np.isfinite(k))):
        return _refused("an index or a curvature is not a finite number")
    factors = 1.0 + scale * (k if beta >= 0.0 else -k)
    if np.any(factors <= 0.0):
        return _refused(
            f"1 + {scale:.4g} kappa is {float(factors.min()):.3g} in one direction, not above zero: the surface bends "
            "so much that the point is not the nearest of it"
        )
    p = float(ndtr(-abs(beta)) / np.sqrt(factors).prod())
    if p >= 1.0:
        return _refused(f"the formula gives a probability of {p:.3g}")
    return _answer(p) if beta >= 0.0 else _complement(_answer(p))


def _answer(p: float) -> SecondOrder:
    return SecondOrder(p, float(-ndtri(p)), "")


def _complement(answer: SecondOrder) -> SecondOrder:
    return SecondOrder(1.0 - answer.failure_probability, -answer.reliability_index, answer.reason)


def _refused(reason: str) -> SecondOrder:
    return SecondOrder(math.nan, math.nan, reason)
