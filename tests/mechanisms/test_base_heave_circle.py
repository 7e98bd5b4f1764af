"""The circle about the lowest prop: against a search that integrates along the arc, closed forms, and shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from riskcut.mechanisms import heave_turning
from riskcut.mechanisms.base_heave import MECHANISM
from riskcut.mechanisms.heave_circle import arc_strength
from riskcut.mechanisms.heave_common import TOE_BELOW, TOE_IN_CLAY
from riskcut.mechanisms.heave_turning import FITS, PROP_ABOVE
from riskcut.study.block import Block, EdgeLoad, Stratum, Wall

Maker = Callable[..., Block]


def strength_at(strata: Sequence[Stratum], level: float) -> float:
    """Return the undrained strength at a level by looking up the stratum."""
    if level > strata[0].top:
        return 0.0
    holding = [s for s in strata if s.top >= level][-1]
    if holding.su_at_top is None:
        return 0.0
    return holding.su_at_top + holding.su_per_metre * (holding.top - level)


def along_the_arc(strata: Sequence[Stratum], *, centre: float, radius: float, rise: float) -> float:
    """Return the strength over the angle by adaptive quadrature, stratum by stratum."""
    end = np.pi / 2.0 + np.arccos(rise / radius)
    depths = [(centre - s.top) / radius for s in strata]
    first = [np.arcsin(d) for d in depths if 0.0 < d < 1.0]
    breaks = sorted(a for a in (0.0, end, *first, *(np.pi - a for a in first)) if a <= end)
    return sum(
        quad(lambda a: strength_at(strata, centre - radius * np.sin(a)), low, high)[0]
        for low, high in pairwise(breaks)
    )


def steps_of(block: Block, member: str = "circle") -> dict:
    return {step.symbol: step.value for step in MECHANISM.outcome(block, member).steps}


@settings(deadline=None, max_examples=60)
@given(
    tops=st.lists(st.floats(0.5, 6.0), min_size=1, max_size=3),
    strengths=st.lists(st.tuples(st.floats(5.0, 90.0), st.floats(-2.0, 4.0)), min_size=4, max_size=4),
    drained=st.integers(0, 3),
    centre=st.floats(-8.0, 1.0),
    radius=st.floats(3.0, 25.0),
    share=st.floats(0.0, 0.95),
)
def test_the_arc_is_integrated_exactly(tops, strengths, drained, centre, radius, share):
    levels = -np.concatenate([[0.0], np.cumsum(tops)])
    strata = tuple(
        Stratum(name=str(i), top=float(top), unit_weight=18.0, friction_angle=30.0)
        if i == drained
        else Stratum(name=str(i), top=float(top), unit_weight=18.0, su_at_top=su, su_per_metre=growth)
        for i, (top, (su, growth)) in enumerate(zip(levels, strengths, strict=False))
    )
    place = {"centre": centre, "radius": radius, "rise": share * radius}
    expected = along_the_arc(strata, **place)
    assert arc_strength(strata, **place) == pytest.approx(expected, rel=1e-7, abs=1e-6)


def test_a_stratum_that_is_overtaken_has_no_part_of_the_arc():
    layers = [(0.0, 20.0), (-9.0, 300.0), (-4.0, 50.0)]
    crossed = tuple(
        Stratum(name=str(i), top=t, unit_weight=18.0, su_at_top=s) for i, (t, s) in enumerate(layers)
    )
    without = (crossed[0], replace(crossed[2], top=-9.0))
    place = {"centre": -2.0, "radius": 12.0, "rise": 4.0}
    assert arc_strength(crossed, **place) == pytest.approx(arc_strength(without, **place), rel=1e-12)


def uniform(make_block: Maker, *, su: float = 40.0, **changes) -> Block:
    clay = Stratum(name="clay", top=0.0, unit_weight=17.0, su_at_top=su)
    return make_block(**{"strata": (clay,), "aquifer": None, "width": 30.0, **changes})


def test_uniform_clay_has_a_closed_form(make_block: Maker):
    """R = 2 su (pi/2 + arccos(h/X)), with X 9.5 and h 2.5: the circle through the toe governs."""
    for bending in (None, 0.0):
        block = uniform(make_block, wall=Wall(toe=-16.0, thickness=0.8, bending_resistance=bending))
        outcome = MECHANISM.outcome(block, "circle")
        expected = 2.0 * 40.0 * (np.pi / 2.0 + np.arccos(2.5 / 9.5))
        assert outcome.resistance == pytest.approx(expected, rel=1e-12)
        assert outcome.action == pytest.approx(9.0 * 17.0 + 10.0, rel=1e-12)
        assert steps_of(block)["X"] == pytest.approx(9.5)


def test_a_prop_at_formation_gives_two_pi(make_block: Maker):
    block = uniform(make_block)
    block = replace(block, props=(replace(block.props[-1], level=-9.0),))
    assert MECHANISM.outcome(block, "circle").resistance == pytest.approx(2.0 * np.pi * 40.0, rel=1e-12)


def test_moments_over_half_the_square_of_the_radius(make_block: Maker):
    """The two moments about the prop, by hand, fail the same as the two pressures."""
    block = make_block(wall=Wall(toe=-16.0, thickness=0.8, bending_resistance=600.0), width=30.0)
    outcome, steps = MECHANISM.outcome(block, "circle"), steps_of(block)
    radius = steps["X"]
    arc = along_the_arc(block.strata, centre=-6.5, radius=radius, rise=2.5)
    driving = (9.0 * 17.0 + 10.0) * radius**2 / 2.0
    holding = radius**2 * arc + 600.0
    assert outcome.resistance / outcome.action == pytest.approx(holding / driving, rel=1e-7)
    bending = Wall(toe=-16.0, thickness=0.8, bending_resistance=600.0)
    firm = uniform(make_block, width=9.0, wall=bending)  # no room for a larger circle
    whole, half = (
        MECHANISM.outcome(replace(firm, model_factors={"base_heave/circle": theta}), "circle").resistance
        for theta in (1.0, 0.5)
    )
    wall = 2.0 * 600.0 / 9.5**2
    assert whole == pytest.approx(2.0 * half - wall, rel=1e-12), "the factor is on the soil, not on the wall"


CASES = {
    "soft below": ((0.0, 60.0, 0.0), (-14.0, 55.0, 0.0), (-17.0, 18.0, 0.0), (-24.0, 90.0, 0.0)),
    "falling": ((0.0, 70.0, -1.6), (-20.0, 38.0, 0.0)),
    "rising": ((0.0, 20.0, 2.0), (-15.0, 60.0, 1.0)),
}


@pytest.mark.parametrize("bending", [None, 1500.0])
@pytest.mark.parametrize("toe", [-16.0, -10.0])
@pytest.mark.parametrize("name", CASES)
def test_the_search_finds_the_worst_circle(make_block: Maker, name: str, toe: float, bending: float | None):
    """Against 300 radii and more, each integrated along its arc: never worse than theirs, and within 2 %.

    About a short wall the worst circle may be many times larger than the one through its toe.
    """
    strata = tuple(
        Stratum(name=str(i), top=top, unit_weight=17.0, su_at_top=su, su_per_metre=growth)
        for i, (top, su, growth) in enumerate(CASES[name])
    )
    wall = Wall(toe=toe, thickness=0.8, bending_resistance=bending)
    block = make_block(strata=strata, aquifer=None, width=28.0, wall=wall)
    outcome = MECHANISM.outcome(block, "circle")
    smallest, largest = -6.5 - toe, np.hypot(28.0, 2.5)
    touching = [-6.5 - s.top for s in strata if smallest < -6.5 - s.top < largest]
    found = [
        2.0 * along_the_arc(strata, centre=-6.5, radius=x, rise=2.5) + 2.0 * (bending or 0.0) / x**2
        for x in np.union1d(np.linspace(smallest, largest, 300), touching)
    ]
    assert outcome.resistance >= min(found) * (1.0 - 1e-4)
    assert outcome.resistance <= 1.02 * min(found)
    if name == "rising" and bending is None:
        assert outcome.resistance == pytest.approx(found[0], rel=1e-7)
        assert steps_of(block)["X"] == smallest
    if name == "soft below":
        assert outcome.resistance < 0.9 * found[0], "the circle through the toe does not govern"
        assert steps_of(block)["X"] > 11.0


def test_no_search_is_wanted_where_the_strength_never_falls(
    make_block: Maker, monkeypatch: pytest.MonkeyPatch
):
    """Skipping the search and making it give the same, to the last bit, in every row."""
    rng = np.random.default_rng(5)
    rows = 400
    upper = Stratum(
        name="soft",
        top=0.0,
        unit_weight=17.0,
        su_at_top=rng.uniform(10.0, 40.0, rows),
        su_per_metre=rng.uniform(0.0, 1.0, rows),
    )
    firm = Stratum(name="firm", top=rng.uniform(-15.0, -7.0, rows), unit_weight=19.0, su_at_top=60.0)
    block = make_block(strata=(upper, firm), aquifer=None, width=rng.uniform(9.0, 40.0, rows))
    skipped = MECHANISM.outcome(block, "circle")
    asked = []
    monkeypatch.setattr(heave_turning, "strength_falls", lambda *_, **__: asked.append(True) or True)
    made = MECHANISM.outcome(block, "circle")
    assert asked
    np.testing.assert_array_equal(skipped.resistance, made.resistance)


def test_the_search_ends_at_drained_ground_and_at_the_far_side(make_block: Maker):
    soft, _, sand = make_block().strata
    falling = replace(soft, su_at_top=60.0, su_per_metre=-2.5)
    block = make_block(strata=(falling, replace(sand, top=-18.0)), width=40.0)
    assert steps_of(block)["X"] == pytest.approx(18.0 - 6.5), "down to the sand"
    narrow = make_block(strata=(falling, replace(sand, top=-30.0)), width=10.0)
    assert steps_of(narrow)["X"] == pytest.approx(np.hypot(10.0, 2.5)), "up at the far side"


@pytest.mark.parametrize("rise", [0.0, 2.5, 6.0])
def test_the_load_is_the_moment_of_the_ground_and_a_little_more(make_block: Maker, rise: float):
    """Weight inside the arc, column by column on either side of the prop: short of the form by gamma h^3/6."""
    block = uniform(make_block, surcharge=0.0)
    block = replace(block, props=(replace(block.props[-1], level=-9.0 + rise),))
    radius = steps_of(block)["X"]
    outside = quad(lambda x: x * 17.0 * (9.0 - rise + np.sqrt(radius**2 - x**2)), 0.0, radius)[0]
    inside = quad(lambda x: x * 17.0 * (np.sqrt(radius**2 - x**2) - rise), 0.0, np.sqrt(radius**2 - rise**2))[
        0
    ]
    moment = MECHANISM.outcome(block, "circle").action * radius**2 / 2.0
    assert moment - (outside - inside) == pytest.approx(17.0 * rise**3 / 6.0, abs=1e-5 * moment)


def test_edge_loads_count_by_their_moment(make_block: Maker):
    load = EdgeLoad(name="crane", pressure=60.0, distance=2.0, width=3.0)
    block = uniform(make_block, edge_loads=(load,))
    steps = steps_of(block)
    radius = steps["X"]
    moment = 60.0 * 3.0 * 3.5
    expected = 9.0 * 17.0 + 10.0 + moment / (radius**2 / 2.0)
    assert MECHANISM.outcome(block, "circle").action == pytest.approx(expected, rel=1e-12)
    far = replace(load, distance=1000.0)
    assert MECHANISM.outcome(replace(block, edge_loads=(far,)), "circle").action == pytest.approx(163.0)
    patch = replace(load, length=10.0)
    part = MECHANISM.outcome(replace(block, edge_loads=(patch,)), "circle").action - 163.0
    assert part == pytest.approx((steps["S"] - 163.0) * 10.0 / 40.0, rel=0.05)


def test_drained_strata_on_the_arc_give_nothing(make_block: Maker):
    soft, firm, _ = make_block().strata
    seam = Stratum(name="seam", top=-11.0, unit_weight=17.0, friction_angle=33.0)
    none = replace(seam, friction_angle=None, su_at_top=0.0)
    with_seam = make_block(strata=(soft, seam, firm), aquifer=None, width=30.0)
    with_none = make_block(strata=(soft, none, firm), aquifer=None, width=30.0)
    assert steps_of(with_seam)["R_a"] == pytest.approx(steps_of(with_none)["R_a"], rel=1e-12)


def test_limits_of_the_range_are_told(make_block: Maker):
    base = make_block(width=30.0)
    wall = replace(base.wall, toe=np.array([-16.0, -9.0, -21.0, -16.0]))
    props = (replace(base.props[-1], level=np.array([-6.5, -6.5, -6.5, -9.5])),)
    outcome = MECHANISM.outcome(replace(base, wall=wall, props=props), "circle")
    np.testing.assert_array_equal(outcome.outside[TOE_BELOW], [False, True, False, False])
    np.testing.assert_array_equal(outcome.outside[TOE_IN_CLAY], [False, False, True, False])
    np.testing.assert_array_equal(outcome.outside[PROP_ABOVE], [False, False, False, True])
    assert np.all(np.isfinite(outcome.resistance)), "told, not lost"
    narrow = MECHANISM.outcome(make_block(width=np.array([9.1, 9.2])), "circle")
    np.testing.assert_array_equal(narrow.outside[FITS], [True, False])
