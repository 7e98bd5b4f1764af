"""Long-term heave: the greater of water and heave pressure, held as against flotation, and its reasons."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.long_term_heave import CLAY, MECHANISM, heave_pressure
from riskcut.study.block import Aquifer, Block, Piles, Slab, Wall

Maker = Callable[..., Block]

SLAB = Slab(thickness=1.5, unit_weight=24.0, fill=10.0, heave_relief=0.6, carries_walls=True)
PILES = Piles(
    diameter=0.75,
    length=18.0,
    head=-9.0,
    spacing_along=3.5,
    spacing_across=4.0,
    adhesion=0.5,
    shaft_ratio=0.3,
    steel_resistance=1500.0,
)


def in_service(make_block: Maker, relief: float | np.ndarray = 0.6, **changes) -> Block:
    """Return the plain 9 m cut in clay of 17 kN/m3, finished."""
    settled = {"slab": replace(SLAB, heave_relief=relief), "permanent": True, "piles": PILES, **changes}
    return make_block(**settled)


def test_the_greater_of_water_and_heave_pressure(make_block: Maker) -> None:
    """153 kPa came off the formation; water 8 m over it presses with 78.5 kPa, which 0.513 of that equals."""
    relief = np.array([0.0, 0.3, 0.6, 1.0])
    action = MECHANISM.outcome(in_service(make_block, relief), "slab").action
    np.testing.assert_allclose(action, [78.48, 78.48, 0.6 * 153.0, 153.0], rtol=1e-12)
    low = MECHANISM.outcome(in_service(make_block, relief, water_under_slab=-20.0), "slab").action
    np.testing.assert_allclose(low, relief * 153.0)


def test_free_water_over_the_ground_was_part_of_the_total_stress(make_block: Maker) -> None:
    block = in_service(make_block, 1.0, water_table=2.0, water_under_slab=-9.0)
    assert MECHANISM.outcome(block, "slab").action == pytest.approx(153.0 + 2.0 * 9.81)


@settings(deadline=None, max_examples=60)
@given(st.floats(0, 200), st.floats(0, 1), st.floats(0, 400))
def test_never_the_sum_and_never_less_than_either(pressure: float, relief: float, relieved: float) -> None:
    found = heave_pressure(water_pressure=pressure, relief=relief, relieved=relieved)
    assert found in {pressure, relief * relieved}
    assert found >= pressure
    assert found >= relief * relieved


def test_it_is_held_as_against_flotation(make_block: Maker) -> None:
    flotation = catalogue()["flotation"]
    for block in (
        in_service(make_block),
        in_service(make_block, piles=None),
        in_service(make_block, wall=Wall(toe=-18.0, thickness=1.0, top=1.0), water_under_slab=-3.0),
        in_service(make_block, aquifer=Aquifer(stratum="sand", head=1.5)),
    ):
        held, floating = MECHANISM.outcome(block, "slab"), flotation.outcome(block, "structure")
        assert held.resistance == floating.resistance
        assert held.action >= floating.action
    factored = in_service(make_block, model_factors={"long_term_heave/slab": 0.5, "flotation/structure": 2.0})
    plain = MECHANISM.outcome(in_service(make_block), "slab")
    assert MECHANISM.outcome(factored, "slab").resistance < plain.resistance
    assert MECHANISM.outcome(factored, "slab").action == plain.action


def test_without_relief_it_is_flotation(make_block: Maker) -> None:
    block = in_service(make_block, 0.0)
    assert (
        MECHANISM.outcome(block, "slab").action == catalogue()["flotation"].outcome(block, "structure").action
    )


def test_rows_on_drained_ground_are_out_of_range(make_block: Maker) -> None:
    soft, firm, sand = make_block().strata
    tops = (soft, replace(firm, top=-6.0), replace(sand, top=np.array([-20.0, -9.0, -8.0])))
    outcome = MECHANISM.outcome(in_service(make_block, strata=tops), "slab")
    np.testing.assert_array_equal(outcome.outside[CLAY], [False, True, True])


def test_impossible_rows_are_never_safe(make_block: Maker) -> None:
    formation = np.array([-9.0, 0.0, 0.2])
    outcome = MECHANISM.outcome(in_service(make_block, formation=formation, water_inside=formation), "slab")
    np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True, True])


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"dug": False}, "nothing has been dug yet"),
        ({"slab": None}, "the base slab is not cast yet"),
        ({"permanent": False}, "heave pressure takes years to build up"),
        ({"formation": -20.0}, "the formation lies in or on drained ground"),
        (
            {"slab": replace(SLAB, heave_relief=None)},
            "no relief fraction is stated (works.slab.heave_relief)",
        ),
    ],
)
def test_reasons_not_to_apply(make_block: Maker, changes: dict, reason: str) -> None:
    (member,) = MECHANISM.members(in_service(make_block, **changes))
    assert member.not_applicable is not None
    assert member.not_applicable.startswith(reason)


def test_without_a_relief_fraction_there_is_nothing_to_evaluate(make_block: Maker) -> None:
    (member,) = MECHANISM.members(in_service(make_block))
    assert member.not_applicable is None
    for slab in (None, replace(SLAB, heave_relief=None)):
        with pytest.raises(ValueError, match="no member 'slab' in this block"):
            MECHANISM.outcome(in_service(make_block, slab=slab), "slab")
