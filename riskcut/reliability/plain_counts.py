"""What is known of limit states before any sample is aimed: which govern, which never vary, how many rows failed."""

from __future__ import annotations

from riskcut.reliability.plan import Pilot
from riskcut.reliability.problem import Problem
from riskcut.reliability.searches import State
from riskcut.reliability.tally import Tally


class PlainCounts:
    """Asks a problem, and its plain simulation, about limit states.

    Parameters
    ----------
    problem : Problem
    pilot, tally : Pilot, Tally
    enough : int
        Failures (and rows that do not fail) from which a count is as good as is wanted.
    """

    def __init__(self, problem: Problem, pilot: Pilot, tally: Tally, enough: int) -> None:
        self._problem, self._pilot = problem, pilot
        self.tally, self.enough = tally, enough

    def governs(self, state: State) -> bool:
        """Whether a limit state enters the unions of its component."""
        return self._problem.components[state[0]].governing[state[1]]

    def constant(self, state: State) -> bool:
        """Whether its margin never varies."""
        return bool(self._pilot.constant[self._problem.components[state[0]].name][state[1]])

    def always_fails(self, state: State) -> bool:
        """Whether a constant margin is negative."""
        return bool(self._pilot.value[self._problem.components[state[0]].name][state[1]] < 0.0)

    def failures(self, state: State) -> int:
        """Return the rows that failed."""
        return int(self.tally.components[self._problem.components[state[0]].name].failures[state[1]])

    def impossible(self, state: State) -> int:
        """Return the rows without an answer."""
        return int(self.tally.components[self._problem.components[state[0]].name].impossible[state[1]])

    def suffice(self, failures: int) -> bool:
        """Whether so many failures say all that is wanted."""
        return min(failures, self.tally.rows - failures) >= self.enough
