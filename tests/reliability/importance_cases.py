"""Limit states whose design points and probabilities are known, shared by the tests of importance sampling."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from reliability_cases import STANDARD, component, margins
from scipy import integrate, stats

from riskcut.reliability.mixture import Centre
from riskcut.reliability.problem import Problem, Response
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint


def planes(alphas, betas, **kwargs):
    """A space with margins beta - alpha.u, (K, m) unit vectors: Pf = Phi(-beta) each."""
    alphas, betas = np.asarray(alphas, dtype=float), np.asarray(betas, dtype=float)

    def respond(x, which):
        columns = [betas[k] - sum(alphas[k, i] * x[:, i] for i in np.flatnonzero(alphas[k])) for k in which]
        return Response(margin=np.stack(columns).T)

    return space_of(respond, alphas.shape[1], labels=[f"plane {k}" for k in range(len(betas))], **kwargs)


def space_of(respond, columns, **kwargs):
    one = component("one", respond, columns=range(columns), **kwargs)
    return StandardSpace(Problem(Joint([STANDARD] * columns), (one,)))


def design_points(alphas, betas):
    """The centres of planes; none where the origin fails."""
    return [
        Centre(np.asarray(alpha) * beta, (0, k), float(stats.norm.sf(beta)))
        for k, (alpha, beta) in enumerate(zip(alphas, betas, strict=True))
        if beta > 0.0
    ]


def equicorrelated(count, rho):
    """Unit vectors (count, count + 1) with products rho."""
    alphas = np.zeros((count, count + 1))
    alphas[:, 0] = np.sqrt(rho)
    alphas[np.arange(count), np.arange(1, count + 1)] = np.sqrt(1.0 - rho)
    return alphas


def union_of_equicorrelated(betas, rho):
    """P(any) of equicorrelated linear margins, by quadrature over what they share."""
    betas = np.asarray(betas)

    def given(t):
        fails = stats.norm.sf((betas - np.sqrt(rho) * t) / np.sqrt(1.0 - rho))
        return (
            1.0 - np.prod(1.0 - fails) if fails.max() > 0.1 else -np.expm1(np.log1p(-fails).sum())
        ) * stats.norm.pdf(t)

    points = np.linspace(-8.0, 12.0, 81)
    return sum(integrate.quad(given, a, b, epsabs=0.0, epsrel=1e-9)[0] for a, b in pairwise(points))


def random_directions(count, dimension, seed=3):
    """Unit vectors that lean one way, as limit states that share a leading variable do."""
    alphas = np.random.default_rng(seed).standard_normal((count, dimension))
    alphas[:, 0] += 2.0
    return alphas / np.linalg.norm(alphas, axis=1)[:, np.newaxis]


def within(estimate, event, exact, errors=3.0):
    """Whether an estimate lies within so many of its own standard errors of the truth."""
    return abs(estimate.failure_probability[event] - exact) <= errors * estimate.standard_error[event]


def paraboloid(beta, curvature, dimension):
    """A space with the margin beta - u_1 + curvature (u_2^2 + ... + u_m^2)/2, and its Pf by quadrature over the sum."""
    space = space_of(
        margins(lambda x: beta - x[:, 0] + 0.5 * curvature * (x[:, 1:] ** 2).sum(axis=1)), dimension
    )

    def given(c):
        return stats.chi2.pdf(c, dimension - 1) * stats.norm.sf(beta + 0.5 * curvature * c)

    exact = sum(
        integrate.quad(given, a, b, epsabs=0.0, epsrel=1e-9)[0]
        for a, b in pairwise([0.0, 0.1, 1.0, 5.0, 20.0, 40.0, 80.0, 160.0])
    )
    point = np.zeros(dimension)
    point[0] = beta
    return space, exact, [Centre(point, (0, 0), float(stats.norm.sf(beta)))]
