"""The published forms of undrained base heave, as pure functions of their symbols.

All are in kPa per plan area of the moving ground, so that they share one load. Terzaghi's side shear is
taken off the load in one book and added to the resistance in another; here it is a resistance, so that a
model factor on soil strength multiplies it. His form is written per unit of the breadth of the block that
sinks beside the cut (a length above zero), so nothing passes through zero where side shear alone
carries the ground.
"""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Number


def bearing_factor(*, depth: Number, width: Number, length: Number) -> Number:
    r"""Return the bearing capacity factor of a cut of depth H in clay.

    .. math:: N_c = 5 \left(1 + 0.2 \min(H/B, 2.5)\right) \left(1 + 0.2\, B/L\right)

    Parameters
    ----------
    depth, width, length : float or ndarray
        *H*, *B* (the shorter side) and *L* of the cut, m, above zero; an infinite length is a strip.

    Returns
    -------
    float or ndarray
        The factor, dimensionless: 5 for a shallow strip, 9 for a deep square.

    Notes
    -----
    The cap belongs on H/B: a cap of 9 on the factor alone would let a deep strip reach 9, where it is
    7.5. The formula departs from Skempton's table (recalled) by -7 % (H/B 0.5) to +5 % (H/B 2.5). Range of
    use: any H/B; B <= L.

    References
    ----------
    Skempton, A. W. (1951), "The bearing capacity of clays", Building Research Congress, London, 1,
    180-189. Bjerrum, L. and Eide, O. (1956), "Stability of strutted excavations in clay",
    Geotechnique 6(1), 32-47.
    """
    return (
        5.0 * (1.0 + 0.2 * np.minimum(np.divide(depth, width), 2.5)) * (1.0 + 0.2 * np.divide(width, length))
    )


def base_load(
    *, overburden: Number, surcharge: Number, standing_outside: Number = 0.0, standing_inside: Number = 0.0
) -> Number:
    r"""Return the total vertical stress beside the cut at formation level, less the water on the base.

    .. math:: S = \gamma H + q + \gamma_w h_o - \gamma_w h_i

    Parameters
    ----------
    overburden : float or ndarray
        Weight of the ground from the surface to formation, :math:`\gamma H`, kPa.
    surcharge : float or ndarray
        Uniform surcharge *q* on the surface beside the cut, kPa.
    standing_outside, standing_inside : float or ndarray
        Pressure of the water that stands on the surface outside, and on the formation inside, kPa.

    Returns
    -------
    float or ndarray
        Load, kPa. Negative in a cut that is flooded above what presses on it: such a row is safe.
    """
    return overburden + surcharge + standing_outside - standing_inside


def failing_breadth(*, width: Number, clay_thickness: Number) -> Number:
    r"""Return the breadth of the failing block, :math:`B_1 = \min(B/\sqrt 2, T)`, m.

    Parameters
    ----------
    width : float or ndarray
        *B*, m.
    clay_thickness : float or ndarray
        Undrained soil below formation *T*, m; infinite where nothing hard or drained lies below.

    Notes
    -----
    Terzaghi (1943): a slip at 45 degrees under the base of a wide cut, cut short by a hard stratum.
    """
    return np.minimum(np.divide(width, np.sqrt(2.0)), clay_thickness)


def bearing_resistance(*, strength_below: Number, factor_nc: Number, model_factor: Number = 1.0) -> Number:
    r"""Return the resistance of the bearing form, :math:`R = \theta N_c s_{u,b}`, kPa.

    Parameters
    ----------
    strength_below : float or ndarray
        Mean undrained strength over :math:`B_1` below formation, kPa.
    factor_nc : float or ndarray
        :math:`N_c` of :func:`bearing_factor`, or of a chart.
    model_factor : float or ndarray
        :math:`\theta`, on soil strength.
    """
    return model_factor * factor_nc * strength_below


def wide_cut_resistance(
    *, strength_below: Number, side_shear: Number, breadth: Number, model_factor: Number = 1.0
) -> Number:
    r"""Return the resistance of Terzaghi's form per unit of the breadth of the failing block.

    .. math:: R = \theta \left( 5.7\, s_{u,b} + \frac{1}{B_1} \int_H s_u \, \mathrm{d}z \right)

    Parameters
    ----------
    strength_below : float or ndarray
        Mean undrained strength over :math:`B_1` below formation, kPa.
    side_shear : float or ndarray
        Undrained strength integrated over the height of the cut (:math:`s_u H` in uniform clay), kN/m.
    breadth : float or ndarray
        :math:`B_1`, m, above zero.
    model_factor : float or ndarray
        :math:`\theta`, on soil strength.

    Returns
    -------
    float or ndarray
        kPa; to be compared with :func:`base_load`.

    Notes
    -----
    The book's factor of safety takes the side shear off the load. Range of use: H/B below 1 or so, a
    long cut. Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley.
    """
    return model_factor * (5.7 * strength_below + np.divide(side_shear, breadth))


