"""Line sampling: rows along lines in the direction of a design point, between them only the sideways scatter.

The normal score along the direction is integrated exactly on each line; what is left to sample is how far away
failure is from line to line, which for a mildly curved margin is little, however rare failure is. The direction
need not be exact: a poor one costs rows and makes no bias.

References
----------
.. [1] Koutsourelakis, P. S., Pradlwarter, H. J. & Schueller, G. I. (2004). Reliability of structures in high
   dimensions, part I: algorithms and applications. Probabilistic Engineering Mechanics 19(4), 409-417.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, ndtr

from riskcut.reliability.answer import Answer, Failing, shared_out
from riskcut.reliability.rays import Along, Indices, answer_of_rays, chances, rays_wanted
from riskcut.reliability.streams import generator

Floats = NDArray[np.float64]

METHOD = "line sampling"
LINES = 64
"""Lines in a block: the unit of randomness and of work."""
_PILOT_WIDE = 16
"""Lines of the pilot that are looked at from end to end."""
_POSITIONS = np.arange(-9.0, 9.5)
"""Where a line is looked at from end to end; two roots in one cell may be missed."""
_MOVES = 6
"""Secant steps before a line is looked at from end to end after all."""
_RARE = 0.05
"""Only a failure rarer than this is looked for sideways."""
_SIDEWAYS = 0.05
"""Of the pilot's probability: what may lie sideways unseen."""
_AGREEMENT = 0.005
"""Relative, of the probability of a line by steps from the pilot's root with that by all its stretches."""
_STEP = 2e-3
"""A root is found when it would move by less: what is left is of the order of its square."""


class _Lines:
    """A block of lines: independent scatter square to the direction."""

    def __init__(self, failing: Failing, direction: Floats, seed: int, purpose: str, index: int) -> None:
        normal = generator(seed=seed, purpose=purpose, index=index).standard_normal((len(direction), LINES))
        # Summed score by score: a matrix product may round otherwise from machine to machine.
        along = np.zeros(LINES)
        for share, score in zip(direction, normal, strict=True):
            along += share * score
        self._failing = failing
        self._direction = direction[:, np.newaxis]
        self._foot = normal - self._direction * along
        self.impossible = 0

    def margins(self, position: Floats, line: Indices) -> Floats:
        """Return the margins at positions along some lines."""
        margin = self._failing.margins((self._foot[:, line] + self._direction * position).T)
        self.impossible += int(np.count_nonzero(np.isnan(margin)))
        return margin

    def feet_fail(self, probability: float) -> bool:
        """Return whether failure lies sideways: at the feet of the lines, moved out to a small probability.

        The feet go to the distance that sideways scatter exceeds with ``probability``. A mode out there is
        met by so few lines that their spread tells nothing of it.
        """
        scatter = float(len(self._foot) - 1)
        if scatter == 0.0:
            return False
        distance = np.sqrt(float(chdtri(scatter, probability)))
        feet = self._foot * (distance / np.sqrt(np.square(self._foot).sum(axis=0)))
        return bool(np.any(self._failing.margins(feet.T) < 0.0))


def _beyond(position: Floats) -> Floats:
    return np.asarray(ndtr(-position))


def _some(along: Along, lines: Indices) -> Along:
    return lambda position, line: along(position, lines[line])


def _wide(along: Along, lines: Indices) -> Floats:
    """Return the chances (2, len(lines)) of lines looked at from end to end, every stretch of them."""
    return chances(_some(along, lines), _POSITIONS, _beyond, len(lines))


def _quick(along: Along, lines: Indices, start: float, slope: float) -> Floats:
    """Return the chances of lines that are taken to be safe up to one root, and failing beyond.

    Newton's step with the pilot's slope, then secant steps. A line on which they do not arrive at a falling
    root is looked at from end to end.
    """
    n = len(lines)
    x0 = np.full(n, start)
    f0 = along(x0, lines)
    x1 = x0 - f0 / slope
    reach = _POSITIONS[-1]
    root = np.full(n, np.nan)
    going = np.flatnonzero(np.abs(x1) <= reach)
    x0, f0, x1 = x0[going], f0[going], x1[going]
    for _ in range(_MOVES):
        if not len(going):
            break
        f1 = along(x1, lines[going])
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            inclination = np.where(x1 == x0, slope, (f1 - f0) / (x1 - x0))
            x2 = x1 - f1 / inclination
        arrived = (np.abs(x2 - x1) < _STEP) & (inclination < 0.0)
        root[going[arrived]] = x2[arrived]
        keep = ~arrived & (np.abs(x2) <= reach)
        going, x0, f0, x1 = going[keep], x1[keep], f1[keep], x2[keep]
    result = np.zeros((2, n))
    result[0] = _beyond(root)
    astray = np.flatnonzero(np.isnan(root))
    if len(astray):
        result[:, astray] = _wide(along, lines[astray])
    return result


