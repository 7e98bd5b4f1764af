"""Rays and lines through the space: where each changes its state, how likely its failing stretches are, what that says.

References
----------
.. [1] Dowell, M. & Jarratt, P. (1971). A modified regula falsi method for computing the root of an equation.
   BIT 11, 168-174.
.. [2] Hall, P. (1992). On the removal of skewness by transformation. Journal of the Royal Statistical Society B
   54(1), 221-228 (recalled).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from riskcut.reliability.answer import IMPOSSIBLE_SHARE, Answer, Failing
from riskcut.reliability.intervals import proportion

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Along = Callable[[Floats, Indices], Floats]
"""Margins (n,) at positions (n,) on rays (n,), the latter by number."""

ROUNDING = 5e-4
"""Relative error that the ends of the stretches may bring to a probability where a margin jumps."""
LEAST_EFFECTIVE = 30.0
"""Rays that count, (sum p)^2 / sum p^2, below which an answer is not trusted."""
GREATEST_ERROR = 0.3
"""Relative standard error above which an answer is not trusted."""
_STEP = 1e-4
"""Width of the bracket that a root is read from, by its chord."""
_BISECT = 3
"""A bracket that has not halved in so many steps is halved: a jump costs no more than that many bisections."""
_STEPS = 80


def _state(margin: Floats) -> NDArray[np.int8]:
    """0 safe, 1 failing, 2 impossible."""
    return np.where(np.isnan(margin), 2, margin < 0.0).astype(np.int8)


def _between(low: Floats, high: Floats, f: Floats, h: Floats) -> Floats:
    """Return where the chord crosses zero, or the middle where it does not between ``low`` and ``high``."""
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        secant = high - h * (high - low) / (h - f)
    return np.where((secant >= low) & (secant <= high), secant, 0.5 * (low + high))


def _ends(along: Along, rays: Indices, low: Floats, high: Floats, f: Floats, h: Floats) -> Floats:
    """Return where the state changes between ``low`` and ``high`` (n,), with margins ``f`` and ``h`` there.

    The Illinois form of regula falsi [1]_ where both margins are numbers, bisection on the state elsewhere.
    """
    low, high, f, h = low.copy(), high.copy(), f.copy(), h.copy()
    start = _state(f)
    side = np.zeros(len(low), dtype=np.int8)
    active = np.arange(len(low))
    width = high - low
    for step in range(1, _STEPS + 1):
        a, b = low[active], high[active]
        x = _between(a, b, f[active], h[active])
        if step % _BISECT == 0:
            x = np.where(b - a > 0.5 * width[active], 0.5 * (a + b), x)
            width[active] = b - a
        # Half a step from either end at least, or a root next to an end would leave the bracket wide.
        x = np.clip(x, a + 0.5 * _STEP, b - 0.5 * _STEP)
        value = along(x, rays[active])
        lower = _state(value) == start[active]
        up, down = active[lower], active[~lower]
        # The margin kept at the other end is halved when the same end moves twice.
        h[up] = np.where(side[up] == 1, 0.5 * h[up], h[up])
        f[down] = np.where(side[down] == -1, 0.5 * f[down], f[down])
        low[up], f[up], side[up] = x[lower], value[lower], 1
        high[down], h[down], side[down] = x[~lower], value[~lower], -1
        active = active[high[active] - low[active] > _STEP]
        if not len(active):
            break
    return _between(low, high, f, h)


def chances(
    along: Along,
    positions: Floats,
    tail: Callable[[Floats], Floats],
    rays: int,
    margins: Floats | None = None,
) -> Floats:
    """Return how likely each ray is to be failing, and to be impossible.

    Parameters
    ----------
    along : callable
    positions : ndarray, (k,)
        Increasing, where a ray is looked at first; its state at the first and the last one goes on to either
        end. Each change of state between two of them is pinned down; there may be several on a ray.
    tail : callable
        Probability of lying beyond a position, given the ray.
    rays : int
        n.
    margins : ndarray, (k, n), optional
        At the positions, where they are known already.

    Returns
    -------
    ndarray, (2, n)
    """
    numbers = np.arange(rays)
    if margins is None:
        margins = along(np.repeat(positions, rays), np.tile(numbers, len(positions)))
        margins = margins.reshape(len(positions), rays)
    states = _state(margins)
    beyond = tail(positions)
    result = np.zeros((2, rays))
    cell, ray = np.nonzero(states[1:] != states[:-1])
    ends = _ends(along, ray, positions[cell], positions[cell + 1], margins[cell, ray], margins[cell + 1, ray])
    split = np.repeat(beyond[1:, np.newaxis], rays, axis=1)
    split[cell, ray] = tail(ends)
    for which in (1, 2):
        inside = states == which
        before = np.where(inside[:-1], beyond[:-1, np.newaxis] - split, 0.0)
        after = np.where(inside[1:], split - beyond[1:, np.newaxis], 0.0)
        result[which - 1] = (before + after).sum(axis=0)
        result[which - 1] += np.where(inside[0], 1.0 - beyond[0], 0.0) + np.where(inside[-1], beyond[-1], 0.0)
    return result


def _skewed_interval(values: Floats) -> tuple[float, float]:
    """Return the 95 % interval of a mean, Student's, moved for the skewness of the values.

    A few rays carry much of the mean. To the first order in skewness / sqrt(n) the distribution of Student's t
    is moved by (2 t^2 + 1)/6 times that, at either end [2]_: without it twice as many intervals end too low.
    """
    n = len(values)
    mean, spread = float(values.mean()), float(values.std())
    if spread <= 1e-12 * abs(mean):
        return mean, mean
    skewness = float(np.mean(((values - mean) / spread) ** 3))
    t = float(stdtrit(n - 1, 0.975))
    error = spread / math.sqrt(n - 1)
    move = skewness / math.sqrt(n) * (2.0 * t * t + 1.0) / 6.0
    return mean - error * (t - move), mean + error * (t + move)


def answer_of_rays(
    failing: Failing,
    run: Failing,
    p: Floats,
    *,
    method: str,
    rays: str,
    how: str,
    impossible: int,
    doubt: str = "",
) -> Answer:
    """Close a run from the chances (2, n) of independent rays (failing, impossible).

    The interval is that of the rays' mean, widened by the rounding of their roots; where no ray fails (or all
    do, wholly) it is that of a count of rays.
    """
    n = p.shape[1]
    fails, lost, worst = p[0], float(p[1].mean()), p[0] + p[1]
    mean, error = float(fails.mean()), float(fails.std(ddof=1)) / math.sqrt(n)
    lower = _skewed_interval(fails)[0] - ROUNDING * mean
    upper = _skewed_interval(worst)[1] + ROUNDING * float(worst.mean())
    if not np.any(worst > 0.0) or np.all(fails == 1.0):
        lower, upper = (float(bound) for bound in proportion(n if fails[0] == 1.0 else 0, n))
    # The rarer of failing and not failing is what few rays may decide.
    rare = fails if mean <= 0.5 else 1.0 - fails
    squares = float(np.square(rare).sum())
    effective = float(rare.sum()) ** 2 / squares if squares > 0.0 else 0.0
    if doubt:
        pass
    elif lost > IMPOSSIBLE_SHARE:
        doubt = f"{100.0 * lost:.3g} % of the probability lies on impossible rows"
    elif mean == 0.0:
        doubt = f"no failure was met on any of {n:,} {rays}"
    elif mean < 1.0 and effective < LEAST_EFFECTIVE:
        doubt = f"only some {effective:.0f} of {n:,} {rays} decide the answer"
    elif error > GREATEST_ERROR * mean:
        doubt = f"a standard error of {100.0 * error / mean:.0f} %"
    elif lost > 0.1 * mean:
        doubt = f"impossible rows are {lost / mean:.2g} times as likely as failure"
    possible = 1.0 - lost
    return failing.answer(
        run,
        probability=min(mean / possible, 1.0) if possible > 1e-12 else np.nan,
        bounds=(lower, upper),
        standard_error=error / possible if possible > 1e-12 else np.nan,
        method=method,
        trusted=not doubt,
        reason=f"{n:,} {rays}, {how}{'; ' + doubt if doubt else ''}.",
        impossible=impossible,
    )


def rays_wanted(p: Floats, coefficient_of_variation: float, *, block: int, least: int, cap: int) -> int:
    """Return how many rays the chances (n,) of a discarded pilot ask for, in whole blocks."""
    mean = float(p.mean())
    if mean == 0.0:
        return block * math.ceil(least / block)
    spread = float(p.std(ddof=1)) / (mean * coefficient_of_variation)
    return block * math.ceil(min(max(spread * spread, least), cap) / block)
