"""Rare failure, ours beside openturns: ``python tests/benchmarks/bench_rare_event.py [repeats]``.

Thirteen variables (seven lognormal, three normal of which two are correlated, one uniform, two Gumbel) and three
margins in series: uplift of a plug, base heave and a prop. An invented cut; lengths m, pressures kPa, loads kN.
The constants were chosen so that the margins fail with about 1.3e-3, 1.9e-5 and 1.0e-6. The exact figures are
computed here at every run, by quadrature: given three to five variables the chance is in closed form, that of the
head for uplift and for the others that of a product of lognormal numbers, which is lognormal.

A method is run with many seeds. Printed are the median time of a run, its mean rows (design points, pilots and
discarded rows included), the bias of the mean estimate, the coefficient of variation that a run claims (the root
mean square) and the one seen over the seeds. With R repeats the seen one is good to 1/sqrt(2 R) of itself.
The rows of openturns leave out the gradients of the compiled formula, which it has without evaluations.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import openturns as ot
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

from riskcut.reliability.allocation import allocate
from riskcut.reliability.design_points import find
from riskcut.reliability.importance import sample
from riskcut.reliability.importance_pilot import pilot, wanted_errors
from riskcut.reliability.mixture import Centre
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.standard_space import StandardSpace
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


# -- the exact figures ------------------------------------------------------------------------


def log_parameters(*names: str) -> tuple[float, float]:
    """Return the sum of the means of the logarithms and the standard deviation of their sum."""
    variances = [math.log1p((VARIABLES[name][2] / VARIABLES[name][1]) ** 2) for name in names]
    means = [math.log(VARIABLES[name][1]) - 0.5 * v for name, v in zip(names, variances, strict=True)]
    return sum(means), math.sqrt(sum(variances))


def gumbel_parameters(name: str) -> tuple[float, float]:
    """Return location and scale."""
    _, mean, sd = VARIABLES[name]
    scale = sd * math.sqrt(6.0) / math.pi
    return mean - np.euler_gamma * scale, scale


def rule(name: str, points: int) -> tuple[Floats, Floats]:
    """Return values and weights of a variable: Gauss and Hermite in normal scores, Legendre if it is uniform.

    A name that is none is a standard normal number.
    """
    kind, first, second = VARIABLES.get(name, ("normal", 0.0, 1.0))
    if kind == "uniform":
        nodes, weights = np.polynomial.legendre.leggauss(points)
        return first + 0.5 * (second - first) * (nodes + 1.0), 0.5 * weights
    nodes, weights = np.polynomial.hermite_e.hermegauss(points)
    weights = weights / weights.sum()
    if kind == "normal":
        return first + second * nodes, weights
    if kind == "lognormal":
        mean, sd = log_parameters(name)
        return np.exp(mean + sd * nodes), weights
    location, scale = gumbel_parameters(name)
    return location - scale * np.log(-log_ndtr(nodes)), weights


def exact(points: int = 16) -> tuple[float, ...]:
    """Return the three failure probabilities."""

    def grid(*names: str) -> tuple[list[Floats], Callable[[Floats], float]]:
        rules = [rule(name, points) for name in names]
        values = np.meshgrid(*(nodes for nodes, _ in rules), indexing="ij", sparse=True)

        def mean(given: Floats) -> float:
            for _, weights in reversed(rules):
                given = given @ weights
            return float(given)

        return list(values), mean

    (shear, sand, overdig, model, score), mean = grid("shear", "sand", "overdig", "model_uplift", "")
    (_, upper, upper_sd), (_, lower, lower_sd) = VARIABLES["weight"], VARIABLES["weight_plug"]
    above, below, dug = LAYER - DEPTH - overdig, sand - LAYER, DEPTH + overdig
    a, b = above * upper_sd, below * lower_sd
    # Two tied normal numbers, and their weighted sum is one.
    weight = above * upper + below * lower + np.sqrt(a * a + b * b + 2.0 * CORRELATION * a * b) * score
    location, scale = gumbel_parameters("head")
    enough = 0.1 * model * (weight + SHEARED * shear * (sand - dug)) - sand
    uplift = mean(-np.expm1(-np.exp((location - enough) / scale)))
    (weight, overdig, surcharge), mean = grid("weight", "overdig", "surcharge")
    dug = DEPTH + overdig
    at, sd = log_parameters("model_heave", "strength")
    heave = mean(ndtr((np.log((weight * dug + surcharge) / BEARING) - at) / sd))
    at = log_parameters("prop")[0] - log_parameters("model_prop", "pressure")[0]
    sd = log_parameters("prop", "model_prop", "pressure")[1]
    load = SPACING * dug * (0.5 * weight * dug + surcharge)
    return uplift, heave, mean(ndtr((np.log(load) - at) / sd))


# -- the methods ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Run:
    """One answer."""

    estimate: float
    claimed: float
    """Coefficient of variation."""
    rows: int


Method = Callable[[int], Run]
"""From a seed."""


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


def ours(limit_state: int) -> Method:
    """Design points, a pilot that is thrown away, then an importance sample of the size it fixed."""
    whole = problem()

    def run(seed: int) -> Run:
        space = StandardSpace(whole)
        points = find(space, 0, limit_state).points
        state = (0, limit_state)
        first = pilot(
            space,
            centres=[Centre(point.u, state, point.first_order_probability) for point in points],
            which={0: [limit_state]},
            seed=seed,
        )
        plan = allocate(first, wanted=wanted_errors(first))
        tally = sample(
            space,
            centres=plan.centres,
            weights=plan.weights,
            which={0: [limit_state]},
            turned=plan.turned,
            blocks=plan.blocks,
            rows_per_block=plan.rows_per_block,
            seed=seed,
            purpose="bench",
        )
        estimate = tally.estimate()
        return Run(
            float(estimate.failure_probability[0]),
            float(estimate.coefficient_of_variation[0]),
            space.ledger.rows,
        )

    return run


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


def openturns_function(limit_state: int, symbolic: bool) -> ot.Function:
    """Return a margin, compiled from its formula or as a vectorised Python function."""
    if symbolic:
        return ot.SymbolicFunction(NAMES, [FORMULAS[limit_state]])

    def of_sample(x: ot.Sample) -> Floats:
        return margin(np.asarray(x).T, limit_state)[:, np.newaxis]

    return ot.PythonFunction(len(NAMES), 1, func_sample=of_sample)


def theirs(limit_state: int, *, symbolic: bool) -> Method:
    """Design point, then importance sampling about it until its own estimate says 5 %."""
    inputs = distribution()
    function = openturns_function(limit_state, symbolic)
    event = ot.ThresholdEvent(ot.CompositeRandomVector(function, ot.RandomVector(inputs)), ot.Less(), 0.0)

    def run(seed: int) -> Run:
        ot.RandomGenerator.SetSeed(seed)
        before = function.getEvaluationCallsNumber()
        solver = ot.AbdoRackwitz()
        solver.setStartingPoint(inputs.getMean())
        form = ot.FORM(solver, event)
        form.run()
        sampling = ot.PostAnalyticalImportanceSampling(form.getResult())
        sampling.setMaximumCoefficientOfVariation(0.05)
        sampling.setBlockSize(100)
        sampling.setMaximumOuterSampling(10_000)
        sampling.run()
        result = sampling.getResult()
        rows = function.getEvaluationCallsNumber() - before
        return Run(result.getProbabilityEstimate(), result.getCoefficientOfVariation(), rows)

    return run


def line(name: str, method: Method, reference: float, repeats: int) -> str:
    """Run a method with seeds 1 to ``repeats`` and return its line."""
    method(0)  # what is done once only, as compiling, is not timed
    runs, times = [], []
    for seed in range(1, repeats + 1):
        begun = time.perf_counter()
        runs.append(method(seed))
        times.append(time.perf_counter() - begun)
    estimates = np.array([run.estimate for run in runs])
    claimed = math.sqrt(np.mean([run.claimed**2 for run in runs]))
    seen = float(estimates.std(ddof=1) / estimates.mean())
    bias, noise = float(estimates.mean() / reference - 1.0), seen / math.sqrt(repeats)
    return (
        f"{name:<34}{np.mean([run.rows for run in runs]):>9,.0f}{1e3 * np.median(times):>10.1f}"
        f"{runs[0].estimate:>12.3e}{bias:>+9.2%} +- {noise:.2%}{claimed:>9.2%}{seen:>9.2%}"
    )


def main(repeats: int) -> None:
    """Print the table."""
    ot.TBB.Disable()
    print(f"seeds 1 to {repeats}; one thread; openturns {ot.__version__}")
    print(f"{'':<34}{'rows':>9}{'ms':>10}{'seed 1':>12}{'bias':>9}{'':<9}{'claimed':>9}{'seen':>9}")
    for k, (name, reference) in enumerate(zip(LIMIT_STATES, exact(), strict=True)):
        print(f"{name}: {reference:.4e} by quadrature")
        print(line("  riskcut, FORM + importance", ours(k), reference, repeats))
        print(line("  openturns, compiled formula", theirs(k, symbolic=True), reference, repeats))
        print(line("  openturns, Python function", theirs(k, symbolic=False), reference, repeats))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 50)
