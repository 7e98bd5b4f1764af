"""One limit state as a function of independent standard normals: margins and linearisations, many a call.

Gradients are forward (or central) differences, all rows of all places in one vectorised call. Variables that had
no influence at the origin are moved together in one row: only where that changes the margin are they looked at
one by one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.design_point import Limits
from riskcut.reliability.standard_space import StandardSpace

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


_GREATEST = 1e140
"""A margin beyond this is taken for no number, and a slope below its inverse for none, so that squares stay finite
and above zero."""


@dataclass(frozen=True)
class Cut:
    """The margin linearised at a place."""

    u: Floats
    """(m,)."""
    margin: float
    gradient: Floats
    """(m,)."""
    norm: float
    """Of the gradient."""

    def at(self, places: Floats) -> Floats:
        """Return the linearised margin at places (..., m)."""
        return np.asarray(self.margin + (places - self.u) @ self.gradient)

    @property
    def distance(self) -> float:
        """From the linearised surface; +inf on flat ground."""
        return abs(self.margin) / self.norm if self.norm > 0.0 else np.inf

    @property
    def foot(self) -> Floats:
        """Nearest place (m,) to the origin of the linearised surface [1]_; NaN on flat ground.

        References
        ----------
        .. [1] Rackwitz, R. & Fiessler, B. (1978). Structural reliability under combined random load sequences.
           Computers & Structures 9(5), 489-494.
        """
        if self.norm == 0.0:
            return np.full_like(self.u, np.nan)
        direction = self.gradient / self.norm
        return np.asarray(direction * (float(direction @ self.u) - self.margin / self.norm))

    @property
    def sideways(self) -> float:
        """Length of the part of u that is not along the gradient."""
        if self.norm == 0.0:
            return float(np.linalg.norm(self.u))
        direction = self.gradient / self.norm
        return float(np.linalg.norm(self.u - direction * float(direction @ self.u)))


class LimitSurface:
    """The margin of one limit state, turned so that it is positive at the origin, with its costs.

    Attributes
    ----------
    sign : float
        -1 where the origin fails: margins that are returned are the model's times this.
    active : ndarray, (m,)
        Variables that gradients are taken for.
    held : int or None
        A variable that is held at its median, wherever a place has it.
    rows, calls, impossible : int
        Spent so far; impossible rows gave no number, and NaN is returned for them.
    """

    def __init__(self, space: StandardSpace, component: int, limit_state: int, limits: Limits) -> None:
        self._space, self._component, self._which = space, component, (limit_state,)
        self.limits = limits
        self.dimension = space.dimension
        self.sign = 1.0
        self.held: int | None = None
        self.active: Flags = np.ones(self.dimension, dtype=np.bool_)
        self._begun = False
        self._uneven: Floats = np.asarray(1.0 + 0.5 * (np.arange(self.dimension) * 0.6180339887498949 % 1.0))
        self.rows = self.calls = self.impossible = 0

    def margins(self, places: Floats) -> Floats:
        """Return the margins (n,) at places (n, m)."""
        if self.held is not None:
            places = places.copy()
            places[:, self.held] = 0.0
        found = self._space.margins(places, self._component, self._which)[:, 0]
        self.calls += 1
        self.rows += len(places)
        lost = ~(np.abs(found) < _GREATEST)
        self.impossible += int(lost.sum())
        return np.where(lost, np.nan, self.sign * found)

    def cuts(self, places: Floats, known: float | None = None) -> list[Cut]:
        """Return the linearisations at places (k, m), in one call; more where a difference was impossible.

        Parameters
        ----------
        known : float, optional
            The margin at the one place, where it has been computed before.
        """
        which = np.flatnonzero(self.active)
        steps = self._steps(which)
        # All others in one row, by steps that differ so that they do not cancel.
        others = np.where(self.active, 0.0, self.limits.difference * self._uneven)
        group = others[np.newaxis, :] if others.any() else np.zeros((0, self.dimension))
        count = len(places)
        stepped = places[:, np.newaxis, :] + np.concatenate((steps, group))
        rows = stepped.reshape(-1, self.dimension)
        if known is None:
            found = self.margins(np.concatenate((places, rows)))
            base, found = found[:count], found[count:]
        else:
            base, found = np.array([known]), (self.margins(rows) if len(rows) else np.zeros(0))
        found = found.reshape(count, -1)
        gradients = np.zeros((count, self.dimension))
        gradients[:, which] = self._slopes(places, base, found[:, : len(steps)], which)
        if len(group):
            stirred = np.flatnonzero((found[:, -1] != base) & ~np.isnan(base))
            if len(stirred):
                self._wake(places, base, gradients, stirred)
        if not self._begun:
            self._begun, self.active = True, (gradients != 0.0).any(axis=0)
        norms = np.sqrt((gradients**2).sum(axis=1))
        flat = norms < 1.0 / _GREATEST
        gradients[flat], norms[flat] = 0.0, 0.0
        return [
            Cut(u.copy(), float(g), d, float(n))
            for u, g, d, n in zip(places, base, gradients, norms, strict=True)
        ]

    def _steps(self, which: NDArray[np.intp]) -> Floats:
        """Return the steps of the differences for some variables."""
        steps = np.zeros((len(which), self.dimension))
        steps[np.arange(len(which)), which] = self.limits.difference
        return np.concatenate((steps, -steps)) if self.limits.central else steps

    def _slopes(self, places: Floats, base: Floats, found: Floats, which: NDArray[np.intp]) -> Floats:
        """Return the derivatives (k, a) from the margins at the stepped places; 0 where there is none."""
        a, h = len(which), self.limits.difference
        ahead = found[:, :a] - base[:, np.newaxis]
        if self.limits.central:
            behind = base[:, np.newaxis] - found[:, a:]
        else:
            # Only where the step ahead met an impossible row.
            behind = np.full_like(ahead, np.nan)
            rows, columns = np.nonzero(np.isnan(ahead) & ~np.isnan(base)[:, np.newaxis])
            if len(rows):
                back = places[rows].copy()
                back[np.arange(len(rows)), which[columns]] -= h
                behind[rows, columns] = base[rows] - self.margins(back)
        mean = 0.5 * (ahead + behind)
        one = np.where(np.isnan(ahead), behind, ahead)
        return np.asarray(np.nan_to_num(np.where(np.isnan(mean), one, mean) / h, nan=0.0))

    def _wake(self, places: Floats, base: Floats, gradients: Floats, stirred: NDArray[np.intp]) -> None:
        """Take the derivatives of the variables left out so far, where moving them together changed something."""
        asleep = np.flatnonzero(~self.active)
        steps = self._steps(asleep)
        rows = (places[stirred][:, np.newaxis, :] + steps).reshape(-1, self.dimension)
        found = self.margins(rows).reshape(len(stirred), -1)
        slopes = self._slopes(places[stirred], base[stirred], found, asleep)
        gradients[np.ix_(stirred, asleep)] = slopes
        self.active[asleep[(slopes != 0.0).any(axis=0)]] = True

    def quiet(self, reach: float) -> bool:
        """Whether moving the variables left out so far, by as much as ``reach``, changes nothing at the origin."""
        asleep = np.flatnonzero(~self.active)
        if not len(asleep):
            return True
        signs = np.array([[1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0]])
        rows = np.zeros((5, self.dimension))
        rows[1:, asleep] = reach * signs[:, np.arange(len(asleep)) % 2]
        found = self.margins(rows)
        return bool(np.all(found == found[0]))

    def cut(self, place: Floats, known: float | None = None) -> Cut:
        """Return the linearisation at one place (m,)."""
        return self.cuts(place[np.newaxis, :], known)[0]
