"""The exact failure probabilities of the invented cut, by quadrature.

Given three to five variables the chance is in closed form: that of the head for uplift, and for the others that of a
product of lognormal numbers, which is lognormal.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from invented_cut import BEARING, CORRELATION, DEPTH, LAYER, SHEARED, SPACING, VARIABLES
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

Floats = NDArray[np.float64]


def log_parameters(*names: str) -> tuple[float, float]:
    """Return the sum of the means of the logarithms and the standard deviation of their sum."""
    variances = [math.log1p((VARIABLES[name][2] / VARIABLES[name][1]) ** 2) for name in names]
    means = [math.log(VARIABLES[name][1]) - 0.5 * v for name, v in zip(names, variances, strict=True)]
    return sum(means), math.sqrt(sum(variances))


def gumbel_parameters(name: str) -> tuple[float, float]:
    """Return location and scale."""
    _, mean, sd = VARIABLES[name]
    scale = sd * math.sqrt(6.0) / math.pi
    return mean - np.euler_gamma * scale, scale


def rule(name: str, points: int) -> tuple[Floats, Floats]:
    """Return values and weights of a variable: Gauss and Hermite in normal scores, Legendre if it is uniform.

    A name that is none is a standard normal number.
    """
    kind, first, second = VARIABLES.get(name, ("normal", 0.0, 1.0))
    if kind == "uniform":
        nodes, weights = np.polynomial.legendre.leggauss(points)
        return first + 0.5 * (second - first) * (nodes + 1.0), 0.5 * weights
    nodes, weights = np.polynomial.hermite_e.hermegauss(points)
    weights = weights / weights.sum()
    if kind == "normal":
        return first + second * nodes, weights
    if kind == "lognormal":
        mean, sd = log_parameters(name)
        return np.exp(mean + sd * nodes), weights
    location, scale = gumbel_parameters(name)
    return location - scale * np.log(-log_ndtr(nodes)), weights


def exact(points: int = 16) -> tuple[float, ...]:
    """Return the three failure probabilities."""

    def grid(*names: str) -> tuple[list[Floats], Callable[[Floats], float]]:
        rules = [rule(name, points) for name in names]
        values = np.meshgrid(*(nodes for nodes, _ in rules), indexing="ij", sparse=True)

        def mean(given: Floats) -> float:
            for _, weights in reversed(rules):
                given = given @ weights
            return float(given)

        return list(values), mean

    (shear, sand, overdig, model, score), mean = grid("shear", "sand", "overdig", "model_uplift", "")
    (_, upper, upper_sd), (_, lower, lower_sd) = VARIABLES["weight"], VARIABLES["weight_plug"]
    above, below, dug = LAYER - DEPTH - overdig, sand - LAYER, DEPTH + overdig
    a, b = above * upper_sd, below * lower_sd
    # Two tied normal numbers, and their weighted sum is one.
    weight = above * upper + below * lower + np.sqrt(a * a + b * b + 2.0 * CORRELATION * a * b) * score
    location, scale = gumbel_parameters("head")
    enough = 0.1 * model * (weight + SHEARED * shear * (sand - dug)) - sand
    uplift = mean(-np.expm1(-np.exp((location - enough) / scale)))
    (weight, overdig, surcharge), mean = grid("weight", "overdig", "surcharge")
    dug = DEPTH + overdig
    at, sd = log_parameters("model_heave", "strength")
    heave = mean(ndtr((np.log((weight * dug + surcharge) / BEARING) - at) / sd))
    at = log_parameters("prop")[0] - log_parameters("model_prop", "pressure")[0]
    sd = log_parameters("prop", "model_prop", "pressure")[1]
    load = SPACING * dug * (0.5 * weight * dug + surcharge)
    return uplift, heave, mean(ndtr((np.log(load) - at) / sd))
