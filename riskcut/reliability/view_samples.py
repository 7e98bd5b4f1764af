"""The importance sample of a view: what it is aimed at, what it is sized for, and which systems it tells of."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability import allocation, importance
from riskcut.reliability.failure_events import AllOf, Not, System, as_event, first_failures
from riskcut.reliability.importance_pilot import MATTERS
from riskcut.reliability.mixture import Centre, LimitState
from riskcut.reliability.pilot_rows import Group, PilotRows
from riskcut.reliability.plain_counts import PlainCounts
from riskcut.reliability.problem import Problem
from riskcut.reliability.searches import Searches, State
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.views import View
from riskcut.reliability.weighted_tally import WeightedTally

Floats = NDArray[np.float64]

LEAST_SAMPLED = 1e-11
"""Limit states with a first-order probability below are left at that; it may be a hundred times too low."""
SYSTEM = "system"
"""What a view's one system is called in its sample,"""
BEYOND = "beyond"
"""and its failing where the largest union within it stands."""
_CONTRIBUTION = 1e-3
"""Share of a union from which a guest's design points are sampled about."""
_ROWS_OF_STATE, _LEAST_ABOUT, _GUESTS = 1536, 192, 96
"""Rows of a pilot: about all places of a limit state that is told of there and matters, about each place at least, and
about each one where only a union is told of."""
_ALONE = 1024
"""Rows of the nominal density, where there is no place to draw about."""
_AGAIN_ABOUT = 768
"""Rows about each place when it is looked again."""
_MATTERING = 1e-10
"""First-order probability from which one does: it may be a few times too low."""
_AGAIN = 2
"""Samples that are thrown away at most,"""
_ROUGH = 2.0
"""where they are in doubt or their system has so many times the coefficient of variation that is wanted."""
_DOUBTED = 5e-10
"""Probability from which they are: what is rarer gives way to its value of first order."""
_HEAVY = 0.02
"""Share of an estimate from which its heaviest row is followed."""
_PART = 3e-3
"""Share of a union from which the rows are sized for what fails first at one turn of it,"""
_OF_PART = 3.0
"""to so many times the coefficient of variation that is wanted of the union."""
_OF_WHOLE = 1.5
"""And so many times for a union of which only what is beyond its largest part comes from its sample."""


def first_at(turn: int) -> str:
    """Return what the event of failing first at a turn is called in a view's sample."""
    return f"first at {turn}"


