"""The drawn section: every part at its level, standing only while it stands, true to scale."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure

from riskcut.figures import cut_section as module
from riskcut.figures.cut_ground import WATER_MARK
from riskcut.figures.cut_levels import Pile, extent_of, read_cut
from riskcut.figures.cut_works import CONCRETE, MADE, pile_positions


@pytest.fixture(scope="module")
def eight(trees):
    """The panels of the box at its eight stages, to be looked at only."""
    return module.draw(trees(1, 8), Figure())


@pytest.fixture(scope="module")
def twelve(trees):
    return module.draw(trees(1, 12), Figure())


def boxes(axes, label):
    """Left, bottom, right, top of the rectangles with this label."""
    found = [p for p in axes.patches if p.get_label() == label]
    return [(p.get_x(), p.get_y(), p.get_x() + p.get_width(), p.get_y() + p.get_height()) for p in found]


def levels(axes, label):
    found = [c for c in axes.collections if c.get_label() == label]
    return [float(y) for c in found for segment in c.get_segments() for y in segment[:1, 1]]


def marks(axes, label):
    return [line for line in axes.lines if line.get_label() == label]


def stage(panels, name):
    return next(axes for axes in panels if axes.get_title(loc="left").startswith(name))


def test_wall_stands_on_both_sides_from_the_surface_to_its_toe(eight):
    axes = eight[0]
    np.testing.assert_allclose(boxes(axes, "wall"), [(-12.0, -22.0, -11.0, 3.2), (11.0, -22.0, 12.0, 3.2)])


def test_strata_fill_the_ground_between_their_tops(eight):
    axes = eight[0]
    bottom = axes.get_ylim()[0]
    tops = {"crust": 3.2, "soft_clay": 1.9, "firm_clay": -11.0, "sand_aquifer": -24.0}
    for (name, top), end in zip(tops.items(), [1.9, -11.0, -24.0, bottom], strict=True):
        ((left, low, right, high),) = boxes(axes, name)
        assert (low, high) == pytest.approx((end, top))
        assert (left, right) == axes.get_xlim()


def test_drained_and_undrained_differ_by_hatch(eight):
    axes = eight[0]
    hatch = {p.get_label(): p.get_hatch() for p in axes.patches if p.get_hatch()}
    assert set(hatch["crust"]) == set(hatch["sand_aquifer"]) == {"."}
    assert set(hatch["soft_clay"]) == set(hatch["firm_clay"]) == {"-"}
    assert len(set(hatch.values())) == 4


def test_uncertain_top_has_its_two_quantiles(eight):
    axes = eight[0]
    assert levels(axes, "sand_aquifer: 5 to 95 % of its top") == pytest.approx([-24.82, -23.18])
    assert not levels(axes, "soft_clay: 5 to 95 % of its top")


def test_formation_with_its_band_at_each_stage(trees, eight):
    group = trees(1, 8)["cut"].dataset
    for j, axes in enumerate(eight):
        formation = group["formation"].values[0, j]
        assert levels(axes, "formation") == [formation]
        low, high = group["formation_bounds"].values[0, j]
        band = boxes(axes, "formation: 5 to 95 %")
        if high > low:
            np.testing.assert_allclose(band, [(-11.0, low, 11.0, high)])
            np.testing.assert_allclose(boxes(axes, "dug out")[0][:2], (-11.0, formation))
        else:
            assert not band
            assert not boxes(axes, "dug out")


def test_props_only_while_they_stand(trees, twelve):
    tree = trees(1, 12)
    group = tree["cut"].dataset
    for j, axes in enumerate(twelve):
        for k, prop in enumerate(tree["prop"].values):
            made = str(group["prop_made"].values[0, k])
            found = boxes(axes, f"prop {prop}: {made}")
            assert len(found) == group["prop_standing"].values[0, j, k]
            for left, low, right, high in found:
                assert (low + high) / 2 == pytest.approx(group["prop_level"].values[0, k])
                assert (left, right) == (-11.0, 11.0)


def test_props_of_each_make_look_different(eight):
    axes = stage(eight, "dig 4")
    faces = {
        p.get_label(): p.get_facecolor()[:3] for p in axes.patches if str(p.get_label()).startswith("prop ")
    }
    assert len(faces) == 3
    lightness = sorted(sum(face) / 3 for face in faces.values())
    assert min(np.diff(lightness)) > 0.25
    assert MADE["in_situ"][0] == CONCRETE


def test_slab_stands_on_the_formation_once_cast(trees, twelve):
    names = list(trees(1, 12)["stage"].values)
    for name, one in zip(names, twelve, strict=True):
        found = boxes(one, "base slab")
        if names.index(name) < names.index("slab"):
            assert not found
        else:
            np.testing.assert_allclose(found, [(-11.0, -9.8, 11.0, -8.3)])


def test_piles_hang_from_their_head(eight):
    axes = eight[0]
    piles = boxes(axes, "tension pile")
    assert len(piles) == 6
    np.testing.assert_allclose([p[1] for p in piles], -23.8)
    np.testing.assert_allclose([p[3] for p in piles], -9.8)
    np.testing.assert_allclose(np.diff([p[0] for p in piles]), 3.5)
    np.testing.assert_allclose([p[2] - p[0] for p in piles], 0.75)


@settings(deadline=None, max_examples=80)
@given(st.floats(2.0, 80.0), st.floats(0.3, 1.5), st.floats(1.6, 8.0))
def test_piles_stay_inside_the_cut(width, diameter, spacing):
    at = pile_positions(Pile(head=0.0, length=10.0, diameter=diameter, spacing=spacing), width)
    assert at
    assert sum(at) == pytest.approx(0.0, abs=1e-6)
    assert len(at) == 1 or max(at) + diameter / 2 <= width / 2 + 1e-6
    np.testing.assert_allclose(np.diff(at), spacing)


def test_water_levels_have_the_triangle(eight):
    axes = stage(eight, "dig 3")
    (outside,) = marks(axes, "water table")
    (inside,) = marks(axes, "water inside")
    assert outside.get_ydata() == [2.1]
    assert inside.get_ydata() == [-6.4]
    assert outside.get_xdata()[0] > 12.0
    assert abs(inside.get_xdata()[0]) < 11.0
    assert outside.get_marker() is WATER_MARK
    assert levels(axes, "water table") == [2.1, 2.1]


def test_water_mark_stands_on_its_level_with_its_tip():
    triangle = WATER_MARK.vertices[:4]
    assert tuple(triangle[2]) == (0.0, 0.0)
    assert triangle[:, 1].min() == 0.0
    assert triangle[0, 1] == triangle[1, 1] > 0
    assert (WATER_MARK.vertices[4:, 1] < 0).all()


def test_head_stands_in_a_pipe_that_reaches_the_aquifer(eight):
    axes = eight[0]
    ((left, low, right, high),) = boxes(axes, "aquifer head")
    assert low < -24.0
    assert high == pytest.approx(1.1)
    ((_, b_low, _, b_high),) = boxes(axes, "aquifer head: 5 to 95 %")
    assert (b_low, b_high) == pytest.approx((0.62, 1.75))
    assert levels(axes, "aquifer head: level") == [1.1]
    assert right < -12.0
    assert left > axes.get_xlim()[0]


def test_surcharge_has_arrows_and_its_size(eight):
    without, with_it = eight[:2]
    assert not marks(without, "surcharge")
    arrows = marks(with_it, "surcharge")
    assert len(arrows) == 2
    assert all(set(line.get_ydata()) == {3.2} for line in arrows)
    assert all(min(abs(line.get_xdata())) > 12.0 for line in arrows)
    assert "10 kPa" in [text.get_text() for text in with_it.texts]


def test_water_above_the_surface_is_a_body_outside(box, figure):
    box["cut"].dataset["water_table"].values[:] = 4.5
    axes = module.draw(box, figure)[7]
    np.testing.assert_allclose([b[1] for b in boxes(axes, "water above the surface")], 3.2)
    np.testing.assert_allclose([b[3] for b in boxes(axes, "water above the surface")], 4.5)
    assert axes.get_ylim()[1] > 4.5


def test_shallow_flooded_trench_without_works(trees, figure):
    tree = trees(3, 8)
    axes = module.draw(tree, figure, ["box_A3"])[7]
    labels = {str(p.get_label()) for p in axes.patches}
    assert not any(
        label.startswith(("wall", "prop ", "base slab", "tension pile", "standpipe")) for label in labels
    )
    np.testing.assert_allclose(boxes(axes, "water inside: body"), [(-3.0, 0.2, 3.0, 1.6)])
    key = [text.get_text() for text in figure.legends[0].get_texts()]
    assert not any(word in " ".join(key) for word in ("wall", "prop", "slab", "pile", "head"))
    assert "No wall" in module.alternative_text(tree, ["box_A3"])


def test_strata_far_below_a_shallow_cut_are_left_out(trees, figure):
    axes = module.draw(trees(3, 8), figure, ["box_A3"])[0]
    assert not boxes(axes, "sand_aquifer")
    assert boxes(axes, "soft_clay")[0][1] == axes.get_ylim()[0] > -10
    assert "sand aquifer" not in " ".join(text.get_text() for text in axes.texts)


def test_stage_that_a_section_does_not_have_has_no_panel(trees, figure):
    tree = trees(8, 8)
    axes = module.draw(tree, figure, ["box_A2"])
    heads = [one.get_title(loc="left") for one in axes]
    assert len(axes) == 7
    assert not any("upper props" in head for head in heads)


@pytest.mark.parametrize(("size", "section"), [((1, 8), "box_A1"), ((1, 1), "box_A1"), ((3, 12), "box_A3")])
def test_true_to_scale_both_ways(trees, figure, size, section):
    for axes in module.draw(trees(*size), figure, [section]):
        assert axes.get_aspect() == 1.0
        box = axes.get_position()
        width, height = figure.get_size_inches() * (box.width, box.height)
        (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
        assert width / (right - left) == pytest.approx(height / (high - low), rel=1e-9)


def test_all_that_is_drawn_is_in_sight(trees, twelve):
    extent = extent_of(read_cut(trees(1, 12), "box_A1"))
    for axes in twelve:
        for patch in axes.patches:
            label = str(patch.get_label())
            if label != "dug out":
                box = patch.get_bbox()
                assert box.y0 >= extent.bottom - 1e-9, label
                assert box.y1 <= extent.top + 1e-9, label
                assert abs(box.x0) <= extent.side + 1e-9, label


def test_strata_are_named_beside_the_row(eight):
    named = [{text.get_text() for text in one.texts} >= {"crust", "soft clay", "firm clay"} for one in eight]
    assert named == [False, False, True, False, False, True, False, True]


@settings(deadline=None, max_examples=80)
@given(st.lists(st.tuples(st.floats(-50, 10), st.floats(0.1, 3.0)), min_size=1, max_size=9))
def test_names_are_pushed_apart_in_order(found):
    wanted = sorted((level for level, _ in found), reverse=True)
    heights = [height for _, height in found]
    moved = module.spread(wanted, heights)
    assert moved[0] == wanted[0]
    for (upper, above), (lower, below) in pairwise(zip(moved, heights, strict=True)):
        assert upper - above / 2 >= lower + below / 2 - 1e-9
    assert all(new <= old for new, old in zip(moved, wanted, strict=True))


def test_heads_say_stage_phase_and_formation(twelve):
    axes = stage(twelve, "in service")
    assert axes.get_title(loc="left") == "in service (permanent)"
    minus = "\N{MINUS SIGN}"
    said = f"formation {minus}9.80 m ({minus}9.96 to {minus}9.64)"
    assert said in [text.get_text() for text in axes.texts]


def test_words_say_levels_and_lengths(trees):
    text = module.alternative_text(trees(1, 8))
    minus = "\N{MINUS SIGN}"
    for part in (
        "22 m wide",
        "surface at +3.20 m",
        f"firm clay (undrained) from {minus}11.00 m",
        f"Wall 1 m thick to {minus}22.00 m",
        f"lower (steel) at {minus}5.40 m",
        "Tension piles 14 m long, 0.75 m across, 3.5 m apart",
        f"deepest formation {minus}9.80 m, first at dig 4",
        "Head in sand aquifer +1.10 m (5 to 95 %: +0.62 to +1.75)",
    ):
        assert part in text


def test_one_sheet_a_section(trees, figure):
    tree = trees(8, 8)
    assert module.sheets(tree) == [[str(name)] for name in tree["section"].values]
    with pytest.raises(ValueError, match="one section, not 2"):
        module.draw(tree, figure, ["box_A1", "box_A2"])


def test_section_without_stages_has_no_sheet(trees):
    tree = trees(3, 8).copy(deep=True)
    tree["cut"].dataset["stage_applies"].values[1] = 0
    assert module.sheets(tree) == [["box_A1"], ["box_A3"]]
    del tree["cut"]
    assert module.sheets(tree) == []


def test_panel_on_axes_of_your_own(trees, figure):
    axes = figure.add_subplot()
    assert module.panel(trees(1, 8), axes, section="box_A1", stage="dig_2") is axes
    assert levels(axes, "formation") == [-3.2]
    with pytest.raises(ValueError, match="has no stage 'dig_9'"):
        module.panel(trees(1, 8), axes, section="box_A1", stage="dig_9")


def test_a_load_beside_the_cut_stands_where_it_stands(trees, figure):
    box = trees(1, 8).copy(deep=True)
    cut = box["cut"].dataset
    for name, number in (("edge_pressure", 60.0), ("edge_distance", 2.0), ("edge_width", 3.0)):
        cut[name].values[:] = number
    cut["edge_load_stands"].values[:, 1] = 1
    axes = module.draw(box, figure)
    (patch,) = [p for p in axes[1].patches if p.get_label() == "edge load"]
    assert patch.get_width() == pytest.approx(3.0)
    assert patch.get_y() == pytest.approx(3.2)
    assert "crane\n60 kPa" in [text.get_text() for text in axes[1].texts]
    assert not [p for p in axes[0].patches if p.get_label() == "edge load"]
    assert patch.get_x() == pytest.approx(22.0 / 2 + 1.0 + 2.0)  # half the width, the wall, the distance
