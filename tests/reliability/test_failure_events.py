"""Any and all with rows that have no answer, against a row-by-row enumeration of what the answer could be."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.reliability.failure_events import AllOf, AnyOf, Verdict, as_event, limit_states, verdict

A, B, C = (0, 0), (0, 1), (1, 0)
STRUCTURES = {
    "any": (AnyOf((A, B, C)), lambda a, b, c: a or b or c),
    "all": (AllOf((A, B, C)), lambda a, b, c: a and b and c),
    "any of all": (AnyOf((A, AllOf((B, C)))), lambda a, b, c: a or (b and c)),
    "all of any": (AllOf((AnyOf((A, B)), C)), lambda a, b, c: (a or b) and c),
}


@pytest.mark.parametrize("name", STRUCTURES)
def test_every_combination(name):
    event, truth = STRUCTURES[name]
    rows = np.array(list(product([-1.0, 1.0, np.nan], repeat=3)))
    judged = {state: Verdict.of(rows[:, j]) for j, state in enumerate((A, B, C))}
    got = verdict(event, judged)
    for row, certain, possible in zip(rows, got.certain, got.possible, strict=True):
        could = {
            bool(truth(*fails))
            for fails in product([False, True], repeat=3)
            if all(np.isnan(value) or (value < 0.0) == fail for value, fail in zip(row, fails, strict=True))
        }
        assert certain == (could == {True})
        assert possible == (True in could)
    turned = got.turned()
    np.testing.assert_array_equal(turned.certain, ~got.possible)
    np.testing.assert_array_equal(turned.possible, ~got.certain)


@settings(deadline=None, max_examples=30)
@given(st.lists(st.sampled_from([-1.0, 0.0, 2.0, np.nan, np.inf, -np.inf]), min_size=1, max_size=20))
def test_failure_is_below_zero_and_nan_is_no_answer(values):
    margin = np.array(values)
    got = Verdict.of(margin)
    np.testing.assert_array_equal(got.certain, [value < 0.0 for value in values])
    np.testing.assert_array_equal(got.possible & ~got.certain, np.isnan(margin))
    assert not np.any(got.certain & ~got.possible)


def test_judging_leaves_the_parts_alone_and_a_list_is_any():
    judged = {A: Verdict.of(np.array([-1.0, 1.0])), B: Verdict.of(np.array([1.0, -1.0]))}
    event = as_event([A, B])
    assert event == AnyOf((A, B))
    assert verdict(event, judged).certain.tolist() == [True, True]
    assert judged[A].certain.tolist() == [True, False]
    assert list(limit_states(AnyOf((A, AllOf((B, A)))))) == [A, B, A]


def test_nothing_is_no_system():
    for build in (AnyOf, AllOf, as_event):
        with pytest.raises(ValueError, match="at least one part"):
            build(())
