"""The design points of all limit states of a problem, each looked for once and completed as samples tell of more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, ndtr

from riskcut.reliability.competing_points import with_competing
from riskcut.reliability.design_point import Limits, Search
from riskcut.reliability.design_points import find
from riskcut.reliability.importance_pilot import LEAST_WANTED
from riskcut.reliability.pilot_rows import Group, PilotRows
from riskcut.reliability.problem import Problem
from riskcut.reliability.second_order import SecondOrder, curvatures, improved_breitung
from riskcut.reliability.standard_space import Ledger, Point, StandardSpace
from riskcut.reliability.strangers import followed, strangers

Floats = NDArray[np.float64]
State = tuple[int, int]
"""A component's place in the problem, and the place of one of its limit states."""

_ROUNDS, _ROUNDS_AFRESH = 6, 3
"""Of looking for what no design point explains."""
_FARTHEST = Limits().radius
_NOWHERE = float(ndtr(-_FARTHEST))
"""Probability beyond the distance at which nothing is looked for any more."""
_CURVED = 100.0
"""Times the value of first order, up to which that of second order is taken to be one."""
_MOST = Limits().points
"""Points that one search keeps: where samples led to more, there is no end of them."""
_ALIKE = 0.3
"""Share of a limit state's drivers that another one of its label has to have, for its design points to be starts,"""
_STARTS = 2
"""and how many of them are."""


@dataclass(frozen=True)
class Found:
    """What searches know of some limit states: what travels between processes."""

    searches: Mapping[State, Search]
    points: Mapping[State, tuple[Point, ...]]
    """The design points, in the scores of their drivers."""
    all_round: frozenset[State]
    ledger: Ledger


