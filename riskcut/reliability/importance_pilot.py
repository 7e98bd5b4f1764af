"""A pilot of an importance sample: all centres alike, thrown away once size and weights are fixed from it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from riskcut.reliability.failure_events import Event, System, Verdict, limit_states
from riskcut.reliability.importance import Sampler
from riskcut.reliability.mixture import LEAST_NOMINAL, Centre, Draw, LimitState, mixture_of
from riskcut.reliability.standard_space import StandardSpace
from riskcut.reliability.streams import BLOCK_ROWS

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

PURPOSE = "importance pilot"
MATTERS, REST = 0.05, 0.15
"""Wanted coefficients of variation: of systems and limit states that matter, and of the rest."""
LEAST_MATTERING, LEAST_WANTED = 1e-8, 1e-9
"""Probabilities below which a limit state is of the rest, and below which nothing is asked for."""
_MOST_ROWS = 32_768
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
    workers: int = 1,
) -> Pilot:
    """Sample all centres alike, and keep what tells the variance under other weights.

    Parameters
    ----------
    space, centres, which, systems, seed, workers
        As in :func:`riskcut.reliability.importance.sample`. Centres with a first-order probability above one half
        are left out: they would stand on the safe side.
    rows_per_centre : int
        So many for each centre, and for the nominal density; fewer with so many centres that they make 32,768.

    Returns
    -------
    Pilot
    """
    kept = tuple(centre for centre in centres if centre.first_order_probability <= 0.5)
    rows_wanted = min((1 + len(kept)) * rows_per_centre, max(_MOST_ROWS, 1 + len(kept)))
    nominal = max(LEAST_NOMINAL, 1.0 / (1 + len(kept)))
    parts = np.full(2 * len(kept), (1.0 - nominal) / max(2 * len(kept), 1))
    blocks = math.ceil(rows_wanted / BLOCK_ROWS)
    sampler = Sampler(
        space,
        mixture_of(kept, space.dimension, np.concatenate(([nominal], parts))),
        which=which,
        systems={} if systems is None else systems,
        seed=seed,
        purpose=PURPOSE,
        rows_per_block=math.ceil(rows_wanted / blocks),
    )

    def keep(draw: Draw, verdicts: Sequence[Verdict]) -> tuple[Floats, Floats, Flags, Flags]:
        return (
            np.exp(draw.log_weight),
            draw.log_ratios,
            np.stack([one.certain for one in verdicts]),
            np.stack([one.turned().certain for one in verdicts]),
        )

    done = sampler.each_block(blocks, keep, workers)
    weight, ratios, fails, stands = (np.concatenate(part, axis=-1) for part in zip(*done, strict=True))
    rows = len(weight)
    failed, stood = np.einsum("er,r->e", fails, weight), np.einsum("er,r->e", stands, weight)
    turned = failed > stood
    inside = np.where(turned[:, np.newaxis], stands, fails)
    used = np.flatnonzero(inside.any(axis=0))
    return Pilot(
        centres=kept,
        rows=rows,
        limit_states=sampler.limit_states,
        systems=sampler.systems,
        turned=turned,
        probability=np.where(turned, stood, failed) / rows,
        failing=inside.sum(axis=1),
        members=csr_array(inside[:, used] * weight[used]),
        log_ratios=ratios[:, used],
    )


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
