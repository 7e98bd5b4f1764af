"""Tabulated inverses against mpmath: the value must have the probability that its score has."""

from __future__ import annotations

import math

import mpmath as mp
import numpy as np
import pytest
from scipy import special

from riskcut.uncertainty.marginals import (
    Beta,
    Exponential,
    Frechet,
    Gamma,
    Gev,
    Triangular,
    TruncatedNormal,
    Weibull,
)
from riskcut.uncertainty.score_table import tabulate
from riskcut.uncertainty.truncated_normal import log_mass

FAR = (-37.0, -20.0, -9.5, 9.5, 20.0, 37.0)
BULK = (-8.0, *np.random.default_rng(8).uniform(-8.0, 8.0, 12), 8.0)


@pytest.fixture(autouse=True)
def _digits():
    with mp.workdps(40):
        yield


def phi(z: float) -> mp.mpf:
    return mp.erfc(-mp.mpf(float(z)) / mp.sqrt(2)) / 2


def error_of_distance(tail: mp.mpf, wanted: mp.mpf, density: mp.mpf, distance: mp.mpf) -> float:
    """Relative error of the distance from the end, from the error of the probability beyond it."""
    return float(abs(tail - wanted) / (density * distance))


@pytest.mark.parametrize("z", [*BULK, *FAR])
@pytest.mark.parametrize(("mean", "sd"), [(3.0, 1.0), (3.0, 0.5), (3.0, 3.0), (3.0, 7.0)])
def test_gamma(mean, sd, z):
    marginal = Gamma(mean=mean, sd=sd)
    k, scale = (mp.mpf(mean) / mp.mpf(sd)) ** 2, mp.mpf(sd) ** 2 / mp.mpf(mean)
    x = marginal.from_normal(np.array([z]))[0]
    if x < 1e-300:  # 7 times the mean's spread at Phi(-37): below all numbers
        assert k * mp.log(x or 1e-320) >= mp.log(phi(z)) + mp.log(mp.gamma(k + 1)) + k * mp.log(scale) - 1
        return
    y = mp.mpf(float(x)) / scale
    density = mp.exp((k - 1) * mp.log(y) - y - mp.loggamma(k))
    tail = mp.gammainc(k, 0, y, regularized=True) if z < 0 else mp.gammainc(k, y, mp.inf, regularized=True)
    assert error_of_distance(tail, phi(-abs(z)), density, y) < 1e-9 if abs(z) < 8.5 else 1e-9


@pytest.mark.parametrize("z", [*BULK, *FAR])
@pytest.mark.parametrize(
    ("a", "b"), [(6.0, 14.0), (2.0, 1.5), (0.5, 0.5), (1.0, 1.0), (0.3, 4.0), (40.0, 3.0)]
)
def test_beta(a, b, z):
    mean = a / (a + b)
    # 0 to 1 for the lower tail and -1 to 0 for the upper one, where the nearer end keeps all digits
    low = 0.0 if z < 0 else -1.0
    marginal = Beta(mean=low + mean, sd=math.sqrt(mean * (1 - mean) / (a + b + 1)), low=low, high=low + 1.0)
    x = mp.mpf(float(marginal.from_normal(np.array([z]))[0]))
    first, last = (marginal.a, marginal.b) if z < 0 else (marginal.b, marginal.a)
    y, p, q = abs(x), mp.mpf(first), mp.mpf(last)
    if y == 0:  # below 1e-308
        assert mp.log(phi(-abs(z)) * p * mp.beta(p, q)) / p < -708
        return
    if y > 0.999:  # far from the end that this tail belongs to, and without digits there
        return
    assert float(y) < 1
    tail = mp.betainc(p, q, 0, y, regularized=True)
    density = mp.exp((p - 1) * mp.log(y) + (q - 1) * mp.log1p(-y)) / mp.beta(p, q)
    assert error_of_distance(tail, phi(-abs(z)), density, y) < 1e-9


def strip(start: mp.mpf, end: mp.mpf) -> mp.mpf:
    """Phi(end) - Phi(start) from the side where it does not cancel."""
    if start + end > 0:
        start, end = -end, -start
    return (mp.erfc(-end / mp.sqrt(2)) - mp.erfc(-start / mp.sqrt(2))) / 2


