"""Every limit state and every union of a problem, each by what suits it, and held against another method.

Design points come first, one search a limit state. A limit state that plain simulation saw fail often enough is
taken from there. The rest, and every union, come from one importance sample a view (:mod:`riskcut.reliability.views`)
about the design points, sized and shared out by a pilot that is thrown away. What is far rarer than 1e-9 is left at
its value of second order (of first, where there are no curvatures), and called that. Two methods that disagree cast
a doubt that travels with the figure.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability import allocation, importance
from riskcut.reliability.bounds import MOST_COMPONENTS, UnionBounds, ditlevsen
from riskcut.reliability.design_point import Search
from riskcut.reliability.failure_events import System, first_failures
from riskcut.reliability.finding import (
    AIMED,
    CONSTANT,
    FIRST_ORDER,
    SECOND_ORDER,
    Finding,
    Kind,
    aimed_finding,
    better,
    order_finding,
    plain_finding,
    shared_out,
)
from riskcut.reliability.importance_pilot import MATTERS
from riskcut.reliability.mixture import Centre, LimitState
from riskcut.reliability.plan import Pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.searches import ROUNDS, Searches, State
from riskcut.reliability.second_order import SecondOrder
from riskcut.reliability.standard_space import Ledger, StandardSpace
from riskcut.reliability.tally import Tally
from riskcut.reliability.views import View, views
from riskcut.reliability.weighted_tally import WeightedTally

Floats = NDArray[np.float64]

LEAST_SAMPLED = 1e-11
"""Limit states with a first-order probability below are left at that; it may be a hundred times too low."""
LEAST_WANTED = 1e-9
"""Below, a sample that is in doubt gives way to the first-order value."""
_SYSTEM = "system"
"""What a view's one system is called in its sample."""
_BOUNDED = 2
"""Components up to which the unions of a view get first-order bounds: the stages of one section."""
_CONTRIBUTION = 1e-3
"""Share of a union from which a guest's design points are sampled about."""


Progress = Callable[[int, int], None]


def _first(turn: int) -> str:
    """Return what the event of failing first at a turn is called in a view's sample."""
    return f"first at {turn}"


_PART = 3e-3
"""Share of a union from which the rows are sized for what fails first at one turn of it,"""
_OF_PART = 3.0
"""to so many times the coefficient of variation that is wanted of the union."""


@dataclass(frozen=True)
class Assessment:
    """All figures of a problem."""

    states: Mapping[State, Finding]
    unions: Mapping[str, Finding]
    """Those with a governing limit state."""
    first_failures: Mapping[tuple[str, int], Finding]
    """Of the unions that are taken in turns, by union and turn: failing then and not before. They add up to the
    union's own figure, and are of the same sample."""
    searches: Mapping[State, Search]
    """Design points, in the space of the limit state's component alone."""
    second_order: Mapping[State, SecondOrder]
    """At the nearest design point, of those that have a smooth one."""
    bounds: Mapping[str, UnionBounds]
    """First-order bounds of the unions of one or two components, the stages of one section, by name."""
    ledger: Ledger
    """Design points, pilots and samples; without the plain simulation."""
    capped: int
    """Views that wanted more rows than the cap allows."""


def assess(
    problem: Problem,
    pilot: Pilot,
    tally: Tally,
    *,
    seed: int,
    targets: Mapping[str, float | None] | None = None,
    coefficient_of_variation: float = MATTERS,
    cap_rows: int = 65_536,
    workers: int = 1,
    progress: Progress | None = None,
) -> Assessment:
    """Find the failure probability of every limit state and union.

    Parameters
    ----------
    problem : Problem
    pilot, tally : Pilot, Tally
        Of its plain simulation: which margins never vary, and the counts that figures are held against.
    seed : int
    targets : mapping of str to float or None, optional
        By component, the failure probability that its limit states have to stay below: what lies within a factor
        100 of it matters.
    coefficient_of_variation : float
        Wanted of systems and of the limit states that matter; three times as much of the rest.
    cap_rows : int
        Most rows of one view's sample.
    workers : int
        Threads; no bit of the answer depends on them.
    progress : callable, optional
        Called with (views done, views).

    Returns
    -------
    Assessment
    """
    engine = _Engine(problem, pilot, tally, seed, targets or {}, coefficient_of_variation, cap_rows, workers)
    every = views(problem)
    for done, view in enumerate(every, start=1):
        engine.view(view)
        if progress is not None:
            progress(done, len(every))
    return Assessment(
        states=engine.states,
        unions=engine.unions,
        first_failures=engine.first_failures,
        searches=engine.searches.found,
        second_order=engine.searches.second_order,
        bounds=engine.bounds,
        ledger=engine.ledger,
        capped=engine.capped,
    )


