"""Another method, where neither a sample aimed at design points nor a plain count gives a figure worth having.

What suits is told by what is known already: line sampling wants one direction towards failure, directional simulation
few inputs, subset simulation nothing at all. One that does not stand by its answer gives way to the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability import directional, line_sampling, subset
from riskcut.reliability.answer import Answer, Failing
from riskcut.reliability.finding import Finding, Kind, settled
from riskcut.reliability.importance_pilot import LEAST_MATTERING
from riskcut.reliability.problem import Problem
from riskcut.reliability.rays import ROUNDING
from riskcut.reliability.searches import Searches, State
from riskcut.reliability.standard_space import Ledger, StandardSpace

Floats = NDArray[np.float64]

METHODS = frozenset({line_sampling.METHOD, directional.METHOD, subset.METHOD})
FEW_INPUTS = 8
"""Up to which a ray in any direction is likely enough to meet what fails."""
_ROWS_A_RAY = 32
"""Taken for a line or a direction when a number of rows is made one of rays."""
_LEAST_RAYS = 256
_ROWS_A_REPLICATE, _LEAST_REPLICATES, _MOST_REPLICATES = 16_000, 10, 24
"""Of subset simulation: few where rows are few, since the bias of each falls with its rows."""
_NORMAL = 1.959964
"""Half width of a 95 % interval in standard errors, where they are known."""

TOO_ROUGH = 2.0
"""Times the coefficient of variation that is wanted, from which a figure is worth another method."""
_CAPS_A_FIGURE, _CAPS_IN_ALL = 2, 16
"""Rows of other methods, in times the cap of an aimed sample."""
_ROWS_A_CALL = 100
"""What a call of a component counts as besides its rows: chains call with few rows at a time, and often."""

Run = Callable[[int], tuple[Answer, float]]
"""With at most so many rows, but for the least that the method takes: the answer, and its bias that no spread tells."""


def another(
    failing: Failing,
    *,
    direction: Floats | None,
    seed: int,
    coefficient_of_variation: float,
    cap_rows: int,
    workers: int = 1,
) -> Finding:
    """Return the figure of the first suiting method that stands by it, else that of the last, with its doubt.

    Parameters
    ----------
    failing : Failing
        A limit state, or a union.
    direction : ndarray, (m,), or None
        Towards the one place of failure, where the origin is safe and no other place is known.
    seed : int
    coefficient_of_variation : float
        Wanted.
    cap_rows : int
        For all the methods that are tried together, once each has had the least that it takes: some 5,000 rows of
        line sampling, 10,000 of directional simulation, 10,000 a level of subset simulation.
    workers : int
        Threads; no bit of the answer depends on them.

    Returns
    -------
    Finding
        Its note says why the method was picked.
    """
    spent = failing.space.ledger.rows
    how = {"seed": seed, "coefficient_of_variation": coefficient_of_variation, "workers": workers}
    finding: Finding | None = None
    for why, run in _suiting(failing, direction, how):
        answer, bias = run(max(cap_rows - (failing.space.ledger.rows - spent), 0))
        tried, finding = finding, _finding(answer, bias, why)
        if tried is not None and finding.doubt:
            finding = replace(finding, doubt=f"{tried.doubt} {finding.doubt}")
        if not finding.doubt:
            break
    assert finding is not None
    return finding


def _suiting(failing: Failing, direction: Floats | None, how: dict[str, float]) -> Iterator[tuple[str, Run]]:
    """Yield what may suit, the best first, each with why."""
    inputs = failing.space.dimension
    told = f"{inputs} input{'' if inputs == 1 else 's'}"
    if direction is not None:
        way = direction

        def lines(rows: int) -> tuple[Answer, float]:
            cap = max(rows // _ROWS_A_RAY, _LEAST_RAYS)
            answer = line_sampling.line_sampling(failing, way, cap_lines=cap, **how)  # type: ignore[arg-type]
            return answer, ROUNDING * answer.failure_probability

        yield f"{told}, one place of failure stands out", lines
    if inputs <= FEW_INPUTS:

        def directions(rows: int) -> tuple[Answer, float]:
            cap = max(rows // _ROWS_A_RAY, 2 * _LEAST_RAYS)
            answer = directional.directional_simulation(failing, cap_directions=cap, **how)  # type: ignore[arg-type]
            return answer, ROUNDING * answer.failure_probability

        yield f"{told}, few enough to look along every direction", directions

    def levels(rows: int) -> tuple[Answer, float]:
        replicates = min(max(rows // _ROWS_A_REPLICATE, _LEAST_REPLICATES), _MOST_REPLICATES)
        answer = subset.subset_simulation(
            failing,
            replicates=replicates,
            cap_rows=max(rows, 1000),
            cap_total=rows,
            **how,  # type: ignore[arg-type]
        )
        # A replicate is biased high by half of its squared coefficient of variation.
        p = answer.failure_probability
        return answer, 0.5 * replicates * answer.standard_error**2 / p if p > 0.0 else 0.0

    yield f"{told}, no {'further' if direction is not None else 'single'} place of failure stands out", levels


def _finding(answer: Answer, bias: float, why: str) -> Finding:
    """Return an answer as a figure; few replicates know their spread badly, which its error tells as its interval does.

    So the error is what would make a normal interval as wide as Student's.
    """
    p = answer.failure_probability
    doubt = "" if answer.trusted else f"{answer.method.capitalize()}: {answer.reason}"
    note = f"{answer.method.capitalize()}: {why}."
    if not np.isfinite(p):
        return Finding(0.0, 0.0, 1.0, 0.0, answer.method, doubt=doubt, note=note)
    lower, upper = (float(bound) for bound in answer.bounds)
    error = max(answer.standard_error, (p - lower) / _NORMAL if lower > 0.0 else 0.0)
    return Finding(
        probability=p,
        lower=max(lower - bias, 0.0),
        upper=upper,
        standard_error=float(np.hypot(error, bias)),
        method=answer.method,
        doubt=doubt,
        note=note,
    )


class Others:
    """Asks other methods for what the usual ones leave in doubt, within a number of rows.

    Parameters
    ----------
    problem : Problem
    searches : Searches
        The design points that are known by then.
    ledger : Ledger
        Where the rows are counted.
    seed, coefficient_of_variation
        As for :func:`another`.
    cap_rows : int
        Of an aimed sample: twice that for a figure, sixteen times that in all, where each call of a component counts
        as 100 rows more.
    """

    def __init__(
        self,
        problem: Problem,
        searches: Searches,
        ledger: Ledger,
        *,
        seed: int,
        coefficient_of_variation: float,
        cap_rows: int,
    ) -> None:
        self._problem, self._searches, self._ledger = problem, searches, ledger
        self._seed, self._variation = seed, coefficient_of_variation
        self._cap, self._left = _CAPS_A_FIGURE * cap_rows, _CAPS_IN_ALL * cap_rows
        self._answered: dict[tuple[State, ...], Finding] = {}

    def wanted(self, figure: Finding, states: Sequence[State]) -> bool:
        """Whether a figure that is not too rare to matter is in doubt, too rough, or not known at all."""
        p = figure.probability
        if figure.kind is Kind.FIRST_ORDER:
            return any(self._unknown(state) for state in states)
        if figure.kind is not Kind.SAMPLED or p == 1.0 or 0.0 < p < LEAST_MATTERING:
            return False
        if p == 0.0:
            # Nowhere seen to fail: an answer where the origin is safe, and none where it fails and hardly a row does.
            return any(
                not self._searches.found[state].origin > 0.0 or self._unknown(state) for state in states
            )
        return bool(figure.doubt) or figure.standard_error > TOO_ROUGH * self._variation * p

    def settle(
        self, usual: Finding, states: Sequence[State], failures: int, rows: int, aimed: Finding | None
    ) -> Finding:
        """Return the figure of the failure of any of some limit states, held against what is known of it.

        The same limit states are asked once, and nothing is when the rows for it are used up.

        Parameters
        ----------
        usual, failures, rows, aimed
            As for :func:`riskcut.reliability.finding.settled`.
        states : sequence of State
            That vary.
        """
        key = tuple(states)
        if key not in self._answered:
            if self._left <= 0:
                return usual
            before = self._spent
            self._answered[key] = self._ask(key)
            self._left -= self._spent - before
        return settled(usual, self._answered[key], failures, rows, aimed)

    def _unknown(self, state: State) -> bool:
        """Whether nothing is known of a limit state that was never seen to fail, not even how rare it is."""
        return not self._searches.telling(state)

    @property
    def _spent(self) -> int:
        return self._ledger.rows + _ROWS_A_CALL * self._ledger.calls

    def _ask(self, states: tuple[State, ...]) -> Finding:
        which: dict[int, list[int]] = {}
        for place, k in states:
            which.setdefault(place, []).append(k)
        space = StandardSpace(self._problem, list(which), self._ledger)
        return another(
            Failing(space, tuple((c, tuple(some)) for c, some in enumerate(which.values()))).scaled(
                self._seed
            ),
            direction=self._direction(states, space),
            seed=self._seed,
            coefficient_of_variation=self._variation,
            cap_rows=min(self._cap, self._left),
        )

    def _direction(self, states: tuple[State, ...], space: StandardSpace) -> Floats | None:
        """Return the way to the one place where one limit state fails, None where there are more or none."""
        search = self._searches.found[states[0]]
        alone = len(states) == len(search.points) == 1 and search.converged and search.origin > 0.0
        if not alone or search.points[0].kind != "point":
            return None
        return self._searches.places(states[0], space)[0][0]
