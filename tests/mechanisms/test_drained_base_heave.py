"""Drained base heave: factors of the code, effective stresses by hand, the time factor against its series."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.mechanisms import heave_footing, heave_time
from riskcut.mechanisms.drained_base_heave import MECHANISM, NOT_LIFTED, STATED
from riskcut.mechanisms.heave_footing import toe_pressure
from riskcut.study.block import Aquifer, Block, LongTerm, Slab, Stratum, Wall

Maker = Callable[..., Block]
CLAY = Stratum(
    name="clay",
    top=0.0,
    unit_weight=18.0,
    su_at_top=40.0,
    long_term=LongTerm(friction_angle=25.0, cohesion=4.0),
    consolidation=1.5,
)


def cut(make_block: Maker, **changes) -> Block:
    """Return a cut in clay without end, width 8, water at -1 outside and at formation (-9) inside, toe at -16."""
    return make_block(**{"strata": (CLAY,), "aquifer": None, "open_for": 0.5, **changes})


def steps_of(block: Block) -> dict:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, "footing").steps}


@pytest.mark.parametrize(
    ("angle", "cohesion", "overburden"),
    [
        (0, 5.14, 1.00),
        (10, 8.34, 2.47),
        (20, 14.83, 6.40),
        (25, 20.72, 10.66),
        (30, 30.14, 18.40),
        (40, 75.31, 64.20),
    ],
)
def test_factors_of_prandtl_and_reissner(angle: float, cohesion: float, overburden: float):
    """The usual table of the books (recalled), printed to two decimals."""
    factors = heave_footing.bearing_factors(tangent=np.tan(np.radians(angle)))
    assert factors.cohesion == pytest.approx(cohesion, abs=0.0051)
    assert factors.overburden == pytest.approx(overburden, abs=0.0051)
    tangent = np.tan(np.radians(angle))
    assert factors.weight == pytest.approx(2.0 * (factors.overburden - 1.0) * tangent)


def test_factors_go_over_into_those_without_friction():
    tangents = np.array([0.0, 1e-9, 1e-7, 9.9e-7, 1.1e-6, 1e-4])
    factors = heave_footing.bearing_factors(tangent=tangents)
    np.testing.assert_allclose(factors.cohesion, np.pi + 2.0, rtol=1e-3)
    np.testing.assert_allclose(factors.cohesion[:5], np.pi + 2.0, rtol=1e-5)


def test_numbers_by_hand(make_block: Maker):
    """Toe 16 deep, 15 and 7 of it in ground under water: u = 2 x 9.81 x 15 x 7/(15 + 7) from the classical form."""
    block = cut(make_block)
    steps, outcome = steps_of(block), MECHANISM.outcome(block, "footing")
    water = 2.0 * 9.81 * 15.0 * 7.0 / 22.0
    assert steps["u"] == pytest.approx(water, rel=1e-12)
    assert outcome.action == pytest.approx(16.0 * 18.0 + 10.0 - water, rel=1e-12)
    factors = heave_footing.bearing_factors(tangent=np.tan(np.radians(25.0)))
    breadth = 8.0 / 2.0**0.5
    inside = 7.0 * 18.0 - water
    expected = 4.0 * factors[0] + inside * factors[1] + 0.5 * (18.0 - 9.81) * breadth * factors[2]
    assert outcome.resistance == pytest.approx(expected, rel=1e-9)
    half = replace(block, model_factors={"drained_base_heave/footing": 0.5})
    assert MECHANISM.outcome(half, "footing").resistance == pytest.approx(0.5 * expected, rel=1e-9)


def test_without_a_wall_the_footing_stands_at_formation(make_block: Maker):
    block = cut(make_block, wall=None, water_inside=-8.0)
    steps = steps_of(block)
    assert steps["z"] == -9.0
    assert steps["u"] == pytest.approx(9.81), "the water that stands inside"
    assert steps["q'"] == pytest.approx(0.0, abs=1e-9)
    assert steps["S"] == pytest.approx(9.0 * 18.0 + 10.0 - 9.81)


def test_pore_pressure_at_the_toe_lies_between_the_two_sides():
    assert toe_pressure(outside=100.0, inside=40.0, way_outside=5.0, way_inside=5.0) == 70.0
    assert toe_pressure(outside=100.0, inside=40.0, way_outside=5.0, way_inside=0.0) == 40.0
    assert toe_pressure(outside=100.0, inside=40.0, way_outside=-3.0, way_inside=4.0) == 100.0
    assert toe_pressure(outside=100.0, inside=40.0, way_outside=-3.0, way_inside=-1.0) == 40.0


def test_water_at_rest_needs_no_way_round(make_block: Maker):
    """Flooded to the water outside: the same pressure on both sides, and ordinary effective stresses."""
    block = cut(make_block, water_inside=-1.0)
    steps = steps_of(block)
    assert steps["u"] == pytest.approx(15.0 * 9.81, rel=1e-12)
    assert steps["q'"] == pytest.approx(7.0 * (18.0 - 9.81), rel=1e-9)


def test_strength_is_weighted_over_the_ground_below_the_toe(make_block: Maker):
    firm = replace(CLAY, name="firm", top=-18.0, long_term=LongTerm(friction_angle=30.0, cohesion=9.0))
    steps = steps_of(cut(make_block, strata=(CLAY, firm)))
    upper = 2.0 / (8.0 / 2.0**0.5)
    assert steps["c'"] == pytest.approx(4.0 * upper + 9.0 * (1.0 - upper))
    tangents = upper * np.tan(np.radians(25.0)) + (1.0 - upper) * np.tan(np.radians(30.0))
    assert steps["tan phi'"] == pytest.approx(tangents)


def test_the_failure_stays_in_the_clay_below_the_toe(make_block: Maker):
    sand = Stratum(name="sand", top=np.array([-40.0, -18.0, -15.0]), unit_weight=20.0, friction_angle=36.0)
    steps = steps_of(cut(make_block, strata=(CLAY, sand)))
    np.testing.assert_allclose(steps["B_1"], [8.0 / 2.0**0.5, 2.0, 8.0 / 2.0**0.5])
    np.testing.assert_allclose(steps["c'"], [4.0, 4.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(steps["tan phi'"], np.tan(np.radians([25.0, 25.0, 36.0])))


def test_limits_of_the_range_are_told(make_block: Maker):
    top = np.array([-23.0, -18.0])
    bare = replace(CLAY, name="deep", top=top, long_term=None)
    outcome = MECHANISM.outcome(cut(make_block, strata=(CLAY, bare)), "footing")
    np.testing.assert_array_equal(outcome.outside[STATED], [False, True])
    assert outcome.resistance[1] < outcome.resistance[0], "what states none has none"
    sand = Stratum(name="sand", top=-14.0, unit_weight=20.0, friction_angle=36.0)
    heads = np.array([-9.0, 2.0])
    lifted = cut(make_block, strata=(CLAY, sand), aquifer=Aquifer(stratum="sand", head=heads))
    outcome = MECHANISM.outcome(lifted, "footing")
    np.testing.assert_array_equal(outcome.outside[NOT_LIFTED], [False, True])
    assert np.all(np.isfinite(outcome.resistance))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"dug": False}, "nothing has been dug yet"),
        ({"slab": Slab(thickness=1.0, unit_weight=24.0)}, "the base slab closes the excavation"),
        (
            {
                "formation": -20.0,
                "strata": (CLAY, Stratum(name="sand", top=-18.0, unit_weight=20.0, friction_angle=36.0)),
            },
            "the formation lies in or on sand, which is read drained",
        ),
        (
            {"strata": (replace(CLAY, long_term=None),)},
            "no long-term strength of clay is stated (ground.strata.clay.long_term)",
        ),
    ],
)
def test_reasons_not_to_apply(make_block: Maker, changes: dict, reason: str):
    (member,) = MECHANISM.members(cut(make_block, **changes))
    assert member.not_applicable is not None
    assert member.not_applicable.startswith(reason)
    assert not member.governing


def test_the_standing_time_decides_whether_it_governs(make_block: Maker):
    """B_1 5.657, clay without end: d 5.657, T_v = 1.5 t/32; U 0.1 at T_v 0.00785, after 0.168 years."""
    for years, governs in ((0.16, False), (0.175, True)):
        (member,) = MECHANISM.members(cut(make_block, open_for=years))
        assert member.not_applicable is None
        assert member.governing is governs
        assert f"T_v {1.5 * years / 32.0:.3g}, 10 % swelled" in member.note
        assert member.note.startswith("governs beside" if governs else "undrained, shown only")
    steps = steps_of(cut(make_block))
    assert steps["d"] == pytest.approx(8.0 / 2.0**0.5)
    assert steps["T_v"] == pytest.approx(1.5 * 0.5 / 32.0)


def test_a_cut_left_open_for_good_is_drained(make_block: Maker):
    (member,) = MECHANISM.members(cut(make_block, permanent=True, open_for=50.0))
    assert member.not_applicable is None
    assert member.governing
    assert "T_v 2.34, 100 % swelled" in member.note


def test_thin_clay_drains_both_ways(make_block: Maker):
    sand = Stratum(name="sand", top=-13.0, unit_weight=20.0, friction_angle=36.0)
    steps = steps_of(cut(make_block, strata=(CLAY, sand)))
    assert steps["d"] == pytest.approx(2.0)
    assert steps["T_v"] == pytest.approx(1.5 * 0.5 / 4.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"open_for": None}, "a stage since the dig states no length"),
        ({"strata": (replace(CLAY, consolidation=None),)}, "clay states no coefficient of consolidation"),
    ],
)
def test_where_it_cannot_be_told_both_ends_are_run(make_block: Maker, changes: dict, words: str):
    block = cut(make_block, **changes)
    (member,) = MECHANISM.members(block)
    assert member.governing
    assert words in member.note
    assert "T_v" not in steps_of(block)


def series(factor: float) -> float:
    terms = np.pi / 2.0 * (2.0 * np.arange(20_000) + 1.0)
    return float(1.0 - np.sum(2.0 / terms**2 * np.exp(-(terms**2) * factor)))


@settings(deadline=None, max_examples=80)
@given(factor=st.floats(1e-4, 4.0))
def test_degree_of_swelling_against_the_series(factor: float):
    assert heave_time.degree(factor) == pytest.approx(series(factor), abs=1.3e-3)


@pytest.mark.parametrize(
    ("percent", "factor"),
    [
        (10, 0.008),
        (20, 0.031),
        (30, 0.071),
        (40, 0.126),
        (50, 0.197),
        (60, 0.287),
        (70, 0.403),
        (80, 0.567),
        (90, 0.848),
    ],
)
def test_degree_of_swelling_of_the_books(percent: float, factor: float):
    """Terzaghi's table of time factors, even pore pressure at first (recalled), printed to three decimals."""
    assert heave_time.degree(factor) == pytest.approx(percent / 100.0, abs=3.5e-3)


def test_degree_of_swelling_grows_from_nothing_to_all():
    grown = heave_time.degree(np.linspace(0.0, 12.0, 4001))
    assert grown[0] == 0.0
    assert np.all(np.diff(grown) > 0.0)
    assert grown[-1] == pytest.approx(1.0, abs=1e-9)


def test_a_deeper_wall_holds_more_and_a_long_stage_changes_no_number(make_block: Maker):
    toes = np.array([-9.0, -11.0, -13.0, -16.0, -20.0])
    block = cut(make_block, wall=Wall(toe=toes, thickness=0.8))
    outcome = MECHANISM.outcome(block, "footing")
    assert np.all(np.diff(outcome.resistance - outcome.action) > 0.0)
    later = MECHANISM.outcome(replace(block, open_for=50.0), "footing")
    np.testing.assert_array_equal(later.resistance, outcome.resistance)
