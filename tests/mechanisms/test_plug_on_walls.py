"""The plug that hangs on the walls beside it: friction by hand, what the walls can take, and when it governs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

from riskcut.mechanisms.plug_on_walls import SPAN, SPANS
from riskcut.mechanisms.plug_uplift import MECHANISM
from riskcut.study.block import Aquifer, Block, Slab, Stratum, Wall

Maker = Callable[..., Block]
GAMMA = 9.81

WALL = Wall(toe=-16.0, thickness=0.8, adhesion=0.5)
AROUND = 2.0 * 48.0 / 320.0
INNER = 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 4.0 * 60.0)
"""Of the plain block: soft from -9 to -12, firm to the toe at -16."""
WEIGHT = 3.0 * 17.0 + 8.0 * 19.0


def found(block: Block) -> dict[str, float]:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, "with_walls").steps}


def governing(block: Block) -> dict[str, bool]:
    return {member.name: member.governing for member in MECHANISM.members(block)}


def states(**said: str) -> dict[str, dict[str, str]]:
    return {"plug_uplift": said}


def test_friction_over_the_plug_inside_the_walls_by_hand(make_block: Maker) -> None:
    block = make_block(wall=WALL)
    assert found(block)["F_i"] == pytest.approx(AROUND * INNER, rel=1e-12)
    assert found(block)["R"] == pytest.approx(WEIGHT + AROUND * INNER, rel=1e-12)
    assert found(block)["S"] == MECHANISM.outcome(block, "plug").action
    assert MECHANISM.outcome(block, "plug").resistance == pytest.approx(WEIGHT)
    factored = replace(block, model_factors={"plug_uplift/with_walls": 0.7, "plug_uplift/plug": 3.0})
    assert found(factored)["R"] == pytest.approx(WEIGHT + 0.7 * AROUND * INNER, rel=1e-12)
    through = found(replace(block, wall=replace(WALL, toe=-22.0)))
    whole = 0.5 * (3.0 * (38.5 + 43.0) / 2.0 + 8.0 * 60.0)
    assert through["F_i"] == pytest.approx(AROUND * whole, rel=1e-12), "no deeper than the plug's underside"


def test_the_walls_take_no_more_than_their_weight_and_outer_friction(make_block: Maker) -> None:
    """Soft clay inside gives much, a thin light wall with little buried height outside takes little."""
    light = replace(WALL, thickness=0.1, top=-8.5, adhesion=0.5)
    block = make_block(wall=light, water_table=-9.0, model_factors={"plug_uplift/with_walls": 0.8})
    outer = 0.5 * (3.5 * (25.0 + 1.5 * 10.25) + 4.0 * 60.0)
    weight = (24.0 * 7.5 - GAMMA * 7.0) * 0.1
    steps = found(block)
    assert steps["F_o"] == pytest.approx(AROUND * outer, rel=1e-12)
    assert steps["W_wall"] == pytest.approx(AROUND * weight, rel=1e-12)
    assert steps["F"] == pytest.approx(AROUND * 0.8 * INNER, rel=1e-12), "the outer face has 0.5 m more"
    strong = replace(
        block, strata=(replace(block.strata[0], su_at_top=1.0, su_per_metre=0.0), *block.strata[1:])
    )
    drained = replace(strong.strata[1], su_at_top=None, friction_angle=30.0)
    bare = found(replace(strong, strata=(strong.strata[0], drained, strong.strata[2])))
    assert bare["F"] == pytest.approx(AROUND * 0.8 * 0.5 * 3.0, rel=1e-12)
    heavy_water = replace(block, water_table=40.0, wall=replace(light, top=-12.0))
    assert found(heavy_water)["W_wall"] == 0.0
    assert found(heavy_water)["F"] == pytest.approx(found(heavy_water)["F_o"] * 0.8, rel=1e-12)


def test_drained_layers_by_their_effective_stress(make_block: Maker) -> None:
    """2 m of sand under the formation, submerged below it, then clay: friction 0.3 of what weighs on it."""
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=19.0, friction_angle=30.0),
        Stratum(name="clay", top=-11.0, unit_weight=18.0, su_at_top=40.0),
        Stratum(name="sand", top=-20.0, unit_weight=20.0, friction_angle=36.0),
    )
    block = make_block(strata=strata, wall=replace(WALL, friction_ratio=0.3))
    inner = 0.3 * 0.5 * 4.0 * (19.0 - GAMMA) + 0.5 * 40.0 * 5.0
    assert found(block)["F_i"] == pytest.approx(AROUND * inner, rel=1e-12)
    wet = 19.0 + np.linspace(0.0, 10.0, 200_001) * (19.0 - GAMMA)
    outer = 0.3 * (0.5 * 19.0 + np.trapezoid(wet, dx=10.0 / 200_000)) + 0.5 * 40.0 * 5.0
    assert found(block)["F_o"] == pytest.approx(AROUND * outer, rel=1e-9)
    flooded = found(replace(block, water_inside=-7.0))
    assert flooded["F_i"] == pytest.approx(found(block)["F_i"], rel=1e-12), (
        "water on the ground weighs and presses"
    )
    cast = found(replace(block, slab=Slab(thickness=1.0, unit_weight=24.0)))
    assert cast["F_i"] == pytest.approx(found(block)["F_i"], rel=1e-12)


def test_it_governs_only_where_the_study_says_so_and_the_plug_is_thick(make_block: Maker) -> None:
    """8 m wide, 7 m of plug inside the walls."""
    plain = make_block(wall=WALL)
    assert governing(plain) == {"plug": True, "with_walls": False}
    asked = replace(plain, options=states(governing="with_walls"))
    assert governing(asked) == {"plug": False, "with_walls": True}
    wide = replace(asked, width=SPAN * 7.0 + 0.1)
    assert governing(wide) == {"plug": True, "with_walls": False}
    plug, walled = MECHANISM.members(wide)
    assert plug.note == "governs instead of with_walls: the plug is too thin for its width"
    assert walled.not_applicable is None
    assert "too thin for its width" in walled.note
    rows = MECHANISM.outcome(replace(asked, width=np.array([13.9, 14.1])), "with_walls")
    np.testing.assert_array_equal(rows.outside[SPANS], [False, True])
    assert SPANS not in MECHANISM.outcome(asked, "plug").outside


def test_reasons_not_to_count_the_walls(make_block: Maker) -> None:
    asked = states(governing="with_walls")

    def reason(**changes) -> str | None:
        plug, walled = MECHANISM.members(make_block(options=asked, **changes))
        assert plug.governing
        assert plug.note.endswith("governs instead of with_walls: friction on the walls cannot be counted")
        assert not walled.governing
        return walled.not_applicable

    plain = replace(WALL, adhesion=None)
    unstated = "friction of the ground on the walls is not stated (works.wall.adhesion)"
    assert reason(wall=plain) == unstated
    assert reason(wall=replace(plain, friction_ratio=0.3)) == unstated
    assert reason(wall=None) == "there is no wall beside the plug"
    assert reason(wall=replace(WALL, toe=-9.0)) == "no part of a plug lies inside the walls"
    with pytest.raises(ValueError, match="no member 'with_walls' in this block"):
        MECHANISM.outcome(make_block(wall=None), "with_walls")
    no_plug, none = MECHANISM.members(make_block(aquifer=None, wall=WALL))
    assert none.not_applicable == no_plug.not_applicable == "no confined aquifer is stated under this section"


def carried(span: float, adhesion: float, cells: int = 40) -> float:
    """Return the net uplift per plan area that a plug 1 m thick, of strength 1, brings to its walls.

    A beam of the plug's yield moment between walls that hold its ends by friction and against its thrust: the
    most uniform load, by linear programming over the moments and shears of half the span (lower bound).
    """
    most = 2.0 * 1.0**2 / 4.0
    x = np.linspace(0.0, 0.5 * span, cells)
    # Load q and end moment m: M(x) = m + q (span x - x^2)/2, within the yield moment, shear q span/2 on the wall.
    sag = 0.5 * (span * x - x * x)
    above = np.column_stack([sag, np.ones(cells)])
    limits = np.concatenate([np.full(2 * cells, most), [adhesion]])
    rows = np.vstack([above, -above, [[0.5 * span, 0.0]]])
    # The walls' friction holds no moment at the ends: simple supports.
    found = linprog([-1.0, 0.0], A_ub=rows, b_ub=limits, bounds=[(0.0, None), (0.0, 0.0)])
    return float(-found.fun)


@pytest.mark.parametrize("adhesion", [0.3, 0.6, 1.0])
def test_a_plug_of_the_declared_span_brings_the_friction_to_its_walls(adhesion: float) -> None:
    for span in (0.5, 1.0, SPAN):
        assert carried(span, adhesion) == pytest.approx(2.0 * adhesion / span, rel=1e-6)
    assert carried(1.05 * SPAN / adhesion, adhesion) < 2.0 * adhesion / (1.05 * SPAN / adhesion)


def test_an_aquifers_defect_takes_the_friction_below_it(make_block: Maker) -> None:
    whole = make_block(wall=WALL)
    broken = replace(whole, aquifer=Aquifer(stratum="sand", head=-2.0, reaches=-12.0))
    assert found(broken)["F_i"] == pytest.approx(AROUND * 0.5 * 3.0 * (38.5 + 43.0) / 2.0, rel=1e-12)


def test_the_factor_is_not_on_the_weight_of_the_walls(make_block: Maker) -> None:
    """Walls that begin below the soft clay: 4 m of firm outside, and what they weigh, hold less than is inside."""
    low = make_block(
        wall=replace(WALL, top=-12.0), water_table=-15.0, model_factors={"plug_uplift/with_walls": 0.8}
    )
    weight = (24.0 * 4.0 - GAMMA * 7.0) * 0.8
    assert weight + 0.8 * 0.5 * 240.0 < 0.8 * INNER
    assert found(low)["F"] == pytest.approx(AROUND * (weight + 0.8 * 0.5 * 240.0), rel=1e-12)


def test_the_water_under_the_slab_presses_on_the_walls_toe(make_block: Maker) -> None:
    cast = make_block(wall=WALL, slab=Slab(thickness=1.0, unit_weight=24.0), water_under_slab=0.5)
    assert found(cast)["u_b"] == pytest.approx(GAMMA * 16.5)
    drained = replace(cast, water_under_slab=-12.0)
    assert found(drained)["u_b"] == pytest.approx(GAMMA * 15.0), "the free water outside still stands at -1"


def test_under_a_slab_the_ground_inside_feels_the_water_under_it(make_block: Maker) -> None:
    """Pore pressures to the aquifer: as if that water stood in the open cut; drained, as in a dry cut."""
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=19.0, friction_angle=30.0),
        Stratum(name="clay", top=-11.0, unit_weight=18.0, su_at_top=40.0),
        Stratum(name="silt", top=-14.0, unit_weight=19.0, friction_angle=32.0),
        Stratum(name="sand", top=-20.0, unit_weight=20.0, friction_angle=36.0),
    )
    wall = replace(WALL, friction_ratio=0.3)
    slab = Slab(thickness=1.0, unit_weight=24.0)
    open_cut = make_block(strata=strata, wall=wall, pore_pressure="to_aquifer")
    for under, inside in ((-3.0, -3.0), (-12.0, -9.0)):
        cast = found(replace(open_cut, slab=slab, water_under_slab=under))
        assert cast["F_i"] == pytest.approx(found(replace(open_cut, water_inside=inside))["F_i"], rel=1e-12)
    assert found(replace(open_cut, water_inside=-3.0))["F_i"] > 1.05 * found(open_cut)["F_i"]


def test_a_wall_through_the_plug_counts_the_plug_alone(make_block: Maker) -> None:
    """Toe 2 m into the sand, 11 m of plug inside the walls."""
    through = make_block(wall=replace(WALL, toe=-22.0), options=states(governing="with_walls"))
    rows = MECHANISM.outcome(replace(through, width=np.array([21.9, 22.1])), "with_walls")
    np.testing.assert_array_equal(rows.outside[SPANS], [False, True])
    assert governing(replace(through, width=21.9)) == {"plug": False, "with_walls": True}
    assert governing(replace(through, width=22.1)) == {"plug": True, "with_walls": False}
