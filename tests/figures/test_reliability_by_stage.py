"""The figure of the reliability index by stage: what is drawn for each status, and against which target."""

from __future__ import annotations

import re

import numpy as np
import pytest
from matplotlib.figure import Figure

from riskcut.figures import reliability_by_stage as module
from riskcut.figures.series import AT_LEAST, AT_MOST, HIGHEST, SYSTEM
from riskcut.results.status import Status


def artists(axes, label):
    return [a for a in [*axes.lines, *axes.collections, *axes.patches] if a.get_label() == label]


def one(axes, label):
    found = artists(axes, label)
    assert len(found) == 1, (label, len(found))
    return found[0]


def of(tree, name, limit_state):
    return tree["reliability"].dataset[name].sel(limit_state=limit_state).values[0]


def marked(line):
    """Stages where a line has a mark."""
    return np.flatnonzero(np.isfinite(np.asarray(line.get_ydata(), dtype=float)))


def test_line_and_intervals_are_the_estimates(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    name = "uplift/plug"
    known = of(tree, "status", name) == Status.COMPUTED
    line = one(axes, name)
    np.testing.assert_array_equal(
        line.get_ydata(), np.where(known, of(tree, "reliability_index", name), np.nan)
    )
    segments = one(axes, f"{name}: 95 % interval").get_segments()
    np.testing.assert_array_equal(
        [segment[:, 1] for segment in segments], of(tree, "reliability_index_bounds", name)[known]
    )
    np.testing.assert_allclose([segment[0, 0] for segment in segments], line.get_xdata()[known])


def test_no_failing_row_is_an_arrow_up_from_the_bound(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    name = "uplift/plug"
    bound_only = np.flatnonzero(of(tree, "status", name) == Status.UPPER_BOUND_ONLY)
    assert bound_only.size
    arrows = one(axes, f"{name}: greater than")
    np.testing.assert_array_equal(marked(arrows), bound_only)
    np.testing.assert_array_equal(
        np.asarray(arrows.get_ydata())[bound_only],
        of(tree, "reliability_index_bounds", name)[bound_only, 0],
    )
    assert arrows.get_marker() is AT_LEAST
    assert arrows.get_linestyle() == "None"
    assert not set(marked(one(axes, name))) & set(bound_only)


def test_arrow_outlines_point_their_way():
    assert AT_LEAST.vertices[:, 1].min() == 0
    assert AT_LEAST.vertices[:, 1].max() > 0
    assert AT_MOST.vertices[:, 1].max() == 0
    assert AT_MOST.vertices[:, 1].min() < 0


def test_no_safe_row_is_an_arrow_down_from_the_bound(box, figure):
    group = box["reliability"].dataset
    at = (0, 7, list(box["limit_state"].values).index("uplift/plug"))
    group["status"].values[at] = Status.UPPER_BOUND_ONLY
    group["reliability_index"].values[at] = np.nan
    group["reliability_index_bounds"].values[at] = (-np.inf, -4.2)
    axes = module.draw(box, figure)[0]
    arrows = one(axes, "uplift/plug: less than")
    assert arrows.get_marker() is AT_MOST
    np.testing.assert_array_equal(marked(arrows), [7])
    assert arrows.get_ydata()[7] == -4.2
    assert axes.get_ylim()[0] < -4.2
    assert "1 less than a bound, every row failed" in module.alternative_text(box)


def test_untrusted_is_hollow_and_first_order_is_half_filled(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    hollow = one(axes, "hydraulic_heave/prism: untrusted")
    assert hollow.get_markerfacecolor() == "white"
    assert hollow.get_markeredgecolor() != "white"
    np.testing.assert_array_equal(
        marked(hollow), np.flatnonzero(of(tree, "status", "hydraulic_heave/prism") == Status.UNTRUSTED)
    )
    half = one(axes, "wall_bending/below_lowest_prop: first order only")
    assert half.get_fillstyle() == "left"
    filled = one(axes, "wall_bending/below_lowest_prop: computed")
    assert filled.get_markerfacecolor() == filled.get_markeredgecolor()
    assert len(artists(axes, "wall_bending/below_lowest_prop: untrusted")) == 0


def test_not_applicable_and_cannot_fail_are_absent(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    for name in tree["limit_state"].values:
        status = of(tree, "status", name)
        nothing = np.isin(status, (Status.NOT_APPLICABLE, Status.CANNOT_FAIL))
        drawn = [line for line in axes.lines if str(line.get_label()).startswith(name)]
        at = {int(stage) for line in drawn for stage in marked(line)}
        assert at == set(np.flatnonzero(~nothing).tolist())
    assert (tree["reliability"].dataset["status"].values == Status.CANNOT_FAIL).any()


def test_target_steps_where_the_phase_changes(trees, figure):
    tree = trees(1, 12)
    axes = module.draw(tree, figure)[0]
    steps, edges, _ = one(axes, "target").get_data()
    np.testing.assert_array_equal(steps, tree["reliability"].dataset["target_reliability_index"].values[0])
    np.testing.assert_array_equal(edges, np.arange(13) - 0.5)
    assert set(steps) == {3.3, 3.8}
    shaded = artists(axes, "short of the target")
    tops = [area.get_datalim(axes.transData).y1 for area in shaded]
    np.testing.assert_allclose(tops, steps)


def test_without_targets_there_is_no_target_line(box, figure):
    group = box["reliability"].dataset
    group["target_reliability_index"].values[:] = np.nan
    axes = module.draw(box, figure)[0]
    assert not artists(axes, "target")
    assert "target of one limit state" not in [text.get_text() for text in figure.legends[0].get_texts()]
    text = module.alternative_text(box)
    assert "no target" in text
    assert "short" not in text


def test_system_is_a_series_of_its_own(trees, figure):
    tree = trees(1, 8)
    axes = module.draw(tree, figure)[0]
    group = tree["reliability"].dataset
    known = group["stage_status"].values[0] == Status.COMPUTED
    line = one(axes, SYSTEM)
    np.testing.assert_array_equal(
        line.get_ydata(), np.where(known, group["stage_reliability_index"].values[0], np.nan)
    )
    assert line.get_linewidth() > one(axes, "uplift/plug").get_linewidth()
    np.testing.assert_array_equal(line.get_xdata(), np.arange(8))
    np.testing.assert_array_equal(marked(one(axes, f"{SYSTEM}: greater than")), np.flatnonzero(~known))


def test_named_series_do_not_hide_each_other_nor_the_system(trees, figure):
    tree = trees(1, 12)
    axes = module.draw(tree, figure)[0]
    named = [line for line in axes.lines if line.get_linewidth() == 1.2 and "/" in str(line.get_label())]
    starts = [float(line.get_xdata()[0]) for line in named if ":" not in str(line.get_label())]
    assert len(starts) == module.MOST_NAMED
    assert np.diff(np.sort([*starts, 0.0])).min() > 0.03
    assert max(map(abs, starts)) < 0.5


def test_the_rest_is_grey_and_counted(trees, figure):
    tree = trees(1, 12)
    axes = module.draw(tree, figure)[0]
    words = [text.get_text() for text in figure.legends[0].get_texts()]
    assert words[: module.MOST_NAMED][0] == "uplift, plug"
    drawn = {str(line.get_label()).split(":")[0] for line in axes.lines} - {SYSTEM}
    grey = {str(a.get_label()).split(":")[0] for a in axes.lines if a.get_color() == module.PALE}
    assert len(drawn) - len(grey) == module.MOST_NAMED
    assert f"{len(grey)} more, less critical or not governing" in words
    assert "base_heave/wide_cut" in grey


def test_rest_that_does_not_govern_is_called_so(trees, figure):
    """With few limit states, only the alternatives of others are left to be grey."""
    few = trees(1, 8).isel(limit_state=[0, 1, 2])
    module.draw(few, figure)
    words = [text.get_text() for text in figure.legends[0].get_texts()]
    assert "1 more, not governing" in words


def test_alternative_that_misses_its_target_is_not_counted(box):
    group = box["reliability"].dataset
    before = module.alternative_text(box)
    at = (0, 7, list(box["limit_state"].values).index("base_heave/wide_cut"))
    group["status"].values[at] = Status.COMPUTED
    group["reliability_index"].values[at] = 2.0
    group["reliability_index_bounds"].values[at] = (1.9, 2.1)
    counted = re.compile(r"Lowest that governs: .*? undecided\.")
    assert counted.search(module.alternative_text(box)).group() == counted.search(before).group()


def test_key_explains_only_what_is_there(trees, figure):
    module.draw(trees(1, 1), figure)
    words = " ".join(text.get_text() for text in figure.legends[0].get_texts())
    assert "greater than" in words
    assert "hollow" not in words
    assert "interval" not in words


@pytest.mark.parametrize(("size", "pages"), [((1, 8), 1), ((8, 8), 1), ((40, 12), 5)])
def test_every_section_is_on_one_sheet(trees, size, pages):
    sheets = module.sheets(trees(*size))
    assert len(sheets) == pages
    assert max(map(len, sheets)) <= module.MOST_PANELS
    assert [s for sheet in sheets for s in sheet] == list(trees(*size)["section"].values)


def test_panels_share_one_range_over_all_sheets(trees, figure):
    tree = trees(9, 8)
    first, *_, last = module.sheets(tree)
    ranges = {axes.get_ylim() for axes in module.draw(tree, figure, first)}
    ranges |= {axes.get_ylim() for axes in module.draw(tree, Figure(), last)}
    assert len(ranges) == 1


def test_a_limit_state_has_one_mark_on_all_sheets(trees):
    tree = trees(9, 8)
    looks = {}
    for sheet in module.sheets(tree)[:2]:
        for axes in module.draw(tree, Figure(), sheet):
            for line in axes.lines:
                label = str(line.get_label())
                if "/" in label and ":" not in label and line.get_color() != module.PALE:
                    looks.setdefault(label, set()).add((line.get_color(), str(line.get_linestyle())))
    assert looks
    assert all(len(found) == 1 for found in looks.values())


def test_panel_on_axes_of_your_own(trees, figure):
    axes = figure.add_subplot()
    assert module.panel(trees(8, 8), axes, section="box_A3") is axes
    assert artists(axes, "uplift/plug")
    assert [text.get_text() for text in axes.get_xticklabels()][1] == "dig 1"


def test_words_say_the_numbers(trees):
    tree = trees(1, 8)
    text = module.alternative_text(tree)
    lowest = of(tree, "reliability_index", "uplift/plug")[7]
    lower, upper = of(tree, "reliability_index_bounds", "uplift/plug")[7]
    assert f"{lowest:.2f} ({lower:.2f} to {upper:.2f}), uplift, plug, at dig 4: short (target 3.3)" in text
    group = tree["reliability"].dataset
    assert f"{group['stage_reliability_index'].values[0, 7]:.2f}" in text
    status = group["status"].values
    assert f"{(status == Status.UPPER_BOUND_ONLY).sum()} greater than a bound" in text
    assert "1 not to be trusted (hollow)" in text
    upper = group["reliability_index_bounds"].values[..., 1]
    governs = group["governing"].values == 1
    short = (governs & np.isin(status, (0, 1)) & (upper < 3.3)).sum()
    shown = (governs & np.isin(status, (0, 1, 2, 3))).sum()
    assert f"Of {shown} governing indices with a target {short} falls short" in text


def test_words_name_each_section(trees):
    tree = trees(8, 8)
    text = module.alternative_text(tree)
    assert all(str(name).replace("_", " ") in text for name in tree["section"].values)


def test_the_axis_ends_where_nobody_asks_any_more(trees, figure):
    tree = trees(1, 8).copy(deep=True)
    group = tree["reliability"].dataset
    name = "uplift/plug"
    known = np.flatnonzero(of(tree, "status", name) == Status.COMPUTED)
    place = {
        "section": 0,
        "stage": int(known[0]),
        "limit_state": group["limit_state"].values.tolist().index(name),
    }
    for array, value in (("reliability_index", 11.0), ("reliability_index_bounds", [10.9, 11.1])):
        group[array].variable[place] = value
    axes = module.draw(tree, figure)[0]
    assert HIGHEST <= axes.get_ylim()[1] < HIGHEST + 0.5
    assert f"1 above {HIGHEST:g}" in module.alternative_text(tree)


def test_a_first_order_index_with_room_to_spare_is_not_undecided(trees):
    tree = trees(1, 8).copy(deep=True)
    group = tree["reliability"].dataset
    rare = group["status"].values == Status.COMPUTED
    counted = int((rare & (group["governing"].values == 1)).sum())
    target = np.nanmax(group["target_reliability_index"].values)
    group["status"].values[rare] = Status.FIRST_ORDER_ONLY

    def undecided(index):
        group["reliability_index"].values[rare] = index
        return int(re.search(r"(\d+) undecided", module.alternative_text(tree))[1])

    assert counted > 5
    assert undecided(target + 0.1) - undecided(target + 3.0) == counted
