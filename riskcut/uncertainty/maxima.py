"""The largest of several independent values, of the kinds for which that is exact."""

from __future__ import annotations

from riskcut.uncertainty.frechet import Frechet
from riskcut.uncertainty.gev import Gev
from riskcut.uncertainty.gumbel import Gumbel
from riskcut.uncertainty.marginal import Marginal, MarginalError

MAXIMA = ("gumbel", "gev", "frechet")
"""Kinds of which the largest of several values is of the same kind."""


def of_maximum(marginal: Marginal, periods: float) -> Marginal:
    """Return the distribution of the largest of ``periods`` independent values of a marginal: F(x)^periods.

    Parameters
    ----------
    marginal : Marginal
        Of the largest value in one period, a kind of :data:`MAXIMA`; any kind where ``periods`` is 1.
    periods : float
        1 or more.

    Returns
    -------
    Marginal
        Of the same kind.

    Raises
    ------
    MarginalError
        Where the kind is another, or ``periods`` is below 1 or not finite.
    """
    if isinstance(marginal, Gumbel | Gev | Frechet):
        return marginal.of_maximum(periods)
    if periods == 1.0:
        return marginal
    raise MarginalError(
        f"{marginal.kind}: its maximum over {periods:g} periods is of no kind; of {', '.join(MAXIMA)} it is"
    )
