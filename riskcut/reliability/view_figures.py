"""The figures of a view: of the limit states that are at home in it, of its unions, and of the turns that these take.

What plain simulation counted often enough is taken from there, the rest from the view's importance sample, from the
design points where it is too rare for that, and from another method where it is left in doubt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

import numpy as np

from riskcut.reliability.another_method import TOO_ROUGH, Others
from riskcut.reliability.bounds import MOST_COMPONENTS, UnionBounds, ditlevsen
from riskcut.reliability.crew import dealt
from riskcut.reliability.finding import (
    AIMED,
    CONSTANT,
    FIRST_ORDER,
    PLAIN,
    SECOND_ORDER,
    Finding,
    Kind,
    aimed_finding,
    better,
    by_counts,
    certain,
    completed,
    held,
    order_finding,
    plain_finding,
    shared_out,
)
from riskcut.reliability.plain_counts import PlainCounts
from riskcut.reliability.plan import Pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.searches import Found, Searches, State
from riskcut.reliability.standard_space import Ledger, StandardSpace
from riskcut.reliability.tally import Tally
from riskcut.reliability.view_samples import BEYOND, SYSTEM, ViewSamples, first_at
from riskcut.reliability.views import View
from riskcut.reliability.weighted_tally import WeightedTally

T = TypeVar("T")
U = TypeVar("U")

LEAST_WANTED = 1e-9
"""Below, a sample that is in doubt gives way to the first-order value."""
_BOUNDED = 2
"""Components up to which the unions of a view get first-order bounds: the stages of one section."""
_PART_OF_SYSTEM, _PART_OF_TARGET = 0.01, 0.01
"""Of its system, or of its target, from which a limit state matters enough for another method."""


class ViewFigures:
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
        self._problem, self._tally, self._targets, self._variation = problem, tally, targets, variation
        self._counts = PlainCounts(problem, pilot, tally, math.ceil(1.0 / variation**2))
        self.ledger = Ledger()
        self.searches = Searches(problem, self.ledger)
        self.states: dict[State, Finding] = {}
        self.unions: dict[str, Finding] = {}
        self.first_failures: dict[tuple[str, int], Finding] = {}
        self.bounds: dict[str, UnionBounds] = {}
        self._within: list[tuple[View, list[State]]] = []
        """Views with a union that were told before, smaller ones, with what governs them and varies."""
        self._samples = ViewSamples(
            problem,
            self._counts,
            self.searches,
            seed=seed,
            targets=targets,
            coefficient_of_variation=variation,
            cap_rows=cap_rows,
        )
        self._workers = workers
        self._others = Others(
            problem,
            self.searches,
            self.ledger,
            seed=seed,
            coefficient_of_variation=variation,
            cap_rows=cap_rows,
        )

    @property
    def capped(self) -> int:
        """Views that wanted more rows than the cap allows."""
        return self._samples.capped

    def look(self, every: Sequence[View]) -> None:
        """Find the design points that searches lead to, of all limit states that are at home in some views.

        Those of one label one after another, since each is a start for the next.
        """
        labels: dict[str, list[State]] = {}
        for view in every:
            for place, k in self._varying(view):
                if place in view.at_home:
                    labels.setdefault(self._problem.components[place].labels[k], []).append((place, k))
        tasks = sorted(labels.values(), key=len, reverse=True)

        def look_for(states: Sequence[State]) -> Found:
            twin = self.searches.apart()
            for state in states:
                twin.look(state)
            return twin.told(states)

        for found in self._shared_out(look_for, tasks):
            self.searches.take(found)

    def tell(self, wave: Sequence[View]) -> Iterator[View]:
        """Give the figures of the limit states that are at home in the views of one wave, and of their unions.

        Yields each view that is done.
        """
        largest = [self._largest_within(view) for view in wave]

        def sample(place: int) -> tuple[WeightedTally | None, Found, int]:
            twin, view = self._samples.apart(), wave[place]
            tally = twin.of(view, self._varying(view), largest[place])
            # What was met of guests serves this sample alone: another view of the wave may meet them as well.
            home = [state for state in self._varying(view) if state[0] in view.at_home]
            return tally, twin.searches.told(home), twin.capped

        samples = self._shared_out(sample, range(len(wave)))
        for view, inner, (tally, found, capped) in zip(wave, largest, samples, strict=True):
            self.searches.take(found)
            self._samples.capped += capped
            self._tell(view, tally, inner)
            yield view

    def _shared_out(self, work: Callable[[T], U], tasks: Sequence[T]) -> Iterator[U]:
        """Yield the results of some tasks in order, worked out by some processes."""
        hands = max(min(self._workers, len(tasks)), 1)
        return dealt([partial(map, work, tasks[first::hands]) for first in range(hands)])

    def _tell(self, view: View, tally: WeightedTally | None, largest: View | None) -> None:
        for state in self._wanted(view):
            if state[0] in view.at_home:
                self.searches.curve(state)
                self.states[state] = self._figure(state, view, tally)
        governing = [state for state in self._wanted(view) if self._counts.governs(state)]
        if view.unions and governing:
            finding = self._union(view, governing, tally, largest)
            self.unions |= dict.fromkeys(view.unions, finding)
            self._within.append((view, [state for state in governing if not self._counts.constant(state)]))
            for union in view.unions:
                if union in self._problem.in_turns:
                    self._in_turns(union, finding, governing, tally)
            self._bound(view, [state for state in governing if not self._counts.constant(state)])

    def _largest_within(self, view: View) -> View | None:
        """Return the view of the largest union within that of a view, None where none is known well enough.

        The largest by the values of first order, which owe nothing to the samples that the figures are of.
        """
        every = set(view.components)
        known = [
            (sum(self.searches.first_order(state) or 0.0 for state in governing), inner)
            for inner, governing in self._within
            if set(inner.components) < every
        ]
        if not known:
            return None
        inner = max(known, key=lambda one: one[0])[1]
        part = self.unions[inner.unions[0]]
        rough = part.standard_error > TOO_ROUGH * self._variation * part.probability
        usable = part.kind is Kind.SAMPLED and 0.0 < part.probability <= 0.5 and not (part.doubt or rough)
        return inner if usable else None

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

    def _varying(self, view: View) -> list[State]:
        """Return those of them that vary."""
        return [state for state in self._wanted(view) if not self._counts.constant(state)]

    def _wanted(self, view: View) -> list[State]:
        """Return the limit states that a view evaluates."""
        return [
            (place, k)
            for place in view.components
            for k in range(len(self._problem.components[place].labels))
            if place in view.at_home or self._counts.governs((place, k))
        ]

    def _figure(self, state: State, view: View, tally: WeightedTally | None) -> Finding:
        """Return the figure of one limit state, by what knows it best."""
        if self._counts.constant(state):
            return certain(self._counts.always_fails(state))
        usual = self._usual(state, view, tally)
        if not self._others.wanted(usual, [state]) or self._slight(state, usual, tally):
            return usual
        event = (view.components.index(state[0]), state[1])
        aimed = None if tally is None else aimed_finding(tally, event)
        return self._others.settle(usual, [state], self._counts.failures(state), self._tally.rows, aimed)

    def _slight(self, state: State, figure: Finding, tally: WeightedTally | None) -> bool:
        """Whether a limit state is too rare for its system, and for its target, to feel how rare."""
        p = figure.probability
        if (
            p == 0.0
            or figure.kind is Kind.FIRST_ORDER
            or tally is None
            or not tally.systems
            or not self._counts.governs(state)
        ):
            return False
        target = self._targets.get(self._problem.components[state[0]].name)
        of_system = float(tally.estimate().failure_probability[tally.place(SYSTEM)])
        return p < _PART_OF_SYSTEM * of_system and (target is None or p < _PART_OF_TARGET * target)

    def _usual(self, state: State, view: View, tally: WeightedTally | None) -> Finding:
        """Return the figure of one limit state from the plain count, the aimed sample or the design points."""
        failures, impossible = self._counts.failures(state), self._counts.impossible(state)
        rows = self._tally.rows
        plain = plain_finding(failures, impossible, rows)
        if self._counts.suffice(failures):
            return plain
        if not self.searches.found[state].points and not failures:
            return plain  # nowhere seen to fail: there is no value of any order
        first = self.searches.first_order(state)
        if first is not None and (self._samples.rare(state) or tally is None):
            return self._unsampled(state, plain)
        if tally is None:
            return plain
        event = (view.components.index(state[0]), state[1])
        finding = better(aimed_finding(tally, event), plain, failures, rows, impossible)
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

    def _union(
        self, view: View, governing: list[State], tally: WeightedTally | None, largest: View | None
    ) -> Finding:
        """Return the figure of a view's unions."""
        failing = [
            state for state in governing if self._counts.constant(state) and self._counts.always_fails(state)
        ]
        if failing:
            return certain(True)
        varying = [state for state in governing if not self._counts.constant(state)]
        if not varying:
            return certain(False)
        counts = self._tally.unions[view.unions[0]]
        plain = plain_finding(counts.failures, counts.impossible, counts.rows)
        if self._counts.suffice(counts.failures):
            return plain
        parts = [
            self.states[s].probability if s in self.states else self.searches.first_order(s) or 0.0
            for s in varying
        ]
        whole = min(sum(parts), 1.0)
        by_parts = order_finding(whole, plain, FIRST_ORDER) if whole > 0.0 else plain
        if tally is None:
            if not self._others.wanted(by_parts, varying):
                return by_parts
            return self._others.settle(by_parts, varying, counts.failures, counts.rows, None)
        aimed, own = aimed_finding(tally, SYSTEM), varying
        if largest is not None and BEYOND in tally.systems and self._clean(tally):
            aimed = completed(self.unions[largest.unions[0]], aimed_finding(tally, BEYOND), aimed)
            own = [state for state in varying if state[0] not in largest.components]
        aimed = self._held(aimed, view, own, tally)
        finding = better(aimed, plain, counts.failures, counts.rows, counts.impossible)
        if finding.doubt and not counts.failures and max(whole, finding.probability) < LEAST_WANTED:
            return by_parts  # as its parts, too rare for the sample to be asked for it
        if not self._others.wanted(finding, varying):
            return finding
        return self._others.settle(finding, varying, counts.failures, counts.rows, aimed)

    def _held(self, aimed: Finding, view: View, states: list[State], tally: WeightedTally) -> Finding:
        """Return a union's aimed figure held against those limit states in it that another method told of."""
        for state in states:
            figure = self.states.get(state)
            if figure is not None and figure.kind is Kind.SAMPLED and figure.method not in (AIMED, PLAIN):
                seen = aimed_finding(tally, (view.components.index(state[0]), state[1])).probability
                aimed = held(aimed, figure, seen, self._variation)
        return aimed

    def _clean(self, tally: WeightedTally) -> bool:
        """Whether a sample's system is told by its failing rows, with no doubt, and each row has an answer."""
        e = tally.place(SYSTEM)
        return not (tally.turned[e] or tally.impossible[e] or tally.doubts()[e])

    def _in_turns(
        self, union: str, whole: Finding, governing: list[State], tally: WeightedTally | None
    ) -> None:
        """Part a union's figure by the turn at which it fails first, by the sample that it is of."""
        turns = self._problem.turns(union)
        if whole.method == AIMED and tally is not None:
            known = set(tally.systems)
            parts = {
                turn: aimed_finding(tally, first_at(turn)) if first_at(turn) in known else certain(False)
                for turn in turns
            }
        elif whole.kind is Kind.FIRST_ORDER:
            parts = {turn: self._first_order(turn, governing, whole) for turn in turns}
        else:
            counts = {turn: self._tally.first_failures[union, turn] for turn in turns}
            parts = {turn: plain_finding(c.failures, c.impossible, c.rows) for turn, c in counts.items()}
            if whole.method not in (PLAIN, CONSTANT):
                rows = self._tally.unions[union].rows
                failures = {turn: c.failures for turn, c in counts.items()}
                self.first_failures |= {
                    (union, turn): part for turn, part in by_counts(whole, failures, rows).items()
                }
                return
        self.first_failures |= {(union, turn): part for turn, part in shared_out(whole, parts).items()}

    def _first_order(self, turn: int, governing: list[State], whole: Finding) -> Finding:
        """Return what a turn's limit states have of a union that is known to first order alone."""
        there = [state for state in governing if self._problem.components[state[0]].turn == turn]
        p = sum(
            self.states[s].probability if s in self.states else self.searches.first_order(s) or 0.0
            for s in there
        )
        return replace(whole, probability=p, upper=max(whole.upper, p))
