"""Rows drawn about places as these become known: weighed as one mixture, however they came together."""

from __future__ import annotations

import numpy as np
import pytest
from importance_cases import design_points, planes, random_directions
from scipy import stats

from riskcut.reliability.mixture import NEAR_SPREAD, Mixture, log_weights
from riskcut.reliability.pilot_rows import PilotRows

ALPHAS = random_directions(3, 4)
PROBABILITIES = np.array([1e-2, 1e-4, 1e-6])
BETAS = stats.norm.isf(PROBABILITIES)
PLACES = [centre.u for centre in design_points(ALPHAS, BETAS)]
FAR = np.array([0.0, 0.0, 9.0, 0.0])


def drawn(seed: int, how: str) -> PilotRows:
    rows = PilotRows(planes(ALPHAS, BETAS), {0: range(3)}, seed=seed)
    if how == "at once":
        rows.about([(512, PLACES)])
    elif how == "one by one":
        for place in PLACES:
            rows.about([(512, [place])])
    elif how == "twice":
        rows.about([(256, PLACES)])
        rows.again(256)
    else:
        rows.about([(512, PLACES[:1]), (256, [*PLACES, FAR])])
    return rows


@pytest.mark.parametrize("how", ["at once", "one by one", "twice", "in groups"])
@pytest.mark.parametrize("places", [None, PLACES])
def test_probabilities_of_planes(how, places):
    found = []
    for seed in range(40):
        rows = drawn(seed, how)
        which, weight = rows.weighed(places)
        failing = [rows.margins[0, k][which] < 0.0 for k in range(3)]
        found.append([*(float(weight[some].sum()) / len(which) for some in failing), weight.mean()])
    error = np.std(found, axis=0, ddof=1) / np.sqrt(len(found))
    assert np.all(np.abs(np.mean(found, axis=0) - [*PROBABILITIES, 1.0]) < 4.0 * error)
    assert np.all(error[:3] < 0.03 * PROBABILITIES)


def test_nothing_is_drawn_about_a_place_twice_but_when_asked():
    rows = drawn(1, "at once")
    count = len(rows)
    assert not rows.about([(512, PLACES)])
    assert not rows.about([(512, [PLACES[0] + 1e-12])])
    assert len(rows) == count
    assert rows.about([(512, [FAR, *PLACES])])
    assert 512 <= len(rows) - count <= 600
    count = len(rows)
    rows.again(100)
    assert len(rows) - count == 5 * 100


def test_a_group_has_as_many_rows_as_it_says():
    rows = PilotRows(planes(ALPHAS, BETAS), {0: range(3)}, seed=1)
    rows.about([(600, PLACES[:1]), (100, PLACES)])
    about = np.bincount((rows._part + 2) // 3)  # of the nominal density, and of each place
    assert np.all(np.abs(about - [600, 600, 100, 100]) <= 3)


def test_rows_of_a_part_of_the_places_and_their_ratios():
    rows = drawn(3, "in groups")
    which, weight = rows.weighed(PLACES[:2])
    assert set(rows._part[which]) == set(range(7))
    ratios = rows.log_ratios([PLACES[1], PLACES[1]], which)
    np.testing.assert_allclose(ratios, Mixture([PLACES[1]] * 2).log_ratios(rows.u[which]), atol=1e-6)
    everything = rows.weighed()[1][which] * len(which) / len(rows)
    assert np.all(everything <= weight * (1.0 + 1e-9))  # what else was drawn about only adds to the density


def test_a_near_copy_is_short_of_its_plane_and_has_the_density_that_it_is_drawn_from():
    """Its second moments, and the integral of its density over nominal rows, are known exactly."""
    centre = np.array([1.0, 0.0, -0.5])
    mixture = Mixture([centre], [0.1, 0.0, 0.0, 0.9])
    draw = mixture.draw(seed=1, purpose="near", index=0)
    u = draw.u[draw.counts[0] :]
    along = u @ centre / np.linalg.norm(centre) - np.linalg.norm(centre)
    assert np.all(along < 1e-12)
    assert np.mean(along**2) == pytest.approx(NEAR_SPREAD**2, rel=0.05)
    assert np.mean(u[:, 1] ** 2) == pytest.approx(1.0, rel=0.05)
    nominal = np.random.default_rng(2).standard_normal((400_000, 3))
    density = np.exp(mixture.log_ratios(nominal)[3])
    assert density.mean() == pytest.approx(1.0, abs=5.0 * density.std() / np.sqrt(len(density)))
    by_hand = 2.0 * stats.norm.pdf(nominal[:, 0], centre[0], NEAR_SPREAD) / stats.norm.pdf(nominal[:, 0])
    by_hand *= stats.norm.pdf(nominal[:, 2], centre[2], NEAR_SPREAD) / stats.norm.pdf(nominal[:, 2])
    short = nominal @ centre < centre @ centre
    np.testing.assert_allclose(density, np.where(short, by_hand, 0.0), rtol=1e-9)


def test_the_origin_as_a_place_has_three_times_the_nominal_density():
    mixture = Mixture(np.zeros((1, 2)), [0.1, 0.3, 0.3, 0.3])
    draw = mixture.draw(seed=1, purpose="near", index=0, rows=100)
    assert np.array_equal(draw.log_ratios, np.zeros((4, 100)))
    assert np.allclose(log_weights(draw.log_ratios, draw.counts / 100), 0.0)
    assert abs(np.mean(draw.u)) < 0.3


def test_no_more_than_is_of_use_about_very_many_places():
    places = list(5.0 * random_directions(200, 40))
    rows = PilotRows(planes(random_directions(1, 40), [4.0]), {0: [0]}, seed=1)
    rows.about([(1024, places)])
    assert len(rows) <= 32_768 + 200
    rows.about([(1024, list(6.0 * random_directions(10, 40)))])
    assert len(rows) <= 32_768 + 200 + 11 * 32 / 0.9 + 10
