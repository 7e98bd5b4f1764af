"""The streams: keyed by (seed, purpose, index), normal, and independent of the number of columns."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from scipy import stats

from riskcut.reliability.streams import BLOCK_ROWS, normals


def test_a_block_is_what_its_key_says():
    block = normals(seed=42, purpose="figures", index=3, count=5)
    key = (zlib.crc32(b"figures"), 3)
    source = np.random.Generator(np.random.SFC64(np.random.SeedSequence(42, spawn_key=key)))
    expected = np.stack([source.standard_normal(8192) for _ in range(5)], axis=1)
    np.testing.assert_array_equal(block, expected)
    assert BLOCK_ROWS == 8192
    assert block.shape == (8192, 5)
    assert block.flags.f_contiguous


def test_more_columns_leave_the_first_as_they_are():
    few = normals(seed=1, purpose="a", index=0, count=2)
    many = normals(seed=1, purpose="a", index=0, count=9)
    np.testing.assert_array_equal(few, many[:, :2])


def test_a_used_block_is_written_over():
    used = normals(seed=1, purpose="a", index=0, count=3)
    again = normals(seed=1, purpose="a", index=7, count=3, out=used)
    assert again is used
    np.testing.assert_array_equal(used, normals(seed=1, purpose="a", index=7, count=3))
    with pytest.raises(ValueError, match="4 columns"):
        normals(seed=1, purpose="a", index=0, count=4, out=used)


def test_seed_purpose_and_index_all_tell_streams_apart():
    keys = [
        {"seed": seed, "purpose": purpose, "index": index}
        for seed in (0, 1, 2**40)
        for purpose in ("pilot", "figures", "")
        for index in (0, 1, 2**33)
    ]
    blocks = np.stack([normals(**key, count=1)[:, 0] for key in keys])
    matrix = np.corrcoef(blocks)
    np.fill_diagonal(matrix, 0.0)
    assert np.abs(matrix).max() < 5.5 / np.sqrt(8192)  # 351 pairs
    assert len(np.unique(blocks)) == blocks.size


def test_standard_normal():
    block = normals(seed=5, purpose="figures", index=0, count=12)
    assert stats.kstest(block.ravel(), "norm").pvalue > 1e-3
    assert np.abs(np.corrcoef(block, rowvar=False) - np.eye(12)).max() < 5 / np.sqrt(8192)


def test_a_negative_seed_is_refused():
    with pytest.raises(ValueError, match="non-negative"):
        normals(seed=-1, purpose="a", index=0, count=1)
