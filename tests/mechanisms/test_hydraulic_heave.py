"""Hydraulic heave: numbers by hand, which water drives it, where it is no question, and its limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipk

from riskcut.ground.prism_head import mean_share
from riskcut.mechanisms.hydraulic_heave import (
    DRAINED,
    DRAINED_OUTSIDE,
    FOOTED,
    LONG,
    MECHANISM,
    MEMBERS,
)
from riskcut.study.block import Aquifer, Block, Slab, Stratum, Wall

Maker = Callable[..., Block]

SAND = Stratum(name="sand", top=0.0, unit_weight=20.0, friction_angle=34.0)
CLAY = Stratum(name="clay", top=-22.0, unit_weight=19.0, su_at_top=60.0)


def sand_cut(make_block: Maker, **changes) -> Block:
    """Return a dry 8 m cut in sand on clay at -22, so wide that its middle is far; water at -2, toe at -14."""
    block = make_block(
        strata=(SAND, CLAY),
        aquifer=None,
        formation=-8.0,
        water_inside=-8.0,
        water_table=-2.0,
        wall=Wall(toe=-14.0, thickness=0.8),
        width=1e4,
        length=1e5,
    )
    return replace(block, **changes)


def outcomes(block: Block) -> dict:
    return dict(zip(MEMBERS, MECHANISM.evaluate(block, MEMBERS), strict=True))


def steps(block: Block, member: str = "prism_effective") -> dict[str, float]:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, member).steps}


def form_factor(ratio: float) -> float:
    """K over K' of the modulus sin(pi s/2T), by the parameter that scipy asks for."""
    parameter = np.sin(0.5 * np.pi * ratio) ** 2
    return float(ellipk(parameter) / ellipk(1.0 - parameter))


def test_numbers_by_hand(make_block: Maker) -> None:
    """Outside 12 m of wall in 20 m of ground below the water, inside 6 m in 14 m below formation."""
    block = sand_cut(make_block)
    outside, inside = form_factor(12.0 / 20.0), form_factor(6.0 / 14.0)
    toe = inside / (outside + inside)
    head = 6.0 * toe * mean_share(embedment=6.0, thickness=14.0, half_width=5e3)
    modulus = np.sin(0.5 * np.pi * 6.0 / 14.0)
    gradient = 6.0 * toe * np.pi / (2.0 * ellipk(modulus**2) * 14.0 * modulus)
    found = outcomes(block)
    weight = 6.0 * (20.0 - 9.81)
    assert found["prism_effective"].resistance == pytest.approx(weight, rel=1e-12)
    assert found["prism_effective"].action == pytest.approx(9.81 * head, rel=5e-4)
    assert found["prism_total"].resistance == pytest.approx(120.0, rel=1e-12)
    assert found["prism_total"].action == pytest.approx(9.81 * (6.0 + head), rel=5e-4)
    assert found["exit_gradient"].resistance == pytest.approx(weight, rel=1e-12)
    assert found["exit_gradient"].action == pytest.approx(9.81 * 6.0 * gradient, rel=1e-6)
    by = steps(block)
    assert by["Phi_o"] == pytest.approx(outside, rel=1e-12)
    assert by["Phi_i"] == pytest.approx(inside, rel=1e-6)
    assert by["h_t/h"] == pytest.approx(toe, rel=1e-6)
    assert by["h_a"] == pytest.approx(by["h_a/h_t"] * by["h_t/h"] * by["h"], rel=1e-12)
    assert steps(block, "exit_gradient")["i"] == pytest.approx(gradient, rel=1e-6)


