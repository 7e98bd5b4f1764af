"""Where else to start: cheap rows that show what the linearisations known so far do not explain."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.limit_surface import Cut, LimitSurface
from riskcut.reliability.nearest_point import Arrival
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]

_BY_CHANCE = 8
_RADII = (1.5, 3.0, 6.0)
"""Distances of exploring rows, beside the greatest one."""
_UNEXPLAINED = 0.2
"""Fall of the margin below what is explained, in distances per radius of the sphere, that makes a start of a row."""


def _by_chance(dimension: int, count: int) -> Floats:
    """Return pairs of opposite directions (2 count, m), the same for every problem of that dimension."""
    drawn = generator(seed=0, purpose="design points, directions", index=0).standard_normal(
        (count, dimension)
    )
    return np.concatenate((drawn, -drawn))


def _units(directions: Floats) -> Floats:
    """Return those of the directions (n, m) that have a length, with length one."""
    length = np.linalg.norm(directions, axis=1)
    kept = length > 1e-9
    return np.asarray(directions[kept] / length[kept, None])


class Sphere:
    """Margins on a sphere about the origin, and which of them are news.

    Parameters
    ----------
    surface : LimitSurface
    alpha : ndarray, (m,)
        Direction of the first point: its mirror image, and directions square to it along each variable that has
        an influence, near the origin or far from it, are looked at, and some by chance.
    radius : float
    """

    def __init__(self, surface: LimitSurface, alpha: Floats, radius: float) -> None:
        m = surface.dimension
        axes = np.eye(m) if not surface.quiet(radius) else np.eye(m)[surface.active]
        square = _units(axes - np.outer(axes @ alpha, alpha))
        chance = _units(_by_chance(m, _BY_CHANCE // 2))
        directions = np.concatenate((-alpha[None, :], square, -square, chance))
        self._radius = radius
        self.places: Floats = radius * _units(directions)
        self.margins: Floats = surface.margins(self.places)
        self._left = ~np.isnan(self.margins)

    def starts(self, known: Sequence[Arrival], count: int) -> list[Floats]:
        """Return places from which something else may be found, those that fail first; each is told once.

        Parameters
        ----------
        known : sequence of Arrival
            The points found so far: failure is expected where it is from any of them.
        """
        expected = np.min([arrival.expected(self.places) for arrival in known], axis=0)
        fall = (expected - self.margins) / known[0].cut.norm
        news = self._left & (fall > _UNEXPLAINED * self._radius)
        surprise = news & (self.margins < 0.0) & (expected > 0.0)
        order = np.lexsort((-fall, ~surprise))
        chosen: list[Floats] = []
        for row in order:
            place = self.places[row]
            if not news[row] or len(chosen) == count:
                continue
            size = float(place @ place)
            if all(float(place @ other) < 0.8 * size for other in chosen):
                chosen.append(place)
                self._left[row] = False
        return chosen


class Exploration:
    """Rows along many rays from the origin, for a margin whose slope there leads nowhere.

    Attributes
    ----------
    least, greatest : float
        Margins met; NaN where none was possible.
    starts : list of ndarray (m,)
        Where rays cross the limit surface, nearest first; where none does, the places of the least margins.
    crossed : bool
    """

    def __init__(self, surface: LimitSurface, origin: Cut) -> None:
        m = surface.dimension
        chance = _by_chance(m, _BY_CHANCE)
        corners = np.array([[1.0, 1.0], [1.0, -1.0]]) if m == 2 else np.zeros((0, m))
        ahead = [-origin.gradient[None, :]] if origin.norm > 0.0 else []
        rays = _units(np.concatenate((*ahead, np.eye(m), -np.eye(m), corners, -corners, chance)))
        radii = np.array([r for r in _RADII if r < surface.limits.radius] + [surface.limits.radius])
        found = surface.margins((rays[:, None, :] * radii[:, None]).reshape(-1, m)).reshape(len(rays), -1)
        finite = found[~np.isnan(found)]
        self.rows = found.size
        self.least = float(finite.min()) if finite.size else np.nan
        self.greatest = float(finite.max()) if finite.size else np.nan
        self._surface, self._rays = surface, rays
        at, before = radii, np.concatenate(([0.0], radii[:-1]))
        inner = np.concatenate((np.full((len(rays), 1), origin.margin), found[:, :-1]), axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            crossing = (inner > 0.0) & (found <= 0.0)
            # Not farther than the middle: a margin may fall off suddenly.
            distance = before + (at - before) * np.clip(inner / (inner - found), 0.1, 0.9)
        first = crossing.argmax(axis=1)
        every = np.arange(len(rays))
        self._before, self._at = before[first], at[first]
        far = np.where(crossing.any(axis=1), distance[every, first], np.inf)
        self._far = far
        self.crossed = bool(crossing.any())
        if self.crossed:
            order = np.argsort(far, kind="stable")
            ranked = [far[k] * rays[k] for k in order if np.isfinite(far[k])]
        else:
            low = np.nan_to_num(found, nan=np.inf)
            order = np.argsort(low.min(axis=1), kind="stable")
            ranked = [radii[low[k].argmin()] * rays[k] for k in order if np.isfinite(low[k].min())]
        self.starts: list[Floats] = []
        for place in ranked:
            size = float(np.linalg.norm(place))
            if all(float(place @ s) < 0.8 * size * float(np.linalg.norm(s)) for s in self.starts):
                self.starts.append(place)

    def crossing(self) -> tuple[Floats, float] | None:
        """Return the nearest place (m,) at which a ray crosses the surface, to 1e-4, and its margin.

        Bisection in sixteen at a time along the most promising rays: it needs no slope, only a sign. None where no
        ray crosses. The place is on the failed side.
        """
        chosen = np.argsort(self._far, kind="stable")[:4]
        chosen = chosen[np.isfinite(self._far[chosen])]
        if not len(chosen):
            return None
        rays, low, high = self._rays[chosen], self._before[chosen], self._at[chosen]
        margin = np.full(len(chosen), np.nan)
        every = np.arange(len(chosen))
        for _ in range(4):
            parts = low[:, None] + (high - low)[:, None] * np.arange(1, 17) / 16.0
            found = self._surface.margins((rays[:, None, :] * parts[:, :, None]).reshape(-1, rays.shape[1]))
            found = found.reshape(len(chosen), -1)
            first = (found <= 0.0).argmax(axis=1)
            margin = found[every, first]
            high = parts[every, first]
            low = np.where(first > 0, parts[every, first - 1], low)
        nearest = int(np.argmin(high))
        return rays[nearest] * high[nearest], float(margin[nearest])
