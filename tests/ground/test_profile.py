"""The profile's integrals against brute force: look the ground up point by point and add.

Levels are multiples of a quarter of a metre, so no cell of the brute-force grid straddles a boundary, and
two Gauss points a cell integrate a straight line or a parabola exactly. The look-up shares no code with
the profile: it walks down from the surface and asks each stratum whether the point is in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from riskcut.ground import profile, reach
from riskcut.study.block import Stratum

CELL = 0.25
FEW = settings(deadline=None, max_examples=80)


@st.composite
def strata(draw: st.DrawFn, *, may_cross: bool = False) -> tuple[Stratum, ...]:
    count = draw(st.integers(1, 5))
    tops = draw(st.lists(st.integers(-60, 20), min_size=count, max_size=count))
    if not may_cross:
        tops = sorted(tops, reverse=True)
    layers = []
    for i, top in enumerate(tops):
        ground = {"name": f"s{i}", "top": top * CELL, "unit_weight": draw(st.floats(12.0, 23.0))}
        if draw(st.booleans()):
            layers.append(
                Stratum(
                    **ground, su_at_top=draw(st.floats(5.0, 80.0)), su_per_metre=draw(st.floats(-0.3, 4.0))
                )
            )
        else:
            layers.append(Stratum(**ground, friction_angle=draw(st.floats(25.0, 42.0))))
    return tuple(layers)


quarters = st.integers(-80, 24).map(lambda q: q * CELL)


def at(layers: tuple[Stratum, ...], level: float) -> Stratum | None:
    """Return the stratum that a point lies in, one that is overtaken by a lower one having no room."""
    found = None
    floor = math.inf
    for layer in layers:
        floor = min(floor, layer.top)
        if level < floor:
            found = layer
    return found


def points(upper: float, lower: float) -> tuple[np.ndarray, float]:
    """Return the two Gauss points of every cell between two levels, and the weight of each."""
    middles = np.arange(lower + 0.5 * CELL, upper, CELL)
    offset = 0.5 * CELL / math.sqrt(3.0)
    return np.sort(np.concatenate([middles - offset, middles + offset])), 0.5 * CELL


def brute(
    layers: tuple[Stratum, ...], upper: float, lower: float, value: Callable[[Stratum, float], float]
) -> float:
    where, weight = points(upper, lower)
    return sum(weight * value(layer, level) for level in where if (layer := at(layers, level)) is not None)


def su(layer: Stratum, level: float) -> float:
    if layer.su_at_top is None:
        return 0.0
    return layer.su_at_top + layer.su_per_metre * (layer.top - level)


@FEW
@given(strata(may_cross=True), quarters, quarters)
def test_integrals_against_brute_force(layers: tuple[Stratum, ...], a: float, b: float) -> None:
    within = {"upper": max(a, b), "lower": min(a, b)}
    undrained = brute(layers, *within.values(), lambda s, _: float(s.undrained))
    drained = brute(layers, *within.values(), lambda s, _: float(not s.undrained))
    weight = brute(layers, *within.values(), lambda s, _: s.unit_weight)
    strength = brute(layers, *within.values(), su)
    assert profile.total_stress(layers, **within) == pytest.approx(weight, rel=1e-9, abs=1e-9)
    assert profile.undrained_thickness(layers, **within) == pytest.approx(undrained, abs=1e-9)
    assert profile.drained_thickness(layers, **within) == pytest.approx(drained, abs=1e-9)
    assert profile.strength_integral(layers, **within) == pytest.approx(strength, rel=1e-9, abs=1e-9)
    for mean, amount, over in (
        (profile.mean_strength(layers, **within), strength, undrained),
        (profile.mean_unit_weight(layers, **within), weight, undrained + drained),
    ):
        if over > 0.0:
            assert mean == pytest.approx(amount / over, rel=1e-9, abs=1e-9)
        else:
            assert math.isnan(mean)


@FEW
@given(strata(), quarters, quarters)
def test_effective_stress_against_brute_force(
    layers: tuple[Stratum, ...], level: float, water_table: float
) -> None:
    surface = layers[0].top
    assume(level <= surface)
    total = brute(layers, surface, level, lambda s, _: s.unit_weight)
    submerged = 9.81 * max(min(water_table, surface) - level, 0.0)
    stress = profile.effective_stress(layers, level=level, water_table=water_table)
    assert stress == pytest.approx(total - submerged, rel=1e-9, abs=1e-9)
    over = profile.drained_stress_integral(
        layers,
        upper=surface,
        lower=level,
        stress_at_upper=0.0,
        water_table=water_table,
        weight=lambda s: s.friction_angle,
    )
    expected = brute(
        layers,
        surface,
        level,
        lambda s, z: (
            (s.friction_angle or 0.0) * profile.effective_stress(layers, level=z, water_table=water_table)
        ),
    )
    assert over == pytest.approx(expected, rel=1e-8, abs=1e-8)


@FEW
@given(strata(), quarters, st.integers(0, 40), st.floats(0.0, 200.0))
def test_stress_below_a_level_where_all_is_submerged(
    layers: tuple[Stratum, ...], upper: float, cells: int, start: float
) -> None:
    assume(upper <= layers[0].top)
    lower = upper - cells * CELL
    over = profile.drained_stress_integral(
        layers,
        upper=upper,
        lower=lower,
        stress_at_upper=start,
        water_table=np.inf,
        weight=lambda _: 1.0,
    )
    # Point by point: the stress at the point is what lies between it and the upper level, less water.
    expected = brute(
        layers,
        upper,
        lower,
        lambda s, z: (
            0.0
            if s.undrained
            else start + profile.total_stress(layers, upper=upper, lower=z) - 9.81 * (upper - z)
        ),
    )
    assert over == pytest.approx(expected, rel=1e-8, abs=1e-8)


@FEW
@given(strata(), quarters)
def test_undrained_depth_is_found_by_walking_down(layers: tuple[Stratum, ...], level: float) -> None:
    assume(level < layers[0].top)
    depth = reach.undrained_depth(layers, level=level)
    steps = 0.0
    while steps < 40.0:
        layer = at(layers, level - steps - 0.5 * CELL)
        if layer is not None and not layer.undrained:
            break
        steps += CELL
    else:
        assert depth == np.inf
        return
    if steps > 0.0:
        assert depth == pytest.approx(steps, abs=1e-12)
    else:
        assert depth <= 0.0
        assert layer is not None
        assert depth == pytest.approx(level - layer.top, abs=1e-12)


@FEW
@given(st.lists(strata(may_cross=True), min_size=1, max_size=1), st.integers(0, 2**32 - 1))
def test_a_row_of_an_array_is_the_number_by_itself(profiles: list[tuple[Stratum, ...]], seed: int) -> None:
    """Every number an array; each row must equal the evaluation of that row's floats."""
    rng = np.random.default_rng(seed)
    rows = 7
    (layers,) = profiles
    moved = tuple(
        Stratum(
            name=s.name,
            top=s.top + rng.normal(0.0, 2.0, rows),
            unit_weight=s.unit_weight + rng.normal(0.0, 0.5, rows),
            su_at_top=None if s.su_at_top is None else s.su_at_top + rng.uniform(0.0, 9.0, rows),
            su_per_metre=s.su_per_metre + rng.uniform(0.0, 1.0, rows),
            friction_angle=None if s.friction_angle is None else s.friction_angle + rng.uniform(-2, 2, rows),
        )
        for s in layers
    )
    upper, lower, table = (
        rng.uniform(-12.0, 6.0, rows),
        rng.uniform(-25.0, -12.0, rows),
        rng.normal(0, 4, rows),
    )

    def row(number: object, i: int) -> object:
        return float(number[i]) if isinstance(number, np.ndarray) else number

    def ask(ground: tuple[Stratum, ...], top: object, bottom: object, wet: object) -> list[object]:
        within = {"upper": top, "lower": bottom}
        return [
            profile.total_stress(ground, **within),
            profile.strength_integral(ground, **within),
            profile.undrained_thickness(ground, **within),
            profile.drained_thickness(ground, **within),
            reach.undrained_depth(ground, level=top),
            profile.effective_stress(ground, level=bottom, water_table=wet),
            profile.drained_stress_integral(
                ground, **within, stress_at_upper=3.0, water_table=wet, weight=lambda s: s.friction_angle
            ),
            profile.crossed(ground),
        ]

    together = ask(moved, upper, lower, table)
    for i in range(rows):
        single = tuple(
            Stratum(**{name: row(getattr(s, name), i) for name in s.__dataclass_fields__}) for s in moved
        )
        alone = ask(single, float(upper[i]), float(lower[i]), float(table[i]))
        for whole, one in zip(together, alone, strict=True):
            assert np.ndim(one) == 0
            np.testing.assert_allclose(np.broadcast_to(whole, rows)[i], one, rtol=1e-12, atol=1e-12)


def test_crossed_strata_are_told_row_by_row() -> None:
    layers = (
        Stratum(name="clay", top=0.0, unit_weight=17.0, su_at_top=20.0),
        Stratum(name="sand", top=np.array([-5.0, 0.0, 0.5]), unit_weight=19.0, friction_angle=35.0),
    )
    np.testing.assert_array_equal(profile.crossed(layers), [False, False, True])
    # The overtaken clay has no thickness, and the sand is not counted above the surface.
    np.testing.assert_allclose(
        profile.total_stress(layers, upper=1.0, lower=-10.0), [5 * 17 + 5 * 19, 190.0, 190.0]
    )


def test_a_divisor_is_positive_or_nan() -> None:
    np.testing.assert_array_equal(profile.positive(np.array([2.0, 0.0, -1.0])), [2.0, np.nan, np.nan])
    assert profile.positive(3.0) == 3.0
