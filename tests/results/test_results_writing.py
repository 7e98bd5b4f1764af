"""A results file is whole or absent, opens anywhere, and says the same each time."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
import xarray as xr
from invented_results import arrays, attributes, coordinates

from riskcut.results import writing
from riskcut.results.errors import ResultsFileError
from riskcut.results.names import ATTRIBUTES, TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import assemble


def test_what_is_read_is_what_was_written(tree: xr.DataTree, tmp_path: Path) -> None:
    path = tmp_path / "out.nc"
    writing.write(tree, path)
    back = writing.read(path)
    assert back.identical(tree)
    path.unlink()
    for node in back.subtree:
        for array in node.to_dataset(inherit=False).variables.values():
            assert isinstance(array.values, np.ndarray), "loaded: the file is no longer needed"


def test_missing_numbers_survive(groups: dict[str, dict[str, Any]], tmp_path: Path) -> None:
    groups["reliability"]["failure_probability"][0] = np.nan
    groups["reliability"]["status"][0] = Status.NOT_APPLICABLE
    tree = assemble("Quay box", coordinates(), groups, attributes())
    writing.write(tree, tmp_path / "out.nc")
    back = writing.read(tmp_path / "out.nc")
    assert back.identical(tree)
    assert np.isnan(back["reliability"]["failure_probability"].values[0]).all()
    assert back["reliability"]["status"].dtype == np.int8


def test_plain_xarray_opens_it(tree: xr.DataTree, tmp_path: Path) -> None:
    path = tmp_path / "out.nc"
    writing.write(tree, path)
    with xr.open_datatree(path) as opened:
        assert set(opened.children) == set(TABLE)
        one = opened["reliability"]["failure_probability"].sel(
            section="east", stage="last dig", limit_state="prop_overload/lower"
        )
        assert one.item() == tree["reliability"]["failure_probability"].values[1, 2, 2]
        flags = opened["reliability"]["status"].attrs["flag_values"]
        assert flags.dtype == np.int8
        assert flags.tolist() == [0, 1, 2, 3, 4, 5]
    with xr.open_dataset(path, group="sensitivity") as group:
        assert group["total_order"].attrs["units"] == "1"


def test_it_is_netcdf_on_hdf5_with_compressed_numbers_and_free_text(
    tree: xr.DataTree, tmp_path: Path
) -> None:
    """Read by the HDF5 library alone: text of variable length, numbers compressed, no times of writing."""
    path = tmp_path / "out.nc"
    writing.write(tree, path)
    with h5py.File(path) as file:
        reason = file["reliability/reason"]
        assert h5py.check_string_dtype(reason.dtype).length is None
        assert reason[0, 0, 0].decode() == "reason, Böschung, kN/m³"
        assert file["sensitivity/total_order_bounds"].compression == "gzip"
        assert file["files/content"].compression == "gzip"
        assert file["reliability/status"].dtype == np.int8
        assert file["files/content"].dtype == np.uint8
        assert file.attrs["seed"].tolist() == [0]


def test_the_same_tree_gives_the_same_file(tree: xr.DataTree, tmp_path: Path) -> None:
    """Byte for byte, also after having been read once."""
    for name in ("a.nc", "b.nc"):
        writing.write(tree, tmp_path / name)
    writing.write(writing.read(tmp_path / "a.nc"), tmp_path / "c.nc")
    first = (tmp_path / "a.nc").read_bytes()
    assert first == (tmp_path / "b.nc").read_bytes() == (tmp_path / "c.nc").read_bytes()


def test_long_text_and_no_text(tmp_path: Path) -> None:
    """The printed summary of a large study is longer than HDF5's 64 KiB for attributes of fixed size."""
    long = attributes() | {"summary": "Stützwand " * 20_000, "not_covered": ""}
    groups = arrays()
    groups["reliability"]["reason"][0, 0, 0] = "because " * 1000
    writing.write(assemble("Quay box", coordinates(), groups, long), tmp_path / "out.nc")
    back = writing.read(tmp_path / "out.nc")
    assert back.attrs["summary"] == "Stützwand " * 20_000
    assert back.attrs["not_covered"] == ""
    assert back["reliability"]["reason"].values[0, 0, 0] == "because " * 1000


