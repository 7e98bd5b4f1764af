"""From a start to the nearest point of a limit surface.

Each step is that of sequential quadratic programming for: least |u|^2/2 with g(u) = 0. With the Hessian of the
Lagrangian taken as one, that is the step of Hasofer-Lind and Rackwitz-Fiessler; it is improved by what successive
gradients say of the curvature. A step is accepted where the merit |u|^2/2 + c |g| falls enough [1]_, else several
shorter ones, and the nearest point of all linearisations met so far, are tried in one call.

References
----------
.. [1] Zhang, Y. & Der Kiureghian, A. (1995). Two improved algorithms for reliability analysis. In: Reliability and
   Optimization of Structural Systems, 297-304. The Hessian by damped updates: Liu, P.-L. & Der Kiureghian, A.
   (1991). Optimization algorithms for structural reliability. Structural Safety 9, 161-177; Powell, M. J. D. (1978).
   A fast algorithm for nonlinearly constrained optimization calculations. Lecture Notes in Mathematics 630.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.least_distance import nearest_of
from riskcut.reliability.limit_surface import Cut, LimitSurface
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]

_SHORTER = np.array([0.7, 0.45, 0.25, 0.12, 0.05, 0.015, 0.003])
_LONGER = np.array([1.5, 2.0, 3.0, 5.0, 8.0])
_SUFFICIENT = 0.1
"""Share of the merit's slope that a step has to gain (Armijo)."""
_FLAT = 0.3
"""A full step that leaves more than this share of the margin runs over ground that flattens: go farther."""
_ASIDE = 1e-3
"""Distance of the places about a suspected kink, in units of max(1, its distance): far beyond the differences'."""
_SHORT = 0.02
"""Length of a laborious step, in the same units, that makes a kink suspected when there are two in a row."""
_BENT = 0.999
"""Cosine of the angle between slopes on the two sides of a kink, at most."""
_ARRIVED = 0.3
"""Distance from a known point, in units of max(1, its distance), at which a search is given up."""


@dataclass(frozen=True)
class Arrival:
    """Where a search ended."""

    cut: Cut
    kind: str
    """"point", "local" (in a kink), "stuck" (on the surface but neither), "known" (at a point that was known before),
    "beyond" (farther than anything wanted), "lost" (none of these)."""
    iterations: int
    beside: tuple[Cut, ...] = ()
    """At a kink: linearisations from about it, of which the greatest counts."""

    def expected(self, places: Floats) -> Floats:
        """Return the margins (...) to be expected at places (..., m) from what was found here."""
        return np.asarray(np.max([cut.at(places) for cut in self.beside or (self.cut,)], axis=0))