class Searches:
    """Keeps what has been found.

    Attributes
    ----------
    found : dict of State to Search
        In the space of the limit state's component alone.
    second_order : dict of State to SecondOrder
        At the nearest design point, of those that have a smooth one.
    all_round : set of State
        Those that fail all round the places known, as far as rows about them last told.
    ledger : Ledger
        What it has cost.
    """

    def __init__(self, problem: Problem, ledger: Ledger) -> None:
        self._problem, self.ledger = problem, ledger
        self.found: dict[State, Search] = {}
        self.second_order: dict[State, SecondOrder] = {}
        self.all_round: set[State] = set()
        self._points: dict[State, tuple[Point, ...]] = {}
        self._alike: dict[str, tuple[Point, ...]] = {}
        """Of each label, the design points that were found last."""
        self._spaces: dict[int, StandardSpace] = {}

    def apart(self) -> Searches:
        """Return the same searches with a ledger of their own; what is found there is not found here."""
        twin = Searches(self._problem, Ledger())
        twin.found, twin.second_order = dict(self.found), dict(self.second_order)
        twin.all_round, twin._points = set(self.all_round), dict(self._points)
        return twin

    def told(self, states: Iterable[State]) -> Found:
        """Return what is known of some limit states, and what all of it has cost."""
        chosen = tuple(states)
        return Found(
            searches={state: self.found[state] for state in chosen},
            points={state: self._points[state] for state in chosen},
            all_round=frozenset(self.all_round.intersection(chosen)),
            ledger=self.ledger,
        )

    def take(self, other: Found) -> None:
        """Take over what was found apart, and what it cost."""
        self.found |= other.searches
        self._points |= other.points
        self.all_round.difference_update(other.searches)
        self.all_round |= other.all_round
        self.ledger.absorb(other.ledger)

    def look(self, state: State) -> None:
        """Find the design points of a limit state that a search leads to."""
        if state in self.found:
            return
        space = self._own(state)
        label = self._problem.components[state[0]].labels[state[1]]
        starts = self._starts(label, space)
        search = find(space, 0, state[1], starts=starts)
        # A similar limit state, whose points are starts, was looked at so before.
        self._keep(state, space, search if starts else with_competing(space, 0, state[1], search))
        if any(point.kind == "point" for point in self.found[state].points):
            self._alike[label] = self._points[state][:_STARTS]

    def meet(
        self,
        rows: PilotRows,
        components: Sequence[int],
        states: Sequence[State],
        places: Callable[[], Sequence[Group]],
        *,
        afresh: int = 0,
    ) -> bool:
        """Complete the design points of limit states by rows about all of them, as long as these lead to more.

        Parameters
        ----------
        rows : PilotRows
            Of their components; more are drawn about what is found.
        components : sequence of int
            The places in the problem of the components of the rows' space.
        states : sequence of State
        places : callable
            Returns the places of that space to draw rows about, as known by then.
        afresh : int
            So many rows are drawn again about each place, and again where they lead to nothing; 0 for none.

        Returns
        -------
        bool
            Whether anything was found.
        """
        local = {place: k for k, place in enumerate(components)}
        safe = [state for state in states if self.found[state].origin > 0.0]
        tried: dict[State, list[int]] = {state: [] for state in safe}
        ever = False
        for _ in range(_ROUNDS_AFRESH if afresh else _ROUNDS):
            known = places()
            if not any(some for _, some in known):
                break
            if not rows.about(known) and afresh:
                rows.again(afresh)
            weight = rows.weighed()[1] / len(rows)
            any_start = False
            for state in safe:
                failing = np.flatnonzero(rows.margins[local[state[0]], state[1]] < 0.0)
                own = self._own(state)
                points = [point.u for point in self.found[state].points if point.beta > 0.0]
                u = own.own(rows.z[failing], rows.space.drivers)
                some = strangers(u, weight[failing], points, np.isin(failing, tried[state]))
                self.all_round.discard(state)
                if some is None:
                    continue
                if some.all_round:
                    self.all_round.add(state)
                if some.starts:
                    any_start = True
                    tried[state] += [int(failing[start]) for start in some.starts]
                    ever |= self._follow(state, own, [u[start] for start in some.starts])
            if not (any_start or afresh):
                break
        return ever

    def pursue(self, space: StandardSpace, rows: Mapping[State, Floats]) -> bool:
        """Complete the design points of limit states by what one failing row (m,) of each leads to.

        Parameters
        ----------
        space : StandardSpace
            Of all their components, and perhaps of more.
        rows : mapping of State to ndarray (m,)
            Of limit states that are safe at the origin.

        Returns
        -------
        bool
            Whether anything was found.
        """
        new = False
        for state, row in rows.items():
            own = self._own(state)
            new |= self._follow(state, own, [own.lifted(space.point(row).of(own.drivers))])
        return new

    def curve(self, state: State) -> None:
        """Give the second-order value at the nearest design point of a limit state, where it has a smooth one."""
        points = self.found[state].points if state in self.found else ()
        if points and points[0].kind == "point":
            bent = curvatures(self._own(state), 0, state[1], points[0])
            if np.isfinite(bent).all():
                self.second_order[state] = improved_breitung(points[0].beta, bent)

    def first_order(self, state: State) -> float | None:
        """Return the first-order probability of a limit state, None where no design point was found."""
        search = self.found[state]
        if not search.points and search.origin > 0.0:
            return _NOWHERE  # looked for, and nowhere seen to fail
        if not search.converged:
            return None
        return min(sum(point.first_order_probability for point in search.points), 1.0)

    def telling(self, state: State) -> bool:
        """Return whether the design points of a limit state that was never seen to fail say how rare it is.

        Whatever its shape, it fails no more often than a point lies as far out as the nearest one, which is a
        chi-square probability. Where that is not negligible (in many dimensions nearly all points lie far out), single
        points say nothing where there is no end of them, where none was found as far as was looked, or where the
        surface bends round the origin as a sphere does, so that its value of second order is none or enormous.
        """
        points = self.found[state].points
        nearest = points[0].beta if points else _FARTHEST
        if nearest > 0.0 and chdtrc(float(self._own(state).dimension), nearest * nearest) < LEAST_WANTED:
            return True
        if not points or len(points) > _MOST:
            return False
        if points[0].kind != "point":
            return True
        second = self.second_order.get(state)
        most = _CURVED * points[0].first_order_probability
        return second is not None and 0.0 < second.failure_probability <= most

    def places(self, state: State, space: StandardSpace) -> list[tuple[Floats, float]]:
        """Return the design points of a limit state in a space, each with its first-order probability.

        Rounded, so that a last bit of a search does not reach a sample.
        """
        return [
            (np.round(space.lifted(point), 9), one.first_order_probability)
            for point, one in zip(self._points[state], self.found[state].points, strict=True)
        ]

    def _own(self, state: State) -> StandardSpace:
        if state[0] not in self._spaces:
            self._spaces[state[0]] = StandardSpace(self._problem, [state[0]], self.ledger)
        return self._spaces[state[0]]

    def _starts(self, label: str, space: StandardSpace) -> list[Floats]:
        """Return where a limit state of the same label, at another stage or in another scenario, has its points."""
        starts = []
        for point in self._alike.get(label, ()):
            common = tuple(driver for driver in space.drivers if driver in point.drivers)
            if len(common) >= _ALIKE * space.dimension > 0.0:
                starts.append(space.lifted(point.of(common)))
        return starts

    def _keep(self, state: State, space: StandardSpace, search: Search) -> None:
        self.found[state] = search
        self._points[state] = tuple(space.point(point.u) for point in search.points)

    def _follow(self, state: State, space: StandardSpace, starts: Sequence[Floats]) -> bool:
        """Search again from starts in the limit state's own space; whether that found anything."""
        search = followed(space, 0, state[1], self.found[state], starts)
        if search is not None:
            self._keep(state, space, search)
        return search is not None
