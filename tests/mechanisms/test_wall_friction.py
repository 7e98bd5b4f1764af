"""Friction of the ground on the walls that a slab lifts: by hand, only where stated, in flotation and heave."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from riskcut.mechanisms import catalogue, wall_friction
from riskcut.study.block import Aquifer, Block, Perched, Slab, Stratum, Wall

Maker = Callable[..., Block]
GAMMA = 9.81
AROUND = 2.0 * 48.0 / 320.0
SLAB = Slab(thickness=1.5, unit_weight=24.0, fill=10.0, heave_relief=0.5, carries_walls=True)
WALL = Wall(toe=-16.0, thickness=0.8)
FORMS = (("flotation", "structure"), ("long_term_heave", "slab"))


def finished(make_block: Maker, **changes) -> Block:
    return make_block(**{"slab": SLAB, "aquifer": None, "permanent": True, "wall": WALL, **changes})


def held(mechanism: str, block: Block, member: str) -> float:
    return float(catalogue()[mechanism].outcome(block, member).resistance)


@pytest.mark.parametrize(("mechanism", "member"), FORMS)
def test_adhesion_over_the_buried_height_by_hand(make_block: Maker, mechanism: str, member: str) -> None:
    """12 m of soft clay and 4 m of firm, on either side of nothing but the wall; the factor is on friction alone."""
    bare = finished(make_block)
    outer = 12.0 * (25.0 + 1.5 * 6.0) + 4.0 * 60.0
    rough = replace(bare, wall=replace(WALL, adhesion=0.4))
    gain = held(mechanism, rough, member) - held(mechanism, bare, member)
    assert gain == pytest.approx(AROUND * 0.4 * outer, rel=1e-12)
    factored = replace(rough, model_factors={f"{mechanism}/{member}": 0.5})
    gain = held(mechanism, factored, member) - held(mechanism, bare, member)
    assert gain == pytest.approx(0.5 * AROUND * 0.4 * outer, rel=1e-12)
    low = replace(rough, wall=replace(WALL, adhesion=0.4, top=-12.0))
    gain = held(mechanism, low, member) - held(mechanism, replace(low, wall=replace(WALL, top=-12.0)), member)
    assert gain == pytest.approx(AROUND * 0.4 * 240.0, rel=1e-12)
    high = replace(rough, wall=replace(WALL, adhesion=0.4, top=2.0))
    gain = held(mechanism, high, member) - held(mechanism, replace(high, wall=replace(WALL, top=2.0)), member)
    assert gain == pytest.approx(AROUND * 0.4 * outer, rel=1e-12), "air holds nothing"


@pytest.mark.parametrize(("mechanism", "member"), FORMS)
def test_nothing_is_counted_unless_it_is_stated_and_carried(
    make_block: Maker, mechanism: str, member: str
) -> None:
    rough = replace(WALL, adhesion=0.5, friction_ratio=0.3)
    loose = finished(make_block, slab=replace(SLAB, carries_walls=False))
    assert held(mechanism, replace(loose, wall=rough), member) == held(mechanism, loose, member)
    ratio = finished(make_block, wall=replace(WALL, friction_ratio=0.3))
    assert held(mechanism, ratio, member) == held(mechanism, finished(make_block), member), "all is clay"
    assert not wall_friction.stated(WALL)


def by_quadrature(block: Block, ratio: float, pore) -> float:
    """Return the friction on the outer face of drained ground, from unit weights and a pore pressure over depth."""

    def weight(depth: float) -> float:
        return next(s for s in reversed(block.strata) if -depth <= s.top).unit_weight

    def stress(depth: float) -> float:
        return max(quad(weight, 0.0, depth, limit=200, points=[5.0])[0] + pore(0.0) - pore(depth), 0.0)

    return ratio * quad(stress, 0.0, 16.0, limit=200, points=[3.0, 5.0], epsabs=1e-7)[0]


@pytest.mark.parametrize("table", [-3.0, 1.5])
def test_friction_in_drained_ground_by_quadrature(make_block: Maker, table: float) -> None:
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=17.0, friction_angle=30.0),
        Stratum(name="gravel", top=-5.0, unit_weight=20.0, friction_angle=36.0),
    )
    bare = finished(make_block, strata=strata, water_table=table)
    rough = replace(bare, wall=replace(WALL, friction_ratio=0.25))
    gain = held("flotation", rough, "structure") - held("flotation", bare, "structure")
    outer = by_quadrature(bare, 0.25, lambda depth: GAMMA * max(table + depth, 0.0))
    assert gain == pytest.approx(AROUND * outer, rel=1e-7)


def test_perched_water_and_the_aquifer_take_their_stress_off(make_block: Maker) -> None:
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=18.0, friction_angle=30.0),
        Stratum(name="clay", top=-4.0, unit_weight=18.0, su_at_top=40.0),
        Stratum(name="sand", top=-10.0, unit_weight=20.0, friction_angle=36.0),
    )
    wall = replace(WALL, friction_ratio=0.25)
    dry = finished(make_block, strata=strata, wall=wall, water_table=-30.0)
    dropped = wall_friction.outside(dry, wall)
    perched = wall_friction.outside(replace(dry, perched=Perched(level=-1.0, on="clay")), wall)
    assert dropped - perched == pytest.approx(0.25 * 0.5 * GAMMA * 9.0, rel=1e-12)
    lifted = wall_friction.outside(replace(dry, aquifer=Aquifer(stratum="sand", head=-2.0)), wall)
    assert dropped - lifted == pytest.approx(0.25 * GAMMA * 6.0 * (8.0 + 3.0), rel=1e-12)
    drowned = wall_friction.outside(replace(dry, aquifer=Aquifer(stratum="sand", head=60.0)), wall)
    assert drowned == pytest.approx(0.25 * 0.5 * 18.0 * 16.0, rel=1e-12), "no stress below zero"


def test_a_higher_table_never_holds_better(make_block: Maker) -> None:
    levels = np.linspace(-15.0, 3.0, 61)
    strata = (Stratum(name="gravel", top=0.0, unit_weight=20.0, friction_angle=36.0),)
    block = finished(make_block, strata=strata, wall=replace(WALL, friction_ratio=0.3), water_table=levels)
    found = catalogue()["flotation"].outcome(block, "structure")
    assert np.all(np.diff(found.resistance - found.action) <= 1e-9)
