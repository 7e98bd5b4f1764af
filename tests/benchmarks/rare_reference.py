"""The reference for a rare event: openturns about its design point, until its own estimate says 5 %."""

from __future__ import annotations

from collections.abc import Sequence

import openturns as ot


def about_the_design_point(
    event: ot.ThresholdEvent, start: Sequence[float]
) -> ot.ProbabilitySimulationResult:
    """Return the answer of importance sampling about the design point that a search from ``start`` finds."""
    solver = ot.AbdoRackwitz()
    solver.setStartingPoint(start)
    form = ot.FORM(solver, event)
    form.run()
    sampling = ot.PostAnalyticalImportanceSampling(form.getResult())
    sampling.setMaximumCoefficientOfVariation(0.05)
    sampling.setBlockSize(100)
    sampling.setMaximumOuterSampling(10_000)
    sampling.run()
    return sampling.getResult()