def counted(problem: Problem, pilot: Pilot, tally: Tally) -> Assessment:
    """Return what plain simulation alone finds, in the same form: no design points, and bounds for what it never saw.

    Parameters
    ----------
    problem : Problem
    pilot, tally : Pilot, Tally
        As for :func:`assess`.
    """
    states: dict[State, Finding] = {}
    for place, component in enumerate(problem.components):
        counts = tally.components[component.name]
        for k in range(len(component.labels)):
            states[place, k] = (
                _certain(float(pilot.value[component.name][k]) < 0.0)
                if pilot.constant[component.name][k]
                else plain_finding(int(counts.failures[k]), int(counts.impossible[k]), counts.rows)
            )
    unions = {
        name: plain_finding(system.failures, system.impossible, system.rows)
        for name, system in tally.unions.items()
        if system.limit_states
    }
    first = {
        (union, turn): plain_finding(system.failures, system.impossible, system.rows)
        for (union, turn), system in tally.first_failures.items()
    }
    return Assessment(
        states=states,
        unions=unions,
        first_failures=first,
        searches={},
        second_order={},
        bounds={},
        ledger=Ledger(),
        capped=0,
    )


def _certain(fails: bool) -> Finding:
    p = float(fails)
    return Finding(p, p, p, 0.0, CONSTANT, Kind.CERTAIN)


