"""Pore pressures by hand, against a column of finite differences, and against scipy's quadrature."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from finite_differences import column_heads
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from riskcut.ground import pore_pressure, water
from riskcut.ground.straight import Piece, floored, integral, value_at
from riskcut.study.block import Aquifer, Block, Perched, Stratum

FEW = settings(deadline=None, max_examples=60)
GAMMA = 9.81


def clay(top: float, **more) -> Stratum:
    return Stratum(name=f"clay{top:g}", top=top, unit_weight=18.0, su_at_top=40.0, **more)


def sand(top: float, name: str = "", **more) -> Stratum:
    return Stratum(name=name or f"sand{top:g}", top=top, unit_weight=20.0, friction_angle=34.0, **more)


def block(*strata: Stratum, **changes) -> Block:
    """Return a 6 m cut, the table a metre down."""
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


def under_drained(*strata: Stratum, head: float, **changes) -> Block:
    return block(*strata, aquifer=Aquifer(stratum="sand", head=head), pore_pressure="to_aquifer", **changes)


def outside(of: Block, level: float, down_to: float = -30.0) -> float:
    return float(value_at(pore_pressure.outside(of, down_to=down_to), level=level))


@pytest.mark.parametrize("table", [2.0, 0.0, -1.0, -7.5, -40.0])
def test_hydrostatic_is_water_at_rest(table: float) -> None:
    found = pore_pressure.outside(block(clay(0.0), sand(-10.0), water_table=table), down_to=-30.0)
    for level in (0.0, -0.5, -7.5, -10.0, -22.0, -30.0):
        at_rest = water.pressure(head=table, elevation=level)
        assert value_at(found, level=level) == pytest.approx(at_rest, rel=1e-13, abs=1e-12)
    thrust = water.thrust(head=table, upper=-2.0, lower=-20.0)
    assert integral(found, upper=-2.0, lower=-20.0) == pytest.approx(thrust, rel=1e-13, abs=1e-12)


def test_in_hydrostatic_ground_the_pressure_jumps_at_the_aquifer() -> None:
    of = block(clay(0.0), sand(-10.0, "sand"), aquifer=Aquifer(stratum="sand", head=2.0))
    assert outside(of, -10.0) == pytest.approx(9.0 * GAMMA)
    assert outside(of, -10.0 - 1e-9) == pytest.approx(12.0 * GAMMA)
    assert outside(of, -14.0) == pytest.approx(16.0 * GAMMA)


def test_perched_water_stands_on_its_stratum_and_nothing_hangs_below_it() -> None:
    of = block(sand(0.0), clay(-3.0), sand(-5.0), water_table=-8.0, perched=Perched(level=-1.0, on="clay-3"))
    assert [outside(of, z) for z in (-0.5, -2.0, -3.0)] == pytest.approx([0.0, GAMMA, 2.0 * GAMMA])
    assert [outside(of, z) for z in (-3.001, -6.0, -8.0)] == [0.0, 0.0, 0.0]
    assert outside(of, -10.0) == pytest.approx(2.0 * GAMMA)
    flooded = replace(of, perched=Perched(level=0.5, on="clay-3"))
    assert outside(flooded, 0.0) == pytest.approx(0.5 * GAMMA)


def test_perched_water_merges_with_the_table_above_its_bed() -> None:
    strata = (sand(0.0), clay(-3.0), sand(-5.0))
    of = block(*strata, water_table=-2.0, perched=Perched(level=-1.0, on="clay-3"))
    assert [outside(of, z) for z in (-2.0, -3.0)] == pytest.approx([GAMMA, 2.0 * GAMMA])
    assert outside(of, -3.0 - 1e-9) == pytest.approx(GAMMA)
    for level in (-1.0, -2.0, -20.0):
        none = replace(of, water_table=-1.0, perched=Perched(level=level, on="clay-3"))
        for z in (0.0, -2.5, -9.0):
            assert outside(none, z) == pytest.approx(outside(replace(none, perched=None), z), abs=1e-12)


def test_an_under_drained_clay_by_hand() -> None:
    """9 m of clay below the table lose 5 m: 5/9 a metre. In the sand the water is at rest."""
    of = under_drained(clay(0.0), sand(-10.0, "sand"), head=-6.0)
    levels = (0.0, -1.0, -5.5, -10.0, -12.0)
    by_hand = (0.0, 0.0, 4.5 * 4.0 / 9.0, 4.0, 6.0)
    assert [outside(of, z) for z in levels] == pytest.approx([GAMMA * u for u in by_hand], abs=1e-12)


def test_a_clay_over_an_aquifer_that_is_drawn_down_below_its_top_holds_no_pressure() -> None:
    of = under_drained(clay(0.0), sand(-10.0, "sand"), head=-13.0)
    assert [outside(of, z) for z in (-4.0, -10.0, -13.0)] == pytest.approx([0.0] * 3, abs=1e-12)
    assert outside(of, -15.0) == pytest.approx(2.0 * GAMMA)
    flooded = replace(of, water_table=3.0)
    assert outside(flooded, -5.0) == pytest.approx(0.5 * 3.0 * GAMMA), "from the flood's to air at the sand"


def test_drained_ground_above_keeps_the_free_waters_head_and_below_the_aquifers() -> None:
    of = under_drained(sand(0.0, "fill"), clay(-4.0), sand(-10.0, "silt"), sand(-13.0, "sand"), head=3.0)
    by_hand = {-4.0: 3.0, -7.0: 3.0 + 3.0 + 2.0, -10.0: 13.0, -12.0: 15.0, -20.0: 23.0}
    for level, head in by_hand.items():
        assert outside(of, level) == pytest.approx(GAMMA * head), level


def test_where_all_is_drained_the_drained_ground_loses_the_head() -> None:
    of = under_drained(sand(0.0, "fill"), sand(-5.0, "silt"), sand(-11.0, "sand"), head=-6.0)
    assert outside(of, -6.0) == pytest.approx(GAMMA * 2.5)
    finer = (sand(0.0, "fill", permeability=1e-4), sand(-5.0, "silt", permeability=1e-6))
    of = under_drained(*finer, sand(-11.0, "sand"), head=-6.0)
    lost = 5.0 * (4.0 / 1e-4) / (4.0 / 1e-4 + 6.0 / 1e-6)
    assert outside(of, -5.0) == pytest.approx(GAMMA * (4.0 - lost))


def test_a_table_below_the_aquifers_top_leaves_the_ground_above_it_dry() -> None:
    of = under_drained(clay(0.0), sand(-10.0, "sand"), head=-4.0, water_table=-12.0)
    assert outside(of, -9.0) == 0.0
    assert outside(of, -11.0) == pytest.approx(7.0 * GAMMA)


def test_perched_water_over_an_under_drained_clay() -> None:
    of = under_drained(
        sand(0.0, "fill"),
        clay(-3.0),
        sand(-13.0, "sand"),
        head=-8.0,
        water_table=-5.0,
        perched=Perched(level=-1.0, on="clay-3"),
    )
    assert [outside(of, z) for z in (-3.0, -4.0, -5.0)] == pytest.approx([2.0 * GAMMA, 0.0, 0.0], abs=1e-12)
    assert outside(of, -9.0) == pytest.approx(GAMMA * 2.5), "half of the way, half of the pressure"


def test_inside_the_cut() -> None:
    of = under_drained(clay(0.0), sand(-16.0, "sand"), head=-2.0)
    dry = pore_pressure.inside(of, down_to=-20.0)
    assert [float(value_at(dry, level=z)) for z in (-6.0, -11.0, -16.0, -18.0)] == pytest.approx(
        [0.0, 7.0 * GAMMA, 14.0 * GAMMA, 16.0 * GAMMA], abs=1e-12
    )
    wet = pore_pressure.inside(of, down_to=-20.0, level=-4.0)
    assert [float(value_at(wet, level=z)) for z in (-6.0, -11.0)] == pytest.approx([2.0 * GAMMA, 8.0 * GAMMA])
    at_rest = pore_pressure.inside(replace(of, pore_pressure="hydrostatic"), down_to=-20.0)
    assert float(value_at(at_rest, level=-16.0)) == pytest.approx(10.0 * GAMMA)
    assert float(value_at(at_rest, level=-16.1)) == pytest.approx(14.1 * GAMMA)


def test_an_unknown_stratum_is_named() -> None:
    with pytest.raises(ValueError, match="'gravel'"):
        pore_pressure.outside(block(clay(0.0), aquifer=Aquifer(stratum="gravel", head=0.0)), down_to=-3.0)


metres = st.floats(0.5, 8.0)


@st.composite
def columns(draw: st.DrawFn) -> tuple[Stratum, ...]:
    """Return up to four layers over the sand of the aquifer, at least one of them clay."""
    tops = np.cumsum([0.0, *(-draw(metres) for _ in range(draw(st.integers(1, 4))))])
    kinds = [draw(st.booleans()) for _ in tops[1:]]
    kinds[draw(st.integers(0, len(kinds) - 1))] = True
    stated = draw(st.booleans())
    layers = []
    for i, (top, tight) in enumerate(zip(tops[:-1], kinds, strict=True)):
        k = 10.0 ** draw(st.floats(-9.5, -8.0)) if stated and tight else None
        layers.append(replace(clay(top) if tight else sand(top), name=f"s{i}", permeability=k))
    return (*layers, sand(float(tops[-1]), "sand"))


@FEW
@given(columns(), st.floats(0.0, 6.0), st.floats(-0.5, 6.0))
def test_steady_flow_by_finite_differences(strata: tuple[Stratum, ...], table: float, head: float) -> None:
    """Drained ground a million times as permeable; no head low enough for suction."""
    base = strata[-1].top
    of = under_drained(*strata, head=head, water_table=table)
    ends = [s.top for s in strata]
    permeable = [1e-2 if not s.undrained else s.permeability or 1e-8 for s in strata[:-1]]
    levels, heads = column_heads(ends=ends, permeability=permeable, first=table, last=head)
    ours = np.array([outside(of, z, down_to=base) for z in levels])
    np.testing.assert_allclose(ours, GAMMA * np.maximum(heads - levels, 0.0), atol=0.02)


@FEW
@given(columns(), st.floats(-9.0, 2.0), st.floats(-20.0, 5.0))
def test_an_aquifer_under_the_tables_own_head_is_hydrostatic(
    strata: tuple[Stratum, ...], table: float, level: float
) -> None:
    assume(table > strata[-1].top)
    same = under_drained(*strata, head=table, water_table=table)
    at_rest = replace(same, pore_pressure="hydrostatic")
    assume(level < 0.0)
    assert outside(same, level) == pytest.approx(outside(at_rest, level), abs=1e-11)


@FEW
@given(columns(), st.floats(-9.0, 2.0), st.floats(-25.0, 6.0), st.floats(-20.0, 0.0))
def test_the_profile_has_no_gap_and_no_jump(
    strata: tuple[Stratum, ...], table: float, head: float, down_to: float
) -> None:
    assume(table > strata[-1].top)
    of = under_drained(*strata, head=head, water_table=table)
    pieces = pore_pressure.outside(of, down_to=down_to)
    assert (pieces[0].upper, pieces[-1].lower) == (0.0, down_to)
    real = [p for p in pieces if p.upper > p.lower]
    for above, below in pairwise(pieces):
        assert above.lower == below.upper
    for above, below in pairwise(real):
        assert above.at_lower == pytest.approx(below.at_upper, abs=1e-9)
    assert all(min(p.at_upper, p.at_lower) >= 0.0 for p in real)


@FEW
@given(columns(), st.data())
def test_higher_water_never_presses_less(strata: tuple[Stratum, ...], data: st.DataObject) -> None:
    draw, low = data.draw, strata[-1].top
    of = under_drained(
        *strata,
        head=draw(st.floats(-25.0, 6.0)),
        water_table=draw(st.floats(low, 2.0)),
        perched=Perched(level=draw(st.floats(low, 1.0)), on=draw(st.sampled_from(strata[:-1])).name),
    )
    rise = draw(st.floats(0.0, 5.0))
    aquifer, perched = of.aquifer, of.perched
    assert aquifer is not None
    assert perched is not None
    for higher in (
        replace(of, water_table=of.water_table + rise),
        replace(of, aquifer=replace(aquifer, head=aquifer.head + rise)),
        replace(of, perched=replace(perched, level=perched.level + rise)),
    ):
        for z in np.linspace(0.0, low - 4.0, 23):
            assert outside(higher, z) >= outside(of, z) - 1e-9


@FEW
@given(columns(), st.floats(-9.0, 2.0), st.floats(-25.0, 6.0), st.integers(-112, 0), st.integers(0, 36))
def test_the_integral_by_quadrature(
    strata: tuple[Stratum, ...], table: float, head: float, bottom: int, height: int
) -> None:
    of = under_drained(*strata, head=head, water_table=table)
    of = replace(of, perched=Perched(level=0.4, on=strata[0 if len(strata) < 3 else 1].name))
    lower, upper = 0.25 * bottom, min(0.25 * (bottom + height), 0.0)
    pieces = pore_pressure.outside(of, down_to=-30.0)
    breaks = sorted({float(z) for p in pieces for z in (p.upper, p.lower) if lower < z < upper})
    whole = sum(
        quad(lambda z: float(value_at(pieces, level=z)), a, b)[0]
        for a, b in pairwise([lower, *breaks, upper])
        if b - a > 1e-9
    )
    assert integral(pieces, upper=upper, lower=lower) == pytest.approx(whole, rel=1e-7, abs=1e-6)
    assert integral(pieces, upper=lower, lower=upper) == 0.0 or upper == lower


def test_rows_are_rows() -> None:
    rng = np.random.default_rng(5)
    rows = 60
    table, head = rng.uniform(-12.0, 2.0, rows), rng.uniform(-20.0, 5.0, rows)
    tops = rng.uniform(-6.0, 0.0, rows), rng.uniform(-14.0, -6.0, rows)
    perched, formation = rng.uniform(-8.0, 1.0, rows), rng.uniform(-8.0, -1.0, rows)

    def made(pick: slice | int) -> Block:
        return under_drained(
            sand(0.0, "fill"),
            replace(clay(0.0), name="clay", top=tops[0][pick]),
            sand(tops[1][pick], "sand"),
            head=head[pick],
            water_table=table[pick],
            perched=Perched(level=perched[pick], on="clay"),
            formation=formation[pick],
            water_inside=formation[pick],
        )

    together = made(slice(None))
    for z in (0.0, -3.0, -7.7, -15.0):
        out = np.broadcast_to(value_at(pore_pressure.outside(together, down_to=-16.0), level=z), rows)
        within = np.broadcast_to(value_at(pore_pressure.inside(together, down_to=-16.0), level=z), rows)
        for i in range(rows):
            alone = made(i)
            assert out[i] == pytest.approx(outside(alone, z, -16.0), rel=1e-12, abs=1e-12)
            one = value_at(pore_pressure.inside(alone, down_to=-16.0), level=z)
            assert within[i] == pytest.approx(float(one), rel=1e-12, abs=1e-12)


def test_a_piece_is_cut_where_it_crosses_zero() -> None:
    whole = Piece(0.0, np.array([-4.0, -4.0, -4.0]), np.array([-1.0, 3.0, 2.0]), np.array([3.0, -1.0, 4.0]))
    pieces = floored(whole)
    assert integral(pieces, upper=0.0, lower=-4.0) == pytest.approx(np.array([4.5, 4.5, 12.0]))
    assert value_at(pieces, level=-0.5) == pytest.approx(np.array([0.0, 2.5, 2.25]))
    assert value_at((), level=0.0) == 0.0
    assert value_at(pieces, level=-4.1) == pytest.approx(np.zeros(3))
