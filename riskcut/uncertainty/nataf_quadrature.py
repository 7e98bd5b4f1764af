"""The correlation of two values as a function of the correlation of their scores, by panels.

rho_x(r) = E[A(z1) B(r z1 + s z2)], s = sqrt(1 - r^2), with A and B the standardised values and z1, z2
independent standard normals. Gauss-Hermite points fail where a value bends sharply (a mode, the end of a
U-shaped density) or has a heavy tail, so the plane is cut into panels instead, each with 16 Gauss-Legendre
points a side: finer where A or B want it, and along the kinks that a marginal states.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from riskcut.uncertainty.marginal import Marginal

Array = NDArray[np.float64]

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_POINTS, _WEIGHTS = 0.5 * (_POINTS + 1.0), 0.5 * _WEIGHTS
_STEP = 1.5
_LEAST_REACH, _MOST_REACH = 9.0, 50.0
_TOLERANCE = 1e-12
_HALVINGS = 14
_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)
MOMENT_ERROR = 1e-8


class HeavyTailError(ArithmeticError):
    """A marginal whose variance lies too far out for the panels."""


def _weight(z: Array) -> Array:
    return np.asarray(np.exp(-0.5 * z * z) / _ROOT_TWO_PI)


class _Side:
    """One standardised variable, the scores that matter to it and the panels that resolve it."""

    def __init__(self, marginal: Marginal) -> None:
        self._marginal = marginal
        self.reach = self._found_reach()
        self.edges = self._found_edges()
        z, w = panel_points(self.edges)
        value, weight = self.value(z), w * _weight(z)
        moments = float((weight * value).sum()), float((weight * value * value).sum())
        if not (abs(moments[0]) < MOMENT_ERROR and abs(moments[1] - 1.0) < MOMENT_ERROR):
            raise HeavyTailError

    def value(self, z: Array) -> Array:
        return (self._marginal.from_normal(z) - self._marginal.mean) / self._marginal.sd

    def _found_reach(self) -> float:
        """Return the score beyond which the variance holds nothing any more."""
        reach = _LEAST_REACH
        while reach < _MOST_REACH:
            ends = np.array([-reach, reach])
            if np.all(np.abs(self.value(ends)) * np.exp(-0.25 * ends * ends) < 5e-9):
                break
            reach += 1.0
        return reach

    def _found_edges(self) -> Array:
        """Return the panels: halved until the halves give the moments that the whole gave."""
        kinks = [k for k in getattr(self._marginal, "kinks", ()) if abs(k) < self.reach]
        regular = np.linspace(-self.reach, self.reach, math.ceil(2.0 * self.reach / _STEP) + 1)
        edges: Array = np.unique(np.concatenate((regular, kinks)))
        for _ in range(_HALVINGS):
            middles = 0.5 * (edges[1:] + edges[:-1])
            whole = self._moments(edges)
            halves = self._moments(np.sort(np.concatenate((edges, middles))))
            error = np.abs(halves.reshape(2, -1, 2).sum(axis=2) - whole).max(axis=0)
            coarse = error > _TOLERANCE
            if not np.any(coarse):
                break
            edges = np.sort(np.concatenate((edges, middles[coarse])))
        return edges

    def _moments(self, edges: Array) -> Array:
        """Return the first two moments by panel, (2, panels)."""
        z, w = panel_points(edges)
        value, weight = self.value(z), w * _weight(z)
        terms = np.stack((weight * value, weight * value * value))
        return np.asarray(terms.reshape(2, len(edges) - 1, -1).sum(axis=2))


def panel_points(edges: Array) -> tuple[Array, Array]:
    """Return points and weights of the panels between edges in rising order, flat."""
    width = np.diff(edges)[:, None]
    return (edges[:-1, None] + width * _POINTS).ravel(), (width * _WEIGHTS).ravel()


class CorrelationOfValues:
    """rho_x as a function of r.

    Raises
    ------
    HeavyTailError
        Where the panels do not give the mean and sd that a marginal states, to 1e-8.
    """

    def __init__(self, a: Marginal, b: Marginal) -> None:
        self._a, self._b = _Side(a), _Side(b)
        self._reach = max(self._a.reach, self._b.reach)
        self._regular = np.linspace(-self._reach, self._reach, math.ceil(2.0 * self._reach / _STEP) + 1)

    def __call__(self, r: float) -> float:
        """Return the correlation of the values for the correlation ``r`` of the scores."""
        s = math.sqrt(max(0.0, (1.0 - r) * (1.0 + r)))
        edges = self._a.edges
        if abs(r) > 0.5:  # below, what B does is smeared over more than a panel
            edges = np.concatenate((edges, self._b.edges / r))
            edges = np.unique(edges[np.abs(edges) <= self._reach])
        z, w = panel_points(edges)
        left = w * _weight(z) * self._a.value(z)
        right = self._b.value(r * z) if s == 0.0 else self._smeared(r * z, s, np.abs(z))
        return float((left * right).sum())

    def _smeared(self, centre: Array, s: float, radius: Array) -> Array:
        """Return E[B(centre + s z2)], inside the circle about the origin that the variance lies in."""
        room = np.sqrt(np.maximum(self._reach**2 - radius**2, 1.0))[:, None]
        bends = (self._b.edges - centre[:, None]) / s
        edges = np.concatenate(
            (bends, np.broadcast_to(self._regular, (len(centre), len(self._regular)))), axis=1
        )
        edges = np.sort(np.clip(edges, -room, room), axis=1)
        width = np.diff(edges, axis=1)
        row, panel = np.nonzero(width > 0.0)
        z = edges[row, panel][:, None] + width[row, panel][:, None] * _POINTS
        value = self._b.value(centre[row][:, None] + s * z)
        value *= _weight(z)
        total = (value @ _WEIGHTS) * width[row, panel]
        return np.asarray(np.bincount(row, weights=total, minlength=len(centre)), dtype=np.float64)
