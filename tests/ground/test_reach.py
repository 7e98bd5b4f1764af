"""How far the ground is drained, against a walk in steps of a tenth of the grid that the levels lie on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.ground.reach import drained_depth, drained_top
from riskcut.study.block import Stratum

FEW = settings(deadline=None, max_examples=150)
LOWEST = -40


@st.composite
def layers(draw: st.DrawFn) -> tuple[Stratum, ...]:
    count = draw(st.integers(1, 5))
    tops = [0, *sorted(draw(st.lists(st.integers(-30, 0), min_size=count, max_size=count)), reverse=True)]
    return tuple(
        Stratum(name=f"s{i}", top=float(top), unit_weight=19.0, friction_angle=33.0)
        if draw(st.booleans())
        else Stratum(name=f"s{i}", top=float(top), unit_weight=19.0, su_at_top=30.0)
        for i, top in enumerate(tops)
    )


def drained_at(strata: tuple[Stratum, ...], level: float) -> bool:
    """Whether the point is in drained ground: the lowest stratum whose top is above it holds it."""
    return not [s for s in strata if s.top > level][-1].undrained


@FEW
@given(layers(), st.integers(-35, -1))
def test_a_walk_down_and_up(strata: tuple[Stratum, ...], whole: int) -> None:
    level = whole + 0.5
    down = up = level
    while down > LOWEST and drained_at(strata, down - 0.05):
        down = round(down - 0.1, 1)
    while up < 0.0 and drained_at(strata, up + 0.05):
        up = round(up + 0.1, 1)
    depth, top = drained_depth(strata, level=level), drained_top(strata, level=level)
    if drained_at(strata, level):
        assert depth == pytest.approx(np.inf if down <= LOWEST else level - down)
        assert top == pytest.approx(up)
    else:
        assert depth <= 0.0
        assert top == level


def test_rows_are_read_apart() -> None:
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=18.0, friction_angle=30.0),
        Stratum(name="clay", top=np.array([-2.0, -2.0, -9.0]), unit_weight=18.0, su_at_top=30.0),
        Stratum(name="sand", top=np.array([-4.0, -2.0, -11.0]), unit_weight=18.0, friction_angle=33.0),
    )
    np.testing.assert_allclose(drained_depth(strata, level=-5.0), [np.inf, np.inf, 4.0])
    np.testing.assert_allclose(drained_top(strata, level=-5.0), [-4.0, 0.0, 0.0])
