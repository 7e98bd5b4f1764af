"""The figure of the Sobol' indices: which inputs have bars, how long, and what is said of the rest."""

from __future__ import annotations

import numpy as np
import pytest

from riskcut.figures import sobol_bars as module
from riskcut.figures.multiples import places_of
from riskcut.results.estimate import Influence
from riskcut.results.status import Status

STATE = "uplift/plug"


def set_indices(tree, totals, *, limit_state=STATE, grouped=()):
    """Give one limit state these total orders by variable number; first order is 0.9 of it."""
    group = tree["sensitivity"].dataset
    place = places_of(tree, [limit_state])[0]
    count = tree.sizes["variable"]
    total = np.full(count, np.nan)
    for number, value in totals.items():
        total[number] = value
    read = np.isfinite(total)
    group["variable_status"].values[place.at] = np.where(read, Status.COMPUTED, Status.NOT_APPLICABLE)
    group["sensitivity_status"].values[place.at] = Status.COMPUTED
    for name, numbers in (("total_order", total), ("first_order", 0.9 * total)):
        group[name].values[place.at] = numbers
        group[f"{name}_bounds"].values[place.at] = np.stack([numbers - 0.013, numbers + 0.017], axis=-1)
    group["dependent_group"].values[:] = -1
    group["dependent_group"].values[list(grouped)] = 0
    return place


def bars(axes, label):
    return next(c for c in axes.containers if c.get_label() == label).patches


def names(axes):
    return [text.get_text().replace("\n", "") for text in axes.get_yticklabels()]


def test_bars_are_the_indices_greatest_first(box, figure):
    set_indices(box, {0: 0.1, 8: 0.6, 6: 0.3})
    axes = module.draw(box, figure, [STATE])[0]
    np.testing.assert_allclose([bar.get_width() for bar in bars(axes, "total order")], [0.6, 0.3, 0.1])
    np.testing.assert_allclose([bar.get_width() for bar in bars(axes, "first order")], [0.54, 0.27, 0.09])
    variables = box["variable"].values
    assert names(axes) == [variables[8], variables[6], variables[0]]
    heights = [bar.get_y() for bar in bars(axes, "total order")]
    assert heights == sorted(heights)
    assert axes.yaxis_inverted()


def test_bars_are_told_apart_without_colour(box, figure):
    axes = module.draw(box, figure, [STATE])[0]
    assert all(bar.get_hatch() for bar in bars(axes, "total order"))
    assert not any(bar.get_hatch() for bar in bars(axes, "first order"))


def test_intervals_are_the_bounds(box, figure):
    set_indices(box, {0: 0.1, 8: 0.6})
    axes = module.draw(box, figure, [STATE])[0]
    lines = next(c for c in axes.collections if c.get_label() == "total order: 95 % interval")
    ends = [segment[:, 0] for segment in lines.get_segments()]
    np.testing.assert_allclose(ends, [[0.587, 0.617], [0.087, 0.117]])


def test_interval_beyond_one_is_in_sight(box, figure):
    set_indices(box, {8: 1.2, 0: -0.01})
    axes = module.draw(box, figure, [STATE])[0]
    low, high = axes.get_xlim()
    assert high > 1.217
    assert low <= 0


def test_small_ones_are_left_out_and_counted(box, figure):
    set_indices(box, {0: 0.019, 1: 0.004, 8: 0.6, 6: 0.021})
    axes = module.draw(box, figure, [STATE])[0]
    assert len(names(axes)) == 2
    assert "2 more, each below 0.02 (total order)" in [text.get_text() for text in axes.texts]


def test_too_many_to_show_are_counted_with_their_greatest(box, figure):
    set_indices(box, {k: 0.3 - 0.02 * k for k in range(9)})
    axes = module.draw(box, figure, [STATE])[0]
    shown = len(names(axes))
    assert shown <= module.MOST_BARS
    said = f"{9 - shown} more, each at most {0.3 - 0.02 * shown:.2f} (total order)"
    assert said in [text.get_text() for text in axes.texts]


def test_one_bar_is_shown_though_all_are_small(box, figure):
    set_indices(box, {3: 0.001, 4: 0.002})
    axes = module.draw(box, figure, [STATE])[0]
    assert names(axes) == [box["variable"].values[4]]


def test_dependent_inputs_are_one_bar_with_both_names(box, figure):
    set_indices(box, {2: 0.4, 3: 0.4, 8: 0.3}, grouped=(2, 3))
    axes = module.draw(box, figure, [STATE])[0]
    variables = box["variable"].values
    assert names(axes) == [f"dependent, as one:{variables[2]}{variables[3]}", variables[8]]
    assert f"{variables[2]} with {variables[3]}, total 0.40" in module.alternative_text(box, [STATE])


def test_large_group_names_some_and_counts_the_rest():
    bounds = (0.1, 0.2)
    big = Influence(
        variables=tuple(f"ground.strata.layer_{k}.su" for k in range(7)),
        first=0.1,
        first_bounds=bounds,
        total=0.2,
        total_bounds=bounds,
    )
    assert module.label_of(big).endswith("and 4 more")


def test_labels_keep_clear_of_each_other(trees, figure):
    """Each label has the room of its lines on the axis, which is in inches."""
    tree = trees(1, 8)
    for sheet in module.sheets(tree):
        figure.clear()
        for axes in module.draw(tree, figure, sheet):
            if not axes.containers:
                continue
            ticks = axes.get_yticks()
            lines = [text.get_text().count("\n") + 1 for text in axes.get_yticklabels()]
            inches = figure.get_size_inches()[1] * axes.get_position().height
            assert abs(np.subtract(*axes.get_ylim())) == pytest.approx(inches)
            for k in range(len(ticks) - 1):
                assert ticks[k + 1] - ticks[k] > 7.5 * 1.2 / 72 * (lines[k] + lines[k + 1]) / 2


def test_refusal_is_said(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure, ["hydraulic_heave/prism"])[0]
    assert not axes.containers
    words = " ".join(text.get_text().replace("\n", " ") for text in axes.texts)
    assert "37 of 18,432 rows gave no number" in words
    assert "no indices, 37 of 18,432 rows" in module.alternative_text(tree, ["hydraulic_heave/prism"])


def test_words_say_indices_with_their_bounds(box):
    set_indices(box, {8: 0.6, 0: 0.2})
    text = module.alternative_text(box, [STATE])
    assert "ground.aquifer_head, total 0.60 (0.59 to 0.62), first 0.54 (0.53 to 0.56)" in text


def test_sheets_hold_at_most_eight(trees):
    sheets = module.sheets(trees(1, 12))
    assert max(map(len, sheets)) <= 8
    assert sum(map(len, sheets)) == 13


def test_without_sensitivities_there_is_no_sheet(box):
    del box["sensitivity"]
    assert module.sheets(box) == []


def test_panel_on_axes_of_your_own(trees, figure):
    axes = figure.add_subplot()
    assert module.panel(trees(1, 8), axes, limit_state=STATE) is axes
    assert "variance" in axes.get_xlabel()
