"""Pieces put together over scenarios: methods, doubts, and values without an interval."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from riskcut.analysis.scenarios import found, judge, mixture
from riskcut.reliability.finding import AIMED, FIRST_ORDER, PLAIN, Finding, Kind
from riskcut.results.status import Status

AIMEDLY = Finding(1e-4, 0.9e-4, 1.1e-4, 5e-6, AIMED)
RARE = Finding(1e-13, 0.0, 1e-5, 0.0, FIRST_ORDER, Kind.FIRST_ORDER)


def test_a_value_of_first_order_has_one_bound_and_says_so():
    judged = judge(found(RARE))
    assert judged.status is Status.FIRST_ORDER_ONLY
    assert judged.probability == 1e-13
    assert math.isnan(judged.bounds[0])
    assert judged.bounds[1] == 1e-5
    assert judged.method == FIRST_ORDER
    assert judged.reason


def test_what_is_negligible_a_hundredfold_adds_itself_and_no_bound_of_simulation():
    together = mixture([0.9, 0.1], [found(RARE), found(AIMEDLY)])
    assert float(together.probability) == pytest.approx(0.9e-13 + 0.1e-4, rel=1e-12)
    assert float(together.upper) == pytest.approx(0.1 * 1.1e-4, rel=1e-6)
    judged = judge(together)
    assert judged.status is Status.COMPUTED
    assert judged.method == f"{FIRST_ORDER} and {AIMED}"


def test_what_counts_a_hundredfold_counts_with_that_and_not_with_what_simulation_can_exclude():
    sampled = Finding(1e-9, 0.9e-9, 1.1e-9, 5e-11, AIMED)
    some = Finding(1e-12, 0.0, 1e-5, 0.0, FIRST_ORDER, Kind.FIRST_ORDER)
    together = mixture([0.5, 0.5], [found(some), found(sampled)])
    assert float(together.upper) == pytest.approx(0.5e-10 + 0.55e-9)
    assert judge(together).status is Status.COMPUTED


def test_what_is_of_first_order_in_good_part_is_of_first_order():
    sampled = Finding(1e-12, 0.9e-12, 1.1e-12, 5e-14, AIMED)
    most = Finding(2e-13, 0.0, 1e-5, 0.0, FIRST_ORDER, Kind.FIRST_ORDER)
    judged = judge(mixture([0.5, 0.5], [found(most), found(sampled)]))
    assert judged.status is Status.FIRST_ORDER_ONLY
    assert judged.probability == pytest.approx(0.6e-12)
    assert math.isnan(judged.bounds[0])
    assert judged.bounds[1] == pytest.approx(0.5e-5, rel=1e-5)
    alone = judge(mixture([0.5, 0.5], [found(replace(most, probability=1e-14)), found(sampled)]))
    assert alone.status is Status.COMPUTED
    assert alone.bounds[1] == pytest.approx(0.5e-12 + 0.55e-12)


def test_what_may_count_keeps_its_bound():
    near = Finding(1e-7, 0.0, 1e-5, 0.0, FIRST_ORDER, Kind.FIRST_ORDER)
    together = mixture([0.9, 0.1], [found(near), found(AIMEDLY)])
    assert float(together.upper) == pytest.approx(0.9e-5 + 0.1 * 1.1e-4)


def test_a_doubt_about_a_part_that_matters_is_one_about_the_whole():
    doubtful = Finding(1e-3, 0.5e-3, 2e-3, 3e-4, AIMED, doubt="One row is half of it.")
    whole = judge(mixture([0.5, 0.5], [found(AIMEDLY), found(doubtful)]))
    assert whole.status is Status.UNTRUSTED
    assert whole.reason == "One row is half of it."
    little = judge(mixture([0.999999, 1e-6], [found(AIMEDLY), found(doubtful)]))
    assert little.status is Status.COMPUTED


def test_certainty_and_counts():
    certain = Finding(0.0, 0.0, 0.0, 0.0, "a constant margin", Kind.CERTAIN)
    assert judge(found(certain)).status is Status.CANNOT_FAIL
    never = judge(found(Finding(0.0, 0.0, 3e-5, 0.0, PLAIN)))
    assert never.status is Status.UPPER_BOUND_ONLY
    assert never.bounds == (0.0, 3e-5)


def test_what_a_figure_stands_in_for_is_told_where_it_counts():
    instead = Finding(1e-3, 0.9e-3, 1.1e-3, 5e-5, "subset simulation: 30 inputs", note="In place of another.")
    judged = judge(mixture([0.5, 0.5], [found(AIMEDLY), found(instead)]))
    assert judged.status is Status.COMPUTED
    assert judged.reason == "In place of another."
    assert judged.method == f"{AIMED} and subset simulation: 30 inputs"
    assert judge(mixture([1.0 - 1e-6, 1e-6], [found(AIMEDLY), found(instead)])).reason == ""
