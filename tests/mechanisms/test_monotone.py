"""Each declared direction at 1,000 random points of the range of use, and proof that the check can fail.

The check moves one input of all rows up by a random amount and looks at resistance minus action in the
rows that are within the range of use before and after. It is run three times: on the mechanism, on one
that declares the opposite direction, and on one whose resistance and action are swapped.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.contract import Mechanism, Outcome
from riskcut.study.block import Block

PATHS = [(name, path) for name, mechanism in catalogue().items() for path in mechanism.monotone]


def moved(part: Any, path: list[str], amount: np.ndarray) -> Iterator[Any]:
    """Yield copies of a part of a block, each with one number that the path names moved up."""
    head, *rest = path
    if head == "*":
        entries = part.items() if isinstance(part, dict) else enumerate(part)
        for key, entry in entries:
            for changed in moved(entry, rest, amount) if rest else [entry + amount]:
                copy = dict(part) if isinstance(part, dict) else list(part)
                copy[key] = changed
                yield copy if isinstance(part, dict) else tuple(copy)
        return
    value = getattr(part, head)
    if value is None:
        return
    if rest:
        for changed in moved(value, rest, amount):
            yield replace(part, **{head: changed})
    else:
        assert not is_dataclass(value)
        yield replace(part, **{head: value + amount * (0.05 + 0.15 * np.abs(value))})


@dataclass
class Count:
    checked: int = 0
    changed: int = 0
    violations: int = 0


def margin(outcome: Outcome, rows: int) -> tuple[np.ndarray, np.ndarray]:
    kept = np.ones(rows, dtype=bool)
    for outside in outcome.outside.values():
        kept &= ~np.broadcast_to(outside, rows)
    return np.broadcast_to(np.subtract(outcome.resistance, outcome.action), rows), kept


def check(mechanism: Mechanism, path: str, scenes: dict[str, Block]) -> Count:
    """Count the rows in which the margin goes against the declared direction."""
    rng = np.random.default_rng(7)
    count = Count()
    sign = mechanism.monotone[path]
    for block in scenes.values():
        rows = len(block.formation)
        means_members = [m.name for m in mechanism.members(at_means(block)) if m.not_applicable is None]
        for other in moved(block, path.split("."), rng.uniform(0.0, 1.0, rows)):
            for member in means_members:
                before, kept = margin(mechanism.outcome(block, member), rows)
                after, still = margin(mechanism.outcome(other, member), rows)
                kept = kept & still
                step = sign * (after - before)[kept]
                slack = 1e-9 * (1.0 + np.abs(before[kept]))
                assert not np.any(np.isnan(step))
                count.checked += step.size
                count.changed += np.count_nonzero(np.abs(step) > slack)
                count.violations += np.count_nonzero(step < -slack)
    return count


def at_means(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return float(value.mean())
    if isinstance(value, tuple):
        return tuple(at_means(entry) for entry in value)
    if isinstance(value, dict):
        return {key: at_means(entry) for key, entry in value.items()}
    if is_dataclass(value):
        return replace(value, **{name: at_means(getattr(value, name)) for name in value.__dataclass_fields__})
    return value


@pytest.mark.parametrize(("name", "path"), PATHS)
def test_declared_direction_holds(name: str, path: str, scenes: dict[str, Block]) -> None:
    count = check(catalogue()[name], path, scenes)
    assert count.checked >= 1000
    assert count.changed >= 100, "the input matters in these scenes"
    assert count.violations == 0


@pytest.mark.parametrize(("name", "path"), PATHS)
def test_the_check_fails_where_the_direction_is_wrong(name: str, path: str, scenes: dict[str, Block]) -> None:
    right = catalogue()[name]
    declared = replace(right, monotone={key: -sign for key, sign in right.monotone.items()})

    def swapped(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
        return tuple(
            replace(outcome, resistance=outcome.action, action=outcome.resistance)
            for outcome in right.evaluate(block, names)
        )

    assert check(declared, path, scenes).violations >= 100
    assert check(replace(right, evaluate=swapped), path, scenes).violations >= 100
