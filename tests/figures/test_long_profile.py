"""The long profile: what is drawn of each section, and what it says."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.figure import Figure

from riskcut.figures import STYLE, long_profile
from riskcut.results import reading


@pytest.fixture
def drawn(trees):
    tree = trees(8, 8)
    figure = Figure()
    with mpl.rc_context(fname=str(STYLE)):
        axes = long_profile.draw(tree, figure)
    return tree, figure, axes


def test_one_sheet_for_many_sections_and_none_for_one(trees):
    assert [len(sheet) for sheet in long_profile.sheets(trees(8, 8))] == [8]
    assert long_profile.sheets(trees(1, 4)) == []


def test_each_index_is_drawn_over_its_section(drawn):
    tree, _, (axes, _) = drawn
    sections = reading.labels(tree, "section")
    start, end = long_profile.chainage(tree, sections)
    steps = {
        (line.get_xdata()[0], line.get_xdata()[1], round(float(line.get_ydata()[0]), 9))
        for line in axes.lines
        if len(line.get_xdata()) == 2 and line.get_ydata()[0] == line.get_ydata()[1]
    }
    wanted = 0
    for mechanism in dict.fromkeys(reading.labels(tree, "mechanism")):
        for i, section in enumerate(sections):
            governing = [
                e
                for e in reading.estimates(tree, section=section, mechanism=mechanism)
                if reading.governs(tree, e)
            ]
            worst = reading.worst(governing)
            if worst is not None and np.isfinite(worst.reliability_index):
                wanted += 1
                assert (start[i], end[i], round(worst.reliability_index, 9)) in steps
    assert wanted > 0


def test_targets_are_drawn_and_named_by_phase(drawn):
    tree, _, (axes, _) = drawn
    goals = long_profile.targets(tree)
    assert goals
    levels = [line.get_ydata()[0] for line in axes.lines if line.get_label() == "target"]
    assert levels == pytest.approx(list(goals))
    written = [text.get_text() for text in axes.texts]
    assert all(phases in written for phases in goals.values())


def test_the_long_section_shows_formation_water_and_toe(drawn):
    tree, _, (_, section) = drawn
    deepest = float(np.nanmin(tree["cut"]["formation"].values))
    assert min(line.get_ydata()[0] for line in section.lines if line.get_label() == "formation") == deepest
    assert {"free water", "ground surface", "wall toe", "stratum"} <= {
        line.get_label() for line in section.lines
    }
    assert "(m)" in section.get_ylabel()


def test_the_text_names_the_worst_section_of_each_mechanism(drawn):
    tree, figure, _ = drawn
    text = long_profile.alternative_text(tree)
    for mechanism in dict.fromkeys(reading.labels(tree, "mechanism")):
        if any(reading.governs(tree, e) for e in reading.estimates(tree, mechanism=mechanism)):
            assert mechanism.replace("_", " ") in text
    assert "8 sections" in text
    caption = next(text for text in figure.texts if text.get_gid() == "caption").get_text()
    assert " ".join(caption.split()) == text
