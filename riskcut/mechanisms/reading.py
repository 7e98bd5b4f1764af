"""What every mechanism reads from a block in the same way: factors, options, impossible rows."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from riskcut.ground.profile import Rows, crossed
from riskcut.ground.rows import some
from riskcut.mechanisms.contract import Option
from riskcut.study.block import Block, Number


def model_factor(block: Block, *, mechanism: str, member: str) -> Number:
    """Return the model factor of a limit state, 1 where the block states none."""
    return block.model_factors.get(f"{mechanism}/{member}", 1.0)


def word(block: Block, *, mechanism: str, key: str, options: Mapping[str, Option]) -> str | None:
    """Return an option that is a word: what the study states, else the default.

    Raises
    ------
    ValueError
        If the word is not among the option's choices.
    """
    stated = block.options.get(mechanism, {}).get(key)
    if stated is None:
        default = options[key].default
        return None if default is None else str(default)
    if stated not in options[key].choices:
        choices = ", ".join(options[key].choices)
        raise ValueError(f"models.{mechanism}.{key} is {stated!r}: state one of {choices}")
    return str(stated)


def number(block: Block, *, mechanism: str, key: str, options: Mapping[str, Option]) -> float:
    """Return an option that is a number: what the study states, else the default.

    Raises
    ------
    ValueError
        If it is no number, or lies outside the option's limits.
    """
    option = options[key]
    stated = block.options.get(mechanism, {}).get(key, option.default)
    if isinstance(stated, bool) or not isinstance(stated, (int, float)):
        raise ValueError(f"models.{mechanism}.{key} is {stated!r}: state a number")
    low = -np.inf if option.lowest is None else option.lowest
    high = np.inf if option.highest is None else option.highest
    if not low <= stated <= high:
        raise ValueError(f"models.{mechanism}.{key} is {stated!r}: state a number from {low} to {high}")
    return float(stated)


def impossible_ground(block: Block) -> Rows:
    """Tell the rows in which strata cross, or in which a cut that has been dug has no depth."""
    return crossed(block.strata) | np.greater_equal(block.formation, block.surface)


def without(value: Number, rows: Rows) -> Number:
    """Return the value with NaN in the given rows: counted as impossible, never as safe."""
    if not some(rows):
        return value
    marked: Number = np.where(rows, np.nan, value)[()]
    return marked
