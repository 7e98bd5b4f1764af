"""The correlation of normal scores behind a stated correlation of values (the Nataf model).

Dependence is a Gaussian copula: two variables are tied through their standard normal scores. A
correlation stated for the values themselves (Pearson) has to be carried over to the scores first; a
rank correlation (Spearman) is carried over whatever the marginals.

References
----------
.. [1] Nataf, A. (1962). Determination des distributions dont les marges sont donnees. Comptes rendus
   de l'Academie des sciences 225, 42-43.
.. [2] Liu, P.-L. & Der Kiureghian, A. (1986). Multivariate distribution models with prescribed
   marginals and covariances. Probabilistic Engineering Mechanics 1(2), 105-112.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from riskcut.uncertainty.marginals import Lognormal, Marginal, Normal, Uniform
from riskcut.uncertainty.nataf_quadrature import CorrelationOfValues, HeavyTailError

_ROUNDING = 1e-12


class DependenceError(ValueError):
    """A correlation that the variables cannot have."""

    def __init__(
        self,
        message: str,
        attainable: tuple[float, float] | None = None,
        nearest: NDArray[np.float64] | None = None,
    ) -> None:
        super().__init__(message)
        self.attainable = attainable
        """Least and greatest correlation that would do, where that is the matter."""
        self.nearest = nearest
        """The nearest correlation matrix that would do, where the matrix is the matter."""


def _describe(marginal: Marginal) -> str:
    return f"{marginal.kind} (mean {marginal.mean:g}, sd {marginal.sd:g})"


def _closed(a: Marginal, b: Marginal, rho: float) -> tuple[float, float, float] | None:
    """Correlation of the scores (beyond +-1, or NaN, where not attainable) and the attainable range."""
    if isinstance(a, Normal) and isinstance(b, Normal):
        return rho, -1.0, 1.0
    if isinstance(a, Lognormal) and isinstance(b, Lognormal):
        product = a.log_sd * b.log_sd
        spreads = (a.sd / a.mean) * (b.sd / b.mean)
        low, high = math.expm1(-product) / spreads, math.expm1(product) / spreads
        inside = rho * spreads
        return (math.log1p(inside) / product if inside > -1.0 else math.nan), low, high
    if isinstance(a, Lognormal) and isinstance(b, Normal):
        a, b = b, a
    if isinstance(a, Normal) and isinstance(b, Lognormal):
        reach = b.log_sd * b.mean / b.sd
        return rho / reach, -reach, reach
    if isinstance(a, Uniform) and isinstance(b, Uniform):
        return 2.0 * math.sin(math.pi * rho / 6.0), -1.0, 1.0
    return None


def _curve(a: Marginal, b: Marginal) -> CorrelationOfValues:
    for marginal in (a, b):
        if hasattr(marginal, "least_probability"):
            raise DependenceError(
                f"a correlation of values with {_describe(marginal)} is not solved for: its steps are those of "
                "its sample; a rank correlation will do"
            )
    try:
        return CorrelationOfValues(a, b)
    except HeavyTailError:
        raise DependenceError(
            f"a correlation of values between {_describe(a)} and {_describe(b)} cannot be solved for: so much of "
            "the variance lies in so few values; a rank correlation will do"
        ) from None


def normal_correlation(a: Marginal, b: Marginal, rho: float) -> float:
    """Return the correlation of the normal scores that gives the values the correlation ``rho``.

    Parameters
    ----------
    a, b : Marginal
        The two variables; the order does not matter.
    rho : float
        Pearson correlation of their values.

    Returns
    -------
    float
        Correlation in standard normal space, -1 to 1; exactly 0 for 0.

    Raises
    ------
    DependenceError
        Where no dependence of this kind gives these two marginals that correlation; the message and
        ``attainable`` tell the range that can be had.

    Notes
    -----
    Closed form for pairs of normal and lognormal variables and of two uniform ones [2]_; otherwise the
    double integral over panels and its root, right to 1e-8. Kept to exact integrals rather than the
    published fitted factors, which are within some 1 %.
    """
    if not (math.isfinite(rho) and abs(rho) <= 1.0):
        raise DependenceError(f"a correlation lies between -1 and 1, not at {rho:g}", (-1.0, 1.0))
    if rho == 0.0:
        return 0.0
    known = _closed(a, b, rho)
    if known is not None:
        result, low, high = known
    else:
        curve = _curve(a, b)
        low, high = max(-1.0, curve(-1.0)), min(1.0, curve(1.0))
        if curve(-1.0) < rho < curve(1.0):
            result = float(brentq(lambda r: curve(r) - rho, -1.0, 1.0, xtol=1e-12, rtol=1e-12))
        elif low - _ROUNDING <= rho <= high + _ROUNDING:
            result = math.copysign(1.0, rho)  # an end of the range, to rounding
        else:
            result = math.nan
    if not abs(result) <= 1.0 + _ROUNDING:
        raise DependenceError(
            f"a correlation of {rho:g} between {_describe(a)} and {_describe(b)} cannot be had; "
            f"from {low:.4g} to {high:.4g} will do",
            (low, high),
        )
    return min(1.0, max(-1.0, result))


def normal_correlation_of_rank(rho_s: float) -> float:
    """Return the correlation of the normal scores for a Spearman rank correlation: 2 sin(pi rho_s / 6).

    Exact for a Gaussian copula, whatever the marginals (Pearson 1907).

    Raises
    ------
    DependenceError
        Where ``rho_s`` does not lie between -1 and 1.
    """
    if not (math.isfinite(rho_s) and abs(rho_s) <= 1.0):
        raise DependenceError(f"a rank correlation lies between -1 and 1, not at {rho_s:g}", (-1.0, 1.0))
    return 2.0 * math.sin(math.pi * rho_s / 6.0)
