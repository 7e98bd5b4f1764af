"""How many rows a run takes, fixed beforehand from a pilot whose rows are thrown away.

A run that stops when its own estimate looks good enough is biased low, so the size comes from an
independent pilot and a stated cap, never from the rows that give the figures and never from the clock.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.monte_carlo import Progress, simulate
from riskcut.reliability.problem import Problem
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.tally import ComponentTally, Tally

Floats = NDArray[np.float64]

_CONSTANT = 1e-12
"""A margin that varies by less, relative to itself, varies by rounding only."""
_SPREADS = 6.0
"""Standard deviations about the mean that the edges reach where the pilot's rows do."""
_SPREADS_TO_ZERO = 10.0
"""Standard deviations from the mean within which the edges are drawn out to hold zero."""
_ZERO_COUNT_SHARE = 0.1
"""A zero count is to bound the probability at this share of its target."""
_RULE_OF_THREE = 3.0
"""No failure in n rows bounds the probability at 3/n, at 95 %."""


@dataclass(frozen=True)
class Pilot:
    """What a small run, thrown away afterwards, says of the margins."""

    tally: Tally
    edges: Mapping[str, Floats]
    """By component, (k, bins + 1): where to count the margins; whole multiples of one width a limit state."""
    constant: Mapping[str, NDArray[np.bool_]]
    """By component, (k,): whether the margin never varied."""
    value: Mapping[str, Floats]
    """By component, (k,): its value where constant, NaN elsewhere."""


@dataclass(frozen=True)
class Plan:
    """The size of a run."""

    blocks: int
    reason: str
    """One sentence."""
    capped: bool
    """Whether more rows were wanted than the cap allows."""


def margin_edges(*, low: float, high: float, mean: float, sd: float, bins: int) -> Floats:
    """Lay out the edges of a margin's histogram.

    Parameters
    ----------
    low, high, mean, sd : float
        Of the pilot's margins.
    bins : int
        2 or more.

    Returns
    -------
    ndarray, (bins + 1,)
        Over the pilot's range, at most 6 standard deviations about the mean, with a tenth to spare on
        either side, drawn out to zero where that is within 10 standard deviations. The edges are whole
        multiples of one width, so that failure begins on an edge. A margin that does not vary sits in
        the midst of a range of its own size.
    """
    if high - low <= _CONSTANT * max(abs(low), abs(high)):
        start, stop = low - max(abs(low), 1.0), low + max(abs(low), 1.0)
    else:
        start, stop = max(low, mean - _SPREADS * sd), min(high, mean + _SPREADS * sd)
        spare = 0.1 * (stop - start)
        start, stop = start - spare, stop + spare
        if abs(mean) <= _SPREADS_TO_ZERO * sd:
            start, stop = min(start, 0.0), max(stop, 0.0)
    width = (stop - start) / (bins - 1)
    return np.asarray(width * (math.floor(start / width) + np.arange(bins + 1)))


def pilot(
    problem: Problem,
    *,
    seed: int,
    blocks: int = 16,
    bins: int = 64,
    chunk_blocks: int = 1,
    workers: int = 1,
    progress: Progress | None = None,
) -> Pilot:
    """Run a pilot (its own stream, purpose "pilot").

    Parameters
    ----------
    problem : Problem
    seed, blocks, chunk_blocks, workers, progress
        As in :func:`riskcut.reliability.monte_carlo.simulate`.
    bins : int
        Of the margins' histograms.

    Returns
    -------
    Pilot

    Raises
    ------
    ImpossibleRows
        Where more than 1 % of the rows are impossible in a component.
    ValueError
        Where a limit state gave no finite margin, or an argument makes no sense.
    """
    if bins < 2:
        raise ValueError(f"bins is 2 or more, not {bins}")
    tally = simulate(
        problem,
        seed=seed,
        blocks=blocks,
        purpose="pilot",
        chunk_blocks=chunk_blocks,
        workers=workers,
        progress=progress,
    )
    edges: dict[str, Floats] = {}
    constant: dict[str, NDArray[np.bool_]] = {}
    value: dict[str, Floats] = {}
    for name, component in tally.components.items():
        low, high = component.margin_low, component.margin_high
        if not np.all(low <= high):
            label = component.labels[int(np.argmin(low <= high))]
            raise ValueError(f"{name}: {label} gave no finite margin in {tally.rows:,} rows")
        constant[name] = high - low <= _CONSTANT * np.maximum(np.abs(low), np.abs(high))
        value[name] = np.where(constant[name], low, np.nan)
        edges[name] = np.stack(
            [
                margin_edges(
                    low=float(low[place]),
                    high=float(high[place]),
                    mean=float(component.margin_mean[place]),
                    sd=float(component.margin_sd[place]),
                    bins=bins,
                )
                for place in range(len(component.labels))
            ]
        )
    return Pilot(tally=tally, edges=edges, constant=constant, value=value)


