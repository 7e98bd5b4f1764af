"""Vertical stresses under any pore pressure: by hand, by quadrature, and as the profile's own under water at rest."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from riskcut.ground import effective_stress as stress
from riskcut.ground import pore_pressure, profile
from riskcut.ground.straight import value_at
from riskcut.study.block import Aquifer, Block, Perched, Stratum

FEW = settings(deadline=None, max_examples=60)
GAMMA = 9.81


def ground(*kinds: tuple[str, float, float]) -> tuple[Stratum, ...]:
    """Return strata from name (clay in its name: undrained), top and unit weight."""
    return tuple(
        Stratum(
            name=name,
            top=top,
            unit_weight=weight,
            su_at_top=50.0 if "clay" in name else None,
            friction_angle=None if "clay" in name else 33.0,
        )
        for name, top, weight in kinds
    )


def cut(strata: tuple[Stratum, ...], **changes) -> Block:
    plain = Block(
        section="a",
        stage="dig",
        width=10.0,
        length=40.0,
        strata=strata,
        formation=-6.0,
        dug=True,
        water_table=-1.0,
        water_inside=-6.0,
        surcharge=0.0,
        temperature_rise=0.0,
    )
    return replace(plain, **changes)


CLAY_OVER_SAND = ground(("clay", 0.0, 18.0), ("sand", -10.0, 20.0))


def test_under_drained_clay_by_hand() -> None:
    """Table at the surface, the aquifer 4 m lower: at -5 the head is -2, at -10 it is -4."""
    of = cut(
        CLAY_OVER_SAND,
        water_table=0.0,
        aquifer=Aquifer(stratum="sand", head=-4.0),
        pore_pressure="to_aquifer",
    )
    parts = stress.layers(of.strata, pore_pressure.outside(of, down_to=-12.0), load=10.0)
    assert stress.total_at(parts, level=-5.0) == pytest.approx(100.0)
    assert stress.effective_at(parts, level=-5.0) == pytest.approx(100.0 - 3.0 * GAMMA)
    assert stress.effective_at(parts, level=-12.0) == pytest.approx(230.0 - 8.0 * GAMMA)
    assert stress.total_integral(parts, upper=0.0, lower=-10.0) == pytest.approx(10.0 * 10.0 + 18.0 * 50.0)
    assert stress.effective_integral(parts, upper=0.0, lower=-10.0) == pytest.approx(
        1000.0 - 0.5 * 6.0 * GAMMA * 10
    )
    assert not stress.lifted(parts)
    assert stress.least(parts) == pytest.approx(10.0)


def test_water_over_the_ground_weighs_and_presses() -> None:
    of = cut(CLAY_OVER_SAND, water_table=2.5)
    parts = stress.layers(of.strata, pore_pressure.outside(of, down_to=-12.0))
    assert stress.total_at(parts, level=-10.0) == pytest.approx(180.0 + 2.5 * GAMMA)
    assert stress.effective_at(parts, level=-10.0) == pytest.approx(10.0 * (18.0 - GAMMA))


def test_perched_water_takes_stress_above_its_bed_alone() -> None:
    strata = ground(("fill", 0.0, 19.0), ("clay", -4.0, 18.0))
    of = cut(strata, water_table=-9.0, perched=Perched(level=-1.0, on="clay"))
    parts = stress.layers(strata, pore_pressure.outside(of, down_to=-6.0))
    assert stress.effective_at(parts, level=-4.0) == pytest.approx(76.0 - 3.0 * GAMMA), "just above the bed"
    assert stress.effective_at(parts, level=-4.0 - 1e-9) == pytest.approx(76.0)


@pytest.mark.parametrize("share", [0.0, 0.7, 1.0, 1.3])
def test_an_artesian_head_at_the_critical_gradient_lifts_the_ground(share: float) -> None:
    """The table at the surface: a head of i L above it with i = gamma'/gamma_w leaves no effective stress."""
    critical = (18.0 - GAMMA) / GAMMA
    of = cut(
        CLAY_OVER_SAND,
        water_table=0.0,
        aquifer=Aquifer(stratum="sand", head=share * critical * 10.0),
        pore_pressure="to_aquifer",
    )
    parts = stress.layers(of.strata, pore_pressure.outside(of, down_to=-10.0))
    for depth in (0.0, 2.0, 10.0):
        left = (1.0 - share) * (18.0 - GAMMA) * depth
        assert stress.effective_at(parts, level=-depth) == pytest.approx(left, abs=1e-10)
    assert bool(stress.lifted(parts)) == (share > 1.0) or share == 1.0
    assert stress.least(parts) == pytest.approx(min(0.0, (1.0 - share) * 81.9), abs=1e-9)
    held = stress.effective_integral(parts, upper=0.0, lower=-10.0, floor=True)
    assert held == pytest.approx(max(0.0, (1.0 - share) * 81.9 * 5.0), abs=1e-9)


def test_the_cut_itself_weighs_nothing_below_it() -> None:
    of = cut(CLAY_OVER_SAND, water_inside=-5.0)
    parts = stress.layers(of.strata, pore_pressure.inside(of, down_to=-12.0))
    assert stress.total_at(parts, level=-10.0) == pytest.approx(GAMMA + 4.0 * 18.0)
    assert stress.effective_at(parts, level=-12.0) == pytest.approx(
        4.0 * (18.0 - GAMMA) + 2.0 * (20.0 - GAMMA)
    )


tenths = st.integers(-150, 10).map(lambda i: i / 10.0)


