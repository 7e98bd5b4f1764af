"""An invented cut, for openturns and for ours: uplift of a plug, heave and a prop, of thirteen variables.

Seven variables are lognormal, three normal (two of them correlated), one uniform and two Gumbel; lengths m, pressures
kPa, loads kN. The constants were chosen so that the margins fail with about 1.3e-3, 1.9e-5 and 1.0e-6.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import openturns as ot
from numpy.typing import NDArray

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Marginal, make

Floats = NDArray[np.float64]

DEPTH, LAYER, SPACING, SHEARED, BEARING = 9.0, 12.0, 5.0, 0.05, 5.7
"""Of the dig; where the plug's own clay begins; of the props; shear on its sides; bearing factor."""
VARIABLES: dict[str, tuple[str, float, float]] = {
    "shear": ("lognormal", 45.0, 9.0),
    "strength": ("lognormal", 87.3, 17.5),
    "model_uplift": ("lognormal", 1.0, 0.05),
    "model_heave": ("lognormal", 1.0, 0.12),
    "model_prop": ("lognormal", 1.0, 0.10),
    "prop": ("lognormal", 3630.0, 290.0),
    "pressure": ("lognormal", 0.35, 0.04),
    "weight_plug": ("normal", 18.5, 0.5),
    "weight": ("normal", 19.0, 0.6),
    "sand": ("normal", 17.0, 0.3),
    "overdig": ("uniform", 0.0, 0.4),
    "head": ("gumbel", -3.94, 0.4),
    "surcharge": ("gumbel", 10.0, 3.0),
}
"""Kind with mean and sd, of the uniform one low and high. ``sand`` is its depth, ``head`` a level, 0 at the surface."""
NAMES = tuple(VARIABLES)
TIED, CORRELATION = ("weight_plug", "weight"), 0.6
LIMIT_STATES = ("uplift", "heave", "prop")
FORMULAS = (
    f"model_uplift * (weight * ({LAYER} - {DEPTH} - overdig) + weight_plug * (sand - {LAYER})"
    f" + {SHEARED} * shear * (sand - {DEPTH} - overdig)) - 10 * (sand + head)",
    f"model_heave * {BEARING} * strength - weight * ({DEPTH} + overdig) - surcharge",
    f"prop - model_prop * {SPACING} * pressure * ({DEPTH} + overdig)"
    f" * (0.5 * weight * ({DEPTH} + overdig) + surcharge)",
)


def margin(x: Floats, limit_state: int) -> Floats:
    """Return a margin of the variables (13, n)."""
    v = dict(zip(NAMES, x, strict=True))
    dug = DEPTH + v["overdig"]
    if limit_state == 0:
        held = v["weight"] * (LAYER - dug) + v["weight_plug"] * (v["sand"] - LAYER)
        held += SHEARED * v["shear"] * (v["sand"] - dug)
        return v["model_uplift"] * held - 10.0 * (v["sand"] + v["head"])
    if limit_state == 1:
        return v["model_heave"] * BEARING * v["strength"] - v["weight"] * dug - v["surcharge"]
    load = SPACING * v["pressure"] * dug * (0.5 * v["weight"] * dug + v["surcharge"])
    return v["prop"] - v["model_prop"] * load


def problem() -> Problem:
    """Return the problem as ours."""

    def marginal(kind: str, first: float, second: float) -> Marginal:
        keys = ("low", "high") if kind == "uniform" else ("mean", "sd")
        return make(kind, **dict(zip(keys, (first, second), strict=True)))

    correlation = np.eye(len(NAMES))
    a, b = (NAMES.index(name) for name in TIED)
    correlation[a, b] = correlation[b, a] = CORRELATION

    def respond(x: Floats, which: Sequence[int]) -> Response:
        return Response(margin=np.stack([margin(x.T, k) for k in which]).T)

    cut = Component(
        name="cut",
        unions=("cut",),
        columns=tuple(range(len(NAMES))),
        labels=LIMIT_STATES,
        governing=(True,) * len(LIMIT_STATES),
        respond=respond,
    )
    return Problem(Joint([marginal(*v) for v in VARIABLES.values()], correlation=correlation), (cut,))


def distribution() -> ot.Distribution:
    """Return the joint distribution as openturns states it."""
    makers = {
        "lognormal": lambda m, s: ot.ParametrizedDistribution(ot.LogNormalMuSigma(m, s, 0.0)),
        "normal": ot.Normal,
        "uniform": ot.Uniform,
        "gumbel": lambda m, s: ot.ParametrizedDistribution(ot.GumbelMuSigma(m, s)),
    }
    tied = ot.CorrelationMatrix(len(NAMES))
    a, b = (NAMES.index(name) for name in TIED)
    tied[a, b] = CORRELATION
    marginals = [makers[kind](first, second) for kind, first, second in VARIABLES.values()]
    return ot.JointDistribution(marginals, ot.NormalCopula(tied))


def openturns_function(limit_states: Sequence[int], *, symbolic: bool) -> ot.Function:
    """Return the least of some margins, compiled from its formula or as a vectorised Python function."""
    if symbolic:
        formulas = [FORMULAS[k] for k in limit_states]
        return ot.SymbolicFunction(
            NAMES, [formulas[0] if len(formulas) == 1 else f"min({', '.join(formulas)})"]
        )

    def of_sample(x: ot.Sample) -> Floats:
        columns = np.asfortranarray(x).T
        least = margin(columns, limit_states[0])
        for k in limit_states[1:]:
            least = np.minimum(least, margin(columns, k))
        return least[:, np.newaxis]

    return ot.PythonFunction(len(NAMES), 1, func_sample=of_sample)
