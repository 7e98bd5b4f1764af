"""The forms of hydraulic heave, as pure functions of their symbols.

Each returns resistance and action in one unit before any partial factor; the model factor multiplies the
predicted excess head or gradient alone.
"""

from __future__ import annotations

import numpy as np

from riskcut.ground import water
from riskcut.study.block import Number


def prism_effective(
    *,
    excess_head: Number,
    submerged_weight: Number,
    filter_weight: Number = 0.0,
    model_factor: Number = 1.0,
    unit_weight_of_water: float = water.GAMMA_W,
) -> tuple[Number, Number]:
    r"""Return resistance and action of the prism in effective stress.

    .. math:: S = \theta \gamma_w h_a, \qquad R = \gamma' D + W_f

    Parameters
    ----------
    excess_head : float or ndarray
        Mean excess head :math:`h_a` at the base of the prism, m.
    submerged_weight : float or ndarray
        :math:`\gamma' D` of the prism per plan area, kPa.
    filter_weight : float or ndarray
        :math:`W_f` of a filter on the formation, kPa.
    model_factor : float or ndarray
        :math:`\theta`, on the excess head.
    unit_weight_of_water : float
        kN/m3; another unit system may be used throughout, as published examples do.

    Returns
    -------
    resistance, action : float or ndarray
        kPa, of the broadcast shape. The seepage force of a gradient *i* over *D* is that of
        :math:`h_a = i D`.

    Notes
    -----
    EN 1997-1:2004, 10.3, expression 2.9b before its partial factors. Terzaghi, K. (1943), Theoretical Soil
    Mechanics, Wiley.
    """
    return np.add(submerged_weight, filter_weight), model_factor * unit_weight_of_water * np.asarray(
        excess_head
    )[()]


def prism_total(
    *,
    excess_head: Number,
    total_weight: Number,
    depth_of_water: Number,
    filter_weight: Number = 0.0,
    model_factor: Number = 1.0,
    unit_weight_of_water: float = water.GAMMA_W,
) -> tuple[Number, Number]:
    r"""Return resistance and action of the prism in total stress.

    .. math:: S = \gamma_w (D_w + \theta h_a), \qquad R = \gamma D + \gamma_w (D_w - D) + W_f

    Parameters
    ----------
    excess_head : float or ndarray
        Mean excess head :math:`h_a` at the base of the prism, m.
    total_weight : float or ndarray
        Total weight of the ground in the prism, and of water standing on it, kPa.
    depth_of_water : float or ndarray
        :math:`D_w` from the water level inside down to the base of the prism, m.
    filter_weight, model_factor, unit_weight_of_water
        As in :func:`prism_effective`.

    Returns
    -------
    resistance, action : float or ndarray
        kPa, of the broadcast shape.

    Notes
    -----
    EN 1997-1:2004, 10.3, expression 2.9a before its partial factors. The margin is that of
    :func:`prism_effective`: the water at rest stands on both sides.
    """
    head = np.add(depth_of_water, np.multiply(model_factor, excess_head))
    return np.add(total_weight, filter_weight), unit_weight_of_water * head


def exit_balance(
    *,
    gradient: Number,
    embedment: Number,
    submerged_weight: Number,
    model_factor: Number = 1.0,
    unit_weight_of_water: float = water.GAMMA_W,
) -> tuple[Number, Number]:
    r"""Return resistance and action of the exit gradient, both times the weight of the water over *D*.

    .. math:: S = \theta i \gamma_w D, \qquad R = \gamma' D = i_{cr} \gamma_w D

    Parameters
    ----------
    gradient : float or ndarray
        Exit gradient *i* beside the wall.
    embedment : float or ndarray
        *D*, m.
    submerged_weight : float or ndarray
        :math:`\gamma' D`, kPa.
    model_factor : float or ndarray
        :math:`\theta`, on the gradient.
    unit_weight_of_water : float
        kN/m3.

    Returns
    -------
    resistance, action : float or ndarray
        kPa, of the broadcast shape; their ratio is that of critical to exit gradient.
    """
    return submerged_weight, model_factor * unit_weight_of_water * np.multiply(gradient, embedment)
