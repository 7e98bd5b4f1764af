"""The form with an embedded wall, its limits, and piles across the slip."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from riskcut.mechanisms import heave_forms
from riskcut.mechanisms.base_heave import MECHANISM
from riskcut.mechanisms.heave_common import TOE_BELOW, TOE_IN_CLAY
from riskcut.mechanisms.heave_embedded import held_embedment
from riskcut.study.block import Block, Piles, Stratum, Wall

Maker = Callable[..., Block]
WALL = Wall(toe=-13.0, thickness=0.8, adhesion=0.5)


def steps_of(block: Block, member: str) -> dict:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, member).steps}


def test_numbers_by_hand(make_block: Maker):
    """D 4 in soft (38.5 to 43 over 3 m) and firm (60 over 1 m); below -13 firm alone, B_t 8/sqrt 2."""
    block = make_block(wall=WALL)
    inside = 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 60.0) * 2.0 * (8.0 + 40.0) / (8.0 * 40.0)
    factor = 5.0 * (1.0 + 0.2 * 9.0 / 8.0) * (1.0 + 0.2 * 8.0 / 40.0)
    outcome = MECHANISM.outcome(block, "embedded_wall")
    assert outcome.resistance == pytest.approx(factor * 60.0 + inside, rel=1e-12)
    assert outcome.action == pytest.approx(9.0 * 17.0 + 10.0, rel=1e-12)
    factored = MECHANISM.outcome(
        replace(block, model_factors={"base_heave/embedded_wall": 0.8}), "embedded_wall"
    )
    assert factored.resistance == pytest.approx(0.8 * outcome.resistance, rel=1e-12)


def test_uniform_clay_is_the_published_form(make_block: Maker):
    clay = Stratum(name="clay", top=0.0, unit_weight=17.0, su_at_top=40.0)
    block = make_block(strata=(clay,), aquifer=None, wall=WALL)
    factor = heave_forms.bearing_factor(depth=9.0, width=8.0, length=40.0)
    expected = factor * 40.0 + 0.5 * 40.0 * 2.0 * 4.0 * (8.0 + 40.0) / (8.0 * 40.0)
    assert MECHANISM.outcome(block, "embedded_wall").resistance == pytest.approx(expected, rel=1e-12)


def test_without_embedment_it_is_the_bearing_form(make_block: Maker):
    depth = np.array([1e-3, 1e-6, 1e-9, 0.0])
    block = make_block(wall=replace(WALL, toe=-9.0 - depth))
    embedded, bearing = (MECHANISM.outcome(block, m).resistance for m in ("embedded_wall", "bearing"))
    np.testing.assert_allclose(embedded[1:], bearing, rtol=1e-5)
    assert np.all(np.diff(np.abs(embedded - bearing)) <= 0.0)
    assert embedded[-1] == bearing


def test_the_wall_must_not_be_lifted(make_block: Maker):
    """Weak ground above formation and strong ground below: the light wall cannot take all of the adhesion."""
    crust = Stratum(name="soft", top=0.0, unit_weight=17.0, su_at_top=10.0)
    stiff = Stratum(name="stiff", top=-9.0, unit_weight=19.0, su_at_top=120.0)
    wall = replace(WALL, toe=-15.0, thickness=0.02, unit_weight=78.5, top=0.5)
    block = make_block(strata=(crust, stiff), aquifer=None, wall=wall)
    steps = steps_of(block, "embedded_wall")
    perimeter = 2.0 * 48.0 / 320.0
    held = perimeter * (78.5 * 0.02 * 15.5 + 0.5 * 10.0 * 9.0)
    assert steps["lifts"] == 1.0
    assert steps["T_a"] == pytest.approx(held, rel=1e-12)
    assert steps["T_i"] == pytest.approx(perimeter * 0.5 * 120.0 * 6.0, rel=1e-12)
    assert steps_of(make_block(wall=WALL), "embedded_wall")["lifts"] == 0.0


def test_the_wall_must_stay_where_it_is(make_block: Maker):
    """The moment of the pressures about the prop, integrated, is what the wall has at the embedment that counts."""
    clay = Stratum(name="clay", top=0.0, unit_weight=18.0, su_at_top=30.0)
    wall = replace(WALL, bending_resistance=900.0)
    block = make_block(strata=(clay,), aquifer=None, wall=wall)
    steps = steps_of(block, "embedded_wall")
    load = 9.0 * 18.0 + 10.0

    def moment(embedment: float) -> float:
        above = quad(lambda z: (load - 60.0) * z, 0.0, 2.5)[0]
        return above + quad(lambda z: (load - 120.0) * z, 2.5, 2.5 + embedment)[0]

    expected = brentq(lambda d: moment(d) - 900.0, 0.0, 20.0)
    assert expected < 4.0, "it does not hold all of the embedment"
    assert steps["D_e"] == pytest.approx(expected, rel=1e-9)
    assert steps["T_i"] == pytest.approx(0.5 * 30.0 * expected * 2.0 * 48.0 / 320.0, rel=1e-9)
    strong = replace(block, wall=replace(wall, bending_resistance=1e5))
    assert steps_of(strong, "embedded_wall")["D_e"] == 4.0
    weak = replace(block, wall=replace(wall, bending_resistance=100.0))
    assert steps_of(weak, "embedded_wall")["T_a"] == 0.0
    assert steps_of(replace(weak, props=()), "embedded_wall")["D_e"] == 4.0, "no prop, no limit"


def test_strong_clay_bears_the_wall():
    """Over h 2: 70 kPa, 140 kNm/m; below formation 152 - 150 kPa the other way, arm 2 + 5/2: 45 kNm/m back."""
    common = {"embedment": 5.0, "below_prop": 2.0, "load": 150.0, "strength_above": 40.0}
    assert held_embedment(**common, strength_below=38.0, bending=96.0) == 5.0
    assert held_embedment(**common, strength_below=38.0, bending=94.0) == 0.0, "it turns about the prop"
    none_left = held_embedment(**common, strength_below=37.5 - 1e-9, bending=140.0)
    assert none_left == pytest.approx(0.0, abs=1e-9)
    assert held_embedment(**common, strength_below=37.0, bending=140.0 + 5.0) == pytest.approx(
        (2.0**2 + 2.0 * 5.0 / 2.0) ** 0.5 - 2.0
    )


def test_rows_with_the_toe_out_of_the_clay_are_told(make_block: Maker):
    block = make_block(wall=replace(WALL, toe=np.array([-13.0, -20.5, -8.0])))
    outcome = MECHANISM.outcome(block, "embedded_wall")
    np.testing.assert_array_equal(outcome.outside[TOE_IN_CLAY], [False, True, False])
    np.testing.assert_array_equal(outcome.outside[TOE_BELOW], [False, False, True])
    assert np.all(np.isfinite(outcome.resistance))
    assert outcome.resistance[2] == MECHANISM.outcome(block, "bearing").resistance


PILES = Piles(
    diameter=0.6,
    length=9.0,
    head=-9.0,
    spacing_along=3.0,
    spacing_across=4.0,
    adhesion=0.5,
    shaft_ratio=0.3,
    steel_resistance=1500.0,
)


@pytest.mark.parametrize(
    ("changes", "governs"),
    [
        ({}, "below"),
        ({"length": 9.5}, "below"),
        ({"length": 20.0}, "within"),
        ({"steel_resistance": 90.0}, "steel"),
    ],
)
def test_piles_hold_the_least_of_three(make_block: Maker, changes: dict, governs: str):
    """B_1 5.657: slip at -14.657; shaft above it in soft (3 m, mean 40.75) and firm, below it in firm to -20."""
    piles = replace(PILES, **changes)
    toe = max(-9.0 - piles.length, -20.0)
    slip = -9.0 - 8.0 / 2.0**0.5
    rate = np.pi * 0.6 * 0.5
    parts = {
        "within": rate * (3.0 * 40.75 + (-12.0 - slip) * 60.0),
        "below": rate * max(slip - toe, 0.0) * 60.0,
        "steel": piles.steel_resistance,
    }
    block = make_block(piles=piles)
    held = MECHANISM.outcome(block, "with_piles").resistance - MECHANISM.outcome(block, "bearing").resistance
    assert held == pytest.approx(min(parts.values()) / 12.0, rel=1e-9)
    assert min(parts, key=parts.__getitem__) == governs


@pytest.mark.parametrize(("clay", "friction"), [(0.6, 1.0), (1.3, 1.0), (1.0, 0.0), (0.8, 0.5)])
def test_piles_add_to_the_same_clay_whatever_the_factors(
    make_block: Maker, clay: float, friction: float
) -> None:
    """The factor on clay is the bearing form's, that on shafts multiplies them alone: piles never take away."""
    factors = {"base_heave/bearing": clay, "base_heave/with_piles": friction}
    one, with_factors = (make_block(piles=PILES, model_factors=f) for f in ({}, factors))
    bearing, piled = (MECHANISM.outcome(with_factors, m).resistance for m in ("bearing", "with_piles"))
    plain_bearing, plain_piled = (MECHANISM.outcome(one, m).resistance for m in ("bearing", "with_piles"))
    assert bearing == pytest.approx(clay * plain_bearing, rel=1e-12)
    assert PILES.steel_resistance / 12.0 > plain_piled - plain_bearing
    assert piled - bearing == pytest.approx(friction * (plain_piled - plain_bearing), rel=1e-9, abs=1e-9)


def test_piles_never_govern_of_themselves(make_block: Maker):
    for width in (5.0, 20.0):
        member = next(
            m for m in MECHANISM.members(make_block(piles=PILES, width=width)) if m.name == "with_piles"
        )
        assert not member.governing
        assert "upper bound: superposition" in member.note
