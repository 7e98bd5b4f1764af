"""Perched water and pore pressures that go to the aquifer, in every mechanism that reads them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from test_contract import applicable, rows_of
from test_monotone import check
from test_unaffected import OTHER

from riskcut.mechanisms import catalogue, flotation, hydraulic_heave, prop_overload
from riskcut.study.block import Aquifer, Block, Perched, Piles, Slab, Stratum, Wall

Maker = Callable[..., Block]
GAMMA = 9.81
READERS = ("flotation", "hydraulic_heave", "prop_overload")

FILL = Stratum(name="fill", top=0.0, unit_weight=19.0, friction_angle=35.0)
SILT = Stratum(name="silt", top=-4.0, unit_weight=19.0, friction_angle=35.0)
SAND = Stratum(name="sand", top=-15.0, unit_weight=20.0, friction_angle=35.0)
KA = math.tan(math.radians(45.0 - 17.5)) ** 2
EVEN = 9.0 * 4.5 / 8.0
"""Of a uniform load over 9 m, on the one prop at 1 m."""


def steps(mechanism: str, block: Block, member: str) -> dict[str, float]:
    return {step.symbol: float(step.value) for step in catalogue()[mechanism].outcome(block, member).steps}


def sand_cut(make_block: Maker, **changes) -> Block:
    """Return a 9 m cut in drained ground with one prop at 1 m, the table at -1."""
    block = make_block(strata=(FILL, SILT, SAND), aquifer=None, temperature_rise=0.0)
    return replace(block, props=block.props[:1], **changes)


def prop(block: Block) -> dict[str, float]:
    return steps("prop_overload", block, "upper")


def test_perched_water_loads_the_props_by_hand(make_block: Maker) -> None:
    """3 m of water on the silt, the table far below: the triangle's centroid lies 3 m down, 6/8 go to the prop."""
    dry = sand_cut(make_block, water_table=-30.0)
    wet = replace(dry, perched=Perched(level=-1.0, on="silt"))
    found = prop(wet)
    assert found["F_w"] == pytest.approx(0.5 * GAMMA * 9.0 * 6.0 / 8.0, rel=1e-12)
    assert found["u_H"] == 0.0
    assert found["gamma' H"] == pytest.approx(171.0)
    assert prop(dry)["F_w"] == 0.0
    assert found["S"] - prop(dry)["S"] == pytest.approx(4.0 * found["F_w"])
    flooded = prop(replace(dry, perched=Perched(level=0.5, on="silt")))
    trapezium = 0.5 * 4.0 * 7.0 / 8.0 + 0.5 * 16.0 * (9.0 - 8.0 / 3.0) / 8.0
    assert flooded["F_w"] == pytest.approx(GAMMA * trapezium, rel=1e-12)


def test_the_aquifers_head_loads_the_props_by_hand(make_block: Maker) -> None:
    """14 m of silt between the table and the sand, 8 m of them above the formation."""
    for head, lost in ((6.0, -7.0), (-1.0, 0.0), (-8.0, 7.0)):
        aquifer = Aquifer(stratum="sand", head=head)
        block = sand_cut(make_block, aquifer=aquifer, pore_pressure="to_aquifer")
        found = prop(block)
        at_formation = GAMMA * (8.0 - 8.0 * lost / 14.0)
        assert found["u_H"] == pytest.approx(at_formation, rel=1e-12)
        assert found["gamma' H"] == pytest.approx(171.0 - at_formation, rel=1e-12)
        assert found["F_w"] == pytest.approx(0.5 * 8.0 * at_formation * (8.0 / 3.0) / 8.0, rel=1e-12)
        assert found["F_s"] == pytest.approx(0.65 * KA * (171.0 - at_formation) * EVEN, rel=1e-12)
        at_rest = prop(replace(block, pore_pressure="hydrostatic"))
        assert np.sign(found["S"] - at_rest["S"]) == -np.sign(lost) or lost == 0.0


def test_perched_water_in_the_fill_over_clay_weakens_mixed_ground(make_block: Maker) -> None:
    """c_av = (K_s tan phi times the stress integral of the fill + n' su of the clay) over H."""
    clay = Stratum(name="clay", top=-3.0, unit_weight=17.0, su_at_top=25.0)
    dry = sand_cut(make_block, water_table=-3.0)
    dry = replace(dry, strata=(FILL, clay, SAND))
    wet = replace(dry, perched=Perched(level=-1.0, on="clay"))
    friction = (0.5 * 19.0 * 9.0 - 0.5 * GAMMA * 4.0) * math.tan(math.radians(35.0))
    share = prop_overload.OPTIONS["progressive_failure"].default
    assert prop(wet)["su"] == pytest.approx((friction + share * 150.0) / 9.0, rel=1e-12)
    assert prop(wet)["su"] < prop(dry)["su"]
    assert prop(wet)["F_soft"] > prop(dry)["F_soft"]
    assert prop(wet)["S"] > prop(dry)["S"]


