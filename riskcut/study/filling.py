"""Filling a pattern of readings quickly: what is certain is filled once, and only what varies for each set of rows."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from operator import itemgetter
from typing import Any

from riskcut.study.block import Number
from riskcut.study.columns import Reading

Columns = Mapping[int, Number]
Filler = Callable[[Columns], Any]


@dataclasses.dataclass(frozen=True, slots=True)
class Certain:
    """A part of a pattern that no column enters, as it always is."""

    value: Any


def filler(pattern: Any) -> Filler | Certain:
    """Return what fills a pattern: a function of the columns, or the pattern filled once where nothing varies.

    Parameters
    ----------
    pattern
        Dataclasses, tuples and mappings of readings, and of anything else, which is left as it is.
    """
    if isinstance(pattern, Reading):
        return _reader(pattern)
    if isinstance(pattern, tuple):
        return _gathered(dict(enumerate(pattern)), lambda values: tuple(values.values()))
    if dataclasses.is_dataclass(pattern) and not isinstance(pattern, type):
        made = type(pattern)
        return _gathered(parts_of(pattern), lambda values: made(**values))
    if isinstance(pattern, Mapping):
        return _gathered(dict(pattern), lambda values: dict(values))
    return Certain(pattern)


def _reader(reading: Reading) -> Filler | Certain:
    """Return what fills a reading; most are one column as it is."""
    if not reading.terms:
        return Certain(reading.value({}))
    if reading.constant == 0.0 and len(reading.terms) == 1 and reading.terms[0][1] == 1.0:
        return itemgetter(reading.terms[0][0])
    return reading.value


def parts_of(pattern: Any) -> dict[str, Any]:
    """Return the fields of a dataclass by their names."""
    return {field.name: getattr(pattern, field.name) for field in dataclasses.fields(pattern)}


def _gathered(parts: Mapping[Any, Any], made: Callable[[dict[Any, Any]], Any]) -> Filler | Certain:
    """Return what fills several parts and makes one thing of them."""
    fillers = {key: filler(part) for key, part in parts.items()}
    certain = {key: one.value if isinstance(one, Certain) else None for key, one in fillers.items()}
    varying = [(key, one) for key, one in fillers.items() if not isinstance(one, Certain)]
    if not varying:
        return Certain(made(certain))

    def fill(columns: Columns) -> Any:
        values = dict(certain)
        for key, one in varying:
            values[key] = one(columns)
        return made(values)

    return fill