def finite_cut_resistance(
    *, strength_below: Number, side_shear: Number, breadth: Number, length: Number, model_factor: Number = 1.0
) -> Number:
    r"""Return the resistance of the wide-cut form with the length of the cut.

    .. math:: R = \theta \left( 5.14\, s_{u,b} \left(1 + 0.2\, \frac{B''}{L}\right)
              + \frac{1}{B'} \int_H s_u \, \mathrm{d}z \right), \quad
              B' = \min\left(T, \tfrac{B}{\sqrt 2}\right), \quad B'' = \sqrt 2\, B'

    Parameters
    ----------
    strength_below : float or ndarray
        Mean undrained strength over :math:`B'` below formation, kPa.
    side_shear : float or ndarray
        Undrained strength integrated over the height of the cut, kN/m.
    breadth : float or ndarray
        :math:`B'`, m, above zero.
    length : float or ndarray
        *L*, m.
    model_factor : float or ndarray
        :math:`\theta`, on soil strength.

    Returns
    -------
    float or ndarray
        kPa; to be compared with :func:`base_load`.

    Notes
    -----
    Chang, M.-F. (2000), "Basal stability analysis of braced cuts in clay", Journal of Geotechnical and
    Geoenvironmental Engineering 126(3), 276-279, as given by Das, Principles of Foundation Engineering
    (7th ed., Example 10.3). The source has one strength; here the bearing term reads the mean below
    formation and the shear term that beside the cut.
    """
    shape = 1.0 + 0.2 * np.sqrt(2.0) * np.divide(breadth, length)
    resistance: Number = model_factor * (5.14 * strength_below * shape + np.divide(side_shear, breadth))
    return resistance


def wall_adhesion(*, inside: Number, outside: Number, weight: Number, model_factor: Number = 1.0) -> Number:
    r"""Return the adhesion inside an embedded wall that counts against heave, per plan area.

    .. math:: T_a = \min(\theta T_i,\; W_w + \theta T_o)

    Parameters
    ----------
    inside : float or ndarray
        Adhesion on the inner face below formation, :math:`\alpha s_u \, 2 D (B + L)/(B L)`, kPa.
    outside : float or ndarray
        Adhesion on the outer face above formation per plan area of the cut, kPa.
    weight : float or ndarray
        Weight of the wall per plan area of the cut, kPa.
    model_factor : float or ndarray
        :math:`\theta`, on soil strength.

    Notes
    -----
    Reasoned, no source: the rising clay drags the wall up, its weight and the ground that sinks beside it
    hold it down. The outer face below formation is left out, since the ground there turns under the toe with
    the slip; the pressure under the toe and what the props carry in shear are left out too.
    """
    held: Number = np.minimum(
        np.multiply(model_factor, inside), np.add(weight, np.multiply(model_factor, outside))
    )
    return held


def embedded_wall_resistance(
    *, strength_below_toe: Number, factor_nc: Number, adhesion: Number, model_factor: Number = 1.0
) -> Number:
    r"""Return the resistance of the form with an embedded wall.

    .. math:: R = \theta N_c s_{u,t} + T_a, \qquad T_a \le \theta \alpha s_u \frac{2 D (B + L)}{B L}

    Parameters
    ----------
    strength_below_toe : float or ndarray
        Mean undrained strength below the toe, :math:`s_{u,t}`, kPa.
    factor_nc : float or ndarray
        :math:`N_c` of :func:`bearing_factor`.
    adhesion : float or ndarray
        :math:`T_a` of :func:`wall_adhesion`, the model factor in it, kPa.
    model_factor : float or ndarray
        :math:`\theta`, on soil strength.

    Returns
    -------
    float or ndarray
        kPa; to be compared with :func:`base_load`. Without embedment, that of :func:`bearing_resistance`.

    References
    ----------
    Eide, O., Aas, G. and Josang, T. (1972), "Special application of cast-in-place walls for tunnels in soft
    clay in Oslo", Proc. 5th European Conf. Soil Mechanics and Foundation Engineering, Madrid, 1, 485-498
    (recalled).
    """
    return (
        bearing_resistance(strength_below=strength_below_toe, factor_nc=factor_nc, model_factor=model_factor)
        + np.asarray(adhesion)[()]
    )