@st.composite
def blocks(draw: st.DrawFn) -> Block:
    count = draw(st.integers(1, 4))
    tops = [0.0, *sorted((draw(st.integers(-110, -1)) / 10.0 for _ in range(count)), reverse=True)]
    names = [draw(st.sampled_from(["clay", "silt"])) + str(i) for i in range(count)]
    strata = ground(
        *((name, top, draw(st.floats(16.0, 22.0))) for name, top in zip([*names, "sand"], tops, strict=True))
    )
    perched = Perched(level=draw(tenths), on=draw(st.sampled_from(strata)).name)
    return cut(
        strata,
        water_table=draw(tenths),
        aquifer=Aquifer(stratum="sand", head=draw(st.integers(-150, 60)) / 10.0),
        pore_pressure=draw(st.sampled_from(["hydrostatic", "to_aquifer"])),
        perched=draw(st.sampled_from([None, perched])),
    )


def weight_above(strata: tuple[Stratum, ...], level: float) -> float:
    """Return the weight of the ground over a level, layer by layer."""
    ends = [*(s.top for s in strata), -np.inf]
    return sum(
        s.unit_weight * max(top - max(bottom, level), 0.0)
        for s, (top, bottom) in zip(strata, pairwise(ends), strict=True)
    )


@FEW
@given(blocks(), st.integers(-130, 0), st.integers(1, 60))
def test_stresses_by_quadrature(of: Block, bottom: int, height: int) -> None:
    lower, upper = bottom / 10.0, min((bottom + height) / 10.0, 0.0)
    pore = pore_pressure.outside(of, down_to=-14.0)
    parts = stress.layers(of.strata, pore)

    def left(z: float) -> float:
        return weight_above(of.strata, z) + float(pore[0].at_upper) - float(value_at(pore, level=z))

    breaks = {float(z) for p in pore for z in (p.upper, p.lower)} | {float(s.top) for s in of.strata}
    inner = [z for z in sorted(breaks) if lower < z < upper]
    spans = [(a, b) for a, b in pairwise([lower, *inner, upper]) if b - a > 1e-9]
    whole = sum(quad(left, a, b)[0] for a, b in spans)
    kept = sum(quad(lambda z: max(left(z), 0.0), a, b, limit=200)[0] for a, b in spans)
    assert stress.effective_integral(parts, upper=upper, lower=lower) == pytest.approx(
        whole, rel=1e-7, abs=1e-6
    )
    floored = stress.effective_integral(parts, upper=upper, lower=lower, floor=True)
    assert floored == pytest.approx(kept, rel=1e-5, abs=1e-4)
    drained = stress.effective_integral(
        parts, upper=upper, lower=lower, weight=lambda s: 0.0 if s.undrained else 1.0
    )
    tight = stress.effective_integral(
        parts, upper=upper, lower=lower, weight=lambda s: 1.0 if s.undrained else 0.0
    )
    assert drained + tight == pytest.approx(whole, rel=1e-7, abs=1e-6)
    assert stress.effective_at(parts, level=lower) == pytest.approx(left(lower), abs=1e-9)
    assert bool(stress.lifted(parts)) == (stress.least(parts) < 0.0)
    lowest = min(left(z) for z in np.arange(-14.0, 0.0, 0.1) + 1e-7)
    assert stress.least(parts) <= lowest + 1e-9


@FEW
@given(blocks(), tenths, st.integers(-130, 0))
def test_water_at_rest_is_the_profiles_own(of: Block, table: float, bottom: int) -> None:
    at_rest = replace(of, aquifer=None, perched=None, pore_pressure="hydrostatic", water_table=table)
    level = bottom / 10.0
    parts = stress.layers(at_rest.strata, pore_pressure.outside(at_rest, down_to=level))
    own = profile.effective_stress(at_rest.strata, level=level, water_table=table)
    assert stress.effective_at(parts, level=level) == pytest.approx(own, abs=1e-10)
    integral = profile.drained_stress_integral(
        at_rest.strata,
        upper=0.0,
        lower=level,
        stress_at_upper=0.0,
        water_table=table,
        weight=lambda s: s.unit_weight,
    )
    ours = stress.effective_integral(
        parts, upper=0.0, lower=level, weight=lambda s: 0.0 if s.undrained else s.unit_weight
    )
    assert ours == pytest.approx(integral, rel=1e-10, abs=1e-8)


def test_rows_end_exactly_where_they_were_asked_to() -> None:
    """At the lower end no row falls through a gap of the last digit."""
    rng = np.random.default_rng(11)
    rows = 4000
    strata = ground(("clay", 0.0, 18.0), ("silt", 0.0, 19.0), ("sand", 0.0, 20.0))
    tops = (0.0, rng.uniform(-5.0, 0.0, rows), rng.uniform(-12.0, -5.0, rows))
    strata = tuple(replace(s, top=top) for s, top in zip(strata, tops, strict=True))
    of = cut(
        strata,
        water_table=rng.uniform(-6.0, 1.0, rows),
        aquifer=Aquifer(stratum="sand", head=rng.uniform(-9.0, 3.0, rows)),
        pore_pressure="to_aquifer",
    )
    end = rng.uniform(-14.0, -1.0, rows)
    pore = pore_pressure.outside(of, down_to=end)
    parts = stress.layers(strata, pore)
    total = profile.total_stress(strata, upper=0.0, lower=end) + np.maximum(GAMMA * of.water_table, 0.0)
    np.testing.assert_allclose(stress.total_at(parts, level=end), total, rtol=1e-12)
    np.testing.assert_allclose(
        stress.effective_at(parts, level=end), total - value_at(pore, level=end), rtol=1e-9, atol=1e-9
    )
