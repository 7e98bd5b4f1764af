"""The design points of a limit state: the places of its surface that are nearest to the origin.

The nearest one is looked for from the origin. Further ones are looked for where rows on a sphere about the origin
have margins that the points found so far do not explain. Several are kept, since a sample that is aimed at one of
two is honest about neither [1]_.

References
----------
.. [1] Der Kiureghian, A. & Dakessian, T. (1998). Multiple design points in first and second-order reliability.
   Structural Safety 20(1), 37-49.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr

from riskcut.reliability.design_point import DesignPoint, Limits, Search
from riskcut.reliability.limit_surface import Cut, LimitSurface
from riskcut.reliability.nearest_point import Arrival, walk
from riskcut.reliability.screening import Exploration, Sphere
from riskcut.reliability.standard_space import StandardSpace

__all__ = ["DesignPoint", "Limits", "Search", "find"]

Floats = NDArray[np.float64]

_USUAL = Limits()
_ROUNDS = 3
"""Rounds of the search for further points."""
_FEWER = 15
"""Iterations of a search that is not the first."""
_FURTHER_ROWS = 16
"""The search for further points begins no more once it has cost this many times (active variables + 1) rows."""
_ANYHOW = 100
"""Rows that it may cost besides."""
_BESIDE = 0.1
"""Tangent of the angle at which a point is tried for a saddle."""
_FAR = 3.0
"""Radii within which the surface has to be expected from the slope at the origin for a search to begin there."""
_ALIKE = 1e-9
"""Relative range of margins that do not vary."""


def find(
    space: StandardSpace,
    component: int,
    limit_state: int,
    *,
    starts: Sequence[ArrayLike] = (),
    limits: Limits = _USUAL,
) -> Search:
    """Return the design points of one limit state.

    Parameters
    ----------
    space : StandardSpace
    component, limit_state : int
        Places in the space and in the component.
    starts : sequence of array_like, (m,)
        Tried before the origin, as the design points of a similar limit state are; with one that leads to a
        design point, the origin itself is no start.
    limits : Limits

    Returns
    -------
    Search
        Without points where the limit state never or always fails, does not vary or was not understood; its
        reason tells which. No margin whatever raises an exception.
    """
    return _Finding(LimitSurface(space, component, limit_state, limits), starts).search()


class _Finding:
    """One search; what it has found so far."""

    def __init__(self, surface: LimitSurface, starts: Sequence[ArrayLike]) -> None:
        self.surface, self.limits = surface, surface.limits
        self.starts = [np.array(start, dtype=np.float64) for start in starts]
        for start in self.starts:
            if start.shape != (surface.dimension,):
                raise ValueError(f"a start has {surface.dimension} coordinates, not {start.shape}")
        self.arrivals: list[Arrival] = []
        self.origin = np.nan

    # -- the whole ----------------------------------------------------------------------------

    def search(self) -> Search:
        surface = self.surface
        middle = np.zeros(surface.dimension)
        if not surface.dimension:
            self.origin = float(surface.margins(middle[np.newaxis, :])[0])
            return self.answer("Nothing is uncertain.")
        origin = surface.cut(middle)
        self.origin = origin.margin
        if origin.margin < 0.0:
            surface.sign = -1.0
            origin = Cut(origin.u, -origin.margin, -origin.gradient, origin.norm)
        for start in self.starts:
            self.follow(surface.cut(start), iterations=self.limits.iterations)
        if not self.arrivals and not np.isnan(origin.margin) and origin.distance <= _FAR * self.limits.radius:
            self.follow(origin, iterations=self.limits.iterations)
        if not any(a.kind in ("point", "local") for a in self.arrivals):
            trouble = self.explore(origin)
            if trouble:
                return self.answer(trouble)
        self.look_further()
        nearest = min(self.arrivals, key=lambda a: float(a.cut.u @ a.cut.u))
        if nearest.kind == "stuck" and len(self.arrivals) > 1:
            # A short search came upon something nearer than the first one did: give it its time.
            self.arrivals = [arrival for arrival in self.arrivals if arrival is not nearest]
            if not self.follow(nearest.cut, iterations=self.limits.iterations):
                self.arrivals.append(nearest)
        return self.answer("")

    def follow(self, start: Cut, *, iterations: int = _FEWER, reach: float = np.inf) -> bool:
        """Search from a start; whether it led to a place on the surface."""
        if np.isnan(start.margin):
            return False
        known = [a.cut.u for a in self.arrivals]
        arrival = walk(self.surface, start, iterations=iterations, known=known, reach=reach)
        if arrival.kind not in ("point", "local", "stuck"):
            return False
        self.arrivals.append(arrival)
        return True

    def explore(self, origin: Cut) -> str:
        """Look for the surface along many rays; why there is nothing to be found, or nothing."""
        surface = self.surface
        if np.isnan(origin.margin):
            origin = self.possible_origin(origin)
            if np.isnan(origin.margin):
                return f"None of the {surface.rows:,} rows tried is possible."
        looked = Exploration(surface, origin)
        span = max(looked.greatest, origin.margin) - min(looked.least, origin.margin)
        if span <= _ALIKE * abs(origin.margin) and not self.arrivals:
            return (
                f"The margin is {surface.sign * origin.margin:.6g} wherever it was tried: it does not vary."
            )
        for start in looked.starts[: 2 * self.limits.attempts if looked.crossed else 2]:
            self.follow(surface.cut(start))
        if self.arrivals:
            return ""
        if (edge := looked.crossing()) is not None:
            self.arrivals.append(Arrival(Cut(edge[0], edge[1], np.zeros_like(edge[0]), 0.0), "ray", 0))
            return ""
        what = "failed" if surface.sign < 0.0 else "safe"
        return (
            f"All {surface.rows:,} rows tried, up to {self.limits.radius:g} standard deviations from the medians, "
            f"are {what}: {'always' if surface.sign < 0.0 else 'never'} fails, as far as was seen."
        )

    def possible_origin(self, origin: Cut) -> Cut:
        """Return a stand-in for an impossible origin: the commonest side of the rows about it."""
        m = self.surface.dimension
        about = np.concatenate((np.eye(m), -np.eye(m))) * np.array([0.25, 1.0, 2.0])[:, None, None]
        found = self.surface.margins(about.reshape(-1, m))
        found = found[~np.isnan(found)]
        if not found.size:
            return origin
        middle = float(np.median(found))
        self.surface.sign = -1.0 if middle < 0.0 else 1.0
        return Cut(origin.u, abs(middle), np.zeros(m), 0.0)

    # -- further points -----------------------------------------------------------------------

    def look_further(self) -> None:
        """Search from where margins on a sphere are lower than the points found so far explain."""
        if not self.limits.attempts or not any(a.cut.norm > 0.0 for a in self.arrivals):
            return
        first = min((a.cut for a in self.arrivals), key=lambda cut: float(cut.u @ cut.u))
        far = float(np.linalg.norm(first.u))
        direction = first.u / far if far > 1e-6 else -first.gradient / max(first.norm, 1e-300)
        reach = self.limits.reach(far)
        sphere = Sphere(self.surface, direction, reach)
        most = self.surface.rows + _FURTHER_ROWS * (int(self.surface.active.sum()) + 1) + _ANYHOW
        for _ in range(_ROUNDS):
            starts = sphere.starts(self.arrivals, self.limits.attempts)
            if not starts:
                return
            before = len(self.arrivals)
            for cut in self.surface.cuts(np.array(starts)):
                near = float(np.linalg.norm(cut.foot)) <= 1.5 * reach if cut.norm > 0.0 else False
                if (near or cut.margin < 0.0) and self.surface.rows < most:
                    self.follow(cut, reach=1.2 * reach)
            if len(self.arrivals) == before:
                return

    def without_saddles(self, points: list[DesignPoint]) -> list[DesignPoint]:
        """Leave out points beside which, towards a nearer one, the surface is nearer still."""
        pairs, places = [], []
        for k, point in enumerate(points):
            far = float(np.linalg.norm(point.u))
            for other in points[:k] if far > 0.0 else ():
                aside = other.u - point.u * (float(other.u @ point.u) / far**2)
                if (length := float(np.linalg.norm(aside))) > 1e-6 * far:
                    place = point.u / far + _BESIDE * aside / length
                    pairs.append(k)
                    places.append(far * place / float(np.linalg.norm(place)))
        if not places:
            return points
        found = self.surface.margins(np.array(places))
        nearer = {
            k for k, margin in zip(pairs, found, strict=True) if margin < -1e-3 * points[k].gradient_norm
        }
        return [point for k, point in enumerate(points) if k not in nearer]

    # -- the answer ---------------------------------------------------------------------------

    def point(self, arrival: Arrival) -> DesignPoint:
        cut, sign = arrival.cut, self.surface.sign
        far = float(np.linalg.norm(cut.u))
        kind = "point" if arrival.kind == "point" else "local"
        if kind == "point":
            down = -cut.gradient / cut.norm
            beta = float(down @ cut.u) + cut.margin / cut.norm
        else:
            down = cut.u / far if far > 0.0 else -cut.gradient / max(cut.norm, 1e-300)
            beta = far
        return DesignPoint(
            u=cut.u,
            beta=sign * beta,
            alpha=sign * down,
            gradient_norm=cut.norm,
            kind=kind,
            distance=cut.distance,
            sine=cut.sideways / max(1.0, far),
        )

    def answer(self, reason: str) -> Search:
        """Keep the points that matter and that are apart, and say what was found."""
        surface = self.surface
        ranked = sorted(self.arrivals, key=lambda a: float(a.cut.u @ a.cut.u))
        points: list[DesignPoint] = []
        for point in (self.point(arrival) for arrival in ranked):
            if points and log_ndtr(-abs(point.beta)) - log_ndtr(-abs(points[0].beta)) < np.log(
                self.limits.band
            ):
                continue
            if any(float(p.alpha @ point.alpha) >= self.limits.apart for p in points):
                continue
            points.append(point)
        points = self.without_saddles(points)[: self.limits.points]
        converged = bool(points) and ranked[0].kind == "point"
        if points:
            reason = _words(ranked[0], points)
        if surface.impossible:
            reason += f" {surface.impossible:,} of the rows tried are impossible; the search went round them."
        return Search(
            points=tuple(points),
            converged=converged,
            reason=reason,
            origin=self.origin,
            rows=surface.rows,
            calls=surface.calls,
            margin_evaluations=surface.rows,
            impossible=surface.impossible,
        )


def _words(first: Arrival, points: Sequence[DesignPoint]) -> str:
    """Say what was found."""
    if first.kind == "point":
        words = f"Found in {first.iterations} step{'' if first.iterations == 1 else 's'}"
    elif first.kind == "local":
        words = "The nearest point is in a kink of the surface, where no gradient points to the origin"
    elif first.kind == "ray":
        words = "No slope leads to the surface; this is where the nearest of some rays crosses it"
    else:
        words = (
            "The search stuck on the surface at a place that need not be the nearest "
            f"(sine of the angle {points[0].sine:.2g})"
        )
    if points[0].beta < 0.0:
        words += "; the origin fails, so that the point is the nearest one that does not"
    if further := len(points) - 1:
        words += f"; {further} further point{'s' if further > 1 else ''}"
    return words + "."
