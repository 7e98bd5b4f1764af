"""Load sharing: exact resultants, and equilibrium as a whole and about every hinge."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.mechanisms.spans import Diagram, Piece, line_loads, resultant, spans

FEW = settings(deadline=None, max_examples=80)
# Hundredths, so that nothing is measured in denormal numbers.
pressures = st.integers(-2_000, 12_000).map(lambda p: p / 100.0)


def depths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(100 * low), round(100 * high)).map(lambda z: z / 100.0)


@st.composite
def diagrams(draw: st.DrawFn, depth: float) -> Diagram:
    knots = [0.0, *sorted(draw(st.lists(depths(0.0, depth), max_size=4))), depth]
    return tuple(Piece(upper, lower, draw(pressures), draw(pressures)) for upper, lower in pairwise(knots))


@st.composite
def cuts(draw: st.DrawFn) -> tuple[Diagram, list[float], float]:
    gaps = draw(st.lists(depths(0.5, 5.0), min_size=2, max_size=6))
    levels = list(np.cumsum(gaps))
    return draw(diagrams(levels[-1])), [float(z) for z in levels[:-1]], float(levels[-1])


@FEW
@given(diagrams(10.0), depths(-2.0, 12.0), depths(-2.0, 12.0))
def test_resultant_is_the_integral(diagram: Diagram, a: float, b: float) -> None:
    upper, lower = min(a, b), max(a, b)
    force, moment = resultant(diagram, upper=upper, lower=lower)
    nodes, weights = np.polynomial.legendre.leggauss(3)
    expected_force = expected_moment = 0.0
    for piece in diagram:
        start, end = max(piece.upper, upper), min(piece.lower, lower)
        if end <= start:
            continue
        z = 0.5 * (start + end) + 0.5 * (end - start) * nodes
        p = np.interp(z, [piece.upper, piece.lower], [piece.pressure_upper, piece.pressure_lower])
        expected_force += 0.5 * (end - start) * float(weights @ p)
        expected_moment += 0.5 * (end - start) * float(weights @ (p * z))
    assert force == pytest.approx(expected_force, rel=1e-9, abs=1e-7)
    assert moment == pytest.approx(expected_moment, rel=1e-9, abs=1e-7)


@FEW
@given(cuts(), st.sampled_from(["to_formation", "overhang"]))
def test_reactions_balance_force_and_moment(cut: tuple[Diagram, list[float], float], lowest: str) -> None:
    diagram, props, base = cut
    if lowest == "overhang" and len(props) == 1:
        lowest = "to_formation"
    sharing = {"props": props, "base": base, "lowest_span": lowest}
    loads = line_loads(diagram, **sharing)
    force, moment = resultant(diagram, upper=-np.inf, lower=np.inf)
    scale = 120.0 * base * base
    assert sum(loads) == pytest.approx(force, abs=1e-9 * scale)
    supports = props if lowest == "overhang" else [*props, base]
    about_surface = sum(r * z for r, z in zip(loads, supports, strict=True))
    assert about_surface == pytest.approx(moment, abs=1e-9 * scale * base)


@FEW
@given(cuts(), st.sampled_from(["to_formation", "overhang"]))
def test_every_hinge_is_free_of_moment(cut: tuple[Diagram, list[float], float], lowest: str) -> None:
    diagram, props, base = cut
    hinges = range(1, len(props) if lowest == "to_formation" else len(props) - 1)
    loads = line_loads(diagram, props=props, base=base, lowest_span=lowest)
    for hinge in hinges:
        force, moment = resultant(diagram, upper=-np.inf, lower=props[hinge])
        above = sum(loads[i] * (props[hinge] - props[i]) for i in range(hinge))
        assert force * props[hinge] - moment == pytest.approx(above, abs=1e-9 * 120.0 * base**2)


def test_one_prop_with_an_overhang_takes_everything() -> None:
    diagram = (Piece(0.0, 8.0, 10.0, 30.0),)
    one = {"props": [2.0], "base": 8.0, "lowest_span": "overhang"}
    assert line_loads(diagram, **one)[0] == pytest.approx(160.0)
    assert spans(**one) == ()
    with pytest.raises(ValueError, match="needs a prop"):
        spans(props=[], base=8.0, lowest_span="overhang")


def test_an_overhang_may_pull_and_misordered_supports_give_nan() -> None:
    top_heavy = (Piece(0.0, 2.0, 50.0, 50.0),)
    second = line_loads(top_heavy, props=[3.0, 5.0], base=9.0, lowest_span="to_formation")[1]
    assert second == pytest.approx(100.0 * (1.0 - 3.0) / 2.0)
    depths = [3.0, np.array([5.0, 3.0, 2.0])]
    crossed = line_loads(top_heavy, props=depths, base=9.0, lowest_span="to_formation")[0]
    np.testing.assert_array_equal(np.isnan(crossed), [False, True, True])


def test_a_piece_without_length_carries_nothing() -> None:
    lower = np.array([4.0, 2.0])
    force, moment = resultant((Piece(2.0, lower, 5.0, 5.0),), upper=0.0, lower=9.0)
    np.testing.assert_allclose(force, [10.0, 0.0])
    np.testing.assert_allclose(moment, [30.0, 0.0])
