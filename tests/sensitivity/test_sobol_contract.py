"""What `analyse` refuses, and what must not change its answer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from riskcut.sensitivity.design import draw
from riskcut.sensitivity.sobol import SobolIndices, Values, analyse

Array = NDArray[np.float64]
SMALL: dict[str, Any] = {
    "drivers": 3, "groups": [[0], [1], [2]], "base_rows": 32, "scrambles": 4, "seed": 3,
}  # fmt: skip


def four(z: Array) -> Array:
    return np.stack([z[:, 0] + z[:, 1], np.exp(z[:, 2]), z[:, 0] * z[:, 1] * z[:, 2], z[:, 1] ** 3], axis=1)


def same(a: SobolIndices, b: SobolIndices) -> bool:
    return all(
        np.array_equal(getattr(a, name), getattr(b, name), equal_nan=True)
        for name in ("first", "total", "first_bounds", "total_bounds")
    )


def test_a_row_without_a_number_refuses_its_margin_and_says_how_many() -> None:
    """Rows of all kinds count: of A and B, and of the swapped matrices."""
    counted = 0

    def respond(z: Array) -> Array:
        nonlocal counted
        y = four(z)
        y[z[:, 0] > 1.5, 1] = np.nan
        y[z[:, 0] > 1.5, 2] = np.inf
        counted += int(np.count_nonzero(z[:, 0] > 1.5))
        return y

    found = analyse(respond=respond, margins=4, **SMALL)
    clean = analyse(respond=four, margins=4, **SMALL)
    assert counted > 0
    text = f"{counted} of 640 rows gave no number"
    assert found.refusal == (None, text, text, None)
    for name in ("first", "total", "first_bounds", "total_bounds"):
        array, kept = getattr(found, name), getattr(clean, name)
        assert np.isnan(array[1:3]).all()
        np.testing.assert_array_equal(array[[0, 3]], kept[[0, 3]])


def test_one_bad_row_in_a_swapped_matrix_is_enough() -> None:
    """Large counts are written with a thousands separator."""
    calls = 0

    def respond(z: Array) -> Array:
        nonlocal calls
        y = z[:, :1].copy()
        calls += 1
        if calls == 3:
            y[-1] = np.nan
        return y

    found = analyse(
        drivers=2, groups=[[0], [1]], respond=respond, margins=1, base_rows=4096, scrambles=2, seed=1
    )
    assert found.refusal == ("1 of 32,768 rows gave no number",)


@pytest.mark.parametrize("value", [0.0, 7.3, -1e200, 1e-200])
def test_a_margin_that_does_not_vary_is_refused(value: float) -> None:
    found = analyse(respond=lambda z: np.full((len(z), 1), value), margins=1, **SMALL)
    assert found.refusal == ("the margin does not vary",)
    assert np.isnan(found.first).all()
    assert np.isnan(found.total_bounds).all()


def test_rounding_is_not_variation() -> None:
    found = analyse(respond=lambda z: 1e6 + 1e-9 * z[:, :1], margins=1, **SMALL)
    assert found.refusal == ("the margin does not vary",)


def test_a_margin_that_moves_in_some_scrambles_only_is_refused() -> None:
    found = analyse(respond=lambda z: (z[:, :1] > 2.2).astype(float), margins=1, **SMALL)
    assert found.refusal[0] is not None
    assert found.refusal[0].startswith("the margin does not vary in ")
    assert found.refusal[0].endswith(" of 4 scrambles")


@pytest.mark.parametrize("scale", [1e-250, 1e-9, 1e9, 1e250])
@pytest.mark.parametrize("shift", [0.0, 3.0])
def test_scale_and_sign_do_not_matter(scale: float, shift: float) -> None:
    """Sobol' indices are free of the margin's unit; nor do they overflow."""
    plain = analyse(respond=lambda z: four(z) + shift, margins=4, **SMALL)
    scaled = analyse(respond=lambda z: -scale * (four(z) + shift), margins=4, **SMALL)
    np.testing.assert_allclose(scaled.first, plain.first, atol=1e-12)
    np.testing.assert_allclose(scaled.total, plain.total, atol=1e-12)


def test_many_margins_at_once_are_as_one_by_one() -> None:
    together = analyse(respond=four, margins=4, **SMALL)
    for k in range(4):
        single = analyse(respond=lambda z, k=k: four(z)[:, [k]], margins=1, **SMALL)
        for name in ("first", "total", "first_bounds", "total_bounds"):
            np.testing.assert_allclose(getattr(single, name)[0], getattr(together, name)[k], atol=1e-13)


def test_the_same_seed_gives_the_same_bits_and_another_does_not() -> None:
    """Seed 0 is a seed like any other (SALib alone would take it for none)."""
    zero = {**SMALL, "seed": 0}
    first, again = (analyse(respond=four, margins=4, **zero) for _ in range(2))
    assert same(first, again)
    assert not same(first, analyse(respond=four, margins=4, **SMALL))


def test_neither_workers_nor_a_shared_design_nor_the_memory_order_change_the_bits() -> None:
    plain = analyse(respond=four, margins=4, **SMALL)
    assert same(plain, analyse(respond=lambda z: np.asfortranarray(four(z)), margins=4, workers=3, **SMALL))
    keys = {k: v for k, v in SMALL.items() if k != "groups"}
    design = draw(**keys)
    assert same(plain, analyse(respond=four, margins=4, design=design, **SMALL))
    with pytest.raises(ValueError, match="drawn for other drivers"):
        analyse(respond=four, margins=4, design=design, **{**SMALL, "seed": 4})


def test_values_worked_out_beforehand_save_work_and_change_nothing() -> None:
    """Two values of one driver, and two drivers that are mixed with each other and share a group."""
    worked = 0

    def transform(z: Array) -> Array:
        nonlocal worked
        worked += len(z)
        return np.stack([np.exp(z[:, 1]), 0.6 * z[:, 0] + 0.8 * z[:, 2], z[:, 0], z[:, 1] ** 2], axis=1)

    def respond(x: Array) -> Array:
        return np.stack([x[:, 0] * x[:, 1], x[:, 2] + x[:, 3]], axis=1)

    keys = SMALL | {"groups": [[0, 2], [1]]}
    plain = analyse(respond=lambda z: respond(transform(z)), margins=2, **keys)
    every, worked = worked, 0
    found = analyse(respond=respond, margins=2, values=Values(transform, [1, 2, 0, 1]), **keys)
    assert same(plain, found)
    assert (every, worked) == (4 * 32 * 4, 4 * 32 * 2)


def test_the_order_of_groups_only_orders_the_answer() -> None:
    plain = analyse(respond=four, margins=4, **SMALL)
    turned = analyse(respond=four, margins=4, **{**SMALL, "groups": [[2], [0], [1]]})
    np.testing.assert_allclose(turned.first, plain.first[:, [2, 0, 1]], atol=1e-13)
    np.testing.assert_allclose(turned.total, plain.total[:, [2, 0, 1]], atol=1e-13)


def test_rows_are_counted_and_progress_is_told() -> None:
    told: list[tuple[int, int]] = []
    seen = 0

    def respond(z: Array) -> Array:
        nonlocal seen
        seen += len(z)
        assert not z.flags.writeable
        return four(z)

    found = analyse(respond=respond, margins=4, progress=lambda *done: told.append(done), **SMALL)
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert found.rows == seen == 4 * 32 * 5
    assert found.margin_evaluations == 4 * seen


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"base_rows": 100}, "power of 2, from 2 up, not 100"),
        ({"base_rows": 0}, "power of 2"),
        ({"scrambles": 1}, "2 scrambles or more"),
        ({"groups": []}, "must be a group"),
        ({"groups": [[0], []]}, "none may be empty"),
        ({"groups": [[0], [1, 0]]}, "in two groups"),
        ({"groups": [[0], [3]]}, "numbered from 0 to 2"),
        ({"groups": [[-1]]}, "numbered from 0 to 2"),
        ({"drivers": 0}, "1 to 10,600 drivers"),
        ({"drivers": 20_000}, "not 20,000"),
        ({"margins": 0}, "must be a margin"),
        ({"margins": 3}, r"shape \(160, 4\), not \(160, 3\)"),
        ({"seed": -1}, "seed must be 0 or more"),
    ],
)
def test_what_makes_no_design_is_refused(change: dict[str, Any], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        analyse(**{"respond": four, "margins": 4, **SMALL, **change})


def test_the_first_inputs_of_a_design_are_a_design() -> None:
    """A sum of three inputs of the first four of nine: the exact shares, by points drawn for all nine."""
    weights = np.array([3.0, 2.0, 1.0, 0.0])
    design = draw(drivers=9, base_rows=512, scrambles=16, seed=3)
    with pytest.raises(ValueError, match="1 to 9"):
        design.of(10)
    indices = analyse(
        drivers=4,
        groups=[(0,), (1,), (2,), (3,)],
        respond=lambda z: (z @ weights)[:, np.newaxis],
        margins=1,
        base_rows=512,
        scrambles=16,
        seed=3,
        design=design.of(4),
    )
    exact = weights**2 / (weights**2).sum()
    np.testing.assert_allclose(indices.first[0], exact, atol=0.01)
    np.testing.assert_allclose(indices.total[0], exact, atol=0.01)
