"""The figure of the margins: where the rows lie, which of them fail, and what is written beside them."""

from __future__ import annotations

import numpy as np
import pytest

from riskcut.figures import margin_distributions as module
from riskcut.figures.multiples import places_of
from riskcut.results.reading import estimate
from riskcut.results.status import Status


def patch(axes, label):
    found = [p for p in axes.patches if p.get_label() == label]
    assert len(found) == 1
    return found[0]


def stored(tree, place):
    group = tree["margins"].dataset
    return group["margin_count"].values[place.at], group["margin_edge"].values[place.at]


def test_bins_are_the_counts_as_shares_of_all_rows(trees, figure):
    tree = trees(1, 8)
    names = module.sheets(tree)[0]
    for axes, place in zip(module.draw(tree, figure, names), places_of(tree, names), strict=True):
        counts, edges = stored(tree, place)
        shares, drawn, _ = patch(axes, "rows").get_data()
        held = np.flatnonzero(counts)
        np.testing.assert_array_equal(drawn, edges[held[0] : held[-1] + 2])
        np.testing.assert_allclose(shares, 100 * counts[held[0] : held[-1] + 1] / 262_144)
        assert shares.sum() == pytest.approx(100.0)


def test_failing_rows_end_at_zero(trees, figure):
    tree = trees(1, 8)
    for axes in module.draw(tree, figure):
        _, edges, _ = patch(axes, "rows").get_data()
        failing = [p for p in axes.patches if p.get_label() == "failing rows"]
        assert bool(failing) == bool(edges[0] < 0)
        for area in failing:
            heights, ends, _ = area.get_data()
            assert ends[-1] == 0
            np.testing.assert_array_equal(ends[:-1], edges[edges < 0])
            np.testing.assert_array_equal(heights, patch(axes, "rows").get_data()[0][: heights.size])


def test_all_rows_failing_stay_left_of_zero(box, figure):
    place = places_of(box, ["uplift/plug"])[0]
    edges = box["margins"].dataset["margin_edge"].values[place.at]
    edges -= edges[-1] + 5.0
    axes = module.draw(box, figure, ["uplift/plug"])[0]
    _, ends, _ = patch(axes, "failing rows").get_data()
    _, drawn, _ = patch(axes, "rows").get_data()
    np.testing.assert_array_equal(ends, drawn)
    assert axes.get_xlim()[1] > 0


def test_zero_and_the_failing_side_are_always_shown(trees, figure):
    tree = trees(1, 12)
    for sheet in module.sheets(tree):
        figure.clear()
        for axes in module.draw(tree, figure, sheet):
            low, high = axes.get_xlim()
            assert low < 0 < high
            zero = [line for line in axes.lines if line.get_label() == "margin of zero"]
            assert list(zero[0].get_xdata()) == [0.0, 0.0]
            side = patch(axes, "failing side")
            assert (side.get_x(), side.get_x() + side.get_width()) == (low, 0.0)
            assert side.get_hatch()


def test_share_that_fails_is_written(trees, figure):
    tree = trees(1, 8)
    names = module.sheets(tree)[0]
    for axes, place in zip(module.draw(tree, figure, names), places_of(tree, names), strict=True):
        said = estimate(tree, place.section_name, place.stage_name, place.limit_state_name).probability_text
        assert f"fails: {said}" in [text.get_text() for text in axes.texts]
    assert any("< " in text.get_text() for axes in figure.axes for text in axes.texts)


def test_unit_is_that_of_the_limit_state(trees, figure):
    tree = trees(1, 12)
    names = ["uplift/plug", "prop_overload/middle", "exit_gradient/inside_wall"]
    units = [axes.get_xlabel().rpartition("(")[2] for axes in module.draw(tree, figure, names)]
    assert units == ["kPa)", "kN)", "\N{EN DASH})"]


def test_rows_beyond_the_edges_are_not_drawn_as_bins(box):
    """Where the first and the last bin gather what lies outside, they have no width."""
    group = box["margins"].dataset
    place = places_of(box, ["uplift/plug"])[0]
    inner = group["margin_edge"].isel(margin_edge_index=slice(1, -1))
    box["margins"] = group.drop_vars("margin_edge").assign(margin_edge=inner)
    counts, edges = stored(box, place)
    drawn, shares = module.histogram(box, place)
    assert edges.size == counts.size - 1
    held = np.flatnonzero(counts[1:-1])
    np.testing.assert_array_equal(drawn, edges[held[0] : held[-1] + 2])
    np.testing.assert_allclose(shares, 100 * counts[1:-1][held[0] : held[-1] + 1] / 262_144)


def test_no_distribution_is_said(box, figure):
    place = places_of(box, ["uplift/plug"])[0]
    box["margins"].dataset["margin_status"].values[place.at] = Status.NOT_APPLICABLE
    axes = module.draw(box, figure, ["uplift/plug"])[0]
    assert not axes.patches
    assert any("no distribution" in text.get_text().replace("\n", " ") for text in axes.texts)


def test_heading_names_limit_state_and_block(trees, figure):
    axes = module.draw(trees(8, 8), figure)[0]
    assert axes.get_title(loc="left") == "uplift, plug"
    assert "box A1, dig 4" in [text.get_text() for text in axes.texts]


def test_limit_state_without_a_worst_block_is_refused(trees, figure):
    with pytest.raises(ValueError, match="'tension_piles/shaft' has no worst block"):
        module.draw(trees(1, 8), figure, ["tension_piles/shaft"])


def test_words_say_share_and_margin(trees):
    tree = trees(1, 8)
    text = module.alternative_text(tree)
    said = estimate(tree, "box_A1", "dig_4", "uplift/plug").probability_text
    assert f"uplift, plug (dig 4) fails {said}, margin at the means 8.40 kPa" in text


def test_without_margins_there_is_no_sheet(box):
    del box["margins"]
    assert module.sheets(box) == []


def test_panel_on_axes_of_your_own(trees, figure):
    axes = figure.add_subplot()
    assert module.panel(trees(1, 8), axes, limit_state="uplift/plug") is axes
    assert axes.get_ylabel() == "share of rows in a bin (%)"
