"""One number of a study, certain or uncertain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from riskcut.uncertainty import marginals
from riskcut.uncertainty.empirical import Empirical
from riskcut.uncertainty.fitting import Fit
from riskcut.uncertainty.marginal import Marginal

Kind = Literal[
    "certain",
    "normal",
    "lognormal",
    "gumbel",
    "uniform",
    "triangular",
    "truncated_normal",
    "beta",
    "gamma",
    "exponential",
    "weibull",
    "gev",
    "frechet",
    "empirical",
]
Varies = Literal["constant", "per_stage", "per_section"]
Basis = Literal["measured", "published", "judgement", "not_stated"]


@dataclass(frozen=True, slots=True)
class FromData:
    """What the distribution of a number was had from."""

    column: str
    """Of the data file; empty where the file names none."""
    values: tuple[float, ...]
    """In the number's own unit, as they stand in the file."""
    fit: Fit | None
    """None where the data are the distribution themselves (empirical)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One number of the study in its own unit; ``kind`` is ``certain`` or the name of a distribution."""

    kind: Kind
    value: float
    """The number itself where certain, else its mean."""
    unit: str
    sd: float = 0.0
    own: tuple[tuple[str, float], ...] = ()
    """Names and values of the parameters where they are not mean and sd."""
    period: float | None = None
    """Years over which it is the maximum, where it is one."""
    shared_sd: float | None = None
    """Standard deviation of the part that every stage shares (a fitted location's error, say)."""
    varies: Varies | None = None
    basis: Basis = "not_stated"
    source: str = ""
    data: str | None = None
    """File that the number was fitted to, relative to the study."""
    from_data: FromData | None = None
    """Where its distribution was had from that file here; None where it was stated."""
    above: float | None = None
    """Bound that the number must exceed."""
    at_least: float | None = None

    @property
    def uncertain(self) -> bool:
        """Whether it is a random variable."""
        return self.kind != "certain"

    @property
    def parameters(self) -> dict[str, float]:
        """What its distribution is made from, unless that is data."""
        return dict(self.own) if self.own else {"mean": self.value, "sd": self.sd}

    @property
    def marginal(self) -> Marginal:
        """Its distribution.

        Raises
        ------
        MarginalError
            Where it is certain.
        """
        if self.from_data is not None and self.from_data.fit is None:
            return Empirical(self.from_data.values)
        return marginals.make(self.kind, **self.parameters)
