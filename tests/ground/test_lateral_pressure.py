"""Pressure of layered ground on a wall: by hand, by quadrature of random profiles, and row by row."""

from __future__ import annotations

from functools import partial
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from riskcut.ground import effective_stress, lateral_pressure, wall_coefficients
from riskcut.ground.lateral_pressure import Coefficients
from riskcut.ground.resultant import resultant
from riskcut.ground.straight import Piece, integral, value_at
from riskcut.study.block import Stratum

SOME = settings(deadline=None, max_examples=60)
GAMMA = 9.81
ACTIVE = partial(wall_coefficients.active, method="rankine")
PASSIVE = partial(wall_coefficients.passive, method="rankine")


def at_rest(level: float, *, upper: float, lower: float) -> tuple[Piece, ...]:
    """Return the pressure of water at rest under a level that lies within the ground or above it."""
    meets = max(min(level, upper), lower)
    dry = Piece(upper, meets, GAMMA * max(level - upper, 0.0), GAMMA * max(level - meets, 0.0))
    return dry, Piece(meets, lower, dry.at_lower, GAMMA * max(level - lower, 0.0))


SAND_OVER_CLAY = (
    Stratum(name="sand", top=0.0, unit_weight=18.0, friction_angle=30.0),
    Stratum(name="clay", top=-4.0, unit_weight=20.0, su_at_top=30.0, su_per_metre=2.0),
)


def test_sand_over_clay_by_hand() -> None:
    """Water at -2, load 10: the sand 1/3 of its effective stress and the water, the clay its total stress less 2 su."""
    parts = effective_stress.layers(SAND_OVER_CLAY, at_rest(-2.0, upper=0.0, lower=-10.0), load=10.0)
    pressed = lateral_pressure.active(parts, coefficients=ACTIVE)
    assert value_at(pressed, level=0.0) == pytest.approx(10.0 / 3.0)
    assert value_at(pressed, level=-2.0) == pytest.approx(46.0 / 3.0)
    assert value_at(pressed, level=-4.0) == pytest.approx((82.0 - 2 * GAMMA) / 3.0 + 2 * GAMMA)
    assert value_at(pressed, level=-4.0 - 1e-9) == pytest.approx(82.0 - 60.0), (
        "it jumps where the clay begins"
    )
    assert value_at(pressed, level=-10.0) == pytest.approx(82.0 + 120.0 - 2.0 * 42.0)
    sand = 2.0 * (10.0 + 46.0) / 6.0 + 2.0 * (46.0 + 82.0 - 2 * GAMMA) / 6.0 + 0.5 * GAMMA * 4.0
    found = resultant(pressed, about=0.0)
    assert found.force == pytest.approx(sand + 6.0 * 0.5 * (22.0 + 118.0))
    clay = resultant(pressed, about=-4.0, upper=-4.0)
    assert clay.moment == pytest.approx(22.0 * 6.0**2 / 2.0 + 96.0 * 6.0**2 / 3.0)


def test_passive_of_a_cut_by_hand() -> None:
    """Dug to -6 in clay from -4, water 1 m deep in the cut: the strength still hangs on the clay's own top."""
    parts = effective_stress.layers(SAND_OVER_CLAY, at_rest(-5.0, upper=-6.0, lower=-10.0))
    pressed = lateral_pressure.passive(parts, coefficients=PASSIVE)
    assert value_at(pressed, level=-6.0) == pytest.approx(GAMMA + 2.0 * 34.0)
    assert value_at(pressed, level=-10.0) == pytest.approx(GAMMA + 80.0 + 2.0 * 42.0)
    sand = (Stratum(name="sand", top=0.0, unit_weight=19.0, friction_angle=30.0, cohesion=3.0),)
    parts = effective_stress.layers(sand, at_rest(-6.0, upper=-6.0, lower=-8.0))
    pressed = lateral_pressure.passive(parts, coefficients=PASSIVE)
    assert value_at(pressed, level=-6.0) == pytest.approx(2.0 * np.sqrt(3.0) * 3.0)
    assert value_at(pressed, level=-8.0) == pytest.approx(
        3.0 * 2.0 * (19.0 - GAMMA) + 6.0 * np.sqrt(3.0) + 2.0 * GAMMA
    )


def test_ground_that_the_water_lifts_resists_with_its_water_alone() -> None:
    """Artesian water through 4 m of sand: effective stress from 0 to below it; K_p of nothing is nothing."""
    sand = (Stratum(name="sand", top=0.0, unit_weight=19.0, friction_angle=30.0),)
    parts = effective_stress.layers(sand, (Piece(0.0, -4.0, 0.0, 100.0),))
    pressed = lateral_pressure.passive(parts, coefficients=PASSIVE)
    assert resultant(pressed, about=0.0).force == pytest.approx(200.0)
    pressed = lateral_pressure.active(parts, coefficients=ACTIVE)
    assert resultant(pressed, about=0.0).force == pytest.approx(200.0)