def _wanted(
    component: ComponentTally, place: int, target: float | None, variation: float
) -> tuple[float, str]:
    """Rows wanted for one limit state, and why."""
    failures = int(component.failures[place])
    who = f"{component.name} {component.labels[place]}"
    if failures:
        p = (failures + 0.5) / (component.rows + 1.0)
        return (
            (1.0 - p) / (p * variation**2),
            f"{who} failed in {failures:,} of {component.rows:,} rows of the pilot, and its probability is "
            f"wanted to a coefficient of variation of {100.0 * variation:g} %",
        )
    if target is None:
        return 0.0, ""
    return (
        _RULE_OF_THREE / (_ZERO_COUNT_SHARE * target),
        f"{who} never failed in {component.rows:,} rows of the pilot, and no failure in the run is to "
        f"mean a probability below a tenth of its target of {target:.2g}",
    )


def rows_wanted(
    pilot: Pilot,
    *,
    target_probability: Mapping[str, float | None] | None = None,
    coefficient_of_variation: float = 0.05,
    least_blocks: int = 16,
    cap_blocks: int = 512,
    sized_by: Collection[str] | None = None,
) -> Plan:
    """Fix the size of a run from a pilot.

    Parameters
    ----------
    pilot : Pilot
    target_probability : mapping of str to float or None, optional
        By component, the failure probability that its limit states have to stay below.
    coefficient_of_variation : float
        Wanted of the estimate for every limit state that fails in the pilot.
    least_blocks, cap_blocks : int
        Between which the answer lies.
    sized_by : collection of str, optional
        The only components that ask for rows; by default all do.

    Returns
    -------
    Plan
        The most that any governing limit state asks for: with k failures in the pilot's n rows,
        (1 - p)/(p cov^2) for p = (k + 1/2)/(n + 1); without one, 3/(0.1 target), so that a zero count
        bounds the probability at a tenth of the target; nothing without a target, and nothing for a
        margin that never varies.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    if coefficient_of_variation <= 0.0:
        raise ValueError(f"a coefficient of variation is above zero, not {coefficient_of_variation:g}")
    if not 1 <= least_blocks <= cap_blocks:
        raise ValueError(f"1 <= least_blocks <= cap_blocks is wanted, not {least_blocks} and {cap_blocks}")
    targets = {} if target_probability is None else target_probability
    most, why = 0.0, ""
    for name, component in pilot.tally.components.items():
        if sized_by is not None and name not in sized_by:
            continue
        target = targets.get(name)
        if target is not None and not 0.0 < target < 1.0:
            raise ValueError(f"{name}: a target probability lies between 0 and 1, not at {target:g}")
        for place, governs in enumerate(component.governing):
            if governs and not pilot.constant[name][place]:
                rows, reason = _wanted(component, place, target, coefficient_of_variation)
                if rows > most:
                    most, why = rows, reason
    blocks = max(1, math.ceil(most / BLOCK_ROWS))
    if blocks > cap_blocks:
        text = f"{cap_blocks * BLOCK_ROWS:,} rows, the cap, where {math.ceil(most):,} are wanted: {why}."
        return Plan(blocks=cap_blocks, reason=text, capped=True)
    if blocks < least_blocks or not why:
        asks = f"no limit state asks for more: {why}" if why else "no limit state asks for more"
        text = f"{least_blocks * BLOCK_ROWS:,} rows, the least; {asks}."
        return Plan(blocks=least_blocks, reason=text, capped=False)
    return Plan(blocks=blocks, reason=f"{blocks * BLOCK_ROWS:,} rows: {why}.", capped=False)
