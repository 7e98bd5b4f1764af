"""Apparent earth pressure diagrams for propped cuts, and the numbers that scale them.

The diagrams were drawn to enclose the loads measured in the props of cuts held by flexible walls; they
are not the pressure of the ground at any one time. References, all named where used: Peck (1943), Peck
(1969), Henkel (1971), Terzaghi, Peck & Mesri (1996), FHWA GEC-4 (1999).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from riskcut.ground import earth_pressure, effective_stress, profile
from riskcut.ground.rows import some
from riskcut.ground.straight import Piece as Over
from riskcut.ground.water import GAMMA_W
from riskcut.mechanisms.spans import Diagram, Piece
from riskcut.study.block import Number, Stratum


def uniform(*, depth: Number) -> Diagram:
    """Return the diagram of sands for a pressure of 1: constant over the depth of the cut."""
    return (Piece(0.0, depth, 1.0, 1.0),)


def soft_to_firm_clay(*, depth: Number) -> Diagram:
    """Return the diagram of soft to firm clays for a pressure of 1.

    Rising from zero over the top quarter of the cut, constant below it down to formation.
    """
    quarter = 0.25 * depth
    return (Piece(0.0, quarter, 0.0, 1.0), Piece(quarter, depth, 1.0, 1.0))


def stiff_clay(*, depth: Number) -> Diagram:
    """Return the diagram of stiff clays for a pressure of 1.

    Rising from zero over the top quarter of the cut, constant over the middle half, falling to zero over
    the bottom quarter.
    """
    quarter = 0.25 * depth
    three = 0.75 * depth
    return (
        Piece(0.0, quarter, 0.0, 1.0),
        Piece(quarter, three, 1.0, 1.0),
        Piece(three, depth, 1.0, 0.0),
    )


def water_at_rest(*, depth: Number, water_depth: Number) -> Diagram:
    """Return the diagram of water at rest on the height of the cut, kPa.

    Parameters
    ----------
    depth : float or ndarray
        Of the cut below the surface, m.
    water_depth : float or ndarray
        Depth of the water level below the surface, m; negative for water that stands above it, of which
        only the part against the ground counts.

    Returns
    -------
    tuple of Piece
    """
    start = np.clip(water_depth, 0.0, depth)
    return (
        Piece(
            start,
            depth,
            GAMMA_W * np.maximum(np.negative(water_depth), 0.0),
            GAMMA_W * np.maximum(np.subtract(depth, water_depth), 0.0),
        ),
    )


def of_levels(pieces: Sequence[Over], *, surface: Number) -> Diagram:
    """Return the diagram of a pressure that is given over level: the same pieces over depth below the surface."""
    return tuple(
        Piece(
            np.subtract(surface, over.upper), np.subtract(surface, over.lower), over.at_upper, over.at_lower
        )
        for over in pieces
    )


def sand_pressure(*, active: Number, effective_overburden: Number) -> Number:
    r"""Return the pressure of the sand diagram, :math:`p = 0.65 K_a \gamma H`, kPa.

    Parameters
    ----------
    active : float or ndarray
        Rankine's :math:`K_a`.
    effective_overburden : float or ndarray
        :math:`\gamma H`, with the effective unit weight below the water table, kPa. The diagram leaves
        water out: it is added apart.

    Notes
    -----
    The total is 1.3 times the active thrust :math:`K_a \gamma H^2 / 2`. Peck (1969); Terzaghi, Peck &
    Mesri (1996); FHWA GEC-4 (1999).
    """
    return 0.65 * active * effective_overburden


def stiff_clay_pressure(*, overburden: Number, coefficient: float) -> Number:
    r"""Return the pressure of the stiff clay diagram, :math:`p = c\, \gamma H` with c 0.2 to 0.4, kPa.

    Notes
    -----
    For :math:`\gamma H / s_u \le 4`. Peck (1969): the lower values where movements are small and the
    works short. Total stress: water is in it.
    """
    return coefficient * overburden


def soft_clay_pressure(
    *, overburden: Number, strength: Number, m: float = 1.0, henkel: Number = 0.0
) -> Number:
    r"""Return the pressure of the soft to firm clay diagram.

    .. math:: p = \max\left( \gamma H - 4 m s_u + \Delta, \; 0.3 \gamma H \right)

    Parameters
    ----------
    overburden : float or ndarray
        :math:`\gamma H` in total stress, kPa.
    strength : float or ndarray
        Mean undrained strength over the height of the cut, kPa.
    m : float
        1; or 0.4 where soft normally consolidated clay goes on below the dig.
    henkel : float or ndarray
        The term :math:`\Delta` of :func:`henkel_term`, kPa; only with *m* of 1.

    Returns
    -------
    float or ndarray
        kPa. Total stress: water is in it.

    Notes
    -----
    For :math:`\gamma H / s_u \ge 6`; between 4 and 6 the larger of this and the stiff clay diagram,
    prop by prop. Peck (1969); Terzaghi, Peck & Mesri (1996); FHWA GEC-4 (1999).
    """
    return np.maximum(overburden - 4.0 * m * strength + henkel, 0.3 * overburden)


def henkel_term(
    *, overburden: Number, depth: Number, failure_depth: Number, strength_integral_below: Number
) -> Number:
    r"""Return what an unstable base adds to the pressure in soft clay.

    .. math:: \Delta = \max\left( 2 \sqrt 2\, \frac{d}{H} \left( \gamma H - 5.14\, s_{u,b} \right), 0 \right)

    Parameters
    ----------
    overburden : float or ndarray
        :math:`\gamma H`, kPa.
    depth : float or ndarray
        *H*, m, above zero.
    failure_depth : float or ndarray
        Depth *d* of the base failure below formation, m.
    strength_integral_below : float or ndarray
        :math:`s_{u,b} d`: the undrained strength integrated over *d* below formation, kN/m.

    Returns
    -------
    float or ndarray
        kPa; zero where the base is stable without the props.

    Notes
    -----
    Henkel, D. J. (1971), "The calculation of earth pressures in open cuts in soft clays", The Arup
    Journal 6(4), 14-15, as given by FHWA GEC-4 (1999); recalled.
    """
    net = overburden * failure_depth - 5.14 * strength_integral_below
    term: Number = np.maximum(2.0 * np.sqrt(2.0) * np.divide(net, depth), 0.0)
    return term


def equivalent_strength(
    strata: Sequence[Stratum],
    *,
    formation: Number,
    water_table: Number,
    progressive_failure: float,
    pore_pressure: Sequence[Over] | None = None,
) -> Number:
    r"""Return the undrained strength that stands for mixed ground over the height of the cut.

    .. math:: c_{av} = \frac{1}{2H} \left[ \gamma_s K_s H_s^2 \tan\varphi_s + (H - H_s)\, n' q_u \right]

    for sand of thickness :math:`H_s` over clay with :math:`q_u = 2 s_u`. Written for any order of strata
    as what is the same there, the friction and strength on a vertical plane:

    .. math:: c_{av} = \frac{1}{H} \left[ K_s \int_{drained} \sigma'_v \tan\varphi' \, \mathrm{d}z
              + n' \int_{undrained} s_u \, \mathrm{d}z \right], \quad K_s = 1

    Parameters
    ----------
    strata : sequence of Stratum
        From the surface down.
    formation, water_table : float or ndarray
        Levels, m. Below the water table the sand's stress is effective.
    progressive_failure : float
        *n'*, 0.5 to 1; applied in the rows that hold drained soil. Clay alone has its plain mean.
    pore_pressure : sequence of Piece, optional
        From the surface down to formation, kPa, where it is not that of water at rest below ``water_table``.
        Drained soil that it lifts has no strength.

    Returns
    -------
    float or ndarray
        kPa, of the broadcast shape.

    Notes
    -----
    Peck, R. B. (1943), "Earth-pressure measurements in open cuts, Chicago subway", Transactions of the
    ASCE 108, 1008-1036, as given by Das, Principles of Foundation Engineering; recalled. Range of use:
    sand over clay, or clays in layers. The equivalent unit weight is the mean over the height.
    """
    surface = strata[0].top
    drained = profile.drained_thickness(strata, upper=surface, lower=formation)
    clay = profile.strength_integral(strata, upper=surface, lower=formation)
    holds_sand = np.greater(drained, 0.0)
    if not some(holds_sand):
        return clay / profile.positive(np.subtract(surface, formation))
    if pore_pressure is None:
        friction = profile.drained_stress_integral(
            strata,
            upper=surface,
            lower=formation,
            stress_at_upper=0.0,
            water_table=water_table,
            weight=_tangent,
        )
    else:
        friction = effective_stress.effective_integral(
            effective_stress.layers(strata, pore_pressure),
            upper=surface,
            lower=formation,
            weight=lambda s: 0.0 if s.undrained else _tangent(s),
            floor=True,
        )
    share = np.where(holds_sand, progressive_failure, 1.0)[()]
    return (friction + share * clay) / profile.positive(np.subtract(surface, formation))


def _tangent(stratum: Stratum) -> Number:
    tangent: Number = np.tan(np.radians(earth_pressure.friction_angle(stratum)))
    return tangent


def mean_active(strata: Sequence[Stratum], *, formation: Number) -> Number:
    """Return Rankine's active coefficient averaged by thickness over the height of the cut.

    Undrained strata count with 1 (no friction). One coefficient for a uniform diagram, where the ground
    is layered, is this program's simplification; in one soil it is that soil's own.
    """
    surface = strata[0].top
    total = profile.weighted_thickness(
        strata, upper=surface, lower=formation, weight=earth_pressure.active_coefficient
    )
    return total / profile.positive(np.subtract(surface, formation))


def sand_below_clay(strata: Sequence[Stratum], *, formation: Number) -> profile.Rows:
    """Tell the rows in which drained soil lies below undrained soil within the height of the cut."""
    rows: profile.Rows = False
    clay_over: profile.Rows = False
    for part in profile.slices(strata, upper=strata[0].top, lower=formation):
        present = np.greater(part.thickness, 0.0)
        if part.stratum.undrained:
            clay_over = clay_over | present
        else:
            rows = rows | (present & clay_over)
    return rows