class _Walk:
    """The state of one search."""

    def __init__(self, surface: LimitSurface, start: Cut, known: Sequence[Floats], reach: float) -> None:
        self.surface, self.limits = surface, surface.limits
        self.here = start
        self.cuts = [start]
        self.forget()
        self.known, self.reach = known, min(reach, 0.99 * self.limits.radius)
        self.flat = self.careful = False
        self.outside = self.short = 0

    def forget(self) -> None:
        """Take the Hessian of the Lagrangian for one; it and its inverse are kept side by side."""
        self.hessian = np.eye(self.surface.dimension)
        self.inverse = np.eye(self.surface.dimension)

    # -- where to -----------------------------------------------------------------------------

    def step(self) -> tuple[Floats, float]:
        """Return the step (m,) and the multiplier of the margin."""
        u, gradient = self.here.u, self.here.gradient
        pulled, leaned = _times(self.inverse, u), _times(self.inverse, gradient)
        multiplier = (self.here.margin - float(gradient @ pulled)) / float(gradient @ leaned)
        return self.held(-(pulled + multiplier * leaned)), abs(multiplier)

    def held(self, step: Floats) -> Floats:
        """Return the step within the longest one and the radius."""
        length = float(np.linalg.norm(step))
        if length > self.limits.step:
            step = step * (self.limits.step / length)
        end = self.here.u + step
        out = float(np.linalg.norm(end))
        return end * (self.limits.radius / out) - self.here.u if out > self.limits.radius else step

    def merits(self, places: Floats, margins: Floats, weight: float) -> Floats:
        merit = 0.5 * (places**2).sum(axis=-1) + weight * np.abs(margins)
        return np.where(np.isnan(merit), np.inf, merit)

    def merit(self, cut: Cut, weight: float) -> float:
        return float(self.merits(cut.u, np.array(cut.margin), weight))

    # -- what has been reached ----------------------------------------------------------------

    def on_surface(self, slack: float = 1.0) -> bool:
        far = max(1.0, float(np.linalg.norm(self.here.u)))
        return self.here.distance <= slack * self.limits.distance * far

    def is_point(self) -> bool:
        """Whether the gradient points to the origin, and the margin falls outward."""
        far = max(1.0, float(np.linalg.norm(self.here.u)))
        if not self.on_surface() or self.here.sideways > self.limits.angle * far:
            return False
        return float(self.here.u @ self.here.gradient) <= self.limits.distance * self.here.norm

    def is_kink(self) -> bool:
        """Whether the linearisations leave no nearer point, and differ as they do at a kink only."""
        normals = np.array([cut.gradient / cut.norm for cut in self.cuts if cut.norm > 0.0])
        if len(normals) < 2 or float((normals @ normals.T).min()) > _BENT:
            return False
        far = max(1.0, float(np.linalg.norm(self.here.u)))
        nearest = nearest_of(self.cuts, self.here) if self.on_surface(10.0) else None
        return (
            nearest is not None and float(np.linalg.norm(nearest[0] - self.here.u)) <= self.limits.angle * far
        )

    def is_known(self) -> bool:
        """Whether this place, or the one that it points to, is close to a known point."""
        foot = self.here.foot
        for u in self.known:
            close = _ARRIVED * max(1.0, float(np.linalg.norm(u)))
            if min(float(np.linalg.norm(self.here.u - u)), float(np.linalg.norm(foot - u))) <= close:
                return True
        return False

    def is_beyond(self) -> bool:
        """Whether this place and the one it points to have been too far out for a while."""
        if min(float(np.linalg.norm(self.here.u)), float(np.linalg.norm(self.here.foot))) > self.reach:
            self.outside += 1
        else:
            self.outside = 0
        return self.outside >= 3

    # -- going there --------------------------------------------------------------------------

    def move(self, there: Cut) -> None:
        """Go there, and learn the curvature on the way."""
        if there.norm > 0.0 and there is not self.here:
            multiplier = max(0.0, -float(there.u @ there.gradient) / there.norm**2)
            moved = there.u - self.here.u
            turned = moved + multiplier * (there.gradient - self.here.gradient)
            bent = _times(self.hessian, moved)
            length, along = float(moved @ bent), float(moved @ turned)
            if length > 1e-18:
                share = 1.0 if along >= 0.2 * length else 0.8 * length / (length - along)
                self.update(moved, share * turned + (1.0 - share) * bent, bent)
        self.here = there

    def update(self, moved: Floats, turned: Floats, bent: Floats) -> None:
        """Have the Hessian turn the step ``moved`` into ``turned`` and no longer into ``bent`` (BFGS)."""
        along = float(moved @ turned)
        self.hessian += np.outer(turned, turned) / along - np.outer(bent, bent) / float(moved @ bent)
        pulled = _times(self.inverse, turned)
        mixed = np.outer(pulled, moved)
        self.inverse += (1.0 + float(turned @ pulled) / along) * np.outer(moved, moved) / along
        self.inverse -= (mixed + mixed.T) / along

    def look_about(self) -> None:
        """Linearise afresh at some places close by, in one call.

        Differences taken astride a kink mix the slopes of both its sides; those taken a little off it do not.
        The places are off in the directions in which the slopes known so far differ, and in others by chance.
        """
        here = self.here
        normals = [cut.gradient / cut.norm for cut in self.cuts[-6:] if cut.norm > 0.0]
        astray = [a - b for i, a in enumerate(normals) for b in normals[:i]]
        astray = sorted((d for d in astray if float(d @ d) > 1e-4), key=lambda d: -float(d @ d))[:3]
        chance = generator(seed=0, purpose="design points, about a kink", index=0)
        aside = [*astray, *chance.standard_normal((2, len(here.u)))]
        units = np.array([d / float(np.linalg.norm(d)) for d in aside if float(d @ d) > 0.0])
        by = _ASIDE * max(1.0, float(np.linalg.norm(here.u)))
        fresh = self.surface.cuts(here.u + by * np.concatenate((units, -units)))
        self.cuts = [cut for cut in fresh if not np.isnan(cut.margin)]
        self.forget()
        self.careful, self.short = True, 0

    def advance(self) -> bool:
        """Take one step; False where no place is better than this one."""
        here, (step, multiplier) = self.here, self.step()
        weight = 2.0 * max(multiplier, float(np.linalg.norm(here.u)) / here.norm, 1e-6 / here.norm)
        tried = None
        if not self.careful and not self.flat:
            there = self.surface.cut(here.u + step)
            if not np.isnan(there.margin):
                slope = float(here.u @ step) + weight * float(np.sign(here.margin) * (here.gradient @ step))
                wanted = self.merit(here, weight) + _SUFFICIENT * min(slope, 0.0)
                self.cuts.append(there)
                if self.merit(there, weight) <= wanted and there.norm > 0.0:
                    self.flat = abs(there.margin) > _FLAT * abs(here.margin) and not self.on_surface(100.0)
                    self.move(there)
                    return True
                tried = there
        return self.search(step, weight, tried)

    def search(self, step: Floats, weight: float, tried: Cut | None) -> bool:
        """Try many lengths in one call and go to the best place."""
        here = self.here
        lengths = np.concatenate(([] if tried else [1.0], _SHORTER, _LONGER if self.flat else []))
        places = [here.u + lengths[:, None] * step]
        bundle = nearest_of(self.cuts, here) if len(self.cuts) > 1 else None
        if tried is not None:
            # Back to the surface from where the full step left it, along its curve.
            places.append((tried.u - here.gradient * (tried.margin / here.norm**2))[None, :])
        if bundle is not None:
            jump = self.held(bundle[0] - here.u)
            places.append(here.u + np.array([[1.0], [0.5]]) * jump)
            weight = max(weight, 2.0 * bundle[1])
        rows = np.concatenate(places)
        rows = rows[np.linalg.norm(rows, axis=1) <= self.limits.radius * (1.0 + 1e-12)]
        margins = self.surface.margins(rows)
        merits = self.merits(rows, margins, weight)
        best = int(np.argmin(merits))
        least, there = float(merits[best]), None
        merit = self.merit(here, weight)
        if tried is not None and self.merit(tried, weight) <= least:
            least, there = self.merit(tried, weight), tried
        if not least < merit - 1e-12 * max(1.0, abs(merit)):
            return False
        if there is None:
            there = self.surface.cut(rows[best], float(margins[best]))
            self.cuts.append(there)
        self.careful = best < len(lengths) and lengths[best] < 0.5
        self.flat = self.flat and best < len(lengths) and lengths[best] > 1.0
        far = max(1.0, float(np.linalg.norm(here.u)))
        self.short = self.short + 1 if float(np.linalg.norm(there.u - here.u)) < _SHORT * far else 0
        self.move(there)
        return True