def tenths(low: float, high: float):
    """Draw a number of the size and the digits that the trade has: quadrature is no match for 1e-300."""
    return st.integers(round(10 * low), round(10 * high)).map(lambda n: n / 10.0)


levels = tenths(0.1, 6.0)
strata = st.lists(
    st.tuples(
        levels,
        tenths(15.0, 22.0),
        st.booleans(),
        tenths(0.0, 80.0),
        tenths(0.0, 5.0),
        tenths(15.0, 45.0),
    ),
    min_size=1,
    max_size=4,
)
waters = st.lists(st.tuples(levels, tenths(0.0, 80.0), tenths(0.0, 80.0)), min_size=1, max_size=3)


def ground(drawn) -> tuple[Stratum, ...]:
    found, top = [], 0.0
    for thickness, weight, clay, strength, growth, friction in drawn:
        of = (
            {"su_at_top": strength, "su_per_metre": growth}
            if clay
            else {"friction_angle": friction, "cohesion": 0.3 * strength}
        )
        found.append(Stratum(name=str(len(found)), top=top, unit_weight=weight, **of))
        top -= thickness
    return tuple(found)


def pore(drawn) -> tuple[Piece, ...]:
    """Return a pore pressure in straight pieces that jumps between them, with none on the surface."""
    found, top = [], 0.0
    for thickness, at_upper, at_lower in drawn:
        found.append(Piece(top, top - thickness, at_upper if found else 0.0, at_lower))
        top -= thickness
    return tuple(found)


class Definition:
    """The pressure at points of one profile, from the equations and nothing of the code."""

    def __init__(
        self, side: str, layers, water, load: float, least: float, crack_water: float | None
    ) -> None:
        self.side, self.layers, self.water, self.load, self.least = side, layers, water, load, least
        self.crack_water = -1e3 if crack_water is None else crack_water

    def stratum(self, level: float) -> Stratum:
        return next((s for s in reversed(self.layers) if s.top > level), self.layers[0])

    def total(self, level: float) -> float:
        ends = [*(s.top for s in self.layers[1:]), -np.inf]
        return self.load + sum(
            s.unit_weight * max(s.top - max(end, level), 0.0)
            for s, end in zip(self.layers, ends, strict=True)
        )

    def pore(self, level: float) -> float:
        piece = next(p for p in self.water if p.lower <= level <= p.upper)
        return float(np.interp(level, [piece.lower, piece.upper], [piece.at_lower, piece.at_upper]))

    def effective(self, level: float) -> float:
        return self.total(level) - self.pore(level)

    def earth(self, level: float) -> float:
        """Return what the ground alone presses: in total where it is undrained, else in effective stress."""
        stratum = self.stratum(level)
        sign = 1.0 if self.side == "passive" else -1.0
        if stratum.undrained:
            strength = stratum.su_at_top + stratum.su_per_metre * (stratum.top - level)
            return self.total(level) + sign * 2.0 * strength
        tangent = np.tan(np.radians(45.0 + sign * 0.5 * stratum.friction_angle))
        stress = self.effective(level)
        if self.side == "passive":
            stress = max(stress, 0.0)
        return tangent**2 * stress + sign * 2.0 * tangent * stratum.cohesion

    def crack(self, level: float) -> float:
        return GAMMA * (self.crack_water - level)

    def pressure(self, level: float) -> float:
        earth, undrained = self.earth(level), self.stratum(level).undrained
        u = 0.0 if undrained else self.pore(level)
        if self.side == "passive":
            return earth + u
        crack = self.crack(level) if earth < 0.0 else 0.0
        floor = -self.least * level if undrained else 0.0
        return max(max(earth, 0.0) + u, crack, floor)

    def cuts(self, lower: float, upper: float) -> list[float]:
        """Return the levels at which the pressure may bend or jump within a straight stretch, ends included."""
        lines = (
            self.effective,
            self.earth,
            self.crack,
            lambda z: self.earth(z) + self.least * z,
            lambda z: self.crack(z) + self.least * z,
            lambda z: self.crack(z) - self.pore(z),
        )
        found = [lower, upper]
        for line in lines:
            if line(lower) * line(upper) < 0.0:
                found.append(brentq(line, lower, upper, xtol=1e-12))
        return sorted(found)