PILES = Piles(
    diameter=0.75,
    length=18.0,
    head=-9.0,
    spacing_along=3.5,
    spacing_across=4.0,
    adhesion=0.5,
    shaft_ratio=0.3,
    steel_resistance=1e5,
)
ROUND = math.pi * 0.75


def floating(make_block: Maker, head: float, **changes) -> Block:
    """Return the plain cut with slab and piles: 6 m of clay, 5 m of silt, and 7 m of sand below the slab."""
    strata = (
        Stratum(name="clay", top=0.0, unit_weight=18.0, su_at_top=40.0),
        replace(SILT, top=-15.0),
        replace(SAND, top=-20.0),
    )
    return make_block(
        strata=strata,
        slab=Slab(thickness=1.0, unit_weight=24.0),
        piles=PILES,
        aquifer=Aquifer(stratum="sand", head=head),
        pore_pressure="to_aquifer",
        **changes,
    )


def shaft_by_hand(excess: float) -> float:
    """Return one pile's friction where the aquifer's head stands ``excess`` over the water under the slab."""
    over = 6.0 * (18.0 - GAMMA) - GAMMA * excess
    silt = 5.0 * over + 12.5 * (19.0 - GAMMA)
    sand = 7.0 * (over + 5.0 * (19.0 - GAMMA)) + 24.5 * (20.0 - GAMMA)
    return ROUND * (0.5 * 6.0 * 40.0 + 0.3 * (silt + sand))


@pytest.mark.parametrize("head", [-5.0, -1.0, 1.5])
def test_piles_feel_the_aquifer_up_to_the_clay_by_hand(make_block: Maker, head: float) -> None:
    """The silt is one with the aquifer; water at -1 under the slab."""
    found = steps("flotation", floating(make_block, head), "structure")
    excess = head + 1.0
    assert found["R_s"] == pytest.approx(shaft_by_hand(excess), rel=1e-12)
    submerged = 6.0 * (18.0 - GAMMA) + 5.0 * (19.0 - GAMMA) + 7.0 * (20.0 - GAMMA)
    assert found["W_b"] == pytest.approx(submerged - GAMMA * excess, rel=1e-12)
    assert found["sigma'_min"] == pytest.approx(0.0, abs=1e-9)


def test_ground_that_the_aquifer_lifts_gives_no_friction_and_is_told(make_block: Maker) -> None:
    found = steps("flotation", floating(make_block, 8.0), "structure")
    over = 6.0 * (18.0 - GAMMA) - 9.0 * GAMMA
    assert over < 0.0
    assert found["sigma'_min"] == pytest.approx(over, rel=1e-12)
    dead = -over / (19.0 - GAMMA)
    silt = 0.5 * (19.0 - GAMMA) * (5.0 - dead) ** 2
    sand = 7.0 * (19.0 - GAMMA) * (5.0 - dead) + 24.5 * (20.0 - GAMMA)
    assert 0.0 < dead < 5.0
    assert found["R_s"] == pytest.approx(ROUND * (120.0 + 0.3 * (silt + sand)), rel=1e-12)


def seeping(make_block: Maker, *strata: Stratum, **changes) -> Block:
    """Return an 8 m cut in sand, so wide that its middle is far; water at -2, toe at -14."""
    plain = make_block(
        strata=strata,
        aquifer=None,
        formation=-8.0,
        water_inside=-8.0,
        water_table=-2.0,
        wall=Wall(toe=-14.0, thickness=0.8),
        width=1e4,
        length=1e5,
    )
    return replace(plain, **changes)


def heave(block: Block) -> dict[str, float]:
    return steps("hydraulic_heave", block, "prism_effective")


def test_what_drives_the_flow_round_the_wall(make_block: Maker) -> None:
    clay = Stratum(name="clay", top=-22.0, unit_weight=19.0, su_at_top=60.0)
    block = seeping(make_block, FILL, clay, water_table=-20.0)
    assert heave(replace(block, water_table=-2.0))["h_o"] == -2.0
    on_clay = replace(block, perched=Perched(level=-3.0, on="clay"))
    assert heave(on_clay)["h_o"] == pytest.approx(-3.0)
    assert heave(on_clay)["S"] == pytest.approx(heave(replace(block, water_table=-3.0))["S"], rel=1e-12)
    above_the_toe = replace(block, strata=(FILL, SILT, clay), perched=Perched(level=-3.0, on="silt"))
    reasons = {m.not_applicable for m in hydraulic_heave.MECHANISM.members(above_the_toe)}
    assert reasons == {"the water outside stands no higher than the water inside"}