def test_water_in_the_cut_stands_on_both_sides(make_block: Maker) -> None:
    wet = sand_cut(make_block, water_inside=-5.0)
    dry = sand_cut(make_block, water_table=-2.0, water_inside=-8.0)
    assert steps(wet)["h"] == pytest.approx(3.0)
    assert outcomes(wet)["prism_effective"].action == pytest.approx(
        0.5 * outcomes(dry)["prism_effective"].action, rel=1e-12
    )
    assert outcomes(wet)["prism_total"].resistance == pytest.approx(120.0 + 3.0 * 9.81)
    effective, total = outcomes(wet)["prism_effective"], outcomes(wet)["prism_total"]
    assert total.resistance - total.action == pytest.approx(effective.resistance - effective.action)


def test_the_factor_is_on_excess_head_and_gradient_alone(make_block: Maker) -> None:
    block = sand_cut(make_block)
    before = outcomes(block)
    after = outcomes(replace(block, model_factors={f"hydraulic_heave/{name}": 1.3 for name in MEMBERS}))
    for name in MEMBERS:
        assert after[name].resistance == before[name].resistance
        at_rest = 9.81 * 6.0 if name == "prism_total" else 0.0
        assert after[name].action == pytest.approx(at_rest + 1.3 * (before[name].action - at_rest), rel=1e-12)


def test_a_filter_holds_the_prism_and_not_the_exit(make_block: Maker) -> None:
    block = sand_cut(make_block)
    laid = replace(block, options={"hydraulic_heave": {"filter_weight": 15.0}})
    for name, gain in {"prism_effective": 15.0, "prism_total": 15.0, "exit_gradient": 0.0}.items():
        assert outcomes(laid)[name].resistance == pytest.approx(outcomes(block)[name].resistance + gain)
        assert outcomes(laid)[name].action == outcomes(block)[name].action
    for wrong in (-1.0, 201.0, "thick"):
        with pytest.raises(ValueError, match=r"models\.hydraulic_heave\.filter_weight is .*: state a number"):
            MECHANISM.evaluate(replace(block, options={"hydraulic_heave": {"filter_weight": wrong}}), MEMBERS)


def test_no_head_no_load(make_block: Maker) -> None:
    levels = np.array([-8.0, -9.0, -30.0])
    found = outcomes(sand_cut(make_block, water_table=levels))
    for name in ("prism_effective", "exit_gradient"):
        np.testing.assert_array_equal(found[name].action, 0.0)
        np.testing.assert_allclose(found[name].resistance, 6.0 * (20.0 - 9.81))
    np.testing.assert_allclose(found["prism_total"].action, 9.81 * 6.0)


def test_without_embedment_nothing_holds(make_block: Maker) -> None:
    """As D goes to zero what holds vanishes with it, what lifts only as one over its logarithm."""
    toe = -8.0 - np.array([1e-2, 1e-4, 1e-6])
    found = outcomes(sand_cut(make_block, wall=Wall(toe=toe, thickness=0.8)))
    for name in ("prism_effective", "exit_gradient"):
        assert np.all(np.isfinite(found[name].action))
        assert np.all(found[name].resistance < found[name].action)
        assert np.all(np.diff(found[name].action) < 0.0)
        np.testing.assert_allclose(found[name].resistance, (-8.0 - toe) * (20.0 - 9.81), rtol=1e-8)


def test_a_toe_above_formation_is_never_safe(make_block: Maker) -> None:
    toe = np.array([-14.0, -8.0, -7.0])
    for outcome in outcomes(sand_cut(make_block, wall=Wall(toe=toe, thickness=0.8))).values():
        np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True, True])


def test_impossible_ground_is_never_safe(make_block: Maker) -> None:
    crossed = (SAND, replace(CLAY, top=np.array([-22.0, 1.0])))
    for outcome in outcomes(sand_cut(make_block, strata=crossed)).values():
        np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True])
    formation = np.array([-8.0, 0.0])
    for outcome in outcomes(sand_cut(make_block, formation=formation, water_inside=formation)).values():
        np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True])


def test_a_flood_enters_through_the_ground_surface(make_block: Maker) -> None:
    flooded = sand_cut(make_block, water_table=1.5)
    assert steps(flooded)["s_o"] == pytest.approx(14.0)
    assert steps(flooded)["h"] == pytest.approx(9.5)
    assert not MECHANISM.outcome(flooded, "prism_total").outside[DRAINED_OUTSIDE]


