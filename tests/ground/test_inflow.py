"""Inflow: fragments, layers, Dupuit and floors against finite differences, hand sums and published forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from finite_differences import solved
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import solveh_banded
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from riskcut.ground import inflow, seepage
from riskcut.study.block import Stratum


def sand(name: str, top: float, permeability: float | None) -> Stratum:
    return Stratum(name=name, top=top, unit_weight=19.0, friction_angle=34.0, permeability=permeability)


def clay(name: str, top: float, permeability: float | None = None) -> Stratum:
    return Stratum(name=name, top=top, unit_weight=19.0, su_at_top=50.0, permeability=permeability)


def flow_by_differences(*, cell: float, **shape: float) -> float:
    """Return the flow into half a cut, over permeability and head: what leaves through the surface inside."""
    field = solved(cell=cell, **shape)
    return float(2.0 * field.head[field.dug, field.left :].sum())


@pytest.mark.parametrize(
    ("step", "inside", "half_width", "thickness"),
    [(4.0, 4.0, 12.0, 20.0), (8.0, 4.0, 6.0, 24.0), (2.0, 8.0, 4.0, 20.0), (6.0, 6.0, 20.0, 16.0)],
)
def test_flow_round_a_wall_against_finite_differences(step, inside, half_width, thickness):
    """Cells of 1 and 0.5 m carried to none; ground without end outside is 60 m of it. Fragments err by 2 %."""
    shape = {"step": step, "inside": inside, "half_width": half_width, "thickness": thickness, "reach": 60.0}
    coarse, fine = (flow_by_differences(cell=cell, **shape) for cell in (1.0, 0.5))
    forms = seepage.into_a_cut(
        outside=step + inside, inside=inside, thickness=thickness - step, half_width=half_width
    )
    ours = inflow.round_a_wall(
        permeability=1.0, head=1.0, form_outside=forms.form_outside, form_inside=forms.form_inside
    )
    print(f"fragments {ours:.4f}, differences {2.0 * fine - coarse:.4f}")
    assert ours == pytest.approx(2.0 * fine - coarse, rel=0.03)


@pytest.mark.parametrize(
    ("step", "inside", "half_width", "thickness", "least", "most"),
    [
        (4.0, 4.0, 20.0, 60.0, 0.95, 1.05),
        (4.0, 4.0, 40.0, 60.0, 0.95, 1.05),
        (8.0, 8.0, 30.0, 100.0, 0.95, 1.05),
        (12.0, 4.0, 40.0, 160.0, 0.95, 1.05),
        (0.0, 8.0, 80.0, 80.0, 0.95, 1.05),
        (0.0, 4.0, 100.0, 100.0, 0.95, 1.05),
        (4.0, 4.0, 4.0, 60.0, 1.0, 1.25),
        (12.0, 4.0, 4.0, 120.0, 1.0, 1.25),
        (0.0, 6.0, 3.0, 60.0, 1.0, 1.40),
    ],
)
def test_flow_in_deep_ground_against_finite_differences(step, inside, half_width, thickness, least, most):
    """Much of what flows into a wide cut comes from further down than its heads feel: never much too little."""
    shape = {"step": step, "inside": inside, "half_width": half_width, "thickness": thickness}
    coarse, fine = (flow_by_differences(cell=cell, reach=3.0 * thickness, **shape) for cell in (2.0, 1.0))
    forms = seepage.into_a_cut(
        outside=step + inside,
        inside=inside,
        thickness=thickness - step,
        half_width=half_width,
        felt=seepage.felt_by_flow(outside=step + inside, half_width=half_width),
    )
    ours = inflow.round_a_wall(
        permeability=1.0, head=1.0, form_outside=forms.form_outside, form_inside=forms.form_inside
    )
    print(f"fragments {ours:.4f}, differences {2.0 * fine - coarse:.4f}")
    assert least < ours / (2.0 * fine - coarse) < most


def test_flow_through_layers_by_hand():
    """3 m at 1e-8 and 2 m at 5e-9 m/s under 7 m of head: 7e8 s in all, 1e-8 m/s, over 400 m2 14.4 l/h."""
    strata = (clay("upper", 0.0, 1e-8), clay("lower", -3.0, 5e-9), sand("deep", -5.0, None))
    found = inflow.hindrance(strata, upper=0.0, lower=-5.0)
    assert found == pytest.approx(7e8)
    assert inflow.hindrance(strata, upper=-2.0, lower=-8.0) == pytest.approx(1e8 + 4e8)
    assert 3600.0 * inflow.through_layers(head=7.0, hindrance=found, area=400.0) == pytest.approx(0.0144)


def radial_by_differences(
    layers: list[tuple[float, float, float]], *, outer: float, inner: float, radius: float, far: float
) -> float:
    """Return the flow to a well through level layers (bottom, top, permeability), heads level over the depth.

    Cells on a logarithmic radius, their transmissivity with the water at hand, solved until it stands still.
    """
    faces = np.geomspace(radius, far, 301)
    centres = np.sqrt(faces[:-1] * faces[1:])
    places = np.concatenate([[radius], centres, [far]])
    head = np.linspace(inner, outer, places.size)
    for _ in range(200):
        between = 0.5 * (head[:-1] + head[1:])
        carried = sum(k * np.clip(between - bottom, 0.0, top - bottom) for bottom, top, k in layers)
        conductance = 2.0 * np.pi * carried / np.log(places[1:] / places[:-1])
        main = conductance[:-1] + conductance[1:]
        beside = np.concatenate([[0.0], -conductance[1:-1]])
        known = np.zeros(main.size)
        known[0], known[-1] = conductance[0] * inner, conductance[-1] * outer
        new = np.concatenate([[inner], solveh_banded([beside, main], known), [outer]])
        if np.max(np.abs(new - head)) < 1e-10:
            break
        head = new
    return float(conductance[0] * (head[1] - head[0]))


@pytest.mark.parametrize("inner", [-18.0, -13.0, -9.0])
@pytest.mark.parametrize("outer", [-7.0, -3.0, 1.0])
def test_radial_flow_in_layers_against_finite_differences(inner, outer):
    """Water table in the fill, in the gravel, and confined above the ground: potentials are exact."""
    strata = (
        sand("fill", 0.0, 2e-6),
        sand("gravel", -5.0, 4e-4),
        sand("sand", -11.0, 3e-5),
        clay("base", -20.0),
    )
    layers = [(-5.0, 0.0, 2e-6), (-11.0, -5.0, 4e-4), (-20.0, -11.0, 3e-5)]
    ours = inflow.through_the_sides(
        outside=inflow.discharge_potential(strata, base=-20.0, level=outer),
        inside=inflow.discharge_potential(strata, base=-20.0, level=inner),
        radius=10.0,
        reach=190.0,
    )
    theirs = radial_by_differences(layers, outer=outer, inner=inner, radius=10.0, far=200.0)
    assert ours == pytest.approx(theirs, rel=1e-3)


@settings(deadline=None, max_examples=40)
@given(
    st.floats(0.1, 30.0), st.floats(0.0, 0.999) | st.just(1.0), st.floats(1e-7, 1e-3), st.floats(1.0, 50.0)
)
def test_uniform_ground_is_dupuit_and_thiem(height, share, permeability, radius):
    strata = (sand("sand", 0.0, permeability), clay("base", -40.0))
    outer, inner = -40.0 + height, -40.0 + share * height
    reach = inflow.influence(drawdown=outer - inner, permeability=permeability)
    ours = inflow.through_the_sides(
        outside=inflow.discharge_potential(strata, base=-40.0, level=outer),
        inside=inflow.discharge_potential(strata, base=-40.0, level=inner),
        radius=radius,
        reach=reach,
    )
    spread = math.log1p(reach / radius)
    expected = math.pi * permeability * (height**2 - (share * height) ** 2) / spread if spread > 0.0 else 0.0
    assert ours == pytest.approx(expected, rel=1e-6, abs=1e-12)
    confined = inflow.discharge_potential(strata, base=-40.0, level=3.0)
    over = inflow.discharge_potential(strata, base=-40.0, level=5.0)
    assert over - confined == pytest.approx(permeability * 40.0 * 2.0), "confined: transmissivity times head"


def test_what_carries_no_water_counts_for_none():
    strata = (sand("fill", 0.0, 1e-5), clay("clay", -4.0, 1e-6), sand("unknown", -8.0, None))
    assert inflow.discharge_potential(strata, base=-12.0, level=-1.0) == pytest.approx(1e-5 * 4.5)
    assert inflow.discharge_potential(strata, base=-12.0, level=-6.0) == 0.0


def disc_by_differences(cells: int, box: float) -> float:
    """Return the flow into a disc of radius 1 in the tight surface of deep ground, head and permeability 1.

    Rings that grow away from the disc's edge, in a box whose far sides are at the head of afar.
    """
    grown = np.cumsum(np.concatenate([[0.0], 1.06 ** np.arange(cells)]))
    fine = 1.0 - (grown / grown[-1])[::-1]
    beyond = np.cumsum(np.concatenate([[0.0], 1.06 ** np.arange(2 * cells)]))
    radii = np.concatenate([fine, 1.0 + (box - 1.0) * beyond[1:] / beyond[-1]])
    depths = box * beyond / beyond[-1]
    middle, down = 0.5 * (radii[:-1] + radii[1:]), 0.5 * (depths[:-1] + depths[1:])
    number = np.arange(middle.size * down.size).reshape(down.size, middle.size)
    area = np.pi * (radii[1:] ** 2 - radii[:-1] ** 2)
    height = np.diff(depths)
    level = 2.0 * np.pi * height[:, None] / np.log(middle[1:] / middle[:-1])[None, :]
    upright = area[None, :] / np.diff(down)[:, None]
    one = np.concatenate([number[:, :-1].ravel(), number[:-1].ravel()])
    other = np.concatenate([number[:, 1:].ravel(), number[1:].ravel()])
    each = np.concatenate([level.ravel(), upright.ravel()])
    diagonal, known = np.zeros(number.size), np.zeros(number.size)
    np.add.at(diagonal, one, each)
    np.add.at(diagonal, other, each)
    disc = middle < 1.0
    into = area[disc] / down[0]
    diagonal[number[0, disc]] += into
    far = 2.0 * np.pi * height / np.log(radii[-1] / middle[-1])
    below = area / (depths[-1] - down[-1])
    for cells_at, conductance in ((number[:, -1], far), (number[-1], below)):
        diagonal[cells_at] += conductance
        known[cells_at] += conductance
    every = np.arange(number.size)
    entries = np.concatenate([-each, -each, diagonal])
    places = (np.concatenate([one, other, every]), np.concatenate([other, one, every]))
    head = spsolve(coo_matrix((entries, places), shape=(number.size, number.size)).tocsr(), known)
    return float(into @ head[number[0, disc]])


def test_flow_into_a_floor_against_finite_differences():
    """From afar the disc is a sink in a half-space: at the box's radius some 1/(2 pi R) of the head is left."""
    box = 40.0
    theirs = disc_by_differences(60, box)
    near = 1.0 / theirs + 1.0 / (2.0 * np.pi * 1.1 * box)
    ours = inflow.through_the_floor(permeability=1.0, radius=1.0, drawdown=1.0)
    print(f"disc {ours:.4f}, differences {1.0 / near:.4f}")
    assert ours == pytest.approx(1.0 / near, rel=0.004)


def test_reach_and_radius_by_hand():
    assert inflow.influence(drawdown=4.0, permeability=1e-4) == pytest.approx(120.0)
    assert inflow.equivalent_radius(width=np.pi, length=9.0) == pytest.approx(3.0)
