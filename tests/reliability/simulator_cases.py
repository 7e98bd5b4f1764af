"""Failures with exact probabilities, for the tests of the simulators."""

from __future__ import annotations

import math

import numpy as np
from reliability_cases import STANDARD, component, margins, single
from scipy import integrate, special, stats

from riskcut.reliability.answer import Failing
from riskcut.reliability.intervals import proportion
from riskcut.reliability.problem import Problem
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint


def failure(function, dimension):
    """Of one margin of independent standard normals."""
    return Failing.of_limit_state(StandardSpace(single(margins(function), dimension)))


def linear(probability, dimension):
    beta = stats.norm.isf(probability)
    return failure(lambda x: beta - x.sum(axis=1) / math.sqrt(dimension), dimension)


def sphere(radius, dimension):
    """Failure outside a sphere, and its probability."""
    return (
        failure(lambda x: radius - np.sqrt(np.square(x).sum(axis=1)), dimension),
        stats.chi2.sf(radius**2, dimension),
    )


def parabola(beta, curvature, dimension):
    """Failure beyond a paraboloid about the first axis, and its probability by quadrature."""
    exact, _ = integrate.quad(
        lambda q: stats.chi2.pdf(q, dimension - 1) * stats.norm.sf(beta + 0.5 * curvature * q),
        0.0,
        200.0,
        epsabs=0.0,
        epsrel=1e-9,
        limit=500,
        points=[0.1, 1.0, 3.0, 10.0, 30.0],
    )

    def margin(x):
        return beta + 0.5 * curvature * np.square(x[:, 1:]).sum(axis=1) - x[:, 0]

    return failure(margin, dimension), exact


def two_sided(beta, dimension):
    return failure(lambda x: beta - np.abs(x[:, 0]), dimension), 2.0 * stats.norm.sf(beta)


FOUR_BRANCH = 2.222795e-3
"""Of the series system of four branches (k = 7), verified by quadrature."""


def four_branches():
    """The four branches as four governing limit states of one component, and their union."""
    root = math.sqrt(2.0)

    def bent(sign):
        return lambda x: 3.0 + 0.1 * np.square(x[:, 0] - x[:, 1]) + sign * (x[:, 0] + x[:, 1]) / root

    def straight(sign):
        return lambda x: sign * (x[:, 0] - x[:, 1]) + 7.0 / root

    problem = single(
        margins(bent(-1.0), bent(1.0), straight(1.0), straight(-1.0)), 2, labels=("a", "b", "c", "d")
    )
    return Failing.of_union(StandardSpace(problem))


HUNDRED_DIMENSIONS = 3.769436e-4


def hundred_dimensions():
    """RP63: 0.1 (x2^2 + ... + x100^2) - x1 - 4.5; the definition is recalled, its probability confirms it."""
    exact, _ = integrate.quad(
        lambda q: stats.chi2.pdf(q, 99) * stats.norm.cdf(4.5 - 0.1 * q),
        0.0,
        250.0,
        epsabs=0.0,
        epsrel=1e-10,
        points=[45.0, 60.0, 80.0, 99.0],
    )
    assert abs(exact / HUNDRED_DIMENSIONS - 1.0) < 2e-7
    return failure(lambda x: 0.1 * np.square(x[:, 1:]).sum(axis=1) - x[:, 0] - 4.5, 100)


class Exponential:
    """Of mean 1; a marginal from outside the package."""

    kind = "exponential"
    mean = sd = 1.0

    def from_normal(self, z, out=None):
        x = -special.log_ndtr(-np.asarray(z))
        if out is None:
            return x
        out[...] = x
        return out


def exponentials(probability, dimension):
    """The sum of exponentials, gamma distributed, above the value that it exceeds so often."""
    limit = stats.gamma.isf(probability, dimension)
    problem = Problem(
        Joint([Exponential()] * dimension),
        (component("one", margins(lambda x: limit - x.sum(axis=1)), columns=range(dimension)),),
    )
    return Failing.of_limit_state(StandardSpace(problem))


def impossible_above(beta, limit):
    """beta - x0, impossible where x1 lies above a limit: failing and possible, and impossible and not failing."""

    def margin(x):
        g = beta - x[:, 0]
        g[x[:, 1] > limit] = np.nan
        return g

    return failure(margin, 2), stats.norm.sf(beta), stats.norm.sf(limit)


NEVER = failure(lambda x: 5.0 + np.abs(x[:, 0]), 2)
ALWAYS = failure(lambda x: -5.0 - np.abs(x[:, 0]), 2)
CONSTANT = failure(lambda x: np.full(len(x), 2.0), 2)
UNKNOWN = failure(lambda x: np.full(len(x), np.nan), 2)
STEP = failure(lambda x: np.where(x[:, 0] > 3.0, -1.0, 1.0), 2)
STAIRS = failure(lambda x: np.ceil(2.0 * (4.0 - x[:, 0])) - 0.5, 2)


def nothing_uncertain(value):
    problem = Problem(
        Joint([STANDARD]), (component("one", lambda x, which: _constant(x, which, value), columns=()),)
    )
    return Failing.of_limit_state(StandardSpace(problem))


def _constant(x, which, value):
    return margins(lambda x: np.full(len(x), value))(x, which)


def counted(function, dimension):
    """The same as ``failure``, and a list to which every call adds its rows."""
    seen: list[int] = []

    def margin(x):
        seen.append(len(x))
        return function(x)

    return failure(margin, dimension), seen


def close(answer, exact, errors=4.0):
    """Whether the answer lies within so many of its own standard errors."""
    return abs(answer.failure_probability - exact) <= errors * answer.standard_error + 1e-4 * exact


def coverage(run, exact, seeds):
    """Print and return (covered, upper end of its 99.99 % band, true over claimed spread, bias in spreads)."""
    answers = [run(seed) for seed in seeds]
    p = np.array([answer.failure_probability for answer in answers])
    bounds = np.array([answer.bounds for answer in answers])
    inside = int(np.count_nonzero((bounds[:, 0] <= exact) & (exact <= bounds[:, 1])))
    low, high = proportion(inside, len(p), 0.9999)
    # The claim is a mean of variances: that is what is unbiased.
    claimed = math.sqrt(np.mean([answer.standard_error**2 for answer in answers]))
    ratio = float(p.std(ddof=1)) / claimed
    bias = float(p.mean() / exact - 1.0)
    print(
        f"coverage {inside / len(p):.3f} ({low:.3f} to {high:.3f}), bias {100 * bias:.2f} %, "
        f"spread: true {p.std(ddof=1) / exact:.4f}, claimed {claimed / exact:.4f}"
    )
    return inside / len(p), float(high), ratio, float((p.mean() - exact) / (p.std() / math.sqrt(len(p))))
