"""Derivatives of the index against differences of the index itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from form_cases import space_on

from riskcut.reliability.design_points import Limits, find
from riskcut.reliability.first_order_sensitivity import sensitivity
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

TIGHT = replace(Limits(), angle=1e-6, distance=1e-9, attempts=0)


def index(joint, margin):
    return find(space_on(joint, margin), 0, 0, limits=TIGHT).points[0].beta


def found(joint, margin):
    space = space_on(joint, margin)
    point = find(space, 0, 0, limits=TIGHT).points[0]
    before = space.ledger.calls
    result = sensitivity(space, joint, 0, 0, point)
    assert space.ledger.calls == before + 1
    return result


def test_normals_are_closed():
    """beta = (mR - mS)/sqrt(sR^2 + sS^2)."""
    r, s = Normal(mean=120.0, sd=15.0), Normal(mean=70.0, sd=20.0)
    result = found(Joint([r, s]), lambda x: x[:, 0] - x[:, 1])
    root = 25.0
    np.testing.assert_allclose(result.mean, [1.0 / root, -1.0 / root], rtol=1e-6)
    np.testing.assert_allclose(result.sd, [-50.0 * 15.0 / root**3, -50.0 * 20.0 / root**3], rtol=1e-6)
    assert result.columns == (0, 1)


def uniform(mean, sd):
    return Uniform(low=mean - math.sqrt(3.0) * sd, high=mean + math.sqrt(3.0) * sd)


def margin(x):
    return x[:, 3] * 5.7 * x[:, 0] - 4.0 * x[:, 1] - 15.0 * x[:, 2]


@pytest.mark.parametrize("driver", [None, (0, 1, 2, 0)])
def test_against_differences_of_the_index(driver):
    """Lognormal, normal, Gumbel and uniform; two correlated; then two that read one driver."""
    kinds = [
        (lambda m, s: Lognormal(mean=m, sd=s), 30.0, 7.5),
        (lambda m, s: Normal(mean=m, sd=s), 18.0, 1.8),
        (lambda m, s: Gumbel(mean=m, sd=s), 2.0, 0.5),
        (uniform, 1.0, 0.12),
    ]
    correlation = np.eye(4 if driver is None else 3)
    correlation[0, 2] = correlation[2, 0] = 0.4

    def joint(changes=(0.0,) * 4, spreads=(0.0,) * 4):
        marginals = [make(m + d, s + e) for (make, m, s), d, e in zip(kinds, changes, spreads, strict=True)]
        return Joint(marginals, driver, correlation)

    result = found(joint(), margin)
    for k, (_, _, sd) in enumerate(kinds):
        step = 1e-3 * sd
        shift = [step if j == k else 0.0 for j in range(4)]
        back = [-step if j == k else 0.0 for j in range(4)]
        by_mean = (index(joint(changes=shift), margin) - index(joint(changes=back), margin)) / (2.0 * step)
        by_sd = (index(joint(spreads=shift), margin) - index(joint(spreads=back), margin)) / (2.0 * step)
        assert result.mean[k] == pytest.approx(by_mean, rel=2e-4, abs=1e-6)
        assert result.sd[k] == pytest.approx(by_sd, rel=2e-4, abs=1e-5)


def test_where_the_origin_fails_the_sign_holds():
    r, s = Normal(mean=60.0, sd=15.0), Normal(mean=70.0, sd=20.0)
    result = found(Joint([r, s]), lambda x: x[:, 0] - x[:, 1])
    np.testing.assert_allclose(result.mean, [0.04, -0.04], rtol=1e-6)


def test_a_kink_has_none():
    joint = Joint([Normal(mean=0.0, sd=1.0)] * 2)
    space = space_on(joint, lambda x: np.max([3.0 - x[:, 0], 2.0 - x[:, 1]], axis=0))
    point = find(space, 0, 0).points[0]
    assert point.kind == "local"
    result = sensitivity(space, joint, 0, 0, point)
    assert np.isnan(result.mean).all()
    assert np.isnan(result.sd).all()