class _Engine:
    """Goes from view to view; keeps the searches, which views share."""

    def __init__(
        self,
        problem: Problem,
        pilot: Pilot,
        tally: Tally,
        seed: int,
        targets: Mapping[str, float | None],
        variation: float,
        cap_rows: int,
        workers: int,
    ) -> None:
        self._problem, self._pilot, self._tally = problem, pilot, tally
        self._seed, self._targets, self._cap_rows, self._workers = seed, targets, cap_rows, workers
        self._variation = variation
        self._enough = math.ceil(1.0 / variation**2)
        self.ledger = Ledger()
        self.searches = Searches(problem, self.ledger, seed)
        self.states: dict[State, Finding] = {}
        self.unions: dict[str, Finding] = {}
        self.first_failures: dict[tuple[str, int], Finding] = {}
        self.bounds: dict[str, UnionBounds] = {}
        self.capped = 0

    def view(self, view: View) -> None:
        """Give the figures of the limit states that are at home in a view, and of its unions."""
        varying = [state for state in self._wanted(view) if not self._constant(state)]
        for state in varying:
            self.searches.look(state)
        tally = self._sample(view, varying)
        for state in self._wanted(view):
            if state[0] in view.at_home:
                self.searches.curve(state)
                self.states[state] = self._figure(state, view, tally)
        governing = [state for state in self._wanted(view) if self._governs(state)]
        if view.unions and governing:
            finding = self._union(view, governing, tally)
            self.unions |= dict.fromkeys(view.unions, finding)
            for union in view.unions:
                if union in self._problem.in_turns:
                    self._in_turns(union, finding, governing, tally)
            self._bound(view, [state for state in governing if not self._constant(state)])

    def _bound(self, view: View, governing: list[State]) -> None:
        """Bound the unions of a view by the design points of what governs, where all of those are known."""
        few = len(view.components) <= _BOUNDED and len(governing) <= MOST_COMPONENTS
        if not (few and governing) or any(self.searches.first_order(state) is None for state in governing):
            return
        space = StandardSpace(self._problem, view.components, self.ledger)
        places = [place for state in governing for place, _ in self.searches.places(state, space)]
        betas = np.array([float(np.linalg.norm(place)) for place in places])
        if places and betas.min() > 0.0 and all(self.searches.found[s].origin > 0.0 for s in governing):
            found = ditlevsen(betas, np.array(places) / betas[:, np.newaxis])
            self.bounds |= dict.fromkeys(view.unions, found)

    def _wanted(self, view: View) -> list[State]:
        """Return the limit states that a view evaluates."""
        return [
            (place, k)
            for place in view.components
            for k in range(len(self._problem.components[place].labels))
            if place in view.at_home or self._governs((place, k))
        ]

    def _governs(self, state: State) -> bool:
        return self._problem.components[state[0]].governing[state[1]]

    def _constant(self, state: State) -> bool:
        return bool(self._pilot.constant[self._problem.components[state[0]].name][state[1]])

    def _rare(self, state: State) -> bool:
        first = self.searches.first_order(state)
        return first is not None and first < LEAST_SAMPLED and not self._failures(state)

    def _failures(self, state: State) -> int:
        component = self._tally.components[self._problem.components[state[0]].name]
        return int(component.failures[state[1]])

    def _sample(self, view: View, varying: list[State]) -> WeightedTally | None:
        """Return the importance sample of a view, None where nothing in it is worth one.

        A sample in doubt is thrown away once, where another look for strangers finds where its heavy rows come from.
        """
        if all(self._rare(state) for state in varying):
            return None
        space = StandardSpace(self._problem, view.components, self.ledger)
        local = {place: k for k, place in enumerate(view.components)}

        def centres() -> list[Floats]:
            return [centre.u for centre in self._centres(view, varying, space, local)]

        self.searches.meet(space, view.components, varying, centres, range(ROUNDS))
        tally = self._sampled(view, varying, space, local, "aimed at")
        if self._in_doubt(view, tally) and self.searches.meet(
            space, view.components, varying, centres, range(ROUNDS, 3 * ROUNDS), patient=True
        ):
            tally = self._sampled(view, varying, space, local, "aimed again at")
        return tally

    def _sampled(
        self,
        view: View,
        varying: list[State],
        space: StandardSpace,
        local: Mapping[int, int],
        purpose: str,
    ) -> WeightedTally:
        """Return one sample, sized by its own pilot."""
        which: dict[int, list[int]] = {}
        for place, k in varying:
            which.setdefault(local[place], []).append(k)
        system = [(local[place], k) for place, k in varying if self._governs((place, k))]
        systems: dict[str, System] = {_SYSTEM: system} if system else {}
        parts = self._parts(view, local, varying)
        centres = self._centres(view, varying, space, local)
        precise = any(self._problem.in_turns.get(union, False) for union in view.unions)
        first = allocation.pilot(
            space,
            centres=centres,
            which=which,
            systems={**systems, **parts} if precise else systems,
            seed=self._seed,
            workers=self._workers,
        )
        wanted = allocation.wanted_errors(first, targets=self._target_by_state(view, local, which))
        wanted *= self._variation / MATTERS
        for e, event in enumerate(first.limit_states):
            place = view.components[event[0]]
            if place not in view.at_home or self._failures((place, event[1])) >= self._enough:
                wanted[e] = np.inf  # told elsewhere
        for e, name in enumerate(first.names):
            if name in parts:
                matters = first.probability[e] >= _PART * first.probability[first.names.index(_SYSTEM)]
                wanted[e] = _OF_PART * self._variation if matters else np.inf
        plan = allocation.allocate(first, wanted=wanted, cap_rows=self._cap_rows)
        self.capped += plan.capped
        return importance.sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            which=which,
            systems={**systems, **parts},
            turned=plan.turned,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=self._seed,
            purpose=f"{purpose} {view.unions[0] if view.unions else view.components[0]}",
            workers=self._workers,
        )

    def _parts(self, view: View, local: Mapping[int, int], varying: list[State]) -> dict[str, System]:
        """Return the events of failing first at each turn, of a view with a union that is taken in turns."""
        if not self._problem.in_turns.keys() & set(view.unions):
            return {}
        turns: dict[int, list[LimitState]] = {}
        for place, k in varying:
            if self._governs((place, k)):
                turns.setdefault(self._problem.components[place].turn, []).append((local[place], k))
        return {_first(turn): event for turn, event in first_failures(turns).items()}

    def _in_doubt(self, view: View, tally: WeightedTally) -> bool:
        """Whether anything that this view is to tell of is not to be trusted, and was seen to fail."""
        events: tuple[LimitState | str, ...] = (*tally.limit_states, *tally.systems)
        for e, doubts in enumerate(tally.doubts()):
            event = events[e]
            if not doubts or not tally.failing[e]:
                continue
            if isinstance(event, str):
                if event == _SYSTEM:
                    return True
                continue  # a part of it, however small
            state = (view.components[event[0]], event[1])
            if state[0] in view.at_home and self._failures(state) < self._enough:
                return True
        return False

    def _centres(
        self, view: View, varying: list[State], space: StandardSpace, local: Mapping[int, int]
    ) -> list[Centre]:
        """Return the places to sample about: of what is at home all that is not too rare, of guests what counts."""
        of_union = sum(self.searches.first_order(state) or 0.0 for state in varying if self._governs(state))
        centres = []
        for state in varying:
            guest = state[0] not in view.at_home
            at_least = max(LEAST_SAMPLED, _CONTRIBUTION * of_union) if guest else LEAST_SAMPLED
            for place, p in self.searches.places(state, space):
                if at_least <= p <= 0.5:
                    centres.append(Centre(place, (local[state[0]], state[1]), p))
        return centres

    def _target_by_state(
        self, view: View, local: Mapping[int, int], which: Mapping[int, list[int]]
    ) -> dict[LimitState, float]:
        targets = {}
        for place in view.components:
            target = self._targets.get(self._problem.components[place].name)
            for k in which.get(local[place], []) if target is not None else []:
                assert target is not None
                targets[local[place], k] = target
        return targets

    def _figure(self, state: State, view: View, tally: WeightedTally | None) -> Finding:
        """Return the figure of one limit state, by what knows it best."""
        if self._constant(state):
            return _certain(self._always_fails(state))
        component = self._tally.components[self._problem.components[state[0]].name]
        failures, impossible = int(component.failures[state[1]]), int(component.impossible[state[1]])
        plain = plain_finding(failures, impossible, component.rows)
        if min(failures, component.rows - failures) >= self._enough:
            return plain
        if not self.searches.found[state].points and not failures:
            return plain  # nowhere seen to fail: there is no value of any order
        first = self.searches.first_order(state)
        if first is not None and (self._rare(state) or tally is None):
            return self._unsampled(state, plain)
        if tally is None:
            return plain
        event = (view.components.index(state[0]), state[1])
        finding = better(aimed_finding(tally, event), plain, failures, component.rows, impossible)
        unsampled = finding.doubt or finding.probability == 0.0
        if (
            unsampled
            and first is not None
            and not failures
            and max(first, finding.probability) < LEAST_WANTED
        ):
            return self._unsampled(state, plain)
        return finding

    def _unsampled(self, state: State, plain: Finding) -> Finding:
        """Return the value of second order, or of first, of a limit state that is too rare to sample."""
        first = self.searches.first_order(state)
        assert first is not None
        second = self.searches.second_order.get(state)
        if second is None or not second.failure_probability > 0.0:
            return order_finding(first, plain, FIRST_ORDER)
        nearest = self.searches.found[state].points[0].first_order_probability
        return order_finding(min(first - nearest + second.failure_probability, 1.0), plain, SECOND_ORDER)

    def _union(self, view: View, governing: list[State], tally: WeightedTally | None) -> Finding:
        """Return the figure of a view's unions."""
        failing = [state for state in governing if self._constant(state) and self._always_fails(state)]
        if failing:
            return _certain(True)
        varying = [state for state in governing if not self._constant(state)]
        if not varying:
            return _certain(False)
        counts = self._tally.unions[view.unions[0]]
        plain = plain_finding(counts.failures, counts.impossible, counts.rows)
        if min(counts.failures, counts.rows - counts.failures) >= self._enough:
            return plain
        parts = [
            self.states[s].probability if s in self.states else self.searches.first_order(s) or 0.0
            for s in varying
        ]
        whole = min(sum(parts), 1.0)
        by_parts = order_finding(whole, plain, FIRST_ORDER) if whole > 0.0 else plain
        if tally is None:
            return by_parts
        finding = better(
            aimed_finding(tally, _SYSTEM), plain, counts.failures, counts.rows, counts.impossible
        )
        if finding.doubt and not counts.failures and max(whole, finding.probability) < LEAST_WANTED:
            return by_parts  # as its parts, too rare for the sample to be asked for it
        return finding

    def _in_turns(
        self, union: str, whole: Finding, governing: list[State], tally: WeightedTally | None
    ) -> None:
        """Part a union's figure by the turn at which it fails first, by the sample that it is of."""
        turns = self._problem.turns(union)
        if whole.method == AIMED and tally is not None:
            known = set(tally.systems)
            parts = {
                turn: aimed_finding(tally, _first(turn)) if _first(turn) in known else _certain(False)
                for turn in turns
            }
        elif whole.kind is Kind.FIRST_ORDER:
            parts = {turn: self._first_order(turn, governing, whole) for turn in turns}
        else:
            counts = {turn: self._tally.first_failures[union, turn] for turn in turns}
            parts = {turn: plain_finding(c.failures, c.impossible, c.rows) for turn, c in counts.items()}
        self.first_failures |= {(union, turn): part for turn, part in shared_out(whole, parts).items()}

    def _first_order(self, turn: int, governing: list[State], whole: Finding) -> Finding:
        """Return what a turn's limit states have of a union that is known to first order alone."""
        there = [state for state in governing if self._problem.components[state[0]].turn == turn]
        p = sum(
            self.states[s].probability if s in self.states else self.searches.first_order(s) or 0.0
            for s in there
        )
        return replace(whole, probability=p, upper=max(whole.upper, p))

    def _always_fails(self, state: State) -> bool:
        return bool(self._pilot.value[self._problem.components[state[0]].name][state[1]] < 0.0)
