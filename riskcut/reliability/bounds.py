"""First-order bounds of the probability that any of several limit states fails."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from riskcut.reliability.bivariate_normal import bivariate

__all__ = ["MOST_COMPONENTS", "UnionBounds", "bivariate", "ditlevsen"]

Floats = NDArray[np.float64]

MOST_COMPONENTS = 30
"""Whose pairs are looked at, the likeliest first; the rest enter the upper bound with their whole probability."""


@dataclass(frozen=True)
class UnionBounds:
    """Bounds of a union of linearised limit states."""

    lower: float
    upper: float
    order: NDArray[np.intp]
    """(n,), components by falling probability: the bounds depend on the order, and this one is narrow."""
    probabilities: Floats
    """(n,), Phi(-beta) of the components as given."""


def ditlevsen(betas: ArrayLike, alphas: ArrayLike) -> UnionBounds:
    """Return Ditlevsen's bounds of the failure probability of a series system [1]_.

    Parameters
    ----------
    betas : array_like, (n,)
        Reliability indices of the n components.
    alphas : array_like, (n, m)
        Their unit vectors into the failure sets, in one space; the components' correlations are alpha_i.alpha_j.

    Returns
    -------
    UnionBounds
        With p_i = Phi(-beta_i) in falling order and p_ij = Phi_2(-beta_i, -beta_j, rho_ij):
        p_1 + sum_i max(0, p_i - sum_{j<i} p_ij) to sum_i p_i - sum_i max_{j<i} p_ij. They bound the union of
        the *linearised* components, and so are first order; exact for two.

    Raises
    ------
    ValueError
        Where there is no component, shapes disagree or an alpha is not of length one.

    References
    ----------
    .. [1] Ditlevsen, O. (1979). Narrow reliability bounds for structural systems. J. Struct. Mech. 7(4), 453-472.
    """
    beta = np.asarray(betas, dtype=np.float64)
    alpha = np.asarray(alphas, dtype=np.float64)
    if beta.ndim != 1 or not beta.size or alpha.ndim != 2 or len(alpha) != len(beta):
        raise ValueError(f"betas (n,) and alphas (n, m) are wanted, not {beta.shape} and {alpha.shape}")
    if np.any(np.abs((alpha**2).sum(axis=1) - 1.0) > 1e-6):
        raise ValueError("an alpha is not of length one")
    each = ndtr(-beta)
    order = np.argsort(beta, kind="stable")
    first, rest = order[:MOST_COMPONENTS], order[MOST_COMPONENTS:]
    p = each[first]
    correlation = np.clip(alpha[first] @ alpha[first].T, -1.0, 1.0)
    lower = upper = float(p[0])
    for i in range(1, len(first)):
        both = [bivariate(-beta[first[i]], -beta[first[j]], float(correlation[i, j])) for j in range(i)]
        lower += max(0.0, float(p[i]) - sum(both))
        upper += max(0.0, float(p[i]) - max(both))
    upper += float(each[rest].sum())
    return UnionBounds(lower, min(upper, 1.0), order, np.asarray(each))
