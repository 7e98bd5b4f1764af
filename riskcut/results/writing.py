"""A results tree onto disk and back: whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from secrets import token_hex
from typing import Any, Literal

import xarray as xr

from riskcut.results.errors import ResultsFileError
from riskcut.results.names import ATTRIBUTES

ENGINE: Literal["h5netcdf"] = "h5netcdf"
COMPRESSION = {"zlib": True, "complevel": 4, "shuffle": True}
WORTH_IT = 1024
"""Bytes from which an array is compressed: below, the chunks' own bookkeeping takes more."""


def write(tree: xr.DataTree, path: str | os.PathLike[str]) -> None:
    """Write a results tree as one netCDF-4 file.

    The file is written aside in the same folder, flushed to the disk and renamed over ``path``. If
    anything goes wrong on the way, an earlier file of that name stays as it was and nothing is left over.

    Parameters
    ----------
    tree
        From :func:`riskcut.results.vocabulary.assemble`, with all root attributes.
    path
        Where to; its folder must exist.

    Raises
    ------
    ResultsFileError
        A root attribute is missing, or the folder is.
    OSError
        The disk refuses.
    """
    absent = [name for name in ("Conventions", "title", *ATTRIBUTES) if name not in tree.attrs]
    if absent:
        raise ResultsFileError(f"results without {', '.join(absent)} are not written")
    target = Path(os.path.realpath(path))
    if not target.parent.is_dir():
        raise ResultsFileError(f"there is no folder {target.parent}")
    clean = xr.DataTree.from_dict(
        {node.path: node.to_dataset(inherit=False).drop_encoding() for node in tree.subtree}
    )
    encoding = {node.path: _encoding(node) for node in clean.subtree}
    aside = target.with_name(f".{target.name}.{token_hex(8)}.part")
    os.close(os.open(aside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    try:
        clean.to_netcdf(aside, mode="w", engine=ENGINE, encoding=encoding)
        _flush(aside)
        os.replace(aside, target)
    except BaseException:
        with suppress(FileNotFoundError):
            aside.unlink()
        raise
    _flush(target.parent)


def read(path: str | os.PathLike[str]) -> xr.DataTree:
    """Read a results file into memory and close it.

    Parameters
    ----------
    path
        A file written by :func:`write`.

    Returns
    -------
    xarray.DataTree
        Loaded; the file may be replaced or removed.

    Raises
    ------
    ResultsFileError
        There is no such file, or it holds no results.
    """
    if not Path(path).is_file():
        raise ResultsFileError(f"there is no results file {os.fspath(path)}")
    try:
        with xr.open_datatree(path, engine=ENGINE) as opened:
            tree: xr.DataTree = opened.load()
    except (OSError, ValueError, KeyError) as error:
        raise ResultsFileError(f"{os.fspath(path)} cannot be read as a netCDF-4 file: {error}") from error
    if "riskcut_version" not in tree.attrs:
        raise ResultsFileError(f"{os.fspath(path)} is a netCDF file without riskcut results")
    return tree


def _encoding(node: xr.DataTree) -> dict[str, Any]:
    """Compress numbers; text is of variable length already."""
    own = node.to_dataset(inherit=False)
    return {
        str(name): dict(COMPRESSION)
        for name, variable in own.data_vars.items()
        if variable.dtype.kind in "fiu" and variable.ndim and variable.nbytes >= WORTH_IT
    }


def _flush(path: Path) -> None:
    """Have the file's (or the folder's) content put on the disk itself."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
