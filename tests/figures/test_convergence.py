"""The figure of convergence: estimate, band, zero counts as bounds, and the target as a probability."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure
from scipy import special

from riskcut.figures import convergence as module
from riskcut.figures.multiples import places_of
from riskcut.figures.series import AT_MOST
from riskcut.results.reading import estimate
from riskcut.results.status import Status


def line(axes, label):
    found = [one for one in axes.lines if one.get_label() == label]
    assert len(found) <= 1
    return found[0] if found else None


def stored(tree, place):
    group = tree["convergence"].dataset
    return (
        group["convergence_failure_probability"].values[place.at],
        group["convergence_failure_probability_bounds"].values[place.at],
    )


def test_line_and_band_are_the_record(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure, ["uplift/plug"])[0]
    estimates, bounds = stored(tree, places_of(tree, ["uplift/plug"])[0])
    drawn = line(axes, "estimate")
    np.testing.assert_array_equal(drawn.get_xdata(), tree["sample_size"].values)
    np.testing.assert_array_equal(drawn.get_ydata(), estimates)
    band = next(c for c in axes.collections if c.get_label() == "95 % interval")
    corners = {tuple(corner) for path in band.get_paths() for corner in path.vertices}
    for rows, (lower, upper) in zip(tree["sample_size"].values.astype(float), bounds, strict=True):
        assert (rows, lower) in corners
        assert (rows, upper) in corners
    assert line(axes, "less than") is None


def test_both_axes_are_logarithmic_and_hold_everything(trees, figure):
    tree = trees(1, 8)
    names = module.sheets(tree)[0]
    for axes, place in zip(module.draw(tree, figure, names), places_of(tree, names), strict=True):
        assert axes.get_xscale() == axes.get_yscale() == "log"
        estimates, bounds = stored(tree, place)
        low, high = axes.get_ylim()
        seen = estimates > 0
        assert low <= min([*bounds[seen, 0], *bounds[:, 1]])
        assert high >= bounds[:, 1].max()


def test_zero_counts_are_bounds_and_nothing_else(trees, figure):
    tree = trees(1, 8)
    names = [n for n in module.sheets(tree)[0] if n in ("prop_overload/lower", "trench/slurry")]
    assert len(names) == 2
    for axes, place in zip(module.draw(tree, figure, names), places_of(tree, names), strict=True):
        estimates, bounds = stored(tree, place)
        none = estimates == 0
        arrows = line(axes, "less than")
        assert arrows.get_marker() is AT_MOST
        np.testing.assert_array_equal(arrows.get_xdata(), tree["sample_size"].values[none])
        np.testing.assert_array_equal(arrows.get_ydata(), bounds[none, 1])
        assert np.isnan(np.asarray(line(axes, "estimate").get_ydata())[none]).all()
        band = next(c for c in axes.collections if c.get_label() == "95 % interval")
        xs = {x for path in band.get_paths() for x, _ in path.vertices}
        assert not xs & set(tree["sample_size"].values[none].astype(float))


def test_target_is_the_probability_of_its_index(trees, figure):
    tree = trees(1, 12)
    names = ["uplift/plug", "tension_piles/shaft"]
    for axes, place in zip(module.draw(tree, figure, names), places_of(tree, names), strict=True):
        beta = tree["reliability"].dataset["target_reliability_index"].values[place.section, place.stage]
        drawn = line(axes, "target").get_ydata()
        np.testing.assert_allclose(drawn, special.ndtr(-beta), rtol=1e-12)


def test_no_target_no_line(box, figure):
    box["reliability"].dataset["target_reliability_index"].values[:] = np.nan
    axes = module.draw(box, figure, ["uplift/plug"])[0]
    assert line(axes, "target") is None
    assert "no target" in module.alternative_text(box, ["uplift/plug"])


def test_missing_record_is_said(box, figure):
    place = places_of(box, ["uplift/plug"])[0]
    group = box["convergence"].dataset
    group["convergence_failure_probability"].values[place.at] = np.nan
    group["convergence_failure_probability_bounds"].values[place.at] = np.nan
    axes = module.draw(box, figure, ["uplift/plug"])[0]
    assert any("no record" in text.get_text() for text in axes.texts)


def test_all_rows_failing_still_has_a_range(box, figure):
    place = places_of(box, ["uplift/plug"])[0]
    group = box["convergence"].dataset
    group["convergence_failure_probability"].values[place.at] = 1.0
    group["convergence_failure_probability_bounds"].values[place.at] = (0.9999, 1.0)
    low, high = module.draw(box, figure, ["uplift/plug"])[0].get_ylim()
    assert low < 1e-3
    assert high == 1.0


def test_ticks_of_rows_are_sizes_that_were_recorded(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    assert set(axes.get_xticks()) <= set(tree["sample_size"].values.astype(float))
    assert axes.get_xticks()[-1] == tree["sample_size"].values[-1]


def test_words_end_with_estimate_and_target(trees):
    tree = trees(1, 8)
    said = estimate(tree, "box_A1", "dig_4", "uplift/plug").probability_text
    text = module.alternative_text(tree)
    assert f"uplift, plug (dig 4) {said}, target 4.8e-4" in text
    assert "8,192 to 262,144" in text


@pytest.mark.parametrize("count", [1, 2, 5])
def test_few_panels_are_larger(trees, count):
    tree = trees(1, 8)
    axes = module.draw(tree, Figure(), module.sheets(tree)[0][:count])
    assert len({round(one.get_position().x0, 6) for one in axes}) == min(count, 3)


def test_without_a_record_there_is_no_sheet(box):
    del box["convergence"]
    assert module.sheets(box) == []


def test_panel_on_axes_of_your_own(trees, figure):
    axes = figure.add_subplot()
    assert module.panel(trees(1, 8), axes, limit_state="uplift/plug") is axes
    assert axes.get_xlabel() == "rows drawn (thousands)"


def estimated_otherwise(tree, limit_state, how, **changes):
    """Return the results with one limit state estimated by another method, everywhere."""
    other = tree.copy(deep=True)
    group = other["reliability"].to_dataset()
    words = np.full(group["failure_probability"].shape, "plain simulation", dtype=object)
    at = {"limit_state": group["limit_state"].values.tolist().index(limit_state)}
    words[:, :, at["limit_state"]] = how
    group["estimated_by"] = (group["failure_probability"].dims, words.astype(str))
    for name, value in changes.items():
        group[name][at] = value
    other["reliability"] = other["reliability"].__class__(group)
    return other


def test_another_method_is_drawn_beside_the_count_with_its_interval(trees, figure):
    tree = estimated_otherwise(trees(1, 8), "uplift/plug", "importance sampling")
    (place,) = places_of(tree, ["uplift/plug"])
    found = estimate(tree, place.section_name, place.stage_name, place.limit_state_name)
    axes = module.draw(tree, figure, ["uplift/plug"])[0]
    final = line(axes, "estimate of the run")
    np.testing.assert_array_equal(final.get_ydata(), [found.failure_probability] * 2)
    dotted = [float(one.get_ydata()[0]) for one in axes.lines if one.get_linestyle() == ":"]
    assert sorted(dotted) == sorted(found.bounds)


def test_plain_simulation_alone_has_nothing_beside_it(trees, figure):
    tree = estimated_otherwise(trees(1, 8), "uplift/plug", "plain simulation")
    axes = module.draw(tree, figure, ["uplift/plug"])[0]
    assert line(axes, "estimate of the run") is None


def test_a_value_of_first_order_has_no_interval_and_lies_on_the_axes(trees, figure):
    tree = estimated_otherwise(
        trees(1, 8),
        "uplift/plug",
        "second order",
        status=Status.FIRST_ORDER_ONLY.value,
        failure_probability=3e-13,
        failure_probability_bounds=[np.nan, 1e-5],
    )
    axes = module.draw(tree, figure, ["uplift/plug"])[0]
    assert float(line(axes, "estimate of the run").get_ydata()[0]) == 3e-13
    assert axes.get_ylim()[0] <= 3e-13
    assert not [one for one in axes.lines if one.get_linestyle() == ":"]
