"""What is worked out once a block is what would be worked out each time, and lives no longer than the block."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.ground import profile
from riskcut.ground.once import of_the_block, once
from riskcut.ground.rows import every, some
from riskcut.study.block import Number, Strata, Stratum

GROUND = (
    Stratum(name="sand", top=0.0, unit_weight=18.0, friction_angle=30.0),
    Stratum(
        name="clay", top=np.array([-3.0, -4.0, -9.0]), unit_weight=17.0, su_at_top=25.0, su_per_metre=1.5
    ),
    Stratum(name="gravel", top=-8.0, unit_weight=20.0, friction_angle=36.0),
)
LEVELS = st.one_of(
    st.floats(-12.0, 2.0), st.lists(st.floats(-12.0, 2.0), min_size=3, max_size=3).map(np.array)
)
FUNCTIONS = (
    profile.total_stress,
    profile.strength_integral,
    profile.undrained_thickness,
    profile.drained_thickness,
    profile.mean_strength,
)


@settings(deadline=None, max_examples=60)
@given(upper=LEVELS, lower=LEVELS)
def test_a_block_gives_what_its_strata_give(upper: Number, lower: Number) -> None:
    known = Strata(GROUND)
    for function in FUNCTIONS:
        each_time = function(GROUND, upper=upper, lower=lower)
        for _ in range(2):
            np.testing.assert_array_equal(function(known, upper=upper, lower=lower), each_time)


@settings(deadline=None, max_examples=60)
@given(upper=LEVELS, lower=LEVELS)
def test_slices_fill_the_interval_within_the_ground(upper: Number, lower: Number) -> None:
    found = profile.slices(Strata(GROUND), upper=upper, lower=lower)
    whole = np.maximum(np.minimum(upper, 0.0) - np.asarray(lower), 0.0)
    total = sum((part.thickness for part in found), start=np.zeros(3))
    assert total == pytest.approx(np.broadcast_to(whole, 3), abs=1e-12)
    for part in found:
        assert np.all(np.asarray(part.thickness) >= 0.0)


def test_the_same_levels_of_one_block_are_worked_out_once() -> None:
    calls = []

    @once
    def height(strata: Sequence[Stratum], *, upper: Number, lower: Number) -> Number:
        calls.append(strata)
        return np.subtract(upper, lower)

    upper, equal = np.array([1.0, 2.0]), np.array([1.0, 2.0])
    block = Strata(GROUND)
    first = height(block, upper=upper, lower=0.5)
    assert height(block, upper=upper, lower=0.5) is first
    assert len(calls) == 1
    np.testing.assert_array_equal(height(block, upper=equal, lower=0.5), first)
    height(block, upper=upper, lower=0.25)
    height(Strata(GROUND), upper=upper, lower=0.5)
    height(GROUND, upper=upper, lower=0.5)
    height(GROUND, upper=upper, lower=0.5)
    assert len(calls) == 6


def test_an_address_that_is_used_again_is_not_taken_for_the_old_level() -> None:
    block = Strata(GROUND)
    for step in range(50):
        lower = np.full(3, -0.1 * step)
        np.testing.assert_array_equal(
            profile.total_stress(block, upper=0.0, lower=lower),
            profile.total_stress(GROUND, upper=0.0, lower=lower),
        )
        del lower


def test_strata_of_a_block_are_its_strata() -> None:
    block = Strata(GROUND)
    assert block == GROUND
    assert block[1:] == GROUND[1:]
    assert Strata(GROUND).found is not block.found
    assert profile.crossed(block) is profile.crossed(block)
    np.testing.assert_array_equal(profile.crossed(block), profile.crossed(GROUND))
    assert of_the_block(len)(block) == 3


@given(
    rows=st.one_of(st.booleans(), st.lists(st.booleans(), max_size=5).map(lambda r: np.array(r, dtype=bool)))
)
def test_some_and_every_are_any_and_all(rows: profile.Rows) -> None:
    assert some(rows) is bool(np.any(rows))
    assert every(rows) is bool(np.all(rows))