@pytest.mark.parametrize("z", [*BULK, *FAR])
@pytest.mark.parametrize(
    ("mean", "sd", "high"),
    [(1.0, 2.0, math.inf), (1.0, 0.1, math.inf), (-50.0, 1.0, math.inf), (1.0, 2.0, 5.0), (-20.0, 1.0, 4.0)],
)
def test_truncated_normal_above_zero(mean, sd, high, z):
    marginal = TruncatedNormal(parent_mean=mean, parent_sd=sd, low=0.0, high=high)
    x = mp.mpf(float(marginal.from_normal(np.array([z]))[0]))
    with mp.workdps(60 if abs(z) < 9 else 360):
        m, s = mp.mpf(mean), mp.mpf(sd)
        end = mp.mpf(1000) if high == math.inf else (mp.mpf(high) - m) / s
        start, here = -m / s, (x - m) / s
        density = mp.exp(-here * here / 2) / mp.sqrt(2 * mp.pi)
        kept = strip(start, end)
        tail = strip(start, here) if z < 0 else strip(here, end)
        distance = here - start
        off = abs(tail / kept - phi(-abs(z))) * kept / density
        assert float(off / distance) < 1e-9
    # mirrored: the same number from the other side
    mirror = TruncatedNormal(parent_mean=-mean, parent_sd=sd, high=0.0, low=-high)
    assert float(-mirror.from_normal(np.array([-z]))[0]) == pytest.approx(float(x), rel=1e-9)
    assert mirror.mean == pytest.approx(-marginal.mean, rel=1e-13)


@pytest.mark.parametrize("z", [*BULK, *FAR])
def test_closed_families(z):
    lower, upper = phi(z), phi(-z)
    log_lower = mp.log(lower) if z < 0 else mp.log1p(-upper)
    log_upper = mp.log(upper) if z > 0 else mp.log1p(-lower)
    score = np.array([z])

    def close(marginal, exact):
        assert float(abs(mp.mpf(float(marginal.from_normal(score)[0])) - exact) / abs(exact)) < 3e-13

    close(Exponential(mean=3.0), -3 * log_upper)
    weibull = Weibull(mean=3.0, sd=1.0)
    close(weibull, mp.mpf(weibull.scale) * (-log_upper) ** (1 / mp.mpf(weibull.shape)))
    close(Frechet(location=0.0, scale=2.0, shape=4.0), 2 * (-log_lower) ** mp.mpf("-0.25"))
    close(Gev(location=8.0, scale=2.0, shape=0.25), 8 * (-log_lower) ** mp.mpf("-0.25"))
    close(Gev(location=1.0, scale=2.0, shape=-0.25), 9 - 8 * (-log_lower) ** mp.mpf("0.25"))
    side = Triangular(low=0.0, mode=1.0, high=5.0)
    close(side, mp.sqrt(5 * lower) if lower < mp.mpf("0.2") else 5 - mp.sqrt(20 * upper))
    close(Triangular(low=0.0, mode=0.0, high=5.0), 5 * lower / (1 + mp.sqrt(upper)))
    close(Triangular(low=-5.0, mode=0.0, high=0.0), -5 * upper / (1 + mp.sqrt(lower)))


@pytest.mark.parametrize(
    ("parent_mean", "low", "high"), [(0.0, -1.0, 2.0), (0.0, 3.0, 3.001), (0.0, 8.0, 9.0)]
)
def test_truncated_moments(parent_mean, low, high):
    marginal = TruncatedNormal(parent_mean=parent_mean, parent_sd=1.0, low=low, high=high)
    a, b = mp.mpf(low), mp.mpf(high)
    kept, ends = strip(a, b), [mp.npdf(a), mp.npdf(b)]
    mean = (ends[0] - ends[1]) / kept
    variance = 1 + (a * ends[0] - b * ends[1]) / kept - mean**2
    assert marginal.mean == pytest.approx(float(mean), rel=1e-14)
    assert marginal.sd == pytest.approx(float(mp.sqrt(variance)), rel=1e-12)


@pytest.mark.parametrize(
    ("start", "width"),
    [(0.0, 1e-9), (-3.0, 6.0), (-30.0, 1.0), (30.0, 1e-3), (5.0, 20.0), (-1.0, 0.5), (-9.0, 0.05)],
)
def test_mass_of_a_strip(start, width):
    a, w = mp.mpf(start), mp.mpf(width)
    exact = mp.log(strip(a, a + w))
    assert float(log_mass(np.array(start), np.array(width))) == pytest.approx(
        float(exact), rel=1e-14, abs=1e-13
    )


def test_a_table_is_as_fine_as_it_must_be_or_is_none():
    def slope(z, _):
        return np.cos(z)

    table = tabulate(np.sin, slope)
    z = np.random.default_rng(2).uniform(-9.0, 9.0, 2000)
    np.testing.assert_allclose(table(z, np.empty_like(z)), np.sin(z), atol=3e-11)
    # a jump cannot be had from cubics
    assert tabulate(lambda z: np.where(z > 0.3, 1.0, 0.0), lambda z, _: np.zeros_like(z)) is None


def test_without_a_table_every_row_is_exact():
    marginal = Beta(mean=0.5, sd=0.495, low=0.0, high=1.0)
    assert marginal._table is None
    z = np.array([-3.0, -0.5, 0.2, 2.0])
    exact = special.betaincinv(marginal.a, marginal.b, special.ndtr(z))
    np.testing.assert_allclose(marginal.from_normal(z), exact, rtol=1e-9)