def _times(matrix: Floats, vector: Floats) -> Floats:
    """Return the product, by NumPy's own sums: a threaded library takes longer for so few numbers."""
    return np.asarray(np.einsum("ij,j->i", matrix, vector))


def walk(
    surface: LimitSurface,
    start: Cut,
    *,
    iterations: int,
    known: Sequence[Floats] = (),
    reach: float = np.inf,
) -> Arrival:
    """Go from a start to a point of the surface to which the gradient points, or as near as may be.

    Parameters
    ----------
    surface : LimitSurface
    start : Cut
        With a margin.
    iterations : int
        At most.
    known : sequence of ndarray (m,)
        Design points near which the search is given up.
    reach : float
        Distance beyond which it is given up.
    """
    state = _Walk(surface, start, known, reach)
    looked = False
    for iteration in range(iterations + 1):
        if state.here.norm == 0.0:
            return Arrival(state.here, "lost", iteration)
        if state.is_known():
            return Arrival(state.here, "known", iteration)
        if state.is_point():
            return Arrival(state.here, "point", iteration)
        if state.is_beyond():
            return Arrival(state.here, "beyond", iteration)
        if iteration == iterations:
            break
        if state.short < 2 and state.advance():
            looked = False
            continue
        if looked:
            break
        state.look_about()
        looked = True
        if state.is_kink():
            return Arrival(state.here, "local", iteration, tuple(state.cuts))
    return Arrival(state.here, "stuck" if state.on_surface(10.0) else "lost", iteration)
