"""How many rows an importance sample takes and how it shares them out, fixed by a pilot that is thrown away.

The rows of the pilot (:mod:`riskcut.reliability.importance_pilot`) say what the variance would be under any other
mixture w of the same centres: for an event F with probability p

    n cov^2 = Q(w) - 1,    Q(w) = E_w[(W 1_F)^2]/p^2 = E_pilot[W_pilot W(w) 1_F]/p^2,

which is convex in w. The weights minimise the worst ratio of Q - 1 to the square of the wanted coefficient of
variation over all events at once. The number of rows follows from the same ratio, with the spread between the parts
taken off, which the counts laid down in each block do away with. Never from the rows that give the figures: a run
that stops when its own estimate looks good enough is biased low.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from riskcut.reliability.importance_pilot import Pilot, pilot, pilot_of, wanted_errors
from riskcut.reliability.mixture import LEAST_NOMINAL, Centre, LimitState
from riskcut.reliability.streams import BLOCK_ROWS

__all__ = ["Allocation", "Pilot", "allocate", "best_weights", "pilot", "pilot_of", "wanted_errors"]

Floats = NDArray[np.float64]

_FLOOR = 0.4
"""Share of the rest, in equal parts, that every centre keeps whatever the pilot says; below one half."""
_SAFETY = 1.1
_ERRORS = 2.0
"""Standard errors of the pilot's second moment that are added to it: what it has not seen is rare and heavy."""
_LEAST_BLOCKS = 16
"""So many blocks that their spread can be held against the claimed error,"""
_ROWS_OF_PART = 16
"""but with so many rows of each part that the spread within it is known."""
_ROWS_LOOKED_AT = 8192
"""Of the pilot, at most, while the weights are looked for: with many centres time would go by their square."""
_ROUNDING = 1e-5
"""Weights are whole multiples, so that no rounding in the search for them reaches the sample."""


@dataclass(frozen=True)
class Allocation:
    """The size of an importance sample and how it is shared out."""

    centres: tuple[Centre, ...]
    weights: Floats
    """(1 + 2J,), of the nominal density and the two parts of each centre."""
    blocks: int
    rows_per_block: int
    turned: tuple[LimitState | str, ...]
    expected: Floats
    """(E,), coefficient of variation expected of each event (or complement) by the pilot; NaN where it saw none."""
    reason: str
    """One sentence."""
    capped: bool
    """Whether more rows were wanted than the cap allows."""

    @property
    def rows(self) -> int:
        """Rows in all."""
        return self.blocks * self.rows_per_block


class _Variance:
    """n cov^2 over the square of what is wanted, by event, under any weights of the pilot's mixture."""

    def __init__(self, pilot: Pilot, wanted: Floats) -> None:
        # An error of p is one of 1 - p as well: what is wanted of the event, asked of its complement.
        p = np.where(pilot.probability > 0.0, pilot.probability, 1.0)
        self.asked = np.asarray(wanted * np.where(pilot.turned & (p < 1.0), (1.0 - p) / p, 1.0))
        self.events = np.flatnonzero(np.isfinite(wanted) & (pilot.probability > 0.0))
        self.seen = np.flatnonzero(pilot.probability > 0.0)
        self._most = pilot.log_ratios.max(axis=0, initial=0.0)
        self._ratios = np.exp(pilot.log_ratios - self._most)
        self._scale = np.exp(-self._most)
        self._moments = csr_array(pilot.members.multiply(1.0 / (pilot.rows * p)[:, np.newaxis]))
        self._inverse = 1.0 / p

    def weight(self, w: Floats) -> Floats:
        """(k,), phi/h of the pilot's rows."""
        return np.asarray(self._scale / np.einsum("j,jk->k", w, self._ratios))

    def second_moments(self, weight: Floats) -> Floats:
        """(E,), Q."""
        return np.asarray(np.asarray(self._moments @ weight) * self._inverse)

    def between(self, w: Floats, weight: Floats) -> Floats:
        """(E,), what the parts' own means m_j add to Q, sum_j w_j m_j^2/p^2: 1 or more, and all that strata save."""
        means = self._moments @ (self._ratios * (weight / np.maximum(self._scale, 1e-300))).T
        return np.asarray(np.einsum("ej,j->e", means * means, w))

    def errors(self, weight: Floats) -> Floats:
        """(E,), standard error of Q."""
        squares = np.asarray(self._moments.power(2) @ (weight * weight)) * self._inverse**2
        return np.asarray(np.sqrt(squares))

    def slopes(self, weight: Floats, multipliers: Floats) -> Floats:
        """(1 + 2J,), how much the sum of multiplier times Q falls as each weight grows."""
        pull = (multipliers * self._inverse) @ self._moments
        pull = pull * weight * weight / np.maximum(self._scale, 1e-300)
        return np.asarray(np.einsum("jk,k->j", self._ratios, pull))


