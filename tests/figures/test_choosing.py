"""What is shown: each limit state at its worst block, dealt over pages; words and numbers of the figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.figures import labels
from riskcut.figures.choosing import in_pages, worst_places
from riskcut.figures.palette import mark
from riskcut.results.reading import estimates, governs, worst
from riskcut.results.status import Status


@pytest.mark.parametrize("size", [(1, 8), (3, 12)])
def test_worst_block_is_the_one_that_the_results_name(trees, size):
    tree = trees(*size)
    places = {place.limit_state_name: place for place in worst_places(tree)}
    for name in tree["limit_state"].to_numpy():
        candidates = [one for one in estimates(tree, limit_state=str(name)) if governs(tree, one)]
        expected = worst([one for one in candidates if one.status is not Status.CANNOT_FAIL])
        if expected is None:
            assert name not in places
        else:
            place = places[str(name)]
            assert (place.section_name, place.stage_name) == (expected.section, expected.stage)


def test_worst_comes_first_and_bounds_come_last(trees):
    tree = trees(1, 8)
    group = tree["reliability"].dataset
    places = worst_places(tree)
    status = [Status(int(group["status"].values[place.at])) for place in places]
    known = [s is not Status.UPPER_BOUND_ONLY for s in status]
    assert known == sorted(known, reverse=True)
    assert set(known) == {True, False}
    indices = [group["reliability_index"].values[p.at] for p, k in zip(places, known, strict=True) if k]
    assert indices == sorted(indices)


def test_limit_state_that_fails_in_every_row_is_the_worst(box):
    group = box["reliability"].dataset
    at = (0, 7, list(box["limit_state"].values).index("trench/slurry"))
    group["status"].values[at] = Status.UPPER_BOUND_ONLY
    group["governing"].values[at] = 1
    group["reliability_index"].values[at] = np.nan
    group["reliability_index_bounds"].values[at] = (-np.inf, -4.2)
    assert worst_places(box)[0].limit_state_name == "trench/slurry"


def test_alternative_that_never_governs_has_no_place(trees):
    assert "base_heave/wide_cut" not in [place.limit_state_name for place in worst_places(trees(1, 12))]


def test_section_is_looked_for_alone(trees):
    assert {place.section_name for place in worst_places(trees(8, 8), ["box_A3"])} == {"box_A3"}


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 60), st.integers(1, 4), st.integers(1, 4))
def test_pages_hold_everything_once_in_full_rows(count, rows, columns):
    items = [str(number) for number in range(count)]
    pages = in_pages(items, rows * columns, columns)
    assert [item for page in pages for item in page] == items
    assert len(pages) == math.ceil(count / (rows * columns))
    assert all(0 < len(page) <= rows * columns for page in pages)
    assert all(len(page) % columns == 0 for page in pages[:-1])


NAMES = st.text(alphabet="ab_./ ", min_size=1, max_size=60).filter(lambda s: s == s.strip() and "  " not in s)


@settings(deadline=None, max_examples=150)
@given(NAMES, st.integers(4, 40))
def test_wrapped_name_loses_nothing_and_fits(name, width):
    lines = labels.wrapped(name, width).split("\n")
    assert "".join(lines).replace(" ", "") == name.replace(" ", "")
    assert max(map(len, lines)) <= width


def test_address_is_broken_at_its_points_first():
    assert labels.wrapped("ground.strata.firm_clay.su.at_top", 31) == "ground.strata.firm_clay.su.\nat_top"
    assert labels.wrapped("mechanism_of_a_very_long_name", 12) == "mechanism_\nof_a_very_\nlong_name"


def test_sign_stays_with_its_number():
    lines = labels.filled("it fails less than this: < 1.2e-5 at 95 % of all", 27)
    assert any("<\N{NO-BREAK SPACE}1.2e-5" in line for line in lines)
    assert any("95\N{NO-BREAK SPACE}%" in line for line in lines)


def test_numbers_read_as_an_engineer_writes_them():
    assert labels.level(-9.8) == "\N{MINUS SIGN}9.80"
    assert labels.level(3.2) == "+3.20"
    assert [labels.decade(10.0**k) for k in (0, -1, -2, -7)] == ["1", "0.1", "1e-2", "1e-7"]
    assert [labels.thousands(n) for n in (8192, 262144, 1048576)] == ["8.2", "262", "1,049"]
    assert labels.short_probability(4.834e-4) == "4.8e-4"
    assert labels.listed(["a", "b", "c"]) == "a, b and c"
    assert labels.listed(["a"]) == "a"
    assert labels.counted(1, "stage") == "1 stage"
    assert labels.counted(2, "index", "indices") == "2 indices"
    assert labels.with_unit("level", "m") == "level (m)"
    assert labels.with_unit("share", "1") == f"share ({labels.PURE_NUMBER})"


def test_marks_differ_and_the_first_eight_in_colour():
    marks = [mark(number) for number in range(40)]
    assert len({(m.colour, m.marker, str(m.dashes)) for m in marks}) == 40
    assert len({m.colour for m in marks[:8]}) == 8


def test_colours_differ_in_grey_too():
    def lightness(colour: str) -> float:
        red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    shades = sorted(lightness(mark(number).colour) for number in range(8))
    assert shades[-1] - shades[0] > 0.35
    neighbours = [(mark(a), mark(b)) for a in range(8) for b in range(a)]
    for one, other in neighbours:
        apart = abs(lightness(one.colour) - lightness(other.colour)) > 0.04
        assert apart or one.marker != other.marker