class ViewSamples:
    """Draws the samples; all arguments as for :func:`riskcut.reliability.assessment.assess`.

    Attributes
    ----------
    searches : Searches
    capped : int
        Samples that wanted more rows than the cap allows.
    """

    def __init__(
        self,
        problem: Problem,
        counts: PlainCounts,
        searches: Searches,
        *,
        seed: int,
        targets: Mapping[str, float | None],
        coefficient_of_variation: float,
        cap_rows: int,
    ) -> None:
        self._problem, self._counts, self.searches = problem, counts, searches
        self._seed, self._targets, self._variation = seed, targets, coefficient_of_variation
        self._cap_rows = cap_rows
        self.capped = 0

    def apart(self) -> ViewSamples:
        """Return the same with searches, and so with costs, of their own."""
        return ViewSamples(
            self._problem,
            self._counts,
            self.searches.apart(),
            seed=self._seed,
            targets=self._targets,
            coefficient_of_variation=self._variation,
            cap_rows=self._cap_rows,
        )

    def of(self, view: View, varying: list[State], largest: View | None) -> WeightedTally | None:
        """Return the importance sample of a view, None where nothing in it is worth one.

        A sample in doubt, or far rougher than wanted, is thrown away where its heaviest rows, or another look for
        strangers, tell of places that it was not drawn about.

        Parameters
        ----------
        view : View
        varying : list of State
            The limit states that it evaluates.
        largest : View or None
            Of the largest union within it: what fails beyond that is told too.
        """
        space = StandardSpace(self._problem, view.components, self.searches.ledger)
        local = {place: k for k, place in enumerate(view.components)}
        which: dict[int, list[int]] = {}
        for place, k in varying:
            which.setdefault(local[place], []).append(k)
        rows = PilotRows(space, which, seed=self._seed)

        places = partial(self._about, view, varying, space, local)
        if view.at_home:  # what is a guest was met where it is at home
            self.searches.meet(rows, view.components, varying, places)
        if all(self.rare(state) for state in varying) or self._counted(view, varying):
            return None
        tally = self._sampled(view, varying, space, local, rows, "aimed at", largest)
        for again in range(1, _AGAIN + 1):
            if not self._in_doubt(view, tally):
                break
            led = self.searches.pursue(space, self._heavy(view, tally))
            if not self.searches.meet(rows, view.components, varying, places, afresh=_AGAIN_ABOUT) | led:
                break
            tally = self._sampled(view, varying, space, local, rows, f"aimed {again} more at", largest)
        return tally

    def _about(
        self, view: View, varying: list[State], space: StandardSpace, local: Mapping[int, int]
    ) -> list[Group]:
        """Return what a pilot's rows are drawn about: however rare it is, something else may lie behind it."""
        groups: list[Group] = []
        for state in varying:
            if state[0] in view.at_home:
                known = [one for one in self.searches.places(state, space) if one[1] < 0.5]
                matters = any(p > _MATTERING for _, p in known)
                rows = max(_ROWS_OF_STATE // len(known), _LEAST_ABOUT) if matters else _LEAST_ABOUT
                groups.append((rows, [place for place, _ in known]))
        centres = self._centres(view, varying, space, local)
        return [*groups, (_LEAST_ABOUT, [centre.u for centre in centres])]

    def rare(self, state: State) -> bool:
        """Whether a limit state is left at its value of first or second order: rare, and never seen to fail."""
        first = self.searches.first_order(state)
        return first is not None and first < LEAST_SAMPLED and not self._counts.failures(state)

    def _counted(self, view: View, varying: list[State]) -> bool:
        """Whether plain simulation has enough of everything that a view is to tell of."""
        asked = [self._counts.failures(state) for state in varying if state[0] in view.at_home]
        if any(self._counts.governs(state) for state in varying):
            asked += [self._counts.tally.unions[union].failures for union in view.unions]
        return all(self._counts.suffice(failures) for failures in asked)

    def _sampled(
        self,
        view: View,
        varying: list[State],
        space: StandardSpace,
        local: Mapping[int, int],
        rows: PilotRows,
        purpose: str,
        largest: View | None,
    ) -> WeightedTally:
        """Return one sample, sized by the rows of a pilot."""
        system = [(local[place], k) for place, k in varying if self._counts.governs((place, k))]
        systems: dict[str, System] = {SYSTEM: system} if system else {}
        parts = self._parts(view, local, varying)
        centres = self._centres(view, varying, space, local)
        precise = any(self._problem.in_turns.get(union, False) for union in view.unions)
        beyond = self._beyond(system, view, largest)
        about = (_LEAST_ABOUT if view.at_home else _GUESTS) if centres else _ALONE
        rows.about([(about, [centre.u for centre in centres])])
        first = allocation.pilot_of(
            rows, centres=centres, systems={**systems, **(parts if precise else beyond)}
        )
        wanted = allocation.wanted_errors(first, targets=self._target_by_state(view, rows.margins))
        wanted *= self._variation / MATTERS
        for e, event in enumerate(first.limit_states):
            place = view.components[event[0]]
            if place not in view.at_home or self._counts.failures((place, event[1])) >= self._counts.enough:
                wanted[e] = np.inf  # told elsewhere
        for e, name in enumerate(first.names):
            if name in parts:
                matters = first.probability[e] >= _PART * first.probability[first.names.index(SYSTEM)]
                wanted[e] = _OF_PART * self._variation if matters else np.inf
        if BEYOND in first.names:
            wanted[first.names.index(SYSTEM)] = _OF_WHOLE * self._variation
            wanted[first.names.index(BEYOND)] = self._variation * _beyond_error(first)
        plan = allocation.allocate(first, wanted=wanted, cap_rows=self._cap_rows)
        self.capped += plan.capped
        tally = importance.sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            which=rows.which,
            systems={**systems, **parts, **beyond},
            turned=plan.turned,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=self._seed,
            purpose=f"{purpose} {view.unions[0] if view.unions else view.components[0]}",
        )
        round_about = [(local[place], k) for place, k in varying if (place, k) in self.searches.all_round]
        return replace(tally, all_round=frozenset(round_about))

    def _parts(self, view: View, local: Mapping[int, int], varying: list[State]) -> dict[str, System]:
        """Return the events of failing first at each turn, of a view with a union that is taken in turns."""
        if not self._problem.in_turns.keys() & set(view.unions):
            return {}
        turns: dict[int, list[LimitState]] = {}
        for place, k in varying:
            if self._counts.governs((place, k)):
                turns.setdefault(self._problem.components[place].turn, []).append((local[place], k))
        return {first_at(turn): event for turn, event in first_failures(turns).items()}

    def _beyond(self, system: list[LimitState], view: View, largest: View | None) -> dict[str, System]:
        """Return the event that a view's system fails where the largest union within it stands."""
        inside = [] if largest is None else [s for s in system if view.components[s[0]] in largest.components]
        outside = [state for state in system if state not in inside]
        if not inside or not outside:
            return {}
        return {BEYOND: AllOf((as_event(outside), Not(as_event(inside))))}

    def _heavy(self, view: View, tally: WeightedTally) -> dict[State, Floats]:
        """Return the heaviest failing row of each limit state of which one row makes a good part."""
        heavy = {}
        for e, (c, k) in enumerate(tally.limit_states):
            state = (view.components[c], k)
            safe = self.searches.found[state].origin > 0.0 and not tally.turned[e]
            if safe and tally.largest_share[e] > _HEAVY:
                heavy[state] = tally.heaviest[e]
        return heavy

    def _in_doubt(self, view: View, tally: WeightedTally) -> bool:
        """Whether anything that this view is to tell of was seen to fail, and is not to be trusted or too rough."""
        events: tuple[LimitState | str, ...] = (*tally.limit_states, *tally.systems)
        estimate = tally.estimate()
        rough = estimate.coefficient_of_variation > _ROUGH * self._variation
        rare = estimate.failure_probability < _DOUBTED
        # No further places are a cure for what fails all round them: that is left to another method.
        others = replace(tally, all_round=frozenset())
        for e, doubts in enumerate(others.doubts()):
            event = events[e]
            if not tally.failing[e] or rare[e] or not (doubts or (rough[e] and event == SYSTEM)):
                continue
            if isinstance(event, str):
                if event == SYSTEM:
                    return True
                continue  # a part of it, however small
            state = (view.components[event[0]], event[1])
            if state[0] in view.at_home and self._counts.failures(state) < self._counts.enough:
                return True
        return False

    def _centres(
        self, view: View, varying: list[State], space: StandardSpace, local: Mapping[int, int]
    ) -> list[Centre]:
        """Return the places to sample about: of what is at home all that is not too rare, of guests what counts."""
        of_union = sum(
            self.searches.first_order(state) or 0.0 for state in varying if self._counts.governs(state)
        )
        centres = []
        for state in varying:
            guest = state[0] not in view.at_home
            at_least = max(LEAST_SAMPLED, _CONTRIBUTION * of_union) if guest else LEAST_SAMPLED
            for place, p in self.searches.places(state, space):
                if at_least <= p <= 0.5:
                    centres.append(Centre(place, (local[state[0]], state[1]), p))
        return centres

    def _target_by_state(self, view: View, states: Collection[LimitState]) -> dict[LimitState, float]:
        targets = {}
        for component, k in states:
            target = self._targets.get(self._problem.components[view.components[component]].name)
            if target is not None:
                targets[component, k] = target
        return targets


def _beyond_error(pilot: allocation.Pilot) -> float:
    """Return the error wanted of what a system has beyond its largest part, in errors wanted of the system.

    With b beyond a part a that is known to the error e a, one of e b sqrt(1 + 2 a/b) makes it e (a + b) in all.
    """
    system, beyond = (float(pilot.probability[pilot.names.index(name)]) for name in (SYSTEM, BEYOND))
    return math.sqrt(1.0 + 2.0 * max(system - beyond, 0.0) / beyond) if beyond > 0.0 else 1.0
