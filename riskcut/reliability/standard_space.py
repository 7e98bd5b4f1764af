"""The independent standard normals behind some components: where design points and importance samples live.

Every limit state becomes a function of m independent standard normal numbers u, the distance of whose failure
set from the origin says how rare it is. Components that share columns share coordinates.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.reader import Reader

Floats = NDArray[np.float64]


@dataclass
class Ledger:
    """What a computation has cost so far, counted where the model is called."""

    calls: int = 0
    """Of a component, whatever its rows."""
    rows: int = 0
    """Input vectors; once where several components read the same ones in one step."""
    margin_evaluations: int = 0
    """Limit states times rows."""

    def add(self, rows: int, limit_states: int, calls: int = 1) -> None:
        """Count the calls of some components with the same rows."""
        self.calls += calls
        self.rows += rows
        self.margin_evaluations += rows * limit_states

    def absorb(self, other: Ledger) -> None:
        """Add what another ledger has counted."""
        self.calls += other.calls
        self.rows += other.rows
        self.margin_evaluations += other.margin_evaluations


@dataclass(frozen=True)
class Point:
    """A place in the normal scores of some drivers, whatever space it was found in."""

    drivers: tuple[int, ...]
    """Of the problem's joint distribution."""
    scores: Floats
    """Correlated normal scores of those drivers."""

    def of(self, drivers: Sequence[int]) -> Point:
        """Return the point's scores of some of its drivers alone."""
        where = {driver: place for place, driver in enumerate(self.drivers)}
        return Point(tuple(drivers), self.scores[[where[driver] for driver in drivers]])


class StandardSpace:
    """The independent standard normal space of some components of a problem.

    Parameters
    ----------
    problem : Problem
    components : sequence of int, optional
        Their places in the problem; all by default.
    ledger : Ledger, optional
        Where the cost is counted; its own by default.

    Attributes
    ----------
    components : tuple of Component
    drivers : tuple of int
        The driver of the problem's joint distribution that each of the m scores belongs to.
    dimension : int
        m.
    """

    def __init__(
        self, problem: Problem, components: Sequence[int] | None = None, ledger: Ledger | None = None
    ) -> None:
        chosen = range(len(problem.components)) if components is None else components
        self.components: tuple[Component, ...] = tuple(problem.components[place] for place in chosen)
        columns = sorted({column for component in self.components for column in component.columns})
        where = {column: place for place, column in enumerate(columns)}
        self._joint = problem.joint.restricted(columns)
        self._readers = tuple(
            Reader(self._joint, [where[c] for c in component.columns]) for component in self.components
        )
        self.drivers = tuple(sorted({problem.joint.driver[column] for column in columns}))
        self.dimension = len(self.drivers)
        self.ledger = Ledger() if ledger is None else ledger
        self._factor = np.linalg.cholesky(self._joint.correlation) if self.dimension else np.zeros((0, 0))

    def apart(self) -> StandardSpace:
        """Return the same space with a ledger of its own: adding to one from several threads would lose counts."""
        twin = copy(self)
        twin.ledger = Ledger()
        return twin

    def scores(self, u: Floats) -> Floats:
        """Return the correlated normal scores (n, m) of independent ones (n, m); may be ``u`` itself."""
        return self._joint.correlate(np.asarray(u, dtype=np.float64))

    def answer(self, z: Floats, component: int, which: Sequence[int]) -> Response:
        """Return the response of one component to correlated scores (n, m), limit states ``which``."""
        return self.answers(z, {component: which})[component]

    def answers(self, z: Floats, which: Mapping[int, Sequence[int]]) -> dict[int, Response]:
        """Return the responses of several components, by component, to the same correlated scores (n, m).

        Parameters
        ----------
        z : ndarray, (n, m)
        which : mapping of int to sequence of int
            Limit states wanted, by component.
        """
        self.ledger.add(len(z), sum(map(len, which.values())), calls=len(which))
        return {
            component: self.components[component].answer(self._readers[component](z), places)
            for component, places in which.items()
        }

    def margins(self, u: Floats, component: int, which: Sequence[int]) -> Floats:
        """Return the margins (n, len(which)) of one component at independent scores (n, m)."""
        return self.answer(self.scores(u), component, which).margin

    def values(self, u: Floats, component: int) -> Floats:
        """Return the values (n, len(columns)) that one component reads at independent scores (n, m)."""
        return self._readers[component](self.scores(u))

    def own(self, z: Floats, drivers: Sequence[int]) -> Floats:
        """Return as places (n, m) of this space rows that are known by their correlated scores.

        Parameters
        ----------
        z : ndarray, (n, k)
        drivers : sequence of int, k
            Of those scores; this space's are among them.
        """
        where = {driver: place for place, driver in enumerate(drivers)}
        return self._joint.uncorrelate(z[:, [where[driver] for driver in self.drivers]])

    def point(self, u: Floats) -> Point:
        """Return a place (m,) of this space as a point that other spaces can take up."""
        return Point(self.drivers, self.scores(np.asarray(u, dtype=np.float64)[np.newaxis, :])[0].copy())

    def lifted(self, point: Point) -> Floats:
        """Return the most likely place (m,) of this space at which the drivers of ``point`` have its scores.

        Raises
        ------
        ValueError
            Where the point has a driver that this space lacks.
        """
        where = {driver: place for place, driver in enumerate(self.drivers)}
        if lost := [driver for driver in point.drivers if driver not in where]:
            raise ValueError(f"the space has no driver {lost[0]}")
        at = [where[driver] for driver in point.drivers]
        correlation = self._joint.correlation
        # The conditional mean of all scores given some: the least distant, since the density falls with distance.
        pull = np.linalg.solve(correlation[np.ix_(at, at)], np.asarray(point.scores, dtype=np.float64))
        z = correlation[:, at] @ pull
        u: Floats = solve_triangular(self._factor, z, lower=True)
        return u
