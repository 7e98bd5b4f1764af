"""From bare arrays to a results tree: names, units and meanings are set here, from one table.

The table is :data:`riskcut.results.names.TABLE`. Attributes are set at the end and from the table alone:
xarray keeps the attributes of the operands, so a ratio of two pressures would still say kPa.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import ArrayLike, NDArray

from riskcut.results import guards
from riskcut.results.errors import VocabularyError
from riskcut.results.names import ATTRIBUTES, COORDINATES, FIXED, TABLE, Entry
from riskcut.results.status import Status, flag_attributes, status_attributes

CONVENTIONS = "CF-1.11"
LABELLED = {e.name: e for e in COORDINATES}
_DERIVED = ("mechanism", "member")
_DTYPES: Mapping[str, type[np.generic]] = {
    "real": np.float64, "integer": np.int64, "byte": np.uint8, "status": np.int8, "flag": np.int8,
    "text": np.str_,
}  # fmt: skip


def lookup(group: str, name: str) -> Entry:
    """Return the entry of an array.

    Raises
    ------
    VocabularyError
        The table has no such group, or no such array in it.
    """
    if group not in TABLE:
        raise VocabularyError(f"there is no group {group!r} in the results{_near(group, TABLE)}")
    if name not in TABLE[group]:
        raise VocabularyError(f"group {group!r} has no array {name!r}{_near(name, TABLE[group])}")
    return TABLE[group][name]


def blank(group: str, name: str, sizes: Mapping[str, int]) -> NDArray[Any]:
    """Return an array to be filled: NaN, 0, empty text, or the status ``not_applicable``.

    Parameters
    ----------
    group, name
        As in the table.
    sizes
        Length of each of the array's dims (more are ignored).

    Returns
    -------
    ndarray
        Of the entry's shape; text as an object array, so that it takes strings of any length.
    """
    entry = lookup(group, name)
    shape = tuple(sizes[d] for d in entry.dims)
    if entry.kind == "text":
        return np.full(shape, "", dtype=object)
    fill = {"real": np.nan, "status": Status.NOT_APPLICABLE.value}.get(entry.kind, 0)
    return np.full(shape, fill, dtype=_DTYPES[entry.kind])


def assemble(
    title: str,
    coords: Mapping[str, Iterable[Any]],
    groups: Mapping[str, Mapping[str, Any]],
    attributes: Mapping[str, Any],
) -> xr.DataTree:
    """Build a results tree, and refuse whatever does not match the table.

    Parameters
    ----------
    title
        Title of the study.
    coords
        Labels of each dimension, by name. ``bound``, ``dependence``, ``mechanism``, ``member`` and
        ``variable_2`` are filled in.
    groups
        Group, then name, to the array: bare (its dims are the table's), as a pair (dims, array), or as
        an :class:`xarray.DataArray`.
    attributes
        Root attributes, of those in :data:`riskcut.results.names.ATTRIBUTES`.

    Returns
    -------
    xarray.DataTree
        Coordinates and attributes in the root, a child a group; every array with units and long_name.

    Raises
    ------
    VocabularyError
        An unknown name, dims that are not the table's or not in its order, a length that is not its
        coordinate's, a value of the wrong kind, an estimate without its status.
    MissingNumberError
        NaN where the status says computed, or where there is no status.
    """
    labels = _coordinates(coords)
    sizes = {name: int(variable.size) for name, variable in labels.items()}
    root = xr.Dataset(coords=labels, attrs=_attributes(title, attributes))
    nodes: dict[str, xr.Dataset] = {"/": root}
    for group, arrays in groups.items():
        own = dict(sizes)
        dataset = xr.Dataset(
            {name: _variable(group, lookup(group, name), array, own) for name, array in arrays.items()}
        )
        dims = {str(d) for d in dataset.sizes}
        guards.check(group, dataset.assign_coords({d: labels[d] for d in dims if d in labels}), TABLE[group])
        nodes[group] = dataset
    return xr.DataTree.from_dict(nodes)


def _coordinates(coords: Mapping[str, Iterable[Any]]) -> dict[str, xr.Variable]:
    given = {name: list(values) for name, values in coords.items()}
    for name in given:
        if name not in LABELLED:
            raise VocabularyError(f"there is no coordinate {name!r} in the results{_near(name, LABELLED)}")
    filled: dict[str, list[Any]] = {name: list(values) for name, values in FIXED.items()}
    if "limit_state" in given:
        pairs = [str(label).partition("/") for label in given["limit_state"]]
        for label, pair in zip(given["limit_state"], pairs, strict=True):
            if not all(pair):
                raise VocabularyError(f"limit_state {label!r} is not written as mechanism/member")
        filled["mechanism"] = [p[0] for p in pairs]
        filled["member"] = [p[2] for p in pairs]
    if "variable" in given:
        filled["variable_2"] = given["variable"]
    for name, values in filled.items():
        if name in given and given[name] != values:
            raise VocabularyError(f"coordinate {name!r} is {values}, not {given[name]}")
    variables = {}
    for name, values in (given | filled).items():
        entry = LABELLED[name]
        array = _array(f"coordinate {name}", entry, values)
        if entry.kind == "real" and not np.isfinite(array).all():
            raise VocabularyError(f"coordinate {name!r} holds a label that is no number")
        if name not in _DERIVED and len(set(array.tolist())) != array.size:
            raise VocabularyError(f"coordinate {name!r} has a label twice")
        variables[name] = xr.Variable(entry.dims, array, _describe(entry))
    return variables


def _variable(group: str, entry: Entry, array: Any, sizes: dict[str, int]) -> xr.Variable:
    where = f"{group}/{entry.name}"
    if isinstance(array, xr.DataArray | xr.Variable):
        dims, values = tuple(map(str, array.dims)), array.values
    elif isinstance(array, tuple):
        dims, values = (array[0],) if isinstance(array[0], str) else tuple(array[0]), array[1]
    else:
        dims, values = entry.dims, array
    if dims != entry.dims:
        raise VocabularyError(f"{where} has dims {_dims(dims)}; the table says {_dims(entry.dims)}")
    checked = _array(where, entry, values)
    if checked.ndim != len(dims):
        raise VocabularyError(f"{where} has {checked.ndim} dims; the table says {_dims(dims)}")
    for dim, size in zip(dims, checked.shape, strict=True):
        if dim not in sizes and dim in LABELLED and dim != "margin_bin":
            raise VocabularyError(f"{where} needs the coordinate {dim!r}")
        if sizes.setdefault(dim, size) != size:
            raise VocabularyError(f"{where} has {size} entries along {dim!r}, not {sizes[dim]}")
    return xr.Variable(dims, checked, _describe(entry))


def _array(where: str, entry: Entry, values: ArrayLike | list[Any]) -> NDArray[Any]:
    """Return the values in the dtype of the entry's kind, or say what is wrong with them."""
    if entry.kind == "text":
        text = np.asarray(values, dtype=object)
        for item in text.ravel():
            if not isinstance(item, str):
                raise VocabularyError(f"{where} holds text, not {item!r}")
            if "\0" in item:
                raise VocabularyError(f"{where} holds a zero byte, which no netCDF string may have")
        return text.astype(np.str_)
    try:
        array = np.asarray(values)
    except ValueError as error:
        raise VocabularyError(f"{where} is not a full array: {error}") from None
    wanted = np.dtype(_DTYPES[entry.kind])
    if array.dtype.kind == "b" and entry.kind == "flag":
        return array.astype(wanted)
    if array.dtype.kind not in ("fiu" if entry.kind == "real" else "iu") and array.size:
        raise VocabularyError(f"{where} holds {array.dtype}, and the table says {wanted}")
    cast = array.astype(wanted)
    if entry.kind != "real" and not np.array_equal(cast, array):
        raise VocabularyError(f"{where} holds a number that does not fit in {wanted}")
    return cast


def _describe(entry: Entry) -> dict[str, Any]:
    attributes: dict[str, Any] = {"units": entry.units, "long_name": entry.long_name, **entry.extra}
    if entry.kind == "status":
        attributes |= status_attributes()
    elif entry.kind == "flag":
        attributes |= flag_attributes()
    return attributes


def _attributes(title: str, attributes: Mapping[str, Any]) -> dict[str, Any]:
    checked: dict[str, Any] = {"Conventions": CONVENTIONS}
    for name, value in {"title": title, **attributes}.items():
        wanted = str if name == "title" else ATTRIBUTES.get(name)
        if wanted is None:
            raise VocabularyError(f"there is no attribute {name!r} in the results{_near(name, ATTRIBUTES)}")
        plain = int(value) if isinstance(value, np.integer) else value
        if not isinstance(plain, wanted) or isinstance(plain, bool):
            raise VocabularyError(f"attribute {name!r} is {value!r}; it must be {wanted.__name__}")
        if isinstance(plain, int) and not -(2**63) <= plain < 2**63:
            raise VocabularyError(f"attribute {name!r} is {value}: it does not fit in 64 bits")
        if isinstance(plain, str) and "\0" in plain:
            raise VocabularyError(f"attribute {name!r} has a zero byte, which no netCDF string may have")
        checked[name] = plain
    return checked


def _dims(dims: tuple[str, ...]) -> str:
    return "(" + ", ".join(dims) + ")"


def _near(name: str, known: Iterable[str]) -> str:
    close = get_close_matches(name, list(known), n=1)
    return f"; did you mean {close[0]!r}?" if close else ""
