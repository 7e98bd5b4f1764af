"""The published reliability problems are what they are said to be, before any method is judged by them.

Three ways: the verified probability is had again in closed form or by quadrature, from the text of the problem;
the definition has it too, by an importance sample written here; and its distributions and margin are those that
openturns makes of the published formula, row by row. No engine of ours is asked.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import openturns as ot
import pytest
from reliability_problems import PROBLEMS, Published
from scipy import integrate, optimize, special, stats

GROUP = "reliability_problems"
ROOT_2, ROOT_3 = math.sqrt(2.0), math.sqrt(3.0)
above = stats.norm.sf


def over_normal(
    given: Callable[[float], float], *breaks: float, low: float = -12.0, high: float = 12.0
) -> float:
    """The mean of a function of a standard normal variable, between two bounds; ``breaks`` are its kinks."""
    edges = sorted({low, high, *(b for b in (*np.arange(-11.0, 12.0), *breaks) if low < b < high)})
    pieces = [
        integrate.quad(lambda z: given(z) * stats.norm.pdf(z), a, b, epsabs=1e-17, epsrel=1e-11, limit=200)[0]
        for a, b in pairwise(edges)
    ]
    return math.fsum(pieces)


def within(low: float, high: float) -> float:
    return float(max(stats.norm.cdf(high) - stats.norm.cdf(low), 0.0))


# -- the probabilities afresh -----------------------------------------------------------------


def rp8() -> float:
    """By discrete Fourier transform: the density of resistance less one load, then the chance of the other."""
    step, count = 0.125, 2**15
    amounts = step * np.arange(count)

    def density(mean: float, sd: float, times: float) -> np.ndarray:
        variance = math.log1p((sd / mean) ** 2)
        with np.errstate(divide="ignore"):
            z = (np.log(amounts / times / mean) + 0.5 * variance) / math.sqrt(variance)
        return stats.norm.pdf(z) / (math.sqrt(variance) * np.maximum(amounts, step))

    once, twice = (np.fft.rfft(density(120.0, 12.0, times)) for times in (1.0, 2.0))
    load = np.conj(np.fft.rfft(density(50.0, 10.0, 5.0)))
    left = np.fft.irfft(once**2 * twice**2 * load) * step**4
    amounts[count // 2 :] -= step * count  # the second half of the circle: the first load alone exceeds
    variance = math.log1p(0.2**2)
    safe = np.maximum(amounts, 1e-9)
    chance = above((np.log(safe / 5.0 / 40.0) + 0.5 * variance) / math.sqrt(variance))
    return float(step * np.sum(left * chance))


def rp28() -> float:
    def given(z: float) -> float:
        second = 0.0104 + 0.00156 * z
        need = (146.14 / second - 78064.0) / 11710.0
        return float(stats.norm.cdf(need) if second > 0.0 else above(need))

    return over_normal(given, -0.0104 / 0.00156)


def rp35() -> float:
    def first(x: float) -> float:
        return 2.0 + math.exp(-0.1 * x * x) + (0.2 * x) ** 4

    def given(x: float) -> float:
        if x <= 0.0:
            return float(above(first(x)) + (stats.norm.cdf(4.5 / x) if x < 0.0 else 0.0))
        return float(above(min(first(x), 4.5 / x)))

    crossings = [
        optimize.brentq(lambda x: x * first(x) - 4.5, a, b, xtol=1e-14)
        for a, b in ((1.0, 4.0), (4.0, 12.0))
        if (a * first(a) - 4.5) * (b * first(b) - 4.5) < 0.0
    ]
    return over_normal(given, 0.0, *crossings)


def rp38() -> float:
    """The first variable in closed form, the rest by Gauss and Hermite."""
    counts = (40, 40, 4, 16, 4, 2)
    means = (50.8, 3.81, 173.0, 9.38, 33.1, 0.036)
    rules = [np.polynomial.hermite_e.hermegauss(count) for count in counts]
    b, c, d, e, f, g = np.meshgrid(
        *(mean * (1.0 + 0.1 * nodes) for mean, (nodes, _) in zip(means, rules, strict=True)),
        indexing="ij",
        sparse=True,
    )
    stiff = (
        d * e * (d + f * (1.0 + 2.0 * g)) / (d * d + d * (f + 4.0 * e + 2.0 * f * g) - 4.0 * e * f * g * g)
    )
    fails = special.ndtr(10.0 - 155_900.0 * 2.0 / 35.0 * (c / b) ** 3 * stiff)
    for _, weights in reversed(rules):
        fails = fails @ (weights / weights.sum())
    return float(fails)


def rp55() -> float:
    """The difference of two uniform numbers is triangular: P(|d| <= a) = 1 - (1 - a/2)^2."""
    roots = np.roots([0.6, 0.0, 0.0, -1.0 / ROOT_2, 0.2])
    low, high = sorted(roots[np.abs(roots.imag) < 1e-9].real)
    ends = np.array([low, high, 5.0 / ROOT_2 - 2.2])
    beyond = (1.0 - 0.5 * ends) ** 2
    return float(beyond[0] - beyond[1] + beyond[2])


def rp57() -> float:
    """Between the cubic and the line, or in the circle; the two do not overlap."""
    start = optimize.brentq(lambda x: np.cbrt(x * x - 3.0) - (2.0 - x) / 8.0, 1.0, 5.0, xtol=1e-14)
    mirror = optimize.brentq(lambda x: np.cbrt(x * x - 3.0) - (2.0 - x) / 8.0, -5.0, -1.0, xtol=1e-14)
    between = over_normal(
        lambda x: within((2.0 - x) / 8.0, float(np.cbrt(x * x - 3.0))), start, mirror, -ROOT_3, ROOT_3
    )

    def circle(angle: float) -> float:
        x, half = 2.0 * math.sin(angle) - 3.0, 2.0 * math.cos(angle)
        return within(-3.0 - half, -3.0 + half) * float(stats.norm.pdf(x)) * half

    return between + float(integrate.quad(circle, -0.5 * math.pi, 0.5 * math.pi, epsrel=1e-11)[0])


def rp63() -> float:
    return float(
        integrate.quad(
            lambda q: stats.chi2.pdf(q, 99) * stats.norm.cdf(4.5 - 0.1 * q),
            0.0,
            250.0,
            points=[40.0, 60.0, 80.0, 120.0],
            epsabs=0.0,
            epsrel=1e-10,
        )[0]
    )


def product_beyond(limit: float) -> float:
    """Chance that two standard normals of one sign have a product above a limit."""
    return 2.0 * over_normal(lambda x: float(above(limit / x)) if x > 0.0 else 0.0, low=0.0)


RP25_START = 64.0 - math.sqrt(64.0**2 - 272.0)
RP89_CROSSINGS = np.roots([1.0, -0.2, -2.0])

AFRESH: dict[str, Callable[[], float]] = {
    "RP8": rp8,
    "RP22": lambda: over_normal(lambda t: float(above(2.5 + 0.2 * t * t))),
    "RP24": lambda: over_normal(
        lambda t: float(above((2.5 + 0.00463 * (3.0 * ROOT_2 * t) ** 4) / (0.2357 * 3.0 * ROOT_2)))
    ),
    "RP25": lambda: over_normal(lambda x: within(2.0 + x * x / 8.0, 16.0 * x - 32.0), low=RP25_START),
    "RP28": rp28,
    "RP31": lambda: over_normal(lambda x: float(above(2.0 + 256.0 * x**4))),
    "RP33": lambda: over_normal(lambda x: float(above((3.0 * ROOT_3 - x) / ROOT_2)), high=3.0) + above(3.0),
    "RP35": rp35,
    "RP38": rp38,
    "RP54": lambda: float(special.gammainc(20.0, 8.951)),
    "RP55": rp55,
    "RP57": rp57,
    "RP63": rp63,
    "RP75": lambda: product_beyond(3.0),
    "RP89": lambda: over_normal(lambda x: float(above(min(8.0 - x * x, 6.0 - 0.2 * x))), *RP89_CROSSINGS),
    "RP107": lambda: float(above(5.0)),
    "RP110": lambda: float(above(4.0) + above(5.0) - above(4.0) * above(5.0)),
    "RP111": lambda: 2.0 * product_beyond(12.5),
    "four-branch": lambda: (
        2.0 * over_normal(lambda t: float(above(3.0 + 0.2 * t * t)), low=-3.5, high=3.5) + 2.0 * above(3.5)
    ),
}


def test_probability(case: dict[str, Any], compare: Callable[..., None]) -> None:
    probability = AFRESH[case["id"]]()
    departure = 100.0 * (case["inputs"]["shipped"] / probability - 1.0)
    compare(case, {"failure_probability": probability, "shipped_departure_percent": departure})
    assert case["inputs"]["dimension"] == PROBLEMS[case["id"]].dimension


# -- the definitions --------------------------------------------------------------------------

CENTRES: dict[str, list[list[float]]] = {
    "RP8": [[-0.45, -0.9, -0.9, -0.45, 1.9, 1.5]],
    "RP22": [[1.8, 1.8]],
    "RP24": [[1.8, -1.8]],
    "RP25": [[2.5, 3.0]],
    "RP28": [[-3.8, -3.8], [0.0, -5.4], [-5.4, 0.0]],
    "RP31": [[0.0, 2.0]],
    "RP33": [[ROOT_3] * 3, [0.0, 0.0, 3.0]],
    "RP35": [[0.0, 3.0], [2.1, 2.1], [-2.1, -2.1]],
    "RP38": [[0.5, 1.6, -1.6, 0.0, -0.5, 0.0, 0.0]],
    "RP54": [[-0.7] * 20],
    "RP55": [],
    "RP57": [],
    "RP63": [[2.2] + [0.0] * 99],
    "RP75": [[1.7, 1.7], [-1.7, -1.7]],
    "RP89": [[2.7, 0.5], [-2.7, 0.5]],
    "RP107": [[1.58] * 10],
    "RP110": [[4.0, 0.0], [0.0, 5.0]],
    "RP111": [[3.5, 3.5], [-3.5, 3.5], [3.5, -3.5], [-3.5, -3.5]],
    "four-branch": [[2.1, 2.1], [-2.1, -2.1], [2.5, -2.5], [-2.5, 2.5]],
}
"""Where failure is likely, in normal scores, by eye."""
SPREAD = {"RP25": np.full(2, 0.5), "RP31": np.array([0.4, 1.0]), "RP63": np.array([1.0] + [0.82] * 99)}
"""Of the rows about a centre, where not one."""

published = pytest.mark.parametrize("one", PROBLEMS.values(), ids=PROBLEMS.keys())


def importance_sample(one: Published, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """Rows (n, d) from equal parts of the nominal density and of normals about the centres; their weights."""
    generator = np.random.Generator(np.random.PCG64(2019))
    spread = SPREAD.get(one.id, np.ones(one.dimension))
    parts = [(np.zeros(one.dimension), np.ones(one.dimension))]
    parts += [(np.array(centre), spread) for centre in CENTRES[one.id]]
    each = [at + by * generator.standard_normal((rows // len(parts), one.dimension)) for at, by in parts]
    u = np.concatenate(each)
    nominal = -0.5 * np.square(u).sum(axis=1)
    logs = [-0.5 * np.square((u - at) / by).sum(axis=1) - np.log(by).sum() - nominal for at, by in parts]
    return u, 1.0 / np.mean(np.exp(logs), axis=0)


@published
def test_definition_has_that_probability(one: Published) -> None:
    rows = 40_000 if one.dimension > 50 else 200_000
    u, weight = importance_sample(one, rows)
    whole, parts = one.problem, one.in_parts
    x = whole.joint.physical(u)
    margin = whole.components[0].margins(x, [0])[:, 0]
    values = weight * (margin < 0.0)
    # A bound: the rows come from each part in fixed number, which makes the error of their mean smaller.
    error = values.std(ddof=1) / math.sqrt(len(values))
    print(f"{one.id}: verified {one.probability:.7g}, sampled {values.mean():.5g}, error {error:.2g}")
    assert error < 0.015 * one.probability
    assert abs(values.mean() - one.probability) < 4.0 * error
    count = len(parts.components[0].labels)
    least = parts.components[0].margins(x, range(count)).min(axis=1)
    np.testing.assert_array_equal(least, margin)


@published
def test_impossible_rows_are_none(one: Published) -> None:
    """Far out in every direction the margin is a number."""
    directions = np.random.Generator(np.random.PCG64(8)).standard_normal((500, one.dimension))
    u = 9.0 * directions / np.linalg.norm(directions, axis=1, keepdims=True)
    margin = one.problem.components[0].margins(one.problem.joint.physical(u), [0])
    assert np.isfinite(margin).all()


# -- another library's reading ----------------------------------------------------------------


def summed(count: int, term: str, first: int = 1) -> str:
    return " + ".join(term.format(k) for k in range(first, count + 1))


TWO_NORMALS = [ot.Normal()] * 2


def lognormal(mean: float, sd: float) -> ot.Distribution:
    return ot.ParametrizedDistribution(ot.LogNormalMuSigma(mean, sd, 0.0))


OPENTURNS: dict[str, tuple[list[ot.Distribution], str]] = {
    "RP8": (
        [lognormal(120.0, 12.0)] * 4 + [lognormal(50.0, 10.0), lognormal(40.0, 8.0)],
        "x1 + 2 * x2 + 2 * x3 + x4 - 5 * x5 - 5 * x6",
    ),
    "RP22": (TWO_NORMALS, "2.5 - 1 / sqrt(2) * (x1 + x2) + 0.1 * (x1 - x2)^2"),
    "RP24": ([ot.Normal(10.0, 3.0)] * 2, "2.5 - 0.2357 * (x1 - x2) + 0.00463 * (x1 + x2 - 20)^4"),
    "RP25": (TWO_NORMALS, "max(x1^2 - 8 * x2 + 16, -16 * x1 + x2 + 32)"),
    "RP28": ([ot.Normal(78064.0, 11710.0), ot.Normal(0.0104, 0.00156)], "x1 * x2 - 146.14"),
    "RP31": (TWO_NORMALS, "2 - x2 + 256 * x1^4"),
    "RP33": ([ot.Normal()] * 3, "min(-x1 - x2 - x3 + 3 * sqrt(3), -x3 + 3)"),
    "RP35": (TWO_NORMALS, "min(2 - x2 + exp(-0.1 * x1^2) + (0.2 * x1)^4, 4.5 - x1 * x2)"),
    "RP38": (
        [
            ot.Normal(mean, sd)
            for mean, sd in (
                (350.0, 35.0),
                (50.8, 5.08),
                (3.81, 0.381),
                (173.0, 17.3),
                (9.38, 0.938),
                (33.1, 3.31),
                (0.036, 0.0036),
            )
        ],
        "15.59e4 - x1 * x2^3 / (2 * x3^3) * ((x4^2 - 4 * x5 * x6 * x7^2 + x4 * (x6 + 4 * x5 + 2 * x6 * x7))"
        " / (x4 * x5 * (x4 + x6 + 2 * x6 * x7)))",
    ),
    "RP54": ([ot.Exponential(1.0)] * 20, summed(20, "x{}") + " - 8.951"),
    "RP55": (
        [ot.Uniform(-1.0, 1.0)] * 2,
        "min(min(0.2 + 0.6 * (x1 - x2)^4 - (x1 - x2) / sqrt(2), 0.2 + 0.6 * (x1 - x2)^4 + (x1 - x2) / sqrt(2)),"
        " min((x1 - x2) + 5 / sqrt(2) - 2.2, (x2 - x1) + 5 / sqrt(2) - 2.2))",
    ),
    "RP57": (TWO_NORMALS, "min(max(-x1^2 + x2^3 + 3, 2 - x1 - 8 * x2), (x1 + 3)^2 + (x2 + 3)^2 - 4)"),
    "RP63": ([ot.Normal()] * 100, f"0.1 * ({summed(100, 'x{}^2', first=2)}) - x1 - 4.5"),
    "RP75": (TWO_NORMALS, "3 - x1 * x2"),
    "RP89": (TWO_NORMALS, "min(-x1^2 - x2 + 8, -x1 / 5 - x2 + 6)"),
    "RP107": ([ot.Normal()] * 10, f"5 * sqrt(10) - ({summed(10, 'x{}')})"),
    "RP110": (
        TWO_NORMALS,
        "min(if(x1 <= 3.5, 0.85 - 0.1 * x1, 4 - x1), if(x2 <= 2.0, 2.3 - x2, 0.5 - 0.1 * x2))",
    ),
    "RP111": (TWO_NORMALS, "12.5 - abs(x1 * x2)"),
    "four-branch": (
        TWO_NORMALS,
        "min(min(3 + 0.1 * (x1 - x2)^2 - (x1 + x2) / sqrt(2), 3 + 0.1 * (x1 - x2)^2 + (x1 + x2) / sqrt(2)),"
        " min(x1 - x2 + 7 / sqrt(2), x2 - x1 + 7 / sqrt(2)))",
    ),
}
"""Distributions and limit state function, as openturns states them."""


@published
def test_rows_are_those_of_openturns(one: Published) -> None:
    distributions, formula = OPENTURNS[one.id]
    assert len(distributions) == one.dimension
    u = 2.0 * np.random.Generator(np.random.PCG64(7)).standard_normal((200, one.dimension))
    x = one.problem.joint.physical(u)
    for column, distribution in enumerate(distributions):
        theirs = np.array(distribution.computeCDF(x[:, [column]]))[:, 0]
        np.testing.assert_allclose(theirs, special.ndtr(u[:, column]), rtol=1e-9, atol=1e-14)
    function = ot.SymbolicFunction([f"x{k + 1}" for k in range(one.dimension)], [formula])
    theirs = np.array(function(x))[:, 0]
    margin = one.problem.components[0].margins(x, [0])[:, 0]
    np.testing.assert_allclose(margin, theirs, rtol=1e-9, atol=1e-9 * np.abs(theirs).max())
    assert np.array_equal(margin < 0.0, theirs < 0.0)
