"""Overtopping: the height of the water against that of the rim, and when it is a question."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.overtopping import MECHANISM, WALL_OVER_GROUND, rim
from riskcut.study.block import Block, Slab, Wall

Maker = Callable[..., Block]


@pytest.mark.parametrize(
    ("wall", "level"),
    [
        (None, 0.0),
        (Wall(toe=-16.0, thickness=0.8), 0.0),
        (Wall(toe=-16.0, thickness=0.8, top=1.2), 1.2),
        (Wall(toe=-16.0, thickness=0.8, top=-1.5), 0.0),
    ],
)
def test_the_rim_is_the_walls_top_or_the_ground(make_block: Maker, wall, level) -> None:
    block = make_block(wall=wall)
    found = MECHANISM.outcome(block, "rim")
    assert rim(block) == level
    assert found.resistance == level - block.formation
    assert found.action == -1.0 - block.formation
    assert found.outside[WALL_OVER_GROUND] == (wall is not None and wall.top == -1.5)


def test_water_over_the_rim_fails_and_at_the_rim_does_not(make_block: Maker) -> None:
    wall = Wall(toe=-16.0, thickness=0.8, top=1.0)
    found = MECHANISM.outcome(make_block(wall=wall, water_table=np.array([0.9, 1.0, 1.1])), "rim")
    np.testing.assert_array_equal(found.resistance < found.action, [False, False, True])


def test_freeboard_comes_off_the_rim(make_block: Maker) -> None:
    wall = Wall(toe=-16.0, thickness=0.8, top=1.0)
    block = make_block(wall=wall, options={"overtopping": {"freeboard": 0.3}})
    assert MECHANISM.outcome(block, "rim").resistance == pytest.approx(0.7 - block.formation)
    with pytest.raises(ValueError, match="a number from 0"):
        MECHANISM.outcome(replace(block, options={"overtopping": {"freeboard": -0.3}}), "rim")


def test_it_enters_the_system_from_the_first_dig_until_the_works_are_finished(make_block: Maker) -> None:
    slab = Slab(thickness=1.0, unit_weight=24.0)
    for block in (make_block(), make_block(slab=slab)):
        (member,) = MECHANISM.members(block)
        assert member.governing
        assert member.not_applicable is None
    (early,) = MECHANISM.members(make_block(dug=False))
    assert early.not_applicable == "nothing has been dug yet"
    (late,) = MECHANISM.members(make_block(slab=slab, permanent=True))
    assert late.not_applicable is not None
    assert late.not_applicable.startswith(
        "the finished works keep water out by openings and gates of their own"
    )


def test_a_flood_over_the_ground_loads_the_base_as_well(make_block: Maker) -> None:
    """Water on the ground outside weighs: base heave at a dry cut is driven by it, before the wall is topped."""
    wall = Wall(toe=-16.0, thickness=0.8, top=2.0)
    low, high = (
        catalogue()["base_heave"].outcome(make_block(wall=wall, water_table=level), "bearing").action
        for level in (0.0, 1.5)
    )
    assert high - low == pytest.approx(1.5 * 9.81)
