"""Input files come back byte for byte, or not at all."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_results import FILES, attributes

from riskcut.results import files, writing
from riskcut.results.errors import FileContentError
from riskcut.results.vocabulary import assemble


def kept(packed: dict[str, Any]) -> xr.DataTree:
    return assemble("Quay box", {}, {"files": packed}, attributes())


def test_the_files_survive_the_disk(tree: xr.DataTree, tmp_path: Path) -> None:
    """CRLF, a byte order mark, an empty file and every byte there is."""
    writing.write(tree, tmp_path / "out.nc")
    assert files.unpack(writing.read(tmp_path / "out.nc")) == FILES


@settings(deadline=None, max_examples=60)
@given(st.dictionaries(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1),
                       st.binary(max_size=200), max_size=5))  # fmt: skip
def test_any_files_come_back(content: dict[str, bytes]) -> None:
    listed = list(content.items())
    assert files.unpack(kept(files.pack(listed))) == listed


def test_no_files_and_only_empty_ones(tmp_path: Path) -> None:
    for listed in ([], [("a", b""), ("b", b"")]):
        writing.write(kept(files.pack(listed)), tmp_path / "out.nc")
        assert files.unpack(writing.read(tmp_path / "out.nc")) == listed


def test_the_array_is_ragged_as_cf_has_it(tree: xr.DataTree) -> None:
    group = tree["files"]
    assert group["length"].attrs["sample_dimension"] == "byte"
    assert group["length"].values.tolist() == [len(content) for _, content in FILES]
    assert group["content"].dtype == np.uint8
    assert group["sha256"].values.tolist() == [hashlib.sha256(content).hexdigest() for _, content in FILES]


@pytest.mark.parametrize("byte", [0, 20, -1])
def test_one_altered_byte_is_found(tree: xr.DataTree, byte: int) -> None:
    tree["files"]["content"].values[byte] ^= 1
    ends = np.cumsum([len(content) for _, content in FILES])
    name = FILES[int(np.searchsorted(ends, byte % ends[-1], side="right"))][0]
    with pytest.raises(
        FileContentError, match=f"'{name}' kept in these results was altered: its SHA-256 differs"
    ):
        files.unpack(tree)


def test_shifted_ends_and_lost_bytes_are_found() -> None:
    packed = files.pack([("a", b"12"), ("b", b"345")])
    with pytest.raises(FileContentError, match="'a' kept in these results was altered"):
        files.unpack(kept(packed | {"length": np.array([3, 2])}))
    for lengths in ([2, 4], [7, -2]):
        with pytest.raises(FileContentError, match=r"hold 5 bytes; \d were put there"):
            files.unpack(kept(packed | {"length": np.array(lengths)}))


def test_names_are_needed_and_differ() -> None:
    with pytest.raises(FileContentError, match="two input files are named 'a'"):
        files.pack([("a", b"1"), ("a", b"1")])
    with pytest.raises(FileContentError, match="without a name"):
        files.pack([("", b"1")])
    with pytest.raises(FileContentError, match="keep no input files"):
        files.unpack(assemble("Quay box", {}, {}, {}))