def best_weights(pilot: Pilot, wanted: Floats, rounds: int = 120) -> Floats:
    """Return the weights (1 + 2J,) that need the fewest rows for every event at once.

    Parameters
    ----------
    pilot : Pilot
    wanted : ndarray, (E,)
        Coefficients of variation; +inf asks for nothing.
    rounds : int
        Of the search.

    Returns
    -------
    ndarray
        Whole multiples of 1e-5 that sum to one: 0.1 or more for the nominal density, four tenths of an equal
        share or more for each centre, and no more for a centre's tail than for its copy, since the rows that
        tell against a tail are rare and heavy, so that a pilot may well not have seen them.

    Notes
    -----
    A saddle point: each event has a multiplier, which grows by its ratio of need to the worst one's; each weight is
    multiplied by the root of what the events so multiplied gain from it, which keeps to the simplex (the
    multiplicative rule of optimal design [1]_). The best of all rounds counts. The search starts from the two
    strata: half by first-order probability, as a system wants it, and half equal, as the margins do.

    References
    ----------
    .. [1] Silvey, S. D., Titterington, D. M. & Torsney, B. (1978). An algorithm for optimal designs on a finite
       design space. Communications in Statistics A7, 1379-1389. Recalled.
    """
    centres = len(pilot.centres)
    if centres == 0:
        return np.ones(1)
    first = np.array([centre.first_order_probability for centre in pilot.centres])
    first = first / first.sum() if first.sum() > 0.0 else np.full(centres, 1.0 / centres)
    rest = 1.0 - LEAST_NOMINAL
    # Shares x of the nominal density, of each centre's copy alone and of its copy and tail in equal parts.
    strata = np.tile(0.25 * rest * (first + 1.0 / centres), 2)
    variance = _Variance(_thinned(pilot), wanted)
    if not len(variance.events):
        return _whole(_parted(np.concatenate(([LEAST_NOMINAL], strata))))
    floor = np.concatenate(([LEAST_NOMINAL], np.tile(0.5 * _FLOOR * rest / centres, 2 * centres)))
    free = 1.0 - floor.sum()
    x = np.concatenate(([0.01], strata - floor[1:]))
    x /= x.sum()
    events, asked = variance.events, variance.asked[variance.events]
    best, least = _parted(floor + free * x), np.inf
    multipliers = np.zeros(len(variance.asked))
    logs_of_multipliers = np.zeros(len(events))
    for _ in range(rounds):
        w = _parted(floor + free * x)
        weight = variance.weight(w)
        need = np.maximum(variance.second_moments(weight)[events] - 1.0, 1e-3)
        logs = np.log(need) - 2.0 * np.log(asked)
        if logs.max() < least:
            best, least = w, float(logs.max())
        logs_of_multipliers += logs - logs.max()
        logs_of_multipliers -= logs_of_multipliers.max()
        multipliers[events] = np.exp(logs_of_multipliers) / asked**2
        nominal, copies, tails = _three(variance.slopes(weight, multipliers))
        x = x * np.sqrt(np.concatenate((nominal, copies, 0.5 * (copies + tails))))
        x /= x.sum()
    return _whole(best)


def _thinned(pilot: Pilot) -> Pilot:
    """Return a pilot with every so-many-th of its rows, each for so many; they are drawn part by part."""
    every = math.ceil(pilot.log_ratios.shape[1] / _ROWS_LOOKED_AT)
    if every <= 1:
        return pilot
    kept = csr_array(pilot.members[:, ::every] * float(every))
    seen = np.asarray(kept.sum(axis=1)) > 0.0
    probability = np.where(seen, pilot.probability, 0.0)
    return replace(pilot, members=kept, log_ratios=pilot.log_ratios[:, ::every], probability=probability)


