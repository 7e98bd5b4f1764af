"""A leader is named only where the intervals tell it from the rest."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.sensitivity.leader import leader

share = st.floats(0.0, 1.0)
inputs = st.lists(st.tuples(share, st.floats(0.0, 0.3), st.booleans()), min_size=0, max_size=8)


def test_a_clear_leader() -> None:
    found = leader(["head", "su", "weight"], [0.2, 0.7, 0.1], [[0.1, 0.3], [0.6, 0.8], [0, 0.2]])
    assert (found.kind, found.names, found.share) == ("leader", ("su",), 0.7)


def test_a_tie_holds_all_that_overlap_with_the_first() -> None:
    """The third is smaller than the second, and its interval wider: it reaches, the second does not."""
    found = leader(
        ["a", "b", "c", "d"], [0.5, 0.40, 0.39, 0.1], [[0.45, 0.55], [0.38, 0.42], [0.3, 0.48], [0, 0.2]]
    )
    assert (found.kind, found.names, found.share) == ("tie", ("a", "c"), 0.5)


def test_bounds_that_touch_are_a_tie() -> None:
    assert leader(["a", "b"], [0.5, 0.3], [[0.4, 0.6], [0.2, 0.4]]).kind == "tie"


@pytest.mark.parametrize(
    ("values", "bounds"),
    [
        ([], np.empty((0, 2))),
        ([np.nan], [[np.nan, np.nan]]),
        ([0.0], [[0.0, 0.0]]),
        ([0.02], [[-0.01, 0.05]]),
    ],
)
def test_none(values: list[float], bounds: list[list[float]]) -> None:
    found = leader(["a"] * len(values), values, bounds)
    assert (found.kind, found.names) == ("none", ())
    assert math.isnan(found.share)


def test_lengths_must_agree() -> None:
    with pytest.raises(ValueError, match="one length"):
        leader(["a"], [0.1, 0.2], [[0, 1], [0, 1]])
    with pytest.raises(ValueError, match="one length"):
        leader(["a"], [0.1], [0.0, 1.0])


@settings(deadline=None, max_examples=200)
@given(inputs)
def test_the_rule(rows: list[tuple[float, float, bool]]) -> None:
    names = [f"x{i}" for i in range(len(rows))]
    values = np.array([v if ok else np.nan for v, _, ok in rows])
    bounds = np.array([[v - h, v + h] for v, h in zip(values, (h for _, h, _ in rows), strict=True)]).reshape(
        -1, 2
    )
    found = leader(names, values, bounds)
    known = {n: (v, *b) for n, v, b in zip(names, values, bounds, strict=True) if not np.isnan(v)}
    if found.kind == "none":
        top = max((v for v, _, _ in known.values()), default=0.0)
        assert not known or any(v == top and low <= 0 for v, low, _ in known.values())
        return
    value, low, _ = known[found.names[0]]
    assert value == max(v for v, _, _ in known.values()) == found.share
    assert low > 0
    others = {n: b for n, b in known.items() if n != found.names[0]}
    assert set(found.names[1:]) == {n for n, (_, _, high) in others.items() if high >= low}
    assert (found.kind == "leader") == (len(found.names) == 1)
    tied = [known[n][0] for n in found.names]
    assert tied == sorted(tied, reverse=True)


@settings(deadline=None, max_examples=50)
@given(inputs, st.randoms(use_true_random=False))
def test_the_order_of_the_inputs_does_not_matter(
    rows: list[tuple[float, float, bool]], random: object
) -> None:
    order = list(range(len(rows)))
    random.shuffle(order)  # type: ignore[attr-defined]

    def of(indices: list[int]) -> tuple[str, frozenset[str]]:
        values = np.array([rows[i][0] for i in indices])
        half = np.array([rows[i][1] for i in indices])
        found = leader([f"x{i}" for i in indices], values, np.stack([values - half, values + half], axis=-1))
        return found.kind, frozenset(found.names)

    if len({v for v, _, _ in rows}) == len(rows):
        assert of(order) == of(list(range(len(rows))))