def test_a_crust_of_clay_outside_neither_helps_nor_goes_unsaid(make_block: Maker) -> None:
    crust = Stratum(name="crust", top=0.0, unit_weight=18.0, su_at_top=40.0)
    block = sand_cut(make_block, strata=(crust, replace(SAND, top=-5.0), CLAY))
    assert steps(block)["s_o"] == pytest.approx(9.0)
    assert steps(block)["h"] == pytest.approx(6.0)
    assert MECHANISM.outcome(block, "prism_effective").outside[DRAINED_OUTSIDE]
    assert (
        outcomes(block)["prism_effective"].action > outcomes(sand_cut(make_block))["prism_effective"].action
    )
    low = replace(block, water_table=-5.5)
    assert not MECHANISM.outcome(low, "prism_effective").outside[DRAINED_OUTSIDE]


def test_in_the_aquifer_its_own_head_drives_the_flow(make_block: Maker) -> None:
    crust = Stratum(name="crust", top=0.0, unit_weight=18.0, su_at_top=40.0)
    block = sand_cut(
        make_block,
        strata=(crust, replace(SAND, top=-5.0)),
        aquifer=Aquifer(stratum="sand", head=-4.0),
        water_table=-1.0,
    )
    assert steps(block)["h_o"] == -4.0
    assert steps(block)["s_o"] == pytest.approx(9.0)
    assert not MECHANISM.outcome(block, "prism_effective").outside[DRAINED_OUTSIDE]
    assert steps(replace(block, water_table=3.0)) == steps(block)
    with pytest.raises(ValueError, match="stratum 'chalk', which section 'north' lacks"):
        MECHANISM.members(replace(block, aquifer=Aquifer(stratum="chalk", head=0.0)))


def test_an_aquifer_below_the_toe_leaves_the_free_water_in_charge(make_block: Maker) -> None:
    deep = Stratum(name="gravel", top=-30.0, unit_weight=20.0, friction_angle=36.0)
    block = sand_cut(make_block, strata=(SAND, CLAY, deep), aquifer=Aquifer(stratum="gravel", head=9.0))
    assert steps(block) == steps(sand_cut(make_block))


def test_ground_without_end_is_counted_as_far_as_the_flow_feels_it(make_block: Maker) -> None:
    endless = sand_cut(make_block, strata=(SAND,))
    assert steps(endless)["T"] == pytest.approx(2.5 * 12.0 - 6.0)
    far = sand_cut(make_block, strata=(SAND, replace(CLAY, top=-300.0)))
    assert steps(far) == steps(endless)


def test_a_narrow_cut_keeps_more_of_the_head_inside(make_block: Maker) -> None:
    widths = np.array([2.0, 5.0, 10.0, 40.0, 1e4])
    shares = MECHANISM.outcome(sand_cut(make_block, width=widths), "prism_effective").action
    assert np.all(np.diff(shares) < 0.0)
    # 4 m wide, 2 m from wall to middle: straight up, and 2 ln 2/pi to turn into the slot.
    slot = steps(sand_cut(make_block, width=4.0))["Phi_i"]
    assert slot == pytest.approx(6.0 / 2.0 + 2.0 * np.log(2.0) / np.pi, rel=1e-4)


def test_limits_of_the_range_of_use(make_block: Maker) -> None:
    toe = np.array([-14.0, -21.9, -22.0, -23.0])
    block = sand_cut(make_block, wall=Wall(toe=toe, thickness=0.8))
    outside = MECHANISM.outcome(block, "prism_effective").outside
    np.testing.assert_array_equal(outside[DRAINED], [False, False, True, True])
    for outcome in outcomes(block).values():
        assert np.all(np.isfinite(outcome.action))
    shallow = sand_cut(make_block, wall=Wall(toe=np.array([-9.0, -10.1]), thickness=0.8))
    np.testing.assert_array_equal(
        MECHANISM.outcome(shallow, "prism_effective").outside[FOOTED], [True, False]
    )
    short = sand_cut(make_block, width=10.0, length=np.array([19.0, 20.0]))
    np.testing.assert_array_equal(MECHANISM.outcome(short, "prism_effective").outside[LONG], [True, False])


