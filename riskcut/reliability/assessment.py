"""Every limit state and every union of a problem, each by what suits it, and held against another method.

Design points come first, one search a limit state. A limit state that plain simulation saw fail often enough is
taken from there. The rest, and every union, come from one importance sample a view (:mod:`riskcut.reliability.views`)
about the design points, sized and shared out by a pilot that is thrown away. What is far rarer than 1e-9 is left at
its value of second order (of first, where there are no curvatures), and called that. A figure that matters and is
still in doubt, or rests on a count of too few, is asked of another method (:mod:`riskcut.reliability.another_method`).
Two methods that disagree cast a doubt that travels with the figure.

A union and the largest union within it come from samples of their own, and could be told the wrong way round. So a
union takes up the figure of that one, and adds what its own sample says of failing where that one stands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from riskcut.reliability.bounds import UnionBounds
from riskcut.reliability.design_point import Search
from riskcut.reliability.finding import Finding, certain, plain_finding
from riskcut.reliability.importance_pilot import MATTERS
from riskcut.reliability.plan import Pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.searches import State
from riskcut.reliability.second_order import SecondOrder
from riskcut.reliability.standard_space import Ledger
from riskcut.reliability.tally import Tally
from riskcut.reliability.view_figures import ViewFigures
from riskcut.reliability.views import views, waves

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Assessment:
    """All figures of a problem."""

    states: Mapping[State, Finding]
    unions: Mapping[str, Finding]
    """Those with a governing limit state."""
    first_failures: Mapping[tuple[str, int], Finding]
    """Of the unions that are taken in turns, by union and turn: failing then and not before. They add up to the
    union's own figure, and are of the same sample; but for a union by another method, which does not part it: there
    they are in the shares of the plain simulation."""
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
        Most rows of one view's sample. Other methods may take twice that for a figure, and 16 times that in all, where
        each call of a component counts as 100 rows more.
    workers : int
        Processes; no bit of the answer depends on them.
    progress : callable, optional
        Called with (views done, views).

    Returns
    -------
    Assessment
    """
    engine = ViewFigures(
        problem, pilot, tally, seed, targets or {}, coefficient_of_variation, cap_rows, workers
    )
    every = views(problem)
    engine.look(every)
    told = (view for wave in waves(every) for view in engine.tell(wave))
    for done, _ in enumerate(told, start=1):
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
                certain(float(pilot.value[component.name][k]) < 0.0)
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
