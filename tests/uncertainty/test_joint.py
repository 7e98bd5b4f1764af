"""The joint distribution: dependence, groups, shared drivers, and the bits of a row."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from riskcut.uncertainty.joint import DependenceError, Joint, normal_correlation
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

MARGINALS = [
    Lognormal(mean=30.0, sd=9.0),
    Normal(mean=17.0, sd=0.7),
    Uniform(low=-1.0, high=2.0),
    Gumbel(mean=1.1, sd=0.35),
    Lognormal(mean=1.0, sd=0.15),
    Gumbel(mean=1.1, sd=0.35),
]


def tied(size: int, *pairs: tuple[int, int, float]) -> np.ndarray:
    matrix = np.eye(size)
    for i, j, rho in pairs:
        matrix[i, j] = matrix[j, i] = rho
    return matrix


CORRELATED = Joint(MARGINALS, correlation=tied(6, (0, 4, 0.5), (4, 5, -0.6), (1, 3, 0.3)))


def draws(rows: int, columns: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((columns, rows)).T


def test_groups_are_the_connected_components():
    assert CORRELATED.groups == ((0, 4, 5), (1, 3), (2,))
    assert Joint(MARGINALS).groups == ((0,), (1,), (2,), (3,), (4,), (5,))
    assert (CORRELATED.columns, CORRELATED.drivers) == (6, 6)


def test_correlate_is_the_cholesky_factor_of_the_matrix():
    w = draws(500, 6)
    exact = w @ np.linalg.cholesky(CORRELATED.correlation).T
    np.testing.assert_allclose(CORRELATED.correlate(w), exact, rtol=0, atol=1e-14)


def test_correlations_come_out():
    w = draws(200_000, 6)
    measured = np.corrcoef(CORRELATED.correlate(w), rowvar=False)
    assert np.abs(measured - CORRELATED.correlation).max() < 5 / math.sqrt(200_000)


def test_a_stated_correlation_of_values_comes_out():
    a, b = MARGINALS[0], MARGINALS[3]
    joint = Joint([a, b], correlation=tied(2, (0, 1, normal_correlation(a, b, 0.6))))
    x = joint.physical(joint.correlate(draws(400_000, 2)))
    assert np.corrcoef(x, rowvar=False)[0, 1] == pytest.approx(0.6, abs=0.006)
    np.testing.assert_allclose(x.mean(axis=0), [a.mean, b.mean], rtol=0.005)
    np.testing.assert_allclose(x.std(axis=0), [a.sd, b.sd], rtol=0.02)


def test_uncorrelated_columns_are_left_alone():
    w = draws(100, 6)
    kept = w.copy()
    z = CORRELATED.correlate(w)
    np.testing.assert_array_equal(w, kept)
    for first_of_its_group in (0, 1, 2):
        assert z[:, first_of_its_group].tobytes() == w[:, first_of_its_group].tobytes()
    plain = Joint(MARGINALS)
    assert plain.correlate(w) is w


def test_in_place_and_for_some_drivers_only():
    w = draws(100, 6)
    whole = CORRELATED.correlate(w)
    some = CORRELATED.correlate(w, drivers=[1, 5])
    for driver in range(6):
        expected = w if driver in (3, 4) else whole  # 3 and 4 are tied but not asked for
        assert some[:, driver].tobytes() == expected[:, driver].tobytes()
    inside = w.copy(order="F")
    assert CORRELATED.correlate(inside, out=inside) is inside
    assert inside.tobytes() == np.asfortranarray(whole).tobytes()


def test_two_columns_of_one_driver_are_fully_dependent():
    joint = Joint(MARGINALS, driver=[0, 1, 2, 3, 0, 3])
    assert (joint.columns, joint.drivers) == (6, 4)
    z = joint.correlate(draws(1000, 4))
    x = joint.physical(z)
    assert x[:, 3].tobytes() == x[:, 5].tobytes()
    np.testing.assert_array_equal(np.argsort(x[:, 0]), np.argsort(x[:, 4]))
    np.testing.assert_allclose(MARGINALS[4].to_normal(x[:, 4]), z[:, 0], atol=1e-12)


def test_chosen_columns_in_the_order_asked_for():
    z = CORRELATED.correlate(draws(200, 6))
    x = CORRELATED.physical(z)
    assert x.flags.f_contiguous
    assert x.shape == (200, 6)
    some = CORRELATED.physical(z, [5, 0])
    assert some.flags.f_contiguous
    np.testing.assert_array_equal(some, x[:, [5, 0]])
    assert CORRELATED.physical(z, []).shape == (200, 0)
    used = np.full((2, 200), np.nan).T
    assert CORRELATED.physical(z, [5, 0], out=used) is used
    np.testing.assert_array_equal(used, some)


def test_the_bits_of_a_row_do_not_depend_on_the_other_rows_or_the_layout():
    w = draws(8192, 6, seed=7)
    w[5, 3], w[17, 5], w[8000, 3] = 20.0, -30.0, np.nan  # rows that leave the fast path
    whole = CORRELATED.physical(CORRELATED.correlate(w))
    for rows in (slice(0, 100), slice(0, 1), slice(3, 10), slice(17, 18), slice(4001, 8192)):
        for layout in (np.asfortranarray, np.ascontiguousarray):
            part = layout(w[rows])
            x = CORRELATED.physical(CORRELATED.correlate(part))
            assert x.tobytes() == whole[rows].tobytes(), rows
    strided = np.zeros((16384, 12))[::2, ::2]
    strided[...] = w
    assert CORRELATED.physical(CORRELATED.correlate(strided)).tobytes() == whole.tobytes()


@settings(deadline=None, max_examples=30)
@given(data=st.data(), size=st.integers(2, 9))
def test_any_positive_definite_matrix(data, size):
    seed = data.draw(st.integers(0, 10_000))
    rng = np.random.default_rng(seed)
    loadings = rng.standard_normal((size, size + 1))
    covariance = loadings @ loadings.T
    scale = 1 / np.sqrt(np.diagonal(covariance))
    matrix = covariance * scale[:, None] * scale[None, :]
    matrix = (matrix + matrix.T) / 2
    np.fill_diagonal(matrix, 1.0)
    # some block structure, shuffled
    cut = data.draw(st.integers(1, size - 1))
    matrix[:cut, cut:] = matrix[cut:, :cut] = 0.0
    order = rng.permutation(size)
    matrix = matrix[np.ix_(order, order)]
    joint = Joint([Normal(mean=0.0, sd=1.0)] * size, correlation=matrix)
    # every unit vector: the columns of L
    factor = joint.correlate(np.eye(size)).T
    w = rng.standard_normal((size, 5)).T
    kept = w.copy()
    np.testing.assert_allclose(joint.uncorrelate(joint.correlate(w)), kept, atol=1e-9)
    np.testing.assert_array_equal(w, kept)
    np.testing.assert_allclose(factor @ factor.T, matrix, atol=1e-13)
    assert sorted(k for group in joint.groups for k in group) == list(range(size))
    for group in joint.groups:
        sides = {bool(order[k] >= cut) for k in group}
        assert len(sides) == 1


@pytest.mark.parametrize(
    ("matrix", "words"),
    [
        (
            tied(3, (0, 1, 0.9), (1, 2, 0.9), (0, 2, -0.5)),
            r"drivers 0, 1, 2 contradict .* eigenvalue is -0\.547",
        ),
        (
            tied(2, (0, 1, 1.0)),
            "smallest eigenvalue is 0; variables that are fully dependent read one driver",
        ),
        (tied(2, (0, 1, 1.2)), r"smallest eigenvalue is -0\.2"),
        (
            np.array([[1.0, 0.2], [0.3, 1.0]]),
            "not symmetric: drivers 0 and 1 have 0.2 one way and 0.3 the other",
        ),
        (np.array([[1.0, 0.2], [0.2, 0.9]]), "ones on its diagonal"),
        (tied(2, (0, 1, math.nan)), "not finite"),
        (np.ones((2, 3)), "2 x 3; 2 drivers want it square"),
    ],
)
def test_refused_matrices(matrix, words):
    with pytest.raises(DependenceError, match=words):
        Joint([Normal(mean=0.0, sd=1.0)] * len(matrix), correlation=matrix)


def test_smallest_eigenvalue_by_hand():
    # equicorrelated, n = 4: eigenvalues 1 + 3 rho and 1 - rho
    matrix = np.full((4, 4), -0.4)
    np.fill_diagonal(matrix, 1.0)
    with pytest.raises(DependenceError, match=r"smallest eigenvalue is -0\.2\b"):
        Joint([Normal(mean=0.0, sd=1.0)] * 4, correlation=matrix)


def test_drivers_that_do_not_fit():
    with pytest.raises(ValueError, match="want a driver each"):
        Joint(MARGINALS, driver=[0, 1])
    with pytest.raises(ValueError, match="column 1 reads driver 2; there are drivers 0 to 1"):
        Joint(MARGINALS[:2], driver=[0, 2], correlation=np.eye(2))
    with pytest.raises(ValueError, match=r"\(n, 6\) array is wanted"):
        CORRELATED.correlate(np.zeros((5, 4)))


def test_the_matrix_cannot_be_changed_afterwards():
    matrix = tied(2, (0, 1, 0.5))
    joint = Joint(MARGINALS[:2], correlation=matrix)
    matrix[0, 1] = 0.9
    assert joint.correlation[0, 1] == 0.5
    with pytest.raises(ValueError, match="read-only"):
        joint.correlation[0, 1] = 0.9


def design_point(limit_state, size: int) -> np.ndarray:
    """Nearest point of the failure surface to the origin, by a general optimiser."""
    found = minimize(
        lambda u: 0.5 * float(u @ u),
        np.full(size, 0.1),
        jac=lambda u: u,
        constraints={"type": "eq", "fun": limit_state},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 200},
    )
    return found.x


def test_design_point_of_liu_lin_and_der_kiureghian():
    # Liu, Lin & Der Kiureghian (1989), report UCB/SEMM-89/18, Example 2: FORM with the exact Nataf
    # correlations 1.772773 (recomputed; printed 1.772397 with the fitted factors), x* (632, 2320, 4.526)
    low = 5.0 - 0.5 * math.sqrt(3.0)
    marginals = [
        Lognormal(mean=500.0, sd=100.0),
        Lognormal(mean=2000.0, sd=400.0),
        Uniform(low=low, high=5.0 + 0.5 * math.sqrt(3.0)),
    ]
    matrix = np.eye(3)
    for i, j, rho in ((0, 1, 0.3), (0, 2, 0.2), (1, 2, 0.2)):
        matrix[i, j] = matrix[j, i] = normal_correlation(marginals[i], marginals[j], rho)
    joint = Joint(marginals, correlation=matrix)

    def limit_state(u: np.ndarray) -> float:
        x1, x2, x3 = joint.physical(joint.correlate(u[None, :]))[0]
        return 1.0 - x2 / (1000.0 * x3) - (x1 / (200.0 * x3)) ** 2

    nearest = design_point(limit_state, 3)
    assert float(np.linalg.norm(nearest)) == pytest.approx(1.772773, abs=2e-5)
    x = joint.physical(joint.correlate(nearest[None, :]))[0]
    np.testing.assert_allclose(x, [632.0, 2320.0, 4.526], rtol=1e-3)


@pytest.mark.parametrize(
    ("weights", "beta"),
    [
        # Madsen, Krenk & Lind (1986), Methods of Structural Safety, Example 5.9: a frame's three mechanisms
        ((1, 1, 0, 1, 1, -5, 0), 2.7118),
        ((1, 0, 2, 2, 1, -5, -5), 2.8825),
        ((0, 1, 2, 1, 0, 0, -5), 3.4375),
    ],
)
def test_design_points_of_madsen_krenk_and_lind(weights, beta):
    strength = Lognormal(mean=134.9, sd=13.49)
    joint = Joint([strength] * 5 + [Lognormal(mean=50.0, sd=15.0), Lognormal(mean=40.0, sd=12.0)])
    nearest = design_point(
        lambda u: float(joint.physical(joint.correlate(u[None, :]))[0] @ np.array(weights)), 7
    )
    assert float(np.linalg.norm(nearest)) == pytest.approx(beta, abs=6e-5)