def _three(parts: Floats) -> tuple[Floats, Floats, Floats]:
    """Take (1 + 2J,) apart: nominal, copies, tails."""
    return parts[:1], parts[1 : 1 + len(parts) // 2], parts[1 + len(parts) // 2 :]


def _parted(shares: Floats) -> Floats:
    """Return weights from shares of the nominal density, copies alone, and copies with their tails."""
    nominal, alone, both = _three(shares)
    return np.concatenate((nominal, alone + 0.5 * both, 0.5 * both))


def _whole(weights: Floats) -> Floats:
    """Round to whole multiples of 1e-5, the nominal density taking up what is left over."""
    parts = np.floor(weights[1:] / _ROUNDING + 1e-6)
    steps = round(1.0 / _ROUNDING)
    return np.concatenate(([steps - parts.sum()], parts)) / steps


def allocate(
    pilot: Pilot, *, wanted: Floats, least_rows: int = 1024, cap_rows: int = 1_048_576
) -> Allocation:
    """Fix the size and the weights of an importance sample.

    Parameters
    ----------
    pilot : Pilot
    wanted : ndarray, (E,)
        Coefficients of variation of the failure probabilities, as from :func:`wanted_errors`.
    least_rows, cap_rows : int
        Between which the number of rows lies, but for being made up to whole blocks.

    Returns
    -------
    Allocation
        Rows for the worst event at two standard errors above the pilot's value, and a tenth more.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    if np.shape(wanted) != pilot.probability.shape or not np.all(np.asarray(wanted) > 0.0):
        raise ValueError(
            f"one coefficient of variation above zero is wanted for each of {len(pilot.names)} events"
        )
    if not 1 <= least_rows <= cap_rows:
        raise ValueError(f"1 <= least_rows <= cap_rows is wanted, not {least_rows} and {cap_rows}")
    weights = best_weights(pilot, wanted)
    variance = _Variance(pilot, wanted)
    expected = np.full(len(pilot.names), np.nan)
    most, why = 0.0, "nothing is asked for"
    if len(variance.seen):
        weight = variance.weight(weights)
        within = variance.second_moments(weight) - variance.between(weights, weight)
        needs = np.maximum(within, 0.0) + _ERRORS * variance.errors(weight)
        needs *= _SAFETY
        expected[variance.seen] = np.sqrt(needs[variance.seen])
        if len(variance.events):
            rows = needs / variance.asked**2
            worst = int(variance.events[np.argmax(rows[variance.events])])
            most = float(rows[worst])
            aim = f"a coefficient of variation of {100.0 * wanted[worst]:g} %"
            why = f"{_told(pilot.names[worst])} wants them for {aim}"
    capped = most > cap_rows
    rows_per_block, blocks = _blocks(max(min(most, cap_rows), least_rows), len(weights))
    count = blocks * rows_per_block
    expected /= math.sqrt(count)
    if capped:
        text = f"{count:,} rows, the cap, where {math.ceil(most):,} are wanted: {why}."
    elif most < least_rows:
        text = f"{count:,} rows, the least."
    else:
        text = f"{count:,} rows: {why}."
    return Allocation(
        centres=pilot.centres,
        weights=weights,
        blocks=blocks,
        rows_per_block=rows_per_block,
        turned=pilot.turned_names,
        expected=expected,
        reason=text,
        capped=capped,
    )


def _blocks(rows: float, parts: int) -> tuple[int, int]:
    """Return rows a block and blocks: 16 blocks or more where they are not too small, of 8,192 rows at most."""
    per_block = max(rows / _LEAST_BLOCKS, min(rows, parts * _ROWS_OF_PART))
    per_block = min(64 * math.ceil(per_block / 64), BLOCK_ROWS)
    return per_block, max(math.ceil(rows / per_block), 1)


def _told(name: LimitState | str) -> str:
    return f"system {name!r}" if isinstance(name, str) else f"limit state {name[1]} of component {name[0]}"