def _one_falling_root(along: Along) -> tuple[Floats, tuple[float, float] | None]:
    """Look at the pilot's first lines from end to end.

    Returns
    -------
    chances (2, 16)
    start and slope, or None
        The middle root and the middle slope at it, where every line is safe up to one root and failing beyond
        and a few steps from there find it.
    """
    lines = np.arange(_PILOT_WIDE)
    margins = along(np.repeat(_POSITIONS, _PILOT_WIDE), np.tile(lines, len(_POSITIONS)))
    margins = margins.reshape(len(_POSITIONS), _PILOT_WIDE)
    p = chances(along, _POSITIONS, _beyond, _PILOT_WIDE, margins)
    failing = margins < 0.0
    once = np.count_nonzero(failing[1:] != failing[:-1], axis=0) == 1
    if np.any(np.isnan(margins)) or not np.all(once & failing[-1]):
        return p, None
    cell = np.argmax(failing, axis=0) - 1
    before, after = margins[cell, lines], margins[cell + 1, lines]
    slope = (after - before) / (_POSITIONS[cell + 1] - _POSITIONS[cell])
    place = _POSITIONS[cell] - before / slope
    start = (float(np.median(place)), float(np.median(slope)))
    if not np.all(np.isfinite(start)):
        return p, None
    # Where a margin jumps, a secant may arrive at what is no root: the short way has to agree with the long one.
    agree = np.allclose(_quick(along, lines, *start), p, rtol=_AGREEMENT, atol=0.0)
    return p, start if agree else None


def line_sampling(
    failing: Failing,
    direction: ArrayLike,
    *,
    seed: int,
    coefficient_of_variation: float = 0.05,
    least_lines: int = 256,
    cap_lines: int = 20_000,
    workers: int = 1,
) -> Answer:
    """Answer a failure probability by line sampling along one direction.

    Parameters
    ----------
    failing : Failing
    direction : array_like, (m,)
        Towards failure, the design point's; of any length above zero.
    seed : int
        Of the study, 0 or more.
    coefficient_of_variation : float
        Wanted; a pilot of 64 lines, thrown away, says how many it takes, and whether a line has one root only.
    least_lines, cap_lines : int
        Between which their number lies, rounded up to whole blocks of 64.
    workers : int
        Threads, over blocks.

    Returns
    -------
    Answer
        The mean over the lines of Phi(-c), or of the probability of all failing stretches where a line has
        several roots, with Student's interval over the lines [1]_. Not trusted where a second mode is met
        square to the direction; one margin with one design point is what the method is for. Bit for bit the
        same for any ``workers``.

    Raises
    ------
    ValueError
        Where an argument makes no sense.
    """
    if coefficient_of_variation <= 0.0:
        raise ValueError(f"a coefficient of variation is above zero, not {coefficient_of_variation:g}")
    if not 2 <= least_lines <= cap_lines:
        raise ValueError(f"2 <= least_lines <= cap_lines is wanted, not {least_lines} and {cap_lines}")
    alpha = np.asarray(direction, dtype=np.float64)
    length = float(np.sqrt(np.square(alpha).sum()))
    if alpha.shape != (failing.space.dimension,):
        raise ValueError(f"a direction of {failing.space.dimension} scores is wanted, not {alpha.shape}")
    if (certain := failing.answer_without_chance(METHOD)) is not None:
        return certain
    if not (np.isfinite(length) and length > 0.0):
        raise ValueError("a direction is finite and longer than zero")
    alpha = alpha / length
    run = failing.apart()
    pilot = _Lines(run, alpha, seed, METHOD + " pilot", 0)
    first, start = _one_falling_root(pilot.margins)

    def solve(along: Along, lines: Indices) -> Floats:
        return _wide(along, lines) if start is None else _quick(along, lines, *start)

    rest = solve(pilot.margins, np.arange(_PILOT_WIDE, LINES))
    guess = np.append(first[0], rest[0])
    count = rays_wanted(guess, coefficient_of_variation, block=LINES, least=least_lines, cap=cap_lines)
    doubt = ""
    if 0.0 < guess.mean() < _RARE and pilot.feet_fail(_SIDEWAYS * float(guess.mean())):
        doubt = "failure lies sideways of the direction too, where hardly a line goes"

    def block(twin: Failing, index: int) -> tuple[Floats, int]:
        lines = _Lines(twin, alpha, seed, METHOD, index)
        p = solve(lines.margins, np.arange(LINES))
        return p, lines.impossible

    every = shared_out(run, block, count // LINES, workers)
    return answer_of_rays(
        failing,
        run,
        np.hstack([p for p, _ in every]),
        method=METHOD,
        rays="lines",
        how="each looked at from end to end" if start is None else "one root each",
        impossible=sum(impossible for _, impossible in every),
        doubt=doubt,
    )
