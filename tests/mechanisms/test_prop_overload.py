"""Prop overload: kinds of ground, water, surcharge, warmth, and which props share the load."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms import apparent_pressure
from riskcut.mechanisms.prop_overload import DEEP, FIRST_PROP, LAYERING, MECHANISM
from riskcut.study.block import Block, Stratum

Maker = Callable[..., Block]

SAND = Stratum(name="gravel", top=0.0, unit_weight=19.0, friction_angle=35.0)
KA = math.tan(math.radians(45.0 - 17.5)) ** 2


def steps_of(block: Block, member: str) -> dict[str, float]:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, member).steps}


def one_prop(block: Block) -> Block:
    """Leave one prop, at -1: of a load at depth z it takes the part (H - z)/(H - 1)."""
    return replace(block, props=block.props[:1])


def test_sand_with_water_apart_by_hand(make_block: Maker) -> None:
    """H 9, one prop at 1 m: of a uniform load w it takes 9 (9/2)/8 w, of a triangle below it 1/3."""
    block = one_prop(make_block(strata=(SAND,), aquifer=None, temperature_rise=0.0))
    steps = steps_of(block, "upper")
    stress = 9.0 * 19.0 - 8.0 * 9.81
    uniform = 9.0 * 4.5 / 8.0
    assert steps["gamma' H"] == pytest.approx(stress)
    assert steps["F_s"] == pytest.approx(0.65 * KA * stress * uniform, rel=1e-12)
    assert steps["F_q"] == pytest.approx(KA * 10.0 * uniform, rel=1e-12)
    assert steps["F_w"] == pytest.approx(0.5 * 9.81 * 64.0 * (8.0 / 3.0) / 8.0, rel=1e-12)
    total = steps["F_s"] + steps["F_q"]
    assert steps["S"] == pytest.approx(4.0 * (total + steps["F_w"]), rel=1e-12)
    factored = replace(block, model_factors={"prop_overload/upper": 0.5})
    assert steps_of(factored, "upper")["S"] == pytest.approx(4.0 * (0.5 * total + steps["F_w"]), rel=1e-12)
    assert steps_of(replace(block, water_inside=-1.0), "upper")["F_w"] == pytest.approx(0.0, abs=1e-9)
    tide = steps_of(replace(block, water_table=2.0), "upper")
    assert tide["F_w"] == pytest.approx(9.81 * (2.0 * uniform + 0.5 * 81.0 * 3.0 / 8.0), rel=1e-12)
    assert tide["gamma' H"] == pytest.approx(9.0 * (19.0 - 9.81))


def test_layered_sand_reads_the_mean_coefficient(make_block: Maker) -> None:
    loose = replace(SAND, name="fill", friction_angle=30.0)
    block = make_block(strata=(loose, replace(SAND, top=-3.0)), aquifer=None)
    assert steps_of(block, "upper")["K_a"] == pytest.approx((3.0 / 3.0 + 6.0 * KA) / 9.0, rel=1e-12)


def test_clay_takes_surcharge_whole_and_water_within(make_block: Maker) -> None:
    steps = steps_of(make_block(), "middle")
    assert steps["K_a q"] == 10.0
    assert steps["F_w"] == 0.0
    tide = steps_of(make_block(water_table=1.0), "middle")
    assert tide["F_w"] == pytest.approx(9.81 * tide["F_q"] / 10.0, rel=1e-12)


def test_henkel_term_by_hand(make_block: Maker) -> None:
    """N 9.27 over a soft base: d is B/sqrt 2 until firm ground cuts the clay short."""
    soft = Stratum(name="soft", top=0.0, unit_weight=17.0, su_at_top=16.5)
    block = make_block(strata=(soft,), aquifer=None)
    steps = steps_of(block, "lower")
    overburden, reach = 153.0, 8.0 / math.sqrt(2.0)
    term = 2.0 * math.sqrt(2.0) * reach / 9.0 * (overburden - 5.14 * 16.5)
    assert steps["N"] == pytest.approx(153.0 / 16.5)
    assert steps["Delta"] == pytest.approx(term, rel=1e-12)
    assert steps["p_soft"] == pytest.approx(overburden - 66.0 + term, rel=1e-12)
    thin = replace(block, strata=(soft, replace(SAND, top=-10.0)))
    assert steps_of(thin, "lower")["Delta"] == pytest.approx(term / reach, rel=1e-12)
    stable = replace(block, strata=(soft, replace(soft, name="firm", top=-9.0, su_at_top=60.0)))
    assert steps_of(stable, "lower")["Delta"] == 0.0
    reduced = steps_of(replace(block, options={"prop_overload": {"m": 0.4}}), "lower")
    assert reduced["Delta"] == 0.0
    assert reduced["p_soft"] == pytest.approx(153.0 - 0.4 * 66.0)


def test_each_row_reads_its_own_diagram(make_block: Maker) -> None:
    strength = np.array([153 / 3.9, 153 / 5.0, 153 / 6.1])
    soft = Stratum(name="soft", top=0.0, unit_weight=17.0, su_at_top=strength)
    steps = steps_of(make_block(strata=(soft,), aquifer=None), "lower")
    stiff, soft_load = np.broadcast_arrays(steps["F_stiff"], steps["F_soft"])
    np.testing.assert_allclose(
        steps["F_s"], [stiff[0], max(stiff[1], soft_load[1]), soft_load[2]], rtol=1e-14
    )
    assert soft_load[1] > stiff[1]
    assert soft_load[0] > stiff[0], "the stiff row does not take the larger"


def test_mixed_ground_is_peck_1943(make_block: Maker) -> None:
    """c = [gamma_s K_s H_s^2 tan phi + (H - H_s) n' q_u]/(2H), gamma = mean; sand 4 m, clay 5 m, dry."""
    clay = Stratum(name="clay", top=-4.0, unit_weight=17.0, su_at_top=22.0)
    block = make_block(strata=(SAND, clay), aquifer=None, water_table=-9.0)
    steps = steps_of(block, "lower")
    sand = 19.0 * 16.0 * math.tan(math.radians(35.0))
    assert steps["su"] == pytest.approx((sand + 5.0 * 0.75 * 44.0) / 18.0, rel=1e-12)
    assert steps["gamma H"] == pytest.approx(4.0 * 19.0 + 5.0 * 17.0)
    assert steps["K_a"] == pytest.approx((4.0 * KA + 5.0) / 9.0)
    whole = replace(block, options={"prop_overload": {"progressive_failure": 1.0}})
    assert steps_of(whole, "lower")["su"] == pytest.approx((sand + 5.0 * 44.0) / 18.0, rel=1e-12)
    wet = steps_of(replace(block, water_table=0.0), "lower")
    buoyant = (19.0 - 9.81) * 16.0 * math.tan(math.radians(35.0))
    assert wet["su"] == pytest.approx((buoyant + 5.0 * 0.75 * 44.0) / 18.0, rel=1e-12)
    assert wet["F_w"] == 0.0, "total stress: water is in the clay diagrams"


def test_rows_may_hold_different_kinds_of_ground(make_block: Maker) -> None:
    """Where the clay begins is uncertain: rows of sand, of sand over clay and of clay, each as by itself."""
    clay = Stratum(name="clay", top=np.array([-12.0, -4.0, 0.0]), unit_weight=17.0, su_at_top=22.0)
    together = MECHANISM.outcome(make_block(strata=(SAND, clay), aquifer=None), "lower").action
    alone = [(SAND,), (SAND, replace(clay, top=-4.0)), (replace(clay, top=0.0),)]
    for action, strata in zip(together, alone, strict=True):
        single = MECHANISM.outcome(make_block(strata=strata, aquifer=None), "lower").action
        assert action == pytest.approx(single, rel=1e-12)


@pytest.mark.parametrize(
    ("strength", "soft", "stiff"),
    [(36.01, False, True), (36.0, False, True), (35.9, True, True), (24.1, True, True), (24.0, True, False)],
)
def test_the_diagrams_meet_at_4_and_6(make_block: Maker, strength: float, soft: bool, stiff: bool) -> None:
    """H 8, gamma 18: N is 4 at 36 kPa and 6 at 24 kPa, both belonging to the diagram beyond."""
    clay = Stratum(name="clay", top=0.0, unit_weight=18.0, su_at_top=strength)
    block = make_block(strata=(clay,), aquifer=None, formation=-8.0, water_inside=-8.0)
    steps = steps_of(block, "lower")
    assert ("F_soft" in steps, "F_stiff" in steps) == (soft, stiff)
    if soft:
        assert (steps["Delta"] > 0.0) == (not stiff), "the Henkel term belongs to N of 6 and more"


def test_the_stiff_coefficient_is_a_choice(make_block: Maker) -> None:
    for coefficient in (0.2, 0.3, 0.4):
        block = make_block(options={"prop_overload": {"stiff_coefficient": coefficient}})
        assert steps_of(block, "lower")["p_stiff"] == pytest.approx(coefficient * 153.0)
    wrong = make_block(options={"prop_overload": {"stiff_coefficient": 0.5}})
    with pytest.raises(ValueError, match=r"stiff_coefficient is 0\.5: state a number from 0\.2 to 0\.4"):
        MECHANISM.outcome(wrong, "lower")
    word = make_block(options={"prop_overload": {"m": "soft"}})
    with pytest.raises(ValueError, match=r"models\.prop_overload\.m is 'soft': state a number"):
        MECHANISM.outcome(word, "lower")


def test_a_prop_that_carries_nothing_yet_relieves_no_other(make_block: Maker) -> None:
    block = make_block()
    upper, middle, lower = block.props
    without = replace(block, props=(upper, middle))
    fresh = replace(block, props=(upper, middle, replace(lower, loaded=False, level=-8.9)))
    for member in ("upper", "middle"):
        load = MECHANISM.outcome(fresh, member).action
        assert load == MECHANISM.outcome(without, member).action
    assert MECHANISM.outcome(block, "middle").action < MECHANISM.outcome(fresh, "middle").action
    reasons = {member.name: member.not_applicable for member in MECHANISM.members(fresh)}
    assert reasons == {
        "upper": None,
        "middle": None,
        "lower": "the cut has not been deepened since this prop was installed",
    }
    with pytest.raises(ValueError, match="no prop 'lower' is under load"):
        MECHANISM.outcome(fresh, "lower")


def test_compression_only(make_block: Maker) -> None:
    """A long wall above the first prop would pull the second; it takes nothing instead."""
    upper, middle, lower = make_block().props
    levels = (replace(upper, level=-5.5), replace(middle, level=-6.0), replace(lower, level=-8.0))
    outcome = MECHANISM.outcome(make_block(props=levels, temperature_rise=0.0), "middle")
    steps = {step.symbol: step.value for step in outcome.steps}
    assert steps["F_s"] < 0.0
    assert outcome.action == 0.0
    assert outcome.outside[FIRST_PROP]


def test_warmth_adds_outside_the_factor(make_block: Maker) -> None:
    cold = MECHANISM.outcome(make_block(temperature_rise=0.0), "upper").action
    warm = make_block(model_factors={"prop_overload/upper": 1.0})
    assert MECHANISM.outcome(warm, "upper").action == pytest.approx(cold + 1.2e-5 * 10.0 * 210e6 * 0.03)
    assert steps_of(warm, "middle")["dN"] == 0.0, "without area and modulus there is no load from warmth"


def test_impossible_rows(make_block: Maker) -> None:
    """A loaded prop at or below formation, or two out of order, is impossible and never safe."""
    block = make_block()
    upper, middle, lower = block.props
    for changed in (
        (upper, middle, replace(lower, level=np.array([-6.5, -9.0, -9.5]))),
        (upper, replace(middle, level=np.array([-3.5, -6.5, -7.0])), lower),
    ):
        for options in ({}, {"prop_overload": {"lowest_span": "overhang"}}):
            moved = replace(block, props=changed, options=options)
            for prop in changed:
                resistance = np.broadcast_to(MECHANISM.outcome(moved, prop.name).resistance, 3)
                np.testing.assert_array_equal(np.isnan(resistance), [False, True, True])


def test_limits_of_the_range_are_told(make_block: Maker) -> None:
    formation = np.array([-6.0, -9.0])
    block = make_block(formation=formation, water_inside=formation, props=make_block().props[:2])
    np.testing.assert_array_equal(MECHANISM.outcome(block, "upper").outside[DEEP], [True, False])
    clay = make_block().strata[0]
    seam = (clay, replace(SAND, top=-4.0), replace(clay, name="deep", top=-5.0))
    assert MECHANISM.outcome(make_block(strata=seam), "upper").outside[LAYERING]
    under = (clay, replace(SAND, top=-10.0))
    assert not np.any(apparent_pressure.sand_below_clay(under, formation=-9.0))
    one = one_prop(make_block(options={"prop_overload": {"lowest_span": "overhang"}}))
    assert FIRST_PROP not in MECHANISM.outcome(one, "upper").outside


@pytest.mark.parametrize(
    ("strata", "words"),
    [
        ((SAND,), "sand, with water apart"),
        ((Stratum(name="c", top=0.0, unit_weight=17.0, su_at_top=50.0),), "clay (N 3.06): the stiff clay"),
        ((Stratum(name="c", top=0.0, unit_weight=17.0, su_at_top=30.0),), "clay (N 5.10): the larger load"),
        ((Stratum(name="c", top=0.0, unit_weight=17.0, su_at_top=20.0),), "clay (N 7.65): the soft clay"),
        (
            (SAND, Stratum(name="c", top=-4.0, unit_weight=17.0, su_at_top=22.0)),
            "mixed ground by its equivalent strength",
        ),
    ],
)
def test_the_note_says_how_the_ground_is_read(make_block: Maker, strata: tuple, words: str) -> None:
    notes = {member.note for member in MECHANISM.members(make_block(strata=strata, aquifer=None))}
    (note,) = notes
    assert note.startswith(f"at the means the ground is read as {words}")
