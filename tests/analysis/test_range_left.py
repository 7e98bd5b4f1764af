"""The limits of a range of use that rows leave are told with how many do."""

from __future__ import annotations

import re

import pytest
from scipy.special import ndtr
from small_studies import HEAVE

from riskcut.results import reading

LIMIT = "the width is the shorter side in plan: B <= L"


def test_a_limit_left_in_some_rows_is_named_with_its_share(run):
    tree = run(HEAVE, ("width: 6", "width: {mean: 11, sd: 1}"))
    (of,) = reading.estimates(tree, limit_state="base_heave/bearing")
    share, text = reading.outside_range(tree, of)
    assert share == pytest.approx(float(ndtr(-1.0)), abs=0.005)
    limit, told = re.fullmatch(r"(.*) \(in (\d+) %\)", text).groups()
    assert limit == LIMIT
    assert int(told) / 100 == pytest.approx(share, abs=0.03)  # of 2,048 rows


def test_each_limit_has_its_own_share_the_most_frequent_first(run):
    # H/B is 12/11 at the means: the wide cut's own limit is left in most rows.
    tree = run(HEAVE, ("width: 6", "width: {mean: 11, sd: 1}"))
    (of,) = reading.estimates(tree, limit_state="base_heave/wide_cut")
    share, text = reading.outside_range(tree, of)
    shares = [int(one) for one in re.findall(r"\(in (\d+) %\)", text)]
    assert len(shares) == 2
    assert shares == sorted(shares, reverse=True)
    assert text.startswith("wide_cut: the cut is wider than deep")
    assert share >= max(shares) / 100 - 0.03


def test_nothing_is_told_where_no_row_leaves_it(run):
    tree = run(HEAVE)
    (of,) = reading.estimates(tree, limit_state="base_heave/bearing")
    assert reading.outside_range(tree, of) == (0.0, "")
