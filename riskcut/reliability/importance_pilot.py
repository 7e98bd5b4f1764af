"""What a pilot says of an importance sample, whose size and weights are fixed from it; its rows are thrown away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from riskcut.reliability.failure_events import Event, System, Verdict, as_event, limit_states, verdict
from riskcut.reliability.mixture import Centre, LimitState
from riskcut.reliability.pilot_rows import PilotRows
from riskcut.reliability.standard_space import StandardSpace

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MATTERS, REST = 0.05, 0.15
"""Wanted coefficients of variation: of systems and limit states that matter, and of the rest."""
LEAST_MATTERING, LEAST_WANTED = 1e-8, 1e-9
"""Probabilities below which a limit state is of the rest, and below which nothing is asked for."""
_SHARE_OF_SYSTEM = 0.01
_FACTOR_OF_TARGET = 100.0
_PILOT_DOUBT = 2.0
"""A limit is drawn so much lower, since the pilot may have put a probability too low."""


@dataclass(frozen=True)
class Pilot:
    """What the pilot saw; arrays over the E events, limit states then systems."""

    centres: tuple[Centre, ...]
    """Those it sampled about: none of a limit state that fails at the origin."""
    rows: int
    limit_states: tuple[LimitState, ...]
    systems: Mapping[str, Event]
    turned: Flags
    """(E,), whether the probability is above one half, so that the complement is estimated."""
    probability: Floats
    """(E,), rough, of the event or of its complement where turned; 0 where the pilot saw none."""
    failing: NDArray[np.int64]
    """(E,), rows in the event, or its complement."""
    members: csr_array
    """(E, k), pilot weight W of the k rows that are in any event, in the event's row."""
    log_ratios: Floats
    """(1 + 2J, k), of those rows."""

    @property
    def names(self) -> tuple[LimitState | str, ...]:
        """The events, limit states and systems by name."""
        return (*self.limit_states, *self.systems)

    @property
    def turned_names(self) -> tuple[LimitState | str, ...]:
        """The events that are estimated by their complement."""
        return tuple(name for name, turn in zip(self.names, self.turned, strict=True) if turn)


def pilot(
    space: StandardSpace,
    *,
    centres: Sequence[Centre],
    which: Mapping[int, Sequence[int]] | None = None,
    systems: Mapping[str, System] | None = None,
    seed: int,
    rows_per_centre: int = 512,
) -> Pilot:
    """Draw rows about some centres alike, and keep what tells the variance of a sample about them.

    Parameters
    ----------
    space, centres, which, systems, seed
        As in :func:`riskcut.reliability.importance.sample`. Centres with a first-order probability above one half
        are left out: they would stand on the safe side.
    rows_per_centre : int
        So many for each centre, and for the nominal density; fewer with so many centres that they make 32,768.

    Returns
    -------
    Pilot
    """
    if which is None:
        which = {c: range(len(one.labels)) for c, one in enumerate(space.components)}
    rows = PilotRows(space, which, seed=seed)
    rows.about([(rows_per_centre, [centre.u for centre in _far_side(centres)])])
    return pilot_of(rows, centres=centres, systems=systems)


def pilot_of(
    rows: PilotRows, *, centres: Sequence[Centre], systems: Mapping[str, System] | None = None
) -> Pilot:
    """Keep what rows that were drawn already tell of the variance of a sample about some centres.

    Parameters
    ----------
    rows : PilotRows
        Drawn about those centres, and perhaps about more.
    centres, systems
        As in :func:`pilot`.
    """
    kept = _far_side(centres)
    events = {name: as_event(system) for name, system in ({} if systems is None else systems).items()}
    drawn, weight = rows.weighed([centre.u for centre in kept])
    judged = {state: Verdict.of(margin[drawn]) for state, margin in rows.margins.items()}
    verdicts = [verdict(event, judged) for event in (*judged, *events.values())]
    fails = np.stack([one.certain for one in verdicts])
    stands = np.stack([one.turned().certain for one in verdicts])
    failed, stood = np.einsum("er,r->e", fails, weight), np.einsum("er,r->e", stands, weight)
    turned = failed > stood
    inside = np.where(turned[:, np.newaxis], stands, fails)
    used = np.flatnonzero(inside.any(axis=0))
    return Pilot(
        centres=kept,
        rows=len(drawn),
        limit_states=tuple(judged),
        systems=events,
        turned=turned,
        probability=np.where(turned, stood, failed) / len(drawn),
        failing=inside.sum(axis=1),
        members=csr_array(inside[:, used] * weight[used]),
        log_ratios=rows.log_ratios([centre.u for centre in kept], drawn[used]),
    )


def _far_side(centres: Sequence[Centre]) -> tuple[Centre, ...]:
    return tuple(centre for centre in centres if centre.first_order_probability <= 0.5)


def wanted_errors(pilot: Pilot, *, targets: Mapping[LimitState, float] | None = None) -> Floats:
    """Return the coefficient of variation wanted of each event's failure probability.

    Parameters
    ----------
    pilot : Pilot
    targets : mapping of LimitState to float, optional
        Failure probabilities that limit states have to stay below.

    Returns
    -------
    ndarray, (E,)
        5 % for systems, and for limit states with a probability of 1e-8 or more that make 1 % or more of a system
        they are part of (or are part of none), or lie within a factor 100 of their target or above; 15 % for the
        rest down to 1e-9; +inf (nothing is asked for) below and where the pilot saw none.
    """
    states = len(pilot.limit_states)
    failure = np.where(pilot.turned, 1.0 - pilot.probability, pilot.probability) * _PILOT_DOUBT
    least = np.full(states, np.inf)
    for e, event in enumerate(pilot.systems.values(), start=states):
        for state in set(limit_states(event)):
            place = pilot.limit_states.index(state)
            least[place] = min(least[place], _SHARE_OF_SYSTEM * failure[e] / _PILOT_DOUBT)
    least[np.isinf(least)] = 0.0
    for state, target in ({} if targets is None else targets).items():
        place = pilot.limit_states.index(state)
        least[place] = min(least[place], target / _FACTOR_OF_TARGET)
    wanted = np.full(len(failure), MATTERS)
    wanted[:states] = np.where(failure[:states] >= np.maximum(least, LEAST_MATTERING), MATTERS, REST)
    return np.where((failure >= LEAST_WANTED) & (pilot.probability > 0.0), wanted, np.inf)
