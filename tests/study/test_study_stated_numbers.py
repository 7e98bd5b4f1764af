"""Certain numbers of a block: found by address, and moved everywhere at once."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from study_texts import BOX, at_means, changed, compiled, template

from riskcut.study.columns import Reading
from riskcut.study.quantity import Quantity
from riskcut.study.stated_numbers import opened, stated_numbers


def metres(value: float) -> Quantity:
    return Quantity(kind="certain", value=value, unit="m")


def test_a_sum_of_readings_keeps_what_it_is_made_of() -> None:
    head = Reading(5.0, stated=(("head", metres(5.0), 1.0),))
    drawdown = Reading(3.0, stated=(("drawdown", metres(3.0), 1.0),))
    level = head + -drawdown
    assert level.constant == 2.0
    assert [(address, factor) for address, _, factor in level.stated] == [("head", 1.0), ("drawdown", -1.0)]


def test_readings_are_the_same_wherever_their_value_stands() -> None:
    here, there = (Reading(5.0, stated=((at, metres(5.0), 1.0),)) for at in ("here", "there"))
    assert here == there


def test_the_stated_numbers_of_a_block_are_the_certain_ones_alone() -> None:
    study = compiled(BOX)
    found = stated_numbers(template(study, "service").pattern)
    assert not {column.address for column in study.columns} & set(found)
    assert not any(number.uncertain for number in found.values())
    assert found["works.wall.toe"].unit == "m"


def test_opened_at_the_stated_values_it_is_the_same_block() -> None:
    study = compiled(BOX)
    for one in study.templates:
        numbers = stated_numbers(one.pattern)
        columns = {address: len(study.columns) + i for i, address in enumerate(numbers)}
        values = {columns[address]: number.value for address, number in numbers.items()}
        again = opened(one, columns)
        assert again.columns == (*one.columns, *values)
        assert flat(again.fill({**study.means, **values})) == pytest.approx(
            flat(one.fill(study.means)), rel=1e-12
        )


def test_a_number_is_moved_wherever_it_is_read() -> None:
    study = compiled(BOX)
    one = template(study, "dig_b")
    address = "stages.dig_b.dig_to"
    rows = np.array([-0.5, 0.0, 0.5])
    number = stated_numbers(one.pattern)[address].value
    moved = opened(one, {address: 99}).fill({**study.means, 99: number + rows})
    for step, row in zip(rows, range(3), strict=True):
        text = changed(BOX, (f"dig_to: {number:.1f}", f"dig_to: {number + step:.1f}"))
        wanted = at_means(compiled(text), "dig_b")
        assert np.broadcast_to(moved.formation, 3)[row] == pytest.approx(wanted.formation)
        assert np.broadcast_to(moved.water_inside, 3)[row] == pytest.approx(wanted.water_inside)


def flat(block: object) -> list[float]:
    """Return every number of a block, one after the other."""
    if isinstance(block, float | np.ndarray):
        return [float(block)]
    if isinstance(block, dict):
        return [number for part in block.values() for number in flat(part)]
    if isinstance(block, tuple):
        return [number for part in block for number in flat(part)]
    if dataclasses.is_dataclass(block):
        return [n for field in dataclasses.fields(block) for n in flat(getattr(block, field.name))]
    return []
