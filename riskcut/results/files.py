"""The input files of a run, byte for byte, inside its results.

Stored as a contiguous ragged array (CF conventions, section 9.3.3): the bytes of all files one after the
other, and the length of each. With the study, the data that it reads and the seed inside, a results file
alone reproduces its run after the original folder is gone.
"""

from __future__ import annotations

from collections.abc import Iterable
from hashlib import sha256
from typing import Any

import numpy as np
import xarray as xr

from riskcut.results.errors import FileContentError


def pack(files: Iterable[tuple[str, bytes]]) -> dict[str, Any]:
    """Turn input files into the arrays of the group ``files``.

    Parameters
    ----------
    files
        Name and content of each. The names are those by which the study reaches them, and differ.

    Returns
    -------
    dict
        ``name``, ``sha256``, ``length`` (file) and ``content`` (byte), for
        :func:`riskcut.results.vocabulary.assemble`.

    Raises
    ------
    FileContentError
        Two files have one name, or a file has none.
    """
    listed = list(files)
    names = [name for name, _ in listed]
    for name in names:
        if not name:
            raise FileContentError("an input file without a name cannot be kept")
        if names.count(name) > 1:
            raise FileContentError(f"two input files are named {name!r}")
    return {
        "name": np.array(names, dtype=object),
        "sha256": np.array([sha256(content).hexdigest() for _, content in listed], dtype=object),
        "length": np.array([len(content) for _, content in listed], dtype=np.int64),
        "content": np.frombuffer(b"".join(content for _, content in listed), dtype=np.uint8),
    }


def unpack(tree: xr.DataTree) -> list[tuple[str, bytes]]:
    """Return the input files kept in a results tree, after checking each against its SHA-256.

    The names are as the study gave them: whoever writes the files to disk decides where.

    Parameters
    ----------
    tree
        A results tree.

    Returns
    -------
    list of (name, bytes)
        In the order in which they were packed.

    Raises
    ------
    FileContentError
        The tree keeps no files, or a file is not what was put there.
    """
    if "files" not in tree.children:
        raise FileContentError("these results keep no input files")
    group = tree["files"].to_dataset()
    content = group["content"].values.tobytes()
    lengths = [int(n) for n in group["length"].values]
    if min(lengths, default=0) < 0 or sum(lengths) != len(content):
        raise FileContentError(
            f"the input files kept in these results hold {len(content):,} bytes; "
            f"{sum(lengths):,} were put there"
        )
    files = []
    start = 0
    for name, digest, length in zip(group["name"].values, group["sha256"].values, lengths, strict=True):
        piece = content[start : start + length]
        start += length
        if sha256(piece).hexdigest() != str(digest):
            raise FileContentError(
                f"the input file {str(name)!r} kept in these results was altered: its SHA-256 differs"
            )
        files.append((str(name), piece))
    return files