@pytest.mark.parametrize("error", [OSError("no space left"), KeyboardInterrupt(), MemoryError()])
@pytest.mark.parametrize("moment", ["half-way", "before the rename"])
def test_a_writer_that_dies_leaves_the_earlier_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException, moment: str
) -> None:
    path = tmp_path / "out.nc"
    tree = assemble("Quay box", coordinates(), {"cut": arrays()["cut"]}, attributes())
    before = b"an earlier file, of any kind" * 100
    path.write_bytes(before)

    def half(_self: xr.DataTree, filepath: Path, **_: Any) -> None:
        assert Path(filepath).parent == tmp_path, "a rename is safe within one folder only"
        assert Path(filepath) != path
        Path(filepath).write_bytes(before[: len(before) // 2])
        raise error

    def fail(*_: Any) -> None:
        raise error

    if moment == "half-way":
        monkeypatch.setattr(xr.DataTree, "to_netcdf", half)
    else:
        monkeypatch.setattr(os, "replace", fail)
    for target in (path, tmp_path / "new.nc"):
        with pytest.raises(type(error)):
            writing.write(tree, target)
    monkeypatch.undo()
    assert os.listdir(tmp_path) == ["out.nc"]
    assert path.read_bytes() == before
    writing.write(tree, path)
    assert writing.read(path).identical(tree)


def test_the_file_is_on_the_disk_before_it_takes_the_name(
    tree: xr.DataTree, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps: list[str] = []
    fsync, replace = os.fsync, os.replace

    def watched_fsync(handle: int) -> None:
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        fsync(handle)

    def watched_replace(source: Path, target: Path) -> None:
        steps.append("rename")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    writing.write(tree, tmp_path / "out.nc")
    assert steps == ["file", "rename", "folder"]


def test_the_file_may_be_read_as_any_other(tree: xr.DataTree, tmp_path: Path) -> None:
    """Written aside, it must not keep the private mode of a temporary file."""
    (tmp_path / "plain").touch()
    writing.write(tree, tmp_path / "out.nc")
    assert (tmp_path / "out.nc").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_stays_a_link(tree: xr.DataTree, tmp_path: Path) -> None:
    (tmp_path / "store").mkdir()
    (tmp_path / "out.nc").symlink_to(tmp_path / "store" / "real.nc")
    writing.write(tree, tmp_path / "out.nc")
    assert (tmp_path / "out.nc").is_symlink()
    assert writing.read(tmp_path / "store" / "real.nc").identical(tree)


@pytest.mark.parametrize("name", ATTRIBUTES)
def test_results_without_an_attribute_are_not_written(name: str, tmp_path: Path) -> None:
    given = {key: value for key, value in attributes().items() if key != name}
    with pytest.raises(ResultsFileError, match=f"results without {name} are not written"):
        writing.write(assemble("Quay box", {}, {}, given), tmp_path / "out.nc")
    assert not os.listdir(tmp_path)


def test_what_is_no_results_file_is_said_to_be_none(tree: xr.DataTree, tmp_path: Path) -> None:
    with pytest.raises(ResultsFileError, match="there is no results file"):
        writing.read(tmp_path / "absent.nc")
    with pytest.raises(ResultsFileError, match="there is no folder"):
        writing.write(tree, tmp_path / "absent" / "out.nc")
    (tmp_path / "text.nc").write_text("no netCDF")
    with pytest.raises(ResultsFileError, match="cannot be read as a netCDF-4 file"):
        writing.read(tmp_path / "text.nc")
    writing.write(tree, tmp_path / "cut.nc")
    whole = (tmp_path / "cut.nc").read_bytes()
    (tmp_path / "cut.nc").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ResultsFileError, match="cannot be read as a netCDF-4 file"):
        writing.read(tmp_path / "cut.nc")
    xr.Dataset({"a": 1.0}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    with pytest.raises(ResultsFileError, match="a netCDF file without riskcut results"):
        writing.read(tmp_path / "other.nc")
