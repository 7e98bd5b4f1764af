"""Check I9: with one lognormal strength and all else fixed, the failure probability is exact.

Pf = Phi(ln(su*/m)/zeta), su* being the root of R = S, found here by a root finder that knows only the
mechanism's two numbers. Against it stands the share of a dense grid of equal-probability quantiles of the
strength that the mechanism, evaluated on the whole grid at once, puts below the limit.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from riskcut.mechanisms import catalogue
from riskcut.study.block import Aquifer, Block, Piles, Slab, Stratum

POINTS = 200_000


def with_strength(block: Block, strength: float | np.ndarray) -> Block:
    strata = tuple(replace(s, su_at_top=strength) if s.undrained else s for s in block.strata)
    return replace(block, strata=strata)


def compare(block: Block, limit_state: str, *, median: float, zeta: float) -> float:
    """Return the exact failure probability, after holding the count on the grid to it."""
    mechanism, member = limit_state.split("/")
    evaluate = catalogue()[mechanism].outcome

    def margin(strength: float) -> float:
        outcome = evaluate(with_strength(block, strength), member)
        return float(outcome.resistance - outcome.action)

    root = brentq(margin, 0.05 * median, 20.0 * median, xtol=1e-13, rtol=1e-14)
    exact = float(ndtr(math.log(root / median) / zeta))
    grid = median * np.exp(zeta * ndtri((np.arange(POINTS) + 0.5) / POINTS))
    outcome = evaluate(with_strength(block, grid), member)
    counted = np.count_nonzero(outcome.resistance < outcome.action) / POINTS
    assert abs(counted - exact) <= 0.5000001 / POINTS
    return exact


def test_bearing_is_proportional_to_strength(clay_cut: Callable[..., Block]) -> None:
    block = clay_cut(depth=9.0, unit_weight=17.0, strength=1.0, width=8.0, length=30.0, surcharge=10.0)
    safety = 5 * (1 + 0.2 * 9 / 8) * (1 + 0.2 * 8 / 30) * 32.0 / (9 * 17.0 + 10.0)
    exact = compare(block, "base_heave/bearing", median=32.0, zeta=0.25)
    assert exact == pytest.approx(float(ndtr(-math.log(safety) / 0.25)), rel=1e-9)


def test_side_shear_and_a_limited_clay(clay_cut: Callable[..., Block]) -> None:
    block = clay_cut(depth=6.0, unit_weight=17.5, strength=1.0, width=20.0, clay_below=4.0, surcharge=15.0)
    pf = compare(block, "base_heave/wide_cut", median=22.0, zeta=0.3)
    assert 1e-3 < pf < 0.5
    assert 1e-3 < compare(block, "base_heave/finite_cut", median=22.0, zeta=0.3) < 0.5


def test_prop_in_clay_of_every_stability_number(clay_cut: Callable[..., Block]) -> None:
    """The load jumps where the diagram changes; the root lies on the soft branch, and all rows count."""
    block = clay_cut(depth=9.0, unit_weight=17.5, strength=1.0, props=(1.0, 4.0, 7.0), spacing=3.0)
    assert 1e-2 < compare(block, "prop_overload/prop_2", median=28.0, zeta=0.3) < 0.5


def test_uplift_held_by_piles_in_clay() -> None:
    """R = 150 + 3 su against S = 200 with m 25 and zeta 0.25 gives 0.0524."""
    shaft = 12.0
    spacing = math.sqrt(0.5 * math.pi * 0.6 * shaft / 3.0)
    block = Block(
        section="example",
        stage="slab",
        width=20.0,
        length=40.0,
        strata=(
            Stratum(name="plug", top=10.0, unit_weight=12.5, su_at_top=1.0),
            Stratum(name="gravel", top=-10.0, unit_weight=20.0, friction_angle=38.0),
            Stratum(name="clay", top=-11.0, unit_weight=20.0, su_at_top=1.0),
        ),
        formation=0.0,
        dug=True,
        water_table=5.0,
        water_inside=0.0,
        surcharge=0.0,
        temperature_rise=0.0,
        aquifer=Aquifer(stratum="gravel", head=-10.0 + 200.0 / 9.81),
        slab=Slab(thickness=1.0, unit_weight=25.0),
        piles=Piles(
            diameter=0.6,
            length=11.0 + shaft,
            head=0.0,
            spacing_along=spacing,
            spacing_across=spacing,
            adhesion=0.5,
            shaft_ratio=0.0,
            steel_resistance=1e6,
        ),
    )
    outcome = catalogue()["plug_uplift"].outcome(with_strength(block, 25.0), "plug")
    assert outcome.resistance == pytest.approx(150.0 + 3.0 * 25.0, rel=1e-12)
    assert outcome.action == pytest.approx(200.0, rel=1e-12)
    assert compare(block, "plug_uplift/plug", median=25.0, zeta=0.25) == pytest.approx(0.0524, abs=5e-5)