def compare(side, drawn, wet, load, least, crack_water) -> None:
    """Hold force and moment against quadrature of the pressure at points, stretch by stretch."""
    layers, water = ground(drawn), pore(wet)
    parts = effective_stress.layers(layers, water, load=load)
    if side == "active":
        pressed = lateral_pressure.active(parts, coefficients=ACTIVE, crack_water=crack_water, least=least)
    else:
        pressed = lateral_pressure.passive(parts, coefficients=PASSIVE)
    bottom = water[-1].lower
    ends = {stratum.top for stratum in layers} | {p.upper for p in water} | {bottom}
    at = Definition(side, layers, water, load, least, crack_water)
    force = moment = 0.0
    for lower, upper in pairwise(sorted(z for z in ends if z >= bottom)):
        if upper - lower < 1e-9:
            continue  # one level, reached by two sums
        # Just inside: at an end itself the definition may be the neighbour's.
        for a, b in pairwise(at.cuts(lower + 1e-11, upper - 1e-11)):
            force += quad(at.pressure, a, b)[0]
            moment += quad(lambda z: -z * at.pressure(z), a, b)[0]
    found = resultant(pressed, about=0.0)
    assert found.force == pytest.approx(force, rel=1e-8, abs=1e-7)
    assert found.moment == pytest.approx(moment, rel=1e-8, abs=1e-7)
    assert integral(pressed, upper=0.0, lower=bottom) == pytest.approx(found.force, rel=1e-12)
    assert pressed[0].upper == 0.0
    assert pressed[-1].lower == bottom
    for above, below in pairwise(pressed):
        assert below.upper == above.lower


@pytest.mark.parametrize("side", ["active", "passive"])
@SOME
@given(
    strata,
    waters,
    tenths(0.0, 30.0),
    st.sampled_from([0.0, 5.0]),
    st.one_of(st.none(), tenths(-6.0, 1.0)),
)
def test_integrals_are_those_of_the_definition(side, drawn, wet, load, least, crack_water) -> None:
    compare(side, drawn, wet, load, least, crack_water)


firm = st.lists(
    st.tuples(levels, tenths(15.0, 22.0), st.just(True), tenths(20.0, 60.0), tenths(0.0, 5.0), st.none()),
    min_size=1,
    max_size=2,
)


@settings(deadline=None, max_examples=100)
@given(firm, waters, tenths(0.0, 10.0), tenths(0.0, 6.0), tenths(-3.0, 0.5))
def test_integrals_where_flooded_cracks_meet_the_least_pressure(drawn, wet, load, least, crack_water) -> None:
    compare("active", drawn, wet, load, least, crack_water)


@SOME
@given(strata, tenths(-8.0, 0.0), tenths(-6.0, 1.0))
def test_rows_are_floats_one_by_one(drawn, table, crack_water) -> None:
    """Rows that gape here and not there, with tops that differ: each as if it were alone."""
    plain = ground(drawn)
    scale = np.array([1.0, 0.2, 3.0, 0.0])
    shift = np.array([0.0, 0.7, -0.4, 0.2])

    def strata_of(factor, move) -> tuple[Stratum, ...]:
        return tuple(
            Stratum(
                name=s.name,
                top=s.top + (move * 0.1 if i else 0.0),
                unit_weight=s.unit_weight,
                su_at_top=None if s.su_at_top is None else s.su_at_top * factor,
                su_per_metre=s.su_per_metre,
                friction_angle=s.friction_angle,
                cohesion=s.cohesion * factor,
            )
            for i, s in enumerate(plain)
        )

    def solve(factor, move, water):
        parts = effective_stress.layers(strata_of(factor, move), water, load=5.0)
        options = {"coefficients": ACTIVE, "crack_water": crack_water + move, "least": 5.0 * factor}
        outer = resultant(lateral_pressure.active(parts, **options), about=1.0 + move)
        inner = resultant(lateral_pressure.passive(parts, coefficients=PASSIVE), about=1.0, lower=-7.0 + move)
        dry = resultant(lateral_pressure.active(parts, coefficients=ACTIVE), about=0.0)
        raw = resultant(lateral_pressure.active_unbroken(parts, coefficients=ACTIVE), about=0.0)
        return np.array([*outer, *inner, *dry, *raw])

    singles = [at_rest(table + 0.1 * move, upper=0.0, lower=-10.0) for move in shift]
    rows = tuple(Piece(*(np.array([single[i][j] for single in singles]) for j in range(4))) for i in range(2))
    together = solve(scale, shift, rows)
    for i, single in enumerate(singles):
        alone = solve(float(scale[i]), float(shift[i]), single)
        np.testing.assert_allclose(together[:, i], alone, rtol=1e-11, atol=1e-9)


def test_a_coefficient_without_answer_spoils_its_row_alone() -> None:
    parts = effective_stress.layers(SAND_OVER_CLAY, at_rest(-2.0, upper=0.0, lower=-3.0))
    given = Coefficients(np.array([0.3, np.nan]), 1.0)
    for side in (lateral_pressure.active, lateral_pressure.passive):
        found = resultant(side(parts, coefficients=lambda _: given), about=0.0)
        np.testing.assert_array_equal(np.isnan(found.force), [False, True])


def test_no_layers_no_pressure() -> None:
    assert lateral_pressure.active((), coefficients=ACTIVE) == ()
    assert lateral_pressure.passive((), coefficients=PASSIVE) == ()
    assert resultant((), about=0.0) == (0.0, 0.0)
