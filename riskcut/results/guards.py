"""No number may be missing without a status that says so."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from riskcut.results.errors import MissingNumberError, VocabularyError
from riskcut.results.names import Entry
from riskcut.results.status import Status


def check(group: str, arrays: xr.Dataset, table: Mapping[str, Entry]) -> None:
    """Check every real array of a group against the status and flag arrays beside it.

    Parameters
    ----------
    group
        Name of the group, for the messages.
    arrays
        The group's arrays, with their coordinates.
    table
        The entries of the group by name.

    Raises
    ------
    VocabularyError
        An array comes without the status or flag that guards it, a lower bound lies above its upper
        one, or a code is not one of its kind.
    MissingNumberError
        A number is NaN although every guard says that it exists, or both bounds are NaN where the
        status promises one of them.
    """
    entries = [table[str(name)] for name in arrays.data_vars]
    for entry in entries:
        absent = [g for g in entry.guards if g not in arrays]
        if absent:
            raise VocabularyError(f"{group}/{entry.name} needs {' and '.join(absent)} beside it")
        if entry.kind in ("status", "flag"):
            _check_codes(group, entry, arrays[entry.name].values)
    for entry in entries:
        if entry.kind == "real":
            _check_missing(group, entry, arrays, table)
            if "bound" in entry.dims:
                _check_bounds(group, entry, arrays, table)


def _check_codes(group: str, entry: Entry, values: NDArray[np.int8]) -> None:
    allowed = [s.value for s in Status] if entry.kind == "status" else [0, 1]
    strange = np.setdiff1d(values, np.array(allowed, dtype=np.int8))
    if strange.size:
        raise VocabularyError(
            f"{group}/{entry.name} holds {strange[0]}; a {entry.kind} is one of "
            + ", ".join(map(str, allowed))
        )


def _codes(guard: str, entry: Entry, arrays: xr.Dataset) -> NDArray[np.int8]:
    """Return a guard's codes, shaped to broadcast against the entry's own dims."""
    codes = arrays[guard]
    shape = tuple(arrays.sizes[d] if d in codes.dims else 1 for d in entry.dims)
    shaped: NDArray[np.int8] = codes.values.reshape(shape)
    return shaped


def _check_missing(group: str, entry: Entry, arrays: xr.Dataset, table: Mapping[str, Entry]) -> None:
    wrong = np.isnan(arrays[entry.name].values)
    promises = []
    for guard in entry.guards:
        is_status = table[guard].kind == "status"
        wrong = wrong & (_codes(guard, entry, arrays) == (Status.COMPUTED if is_status else 1))
        promises.append(f"{guard} says {'computed' if is_status else 'yes'}")
    if wrong.any():
        raise MissingNumberError(
            f"{group}/{entry.name} is NaN in {np.count_nonzero(wrong)} of {wrong.size} places, the first at "
            f"{_place(entry, wrong, arrays)}, "
            + (f"where {' and '.join(promises)}" if promises else "and it has no status to allow that")
        )


def _check_bounds(group: str, entry: Entry, arrays: xr.Dataset, table: Mapping[str, Entry]) -> None:
    values = arrays[entry.name].values
    lower, upper = values[..., 0], values[..., 1]  # ``bound`` is the last of the dims everywhere
    crossed = lower > upper
    if crossed.any():
        raise VocabularyError(
            f"{group}/{entry.name}: the lower bound is above the upper one at "
            + _place(entry, crossed, arrays)
        )
    for guard in entry.guards:
        if table[guard].kind == "status":
            one_sided = _codes(guard, entry, arrays)[..., 0] == Status.UPPER_BOUND_ONLY
            silent = np.isnan(lower) & np.isnan(upper) & one_sided
            if silent.any():
                raise MissingNumberError(
                    f"{group}/{entry.name} has neither bound at {_place(entry, silent, arrays)}, "
                    f"where {guard} says upper_bound_only"
                )


def _place(entry: Entry, wrong: NDArray[np.bool_], arrays: xr.Dataset) -> str:
    """Return the labels of the first wrong entry, in words."""
    labels = []
    for dim, i in zip(entry.dims, np.argwhere(wrong)[0], strict=False):
        label = arrays.coords[dim].values[i] if dim in arrays.coords else i
        labels.append(f"{dim} {str(label)!r}" if isinstance(label, str) else f"{dim} {label}")
    return ", ".join(labels) or "its only place"
