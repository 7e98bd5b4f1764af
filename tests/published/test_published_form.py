"""First- and second-order reliability against published examples."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from scipy.special import log_ndtr, ndtri_exp

from riskcut.reliability.design_points import Limits, find
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.second_order import curvatures, improved_breitung
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint, normal_correlation
from riskcut.uncertainty.marginals import Lognormal, Uniform

GROUP = "form"

TIGHT = Limits(angle=1e-6, distance=1e-9)


@dataclass(frozen=True)
class Exponential:
    """Distribution of this test: x = -mean ln(1 - Phi(z))."""

    mean: float
    kind: ClassVar[str] = "exponential"

    @property
    def sd(self):
        return self.mean

    def from_normal(self, z, out=None):
        out = np.empty_like(z) if out is None else out
        np.multiply(log_ndtr(-z), -self.mean, out=out)
        return out

    def to_normal(self, x):
        return -ndtri_exp(-np.asarray(x) / self.mean)

    def quantile(self, p):
        return -self.mean * np.log1p(-np.asarray(p))

    def cdf(self, x):
        return -np.expm1(-np.asarray(x) / self.mean)

    def log_density(self, x):
        return -np.asarray(x) / self.mean - math.log(self.mean)


def space_of(joint: Joint, *margins: Callable[[np.ndarray], np.ndarray]) -> StandardSpace:
    def respond(x, which):
        return Response(margin=np.stack([margins[k](x) for k in which], axis=1))

    labels = tuple(f"g{k}" for k in range(len(margins)))
    one = Component("one", (), tuple(range(joint.columns)), labels, (True,) * len(margins), respond)
    return StandardSpace(Problem(joint, (one,)))


def uniform(mean: float, sd: float) -> Uniform:
    return Uniform(low=mean - math.sqrt(3.0) * sd, high=mean + math.sqrt(3.0) * sd)


def two_variables(inputs: Mapping[str, Any]) -> dict[str, Any]:
    joint = Joint([Uniform(low=0.0, high=inputs["high"]), Exponential(inputs["mean"])])
    space = space_of(joint, lambda x: x[:, 0] - x[:, 1])
    point = find(space, 0, 0, limits=TIGHT).points[0]
    improved = improved_breitung(point.beta, curvatures(space, 0, 0, point))
    # P(X1 < X2), the mean of exp(-x1/mean) over the range, by quadrature
    nodes, weights = np.polynomial.legendre.leggauss(40)
    exact = 0.5 * float(weights @ np.exp(-0.5 * inputs["high"] * (nodes + 1.0) / inputs["mean"]))
    return {
        "beta": point.beta,
        "u": point.u,
        "x": space.values(point.u[None, :], 0)[0],
        "beta_improved_breitung": improved.reliability_index,
        "exact_probability": exact,
    }


def fitted(a: Any, b: Any, rho: float) -> float:
    """Return the correlation of the scores as the report has it.

    Exact for two lognormals; for a lognormal and a uniform number the factor that was fitted in Liu, P.-L. &
    Der Kiureghian, A. (1986), Prob. Eng. Mech. 1(2), 105-112 (recalled; the report's beta bears it out).
    """
    if isinstance(a, Lognormal) and isinstance(b, Uniform):
        v = a.sd / a.mean
        return rho * (1.019 + 0.014 * v + 0.010 * rho**2 + 0.249 * v**2)
    return normal_correlation(a, b, rho)


def tied(inputs: Mapping[str, Any], score: Callable[[Any, Any, float], float]) -> Joint:
    marginals = [
        uniform(mean, sd) if k % 3 == 2 else Lognormal(mean=mean, sd=sd)
        for k, (mean, sd) in enumerate(zip(inputs["mean"], inputs["sd"], strict=True))
    ]
    correlation = np.eye(len(marginals))
    for first in range(0, len(marginals), 3):
        for pair, rho in zip(((0, 1), (0, 2), (1, 2)), inputs["correlation"], strict=True):
            i, j = first + pair[0], first + pair[1]
            correlation[i, j] = correlation[j, i] = score(marginals[i], marginals[j], rho)
    return Joint(marginals, correlation=correlation)


def terms(x: np.ndarray, first: int) -> np.ndarray:
    return x[:, first + 1] / (1000.0 * x[:, first + 2]) + (x[:, first] / (200.0 * x[:, first + 2])) ** 2


def one_column(x: np.ndarray) -> np.ndarray:
    return 1.0 - terms(x, 0)


def both_columns(x: np.ndarray) -> np.ndarray:
    return 1.7 - terms(x, 0) - terms(x, 3)


def column(inputs: Mapping[str, Any]) -> dict[str, Any]:
    space = space_of(tied(inputs, fitted), one_column)
    point = find(space, 0, 0, limits=TIGHT).points[0]
    kappas = curvatures(space, 0, 0, point)
    return {
        "beta": point.beta,
        "beta_exact_correlation": find(
            space_of(tied(inputs, normal_correlation), one_column), 0, 0, limits=TIGHT
        )
        .points[0]
        .beta,
        "x": space.values(point.u[None, :], 0)[0],
        "curvatures": kappas,
        "beta_second_order": improved_breitung(point.beta, kappas).reliability_index,
    }


def two_columns(inputs: Mapping[str, Any]) -> dict[str, Any]:
    space = space_of(tied(inputs, fitted), both_columns)
    point = find(space, 0, 0, limits=TIGHT).points[0]
    exact = find(space_of(tied(inputs, normal_correlation), both_columns), 0, 0, limits=TIGHT).points[0]
    return {
        "beta": point.beta,
        "beta_exact_correlation": exact.beta,
        "beta_second_order": improved_breitung(point.beta, curvatures(space, 0, 0, point)).reliability_index,
    }


def frame(inputs: Mapping[str, Any]) -> dict[str, Any]:
    hinge = Lognormal(mean=inputs["hinge"][0], sd=inputs["hinge"][1])
    loads = [Lognormal(mean=inputs[k][0], sd=inputs[k][1]) for k in ("first_load", "second_load")]
    h = inputs["height"]
    space = space_of(
        Joint([hinge] * 5 + loads),
        lambda x: x[:, 0] + x[:, 1] + x[:, 3] + x[:, 4] - h * x[:, 5],
        lambda x: x[:, 0] + 2.0 * x[:, 2] + 2.0 * x[:, 3] + x[:, 4] - h * (x[:, 5] + x[:, 6]),
        lambda x: x[:, 1] + 2.0 * x[:, 2] + x[:, 3] - h * x[:, 6],
    )
    return {"betas": [find(space, 0, k).points[0].beta for k in range(3)]}


SOLUTIONS = {"LLD-1": two_variables, "LLD-2": column, "LLD-4": two_columns, "MKL-5.9": frame}


def test_published(case: dict[str, Any], compare: Callable[..., None]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"]))
