r"""Slip circles about the lowest prop: base heave as the wall and the ground about it turning round that prop.

The arc begins level with the prop on the retained side, passes at or below the wall's toe and comes up at
formation inside. Moments about the prop, per metre of wall, with *X* the radius and *h* the height of the prop
above formation:

.. math:: S = (\gamma H + q) \frac{X^2}{2}, \qquad R = X^2 \int_0^{\theta_e} s_u \, \mathrm{d}\theta + M_R,
          \qquad \theta_e = \frac{\pi}{2} + \arccos\frac{h}{X}

Both are divided by :math:`X^2/2`, so that they are kPa as in the other forms; which rows fail stays the same. The
ground beside the cut counts as a block of breadth *X* down to formation; the arc cuts its lower corner off, so that
the moment of its weight is too large by :math:`\gamma h^3/6` (on the safe side).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from riskcut.study.block import EdgeLoad, Number, Stratum


def arc_strength(strata: Sequence[Stratum], *, centre: Number, radius: Number, rise: Number) -> Number:
    r"""Return the undrained strength integrated over the angle of the arc, exactly.

    .. math::

        \int_0^{\pi/2 + \arccos(h/X)} s_u \, \mathrm{d}\theta = F(0) + F(h), \qquad
        F(a) = \sum_i \left[ s_{0,i} \, \theta - k_i X \cos\theta
        \right]_{\arcsin(\max(z_i, a)/X)}^{\arcsin(\max(z_{i+1}, a)/X)}

    with :math:`s_u = s_{0,i} + k_i z` in stratum *i*, which reaches from :math:`z_i` to :math:`z_{i+1}`
    below the centre, and :math:`z = X \sin\theta`.

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down. Drained strata add nothing.
    centre : float or ndarray
        Level of the centre, m.
    radius : float or ndarray
        *X*, m, above zero.
    rise : float or ndarray
        *h*, the height of the centre above the formation, m; taken as 0 below it and *X* above that.

    Returns
    -------
    float or ndarray
        kPa (times radians), of the broadcast shape.

    Notes
    -----
    Down to the lowest point the arc passes every level once, and from there up to formation once more: the
    same integral, begun at the depth of the formation.
    """
    return arcs(strata, centre=centre, rise=rise)(radius)


def arcs(strata: Sequence[Stratum], *, centre: Number, rise: Number) -> Callable[[Number], Number]:
    """Return :func:`arc_strength` as a function of the radius alone: what hangs on the strata is worked out once."""
    tops = [np.subtract(centre, stratum.top) for stratum in strata]
    depths = list(accumulate(tops, np.maximum))
    starts = [
        None if stratum.su_at_top is None else stratum.su_at_top - stratum.su_per_metre * top
        for stratum, top in zip(strata, tops, strict=True)
    ]

    def strength_at(radius: Number) -> Number:
        end = np.minimum(np.maximum(np.divide(rise, radius), 0.0), 1.0)
        angle_end, cosine_end = np.arcsin(end), _cosine(end)
        total: Number = 0.0
        share = _share(depths[0], radius)
        above = _Mark(share if share.any() else 0.0, angle_end, cosine_end)
        for stratum, start, depth in zip(strata, starts, (*depths[1:], None), strict=True):
            if depth is None and start is None:
                break
            lowest = np.float64(1.0) if depth is None else _share(depth, radius)
            if not lowest.any():
                continue
            below = _Mark(lowest, angle_end, cosine_end)
            if start is not None:
                growth = stratum.su_per_metre * radius
                total = (
                    total + start * (below.angles - above.angles) + growth * (above.cosines - below.cosines)
                )
            above = below
        return total

    return strength_at


class _Mark:
    """A depth on the arc, over the radius: its angles and their cosines, going down and coming up, summed."""

    def __init__(self, share: Number, angle_end: Number, cosine_end: Number) -> None:
        angle, cosine = np.arcsin(share), _cosine(share)
        self.angles: Number = angle + np.maximum(angle, angle_end)
        self.cosines: Number = cosine + np.minimum(cosine, cosine_end)


def _share(depth: Number, radius: Number) -> np.float64 | NDArray[np.float64]:
    """Return a depth over the radius, kept on the arc."""
    share: np.float64 | NDArray[np.float64] = np.minimum(np.maximum(np.divide(depth, radius), 0.0), 1.0)
    return share


def _cosine(sine: Number) -> Number:
    cosine: Number = np.sqrt(np.multiply(np.subtract(1.0, sine), np.add(1.0, sine)))
    return cosine


def circle_resistance(
    *, arc_strength: Number, radius: Number, bending: Number = 0.0, model_factor: Number = 1.0
) -> Number:
    r"""Return the resistance of a circle per plan area of the ground that sinks.

    .. math:: R = 2 \theta \int s_u \, \mathrm{d}\theta + \frac{2 M_R}{X^2}

    Parameters
    ----------
    arc_strength : float or ndarray
        Strength integrated over the angle, of :func:`arc_strength`, kPa.
    radius : float or ndarray
        *X*, m, above zero.
    bending : float or ndarray
        Bending resistance of the wall at the prop, :math:`M_R`, kN m/m.
    model_factor : float or ndarray
        On the strength of the soil, not on the wall.

    Returns
    -------
    float or ndarray
        kPa, to be compared with the load at formation level. In uniform clay without a wall's bending
        resistance and a prop at formation: :math:`2 \pi s_u`.

    Notes
    -----
    Moment equilibrium about the prop, both sides over :math:`X^2/2`; the form of several national codes
    (recalled). Shear above the level of the prop is left out: on the safe side.
    """
    return 2.0 * np.multiply(model_factor, arc_strength) + 2.0 * np.divide(bending, np.square(radius))


def edge_pressure(loads: Sequence[EdgeLoad], *, radius: Number, length: Number) -> Number:
    r"""Return the edge loads as the uniform surcharge that has their moment about the prop.

    .. math:: q_e = \sum q \, \frac{\min(a + b, X)^2 - \min(a, X)^2}{X^2} \, \frac{\min(l, L)}{L}

    Returns
    -------
    float or ndarray
        kPa; what stands beyond the arc adds nothing.
    """
    total: Number = 0.0
    for load in loads:
        near = np.minimum(load.distance, radius)
        far = np.minimum(np.add(load.distance, load.width), radius)
        along = 1.0 if load.length is None else np.minimum(load.length, length) / length
        total = total + load.pressure * (np.square(far) - np.square(near)) / np.square(radius) * along
    return total