def test_the_aquifers_pressure_drives_the_flow_round_the_wall(make_block: Maker) -> None:
    """All drained: half of the way from the table to the sand, half of the head; under clay, all of the aquifer's."""
    sand = replace(SAND, top=-26.0)
    block = seeping(
        make_block, FILL, sand, aquifer=Aquifer(stratum="sand", head=1.0), pore_pressure="to_aquifer"
    )
    assert heave(block)["h_o"] == pytest.approx(-0.5)
    drawn = replace(block, aquifer=Aquifer(stratum="sand", head=-6.0))
    assert heave(drawn)["S"] < heave(replace(drawn, pore_pressure="hydrostatic"))["S"] < heave(block)["S"]
    clay = Stratum(name="clay", top=0.0, unit_weight=19.0, su_at_top=60.0)
    crust = replace(block, strata=(clay, replace(SILT, top=-6.0), sand))
    assert heave(crust)["h_o"] == pytest.approx(1.0)
    outside = hydraulic_heave.MECHANISM.outcome(crust, "prism_effective").outside
    assert not outside[hydraulic_heave.DRAINED_OUTSIDE]


def watery(block: Block) -> Block:
    """Return a scene with perched water on its second stratum and pore pressures that go to the aquifer."""
    top = block.strata[1].top
    return replace(
        block, perched=Perched(level=top + 1.5, on=block.strata[1].name), pore_pressure="to_aquifer"
    )


@pytest.mark.parametrize("name", READERS)
def test_an_aquifer_under_the_tables_own_head_changes_nothing(name: str, scenes: dict[str, Block]) -> None:
    """The water under the slab stands at the table as well."""
    mechanism = catalogue()[name]
    for scene, block in scenes.items():
        if block.aquifer is None:
            continue
        table = np.maximum(block.water_table, block.formation)
        level = replace(block, aquifer=replace(block.aquifer, head=table), water_under_slab=None)
        for member in applicable(mechanism, level):
            at_rest = mechanism.outcome(level, member)
            found = mechanism.outcome(replace(level, pore_pressure="to_aquifer"), member)
            np.testing.assert_allclose(found.resistance, at_rest.resistance, rtol=1e-9, err_msg=scene)
            np.testing.assert_allclose(found.action, at_rest.action, rtol=1e-9, atol=1e-7, err_msg=scene)


@pytest.mark.parametrize("name", READERS)
def test_the_declared_directions_hold_with_such_water(name: str, scenes: dict[str, Block]) -> None:
    mechanism = catalogue()[name]
    made = {scene: watery(block) for scene, block in scenes.items()}
    for path in mechanism.monotone:
        if path.startswith(("water", "aquifer", "formation", "wall.toe", "strata", "piles.length")):
            count = check(mechanism, path, made)
            assert count.checked >= 1000, path
            assert count.changed >= 100, path
            assert count.violations == 0, path


@pytest.mark.parametrize("name", READERS)
def test_rows_are_rows_with_such_water(name: str, scenes: dict[str, Block]) -> None:
    mechanism = catalogue()[name]
    for scene, plain in scenes.items():
        block = watery(plain)
        rows = len(block.formation)
        for member in applicable(mechanism, block):
            together = mechanism.outcome(block, member)
            for i in range(0, rows, 171):
                alone = mechanism.outcome(rows_of(block, lambda array, i=i: float(array[i])), member)
                for part in ("resistance", "action"):
                    among = np.broadcast_to(getattr(together, part), rows)[i]
                    assert getattr(alone, part) == pytest.approx(among, rel=1e-12, abs=1e-9), scene


@pytest.mark.parametrize("name", ["flotation", "hydraulic_heave", "long_term_heave", "prop_overload"])
def test_a_field_that_is_never_read_is_not_read_with_such_water(name: str, scenes: dict[str, Block]) -> None:
    mechanism = catalogue()[name]
    for plain in scenes.values():
        block = watery(plain)
        names = applicable(mechanism, block)
        before = mechanism.evaluate(block, names)
        for field in mechanism.unaffected_by:
            for value in OTHER[field]:
                after = mechanism.evaluate(replace(block, **{field: value}), names)
                for one, other in zip(before, after, strict=True):
                    assert np.array_equal(one.resistance, other.resistance)
                    assert np.array_equal(one.action, other.action)


def test_impossible_rows_are_never_safe(make_block: Maker) -> None:
    block = floating(make_block, 2.0, perched=Perched(level=-1.0, on="silt"))
    formation = np.array([-9.0, 0.0, 0.2])
    rows = replace(block, formation=formation, water_inside=formation)
    for mechanism, member in ((flotation.MECHANISM, "structure"), (prop_overload.MECHANISM, "upper")):
        resistance = np.broadcast_to(mechanism.outcome(rows, member).resistance, 3)
        np.testing.assert_array_equal(np.isnan(resistance), [False, True, True])
