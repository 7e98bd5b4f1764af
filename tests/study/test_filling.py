"""A pattern filled by what was made ready once is the pattern filled reading by reading."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np
from study_texts import BOX, compiled

from riskcut.study.columns import Reading
from riskcut.study.filling import Certain, filler


def by_reading(pattern: Any, columns: Mapping[int, Any]) -> Any:
    if isinstance(pattern, Reading):
        return pattern.constant + sum(factor * columns[column] for column, factor in pattern.terms)
    if isinstance(pattern, tuple):
        return tuple(by_reading(one, columns) for one in pattern)
    if dataclasses.is_dataclass(pattern):
        names = [field.name for field in dataclasses.fields(pattern)]
        return dataclasses.replace(pattern, **{n: by_reading(getattr(pattern, n), columns) for n in names})
    if isinstance(pattern, Mapping):
        return {key: by_reading(one, columns) for key, one in pattern.items()}
    return pattern


def same(one: Any, other: Any) -> bool:
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, Mapping):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if dataclasses.is_dataclass(one):
        names = [field.name for field in dataclasses.fields(one)]
        return type(one) is type(other) and all(same(getattr(one, n), getattr(other, n)) for n in names)
    return bool(np.all(one == other))


def test_every_block_of_a_study_is_filled_as_it_reads() -> None:
    study = compiled(BOX)
    draw = np.random.default_rng(7)
    columns = {index: draw.normal(size=5) for index in range(len(study.columns))}
    for template in study.templates:
        one = filler(template.pattern)
        assert not isinstance(one, Certain)
        assert same(one(columns), by_reading(template.pattern, columns))


def test_what_does_not_vary_is_filled_once_and_shared() -> None:
    pattern = (Reading(1.0), (Reading(2.0), "clay"), Reading(0.5, ((3, 2.0),)))
    one = filler(pattern)
    assert not isinstance(one, Certain)
    first, second = one({3: 1.0}), one({3: 2.0})
    assert first == (1.0, (2.0, "clay"), 2.5)
    assert second == (1.0, (2.0, "clay"), 4.5)
    assert first[1] is second[1]
    certain = filler(pattern[:2])
    assert isinstance(certain, Certain)
    assert certain.value == (1.0, (2.0, "clay"))