def test_one_form_governs(make_block: Maker) -> None:
    found = MECHANISM.members(sand_cut(make_block))
    assert [m.name for m in found] == list(MEMBERS)
    assert [m.name for m in found if m.governing] == ["prism_effective"]
    assert found[1].note == "shown beside prism_effective, which governs"
    stated = sand_cut(make_block, options={"hydraulic_heave": {"governing": "exit_gradient"}})
    assert [m.name for m in MECHANISM.members(stated) if m.governing] == ["exit_gradient"]
    with pytest.raises(ValueError, match=r"models\.hydraulic_heave\.governing is 'boiling': state one of"):
        MECHANISM.members(sand_cut(make_block, options={"hydraulic_heave": {"governing": "boiling"}}))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"dug": False}, "nothing has been dug yet"),
        ({"wall": None}, "there is no wall for water to flow round"),
        ({"slab": Slab(thickness=1.0, unit_weight=24.0)}, "the base slab closes the formation"),
        ({"strata": (replace(CLAY, top=0.0),)}, "the formation lies in undrained ground"),
        (
            {"formation": -22.0, "wall": Wall(toe=-30.0, thickness=1.0)},
            "the formation lies in undrained ground",
        ),
        ({"wall": Wall(toe=-22.0, thickness=1.0)}, "the wall's toe stands in or below undrained ground"),
        ({"wall": Wall(toe=-24.0, thickness=1.0)}, "the wall's toe stands in or below undrained ground"),
        (
            {"strata": (SAND, replace(CLAY, top=-10.0), replace(SAND, name="deep", top=-11.0))},
            "the wall's toe stands in or below undrained ground",
        ),
        ({"water_table": -8.0}, "the water outside stands no higher than the water inside"),
    ],
)
def test_reasons_not_to_apply(make_block: Maker, changes: dict, reason: str) -> None:
    for member in MECHANISM.members(sand_cut(make_block, **changes)):
        assert member.not_applicable is not None
        assert member.not_applicable.startswith(reason)
        assert member.note == ""


def test_a_block_without_a_wall_has_no_member(make_block: Maker) -> None:
    with pytest.raises(ValueError, match="no member 'prism_total' in this block"):
        MECHANISM.outcome(sand_cut(make_block, wall=None), "prism_total")


@settings(deadline=None, max_examples=60)
@given(
    head=st.floats(0.5, 12.0),
    embedment=st.floats(1.0, 14.0),
    width=st.floats(2.0, 60.0),
    factor=st.floats(0.5, 1.8),
    inside=st.floats(0.0, 3.0),
)
def test_both_forms_of_the_prism_fail_in_the_same_rows(
    head: float, embedment: float, width: float, factor: float, inside: float
) -> None:
    """EN 1997-1 2.9a and 2.9b differ by the water at rest on both sides, whatever the factor."""
    block = Block(
        section="s",
        stage="dig",
        width=width,
        length=200.0,
        strata=(SAND, CLAY),
        formation=-8.0,
        dug=True,
        water_table=-8.0 + inside + head,
        water_inside=-8.0 + inside,
        surcharge=0.0,
        temperature_rise=0.0,
        wall=Wall(toe=-8.0 - min(embedment, 13.9), thickness=0.6),
        model_factors={f"hydraulic_heave/{name}": factor for name in MEMBERS},
    )
    effective, total = MECHANISM.evaluate(block, ("prism_effective", "prism_total"))
    margin = effective.resistance - effective.action
    assert total.resistance - total.action == pytest.approx(margin, rel=1e-9, abs=1e-9)
