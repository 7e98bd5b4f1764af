"""What the reliability index owes to the mean and the spread of each variable, at a design point."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.design_point import DesignPoint
from riskcut.reliability.standard_space import StandardSpace
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginal import Marginal, MarginalError

Floats = NDArray[np.float64]

_STEP = 1e-3
"""Change of a mean or a spread, in standard deviations of the variable."""


@dataclass(frozen=True)
class FirstOrderSensitivity:
    """Derivatives of the reliability index, an entry a column of the component."""

    columns: tuple[int, ...]
    """Of the joint distribution."""
    mean: Floats
    """(k,), d beta/d mean, per unit of the variable; NaN where it cannot be had."""
    sd: Floats
    """(k,), d beta/d standard deviation, per unit of the variable; NaN where it cannot be had."""


def sensitivity(
    space: StandardSpace, joint: Joint, component: int, limit_state: int, point: DesignPoint
) -> FirstOrderSensitivity:
    """Return how the reliability index changes with the mean and sd of each variable.

    Parameters
    ----------
    space : StandardSpace
    joint : Joint
        Of the problem that the space was made of.
    component, limit_state : int
        Places in the space and in the component.
    point : DesignPoint
        Of that limit state.

    Returns
    -------
    FirstOrderSensitivity
        All NaN at a kink.

    Notes
    -----
    The design point is stationary, so that to first order only the surface moves: d beta/d theta =
    (d g/d theta)/|grad g| with u held at the design point [1]_, which equals alpha . du*/d theta with the values
    held where every variable has a score of its own. The margin is evaluated with the one column's transformation
    changed, four rows a column in one call; columns that read one driver are told apart.
    A lognormal's mean and sd change with the other one held. A distribution that is not given by its mean and sd
    (a uniform one) is shifted and stretched as it is. Correlations of the normal scores are held.

    References
    ----------
    .. [1] Hohenbichler, M. & Rackwitz, R. (1986). Sensitivity and importance measures in structural reliability.
       Civil Engineering Systems 3(4), 203-209.
    """
    one = space.components[component]
    count = len(one.columns)
    nothing = np.full(count, np.nan)
    if point.kind != "point" or point.gradient_norm == 0.0:
        return FirstOrderSensitivity(one.columns, nothing, nothing.copy())
    u = (point.beta * point.alpha)[np.newaxis, :]
    scores = space.scores(u)[0]
    x = np.repeat(space.values(u, component), 4 * count, axis=0)
    steps = np.array([_STEP * joint.marginals[column].sd for column in one.columns])
    for place, column in enumerate(one.columns):
        marginal = joint.marginals[column]
        z = scores[[space.drivers.index(joint.driver[column])]]
        for k, (shift, stretch) in enumerate(((1, 0), (-1, 0), (0, 1), (0, -1))):
            x[4 * place + k, place] = _changed(marginal, z, shift * steps[place], stretch * steps[place])
    space.ledger.add(len(x), 1)
    found = one.margins(np.asfortranarray(x), (limit_state,))[:, 0].reshape(count, 4)
    scale = 2.0 * steps * point.gradient_norm
    return FirstOrderSensitivity(
        columns=one.columns,
        mean=(found[:, 0] - found[:, 1]) / scale,
        sd=(found[:, 2] - found[:, 3]) / scale,
    )


def _changed(marginal: Marginal, z: Floats, mean: float, sd: float) -> float:
    """Return the value at score ``z`` (1,) with the mean and the sd greater by so much; NaN where none can be."""
    given: set[str] = set()
    if dataclasses.is_dataclass(marginal):
        given = {f.name for f in dataclasses.fields(marginal) if f.init}
    if not {"mean", "sd"} & given:
        value = float(marginal.from_normal(z)[0])
        return value + mean + (value - marginal.mean) * sd / marginal.sd
    if sd and "sd" not in given:
        return np.nan
    changes: dict[str, Any] = {"sd": marginal.sd + sd} if sd else {"mean": marginal.mean + mean}
    try:
        altered: Any = dataclasses.replace(marginal, **changes)  # type: ignore[type-var]
    except MarginalError:
        return np.nan
    return float(altered.from_normal(z)[0])
