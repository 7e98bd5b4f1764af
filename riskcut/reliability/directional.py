"""Directional simulation: where a ray from the origin fails, and how likely that stretch of it is.

The radius is integrated exactly, so only the direction is sampled: good for failure all round, for several
modes and for unions, in up to some twenty dimensions (beyond them nearly every direction misses a mode).

References
----------
.. [1] Bjerager, P. (1988). Probability integration by directional simulation. Journal of Engineering Mechanics
   114(8), 1285-1302.
.. [2] Dowell, M. & Jarratt, P. (1971). A modified regula falsi method for computing the root of an equation.
   BIT 11, 168-174.
.. [3] Hall, P. (1992). On the removal of skewness by transformation. Journal of the Royal Statistical Society B
   54(1), 221-228 (recalled).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, chdtri, stdtrit

from riskcut.reliability.answer import IMPOSSIBLE_SHARE, Answer, Failing, shared_out
from riskcut.reliability.intervals import proportion
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Along = Callable[[Floats, Indices], Floats]
"""Margins (n,) at positions (n,) on rays (n,), the latter by number."""

METHOD = "directional simulation"
DIRECTIONS = 256
"""Directions in a block: the unit of randomness and of work."""
ROUNDING = 5e-4
"""Relative error that the ends of the stretches may bring to a probability where a margin jumps."""
LEAST_EFFECTIVE = 30.0
"""Rays that count, (sum p)^2 / sum p^2, below which an answer is not trusted."""
GREATEST_ERROR = 0.3
"""Relative standard error above which an answer is not trusted."""
_NEVER = 1e-12
"""Probability beyond the greatest radius that is looked at."""
_SPACING = 0.5
"""Of the radii at which a ray is looked at first; two roots closer than that may be missed."""
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

    The Illinois form of regula falsi [2]_ where both margins are numbers, bisection on the state elsewhere.
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
    is moved by (2 t^2 + 1)/6 times that, at either end [3]_: without it twice as many intervals end too low.
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


def _block(failing: Failing, seed: int, purpose: str, index: int) -> tuple[Floats, int]:
    """Return the chances (2, 256) of a block of directions, and how many rows were impossible."""
    m = failing.space.dimension
    normal = generator(seed=seed, purpose=purpose, index=index).standard_normal((m, DIRECTIONS))
    direction = normal / np.sqrt(np.square(normal).sum(axis=0))
    # For n normals the squared radius is chi-square with n degrees of freedom.
    greatest = math.sqrt(float(chdtri(float(m), _NEVER)))
    radii = np.append(np.arange(0.0, greatest, _SPACING), greatest)

    impossible = 0

    def along(radius: Floats, ray: Indices) -> Floats:
        nonlocal impossible
        margin = failing.margins((radius * direction[:, ray]).T)
        impossible += int(np.count_nonzero(np.isnan(margin)))
        return margin

    def tail(radius: Floats) -> Floats:
        return np.asarray(chdtrc(float(m), radius * radius))

    return chances(along, radii, tail, DIRECTIONS), impossible


def directional_simulation(
    failing: Failing,
    *,
    seed: int,
    coefficient_of_variation: float = 0.05,
    least_directions: int = 512,
    cap_directions: int = 20_000,
    workers: int = 1,
) -> Answer:
    """Answer a failure probability by directional simulation.

    Parameters
    ----------
    failing : Failing
        Of few dimensions, some twenty at most.
    seed : int
        Of the study, 0 or more.
    coefficient_of_variation : float
        Wanted; a pilot of 256 directions, thrown away, says how many it takes.
    least_directions, cap_directions : int
        Between which their number lies, rounded up to whole blocks of 256.
    workers : int
        Threads, over blocks.

    Returns
    -------
    Answer
        Bit for bit the same for any ``workers``. The bounds hold the impossible stretches of the rays.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    if coefficient_of_variation <= 0.0:
        raise ValueError(f"a coefficient of variation is above zero, not {coefficient_of_variation:g}")
    if not 2 <= least_directions <= cap_directions:
        raise ValueError(
            f"2 <= least_directions <= cap_directions is wanted, not {least_directions} and {cap_directions}"
        )
    if (certain := failing.answer_without_chance(METHOD)) is not None:
        return certain
    run = failing.apart()
    pilot, _ = _block(run, seed, METHOD + " pilot", 0)
    count = rays_wanted(
        pilot[0], coefficient_of_variation, block=DIRECTIONS, least=least_directions, cap=cap_directions
    )
    every = shared_out(run, lambda twin, k: _block(twin, seed, METHOD, k), count // DIRECTIONS, workers)
    return answer_of_rays(
        failing,
        run,
        np.hstack([p for p, _ in every]),
        method=METHOD,
        rays="directions",
        how="sized by a pilot",
        impossible=sum(impossible for _, impossible in every),
    )
