"""The certain numbers of a block: which they are, and the block with them as columns too, so that they can be moved."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from riskcut.study.columns import Reading
from riskcut.study.quantity import Quantity
from riskcut.study.template import Template


def stated_numbers(pattern: Any) -> dict[str, Quantity]:
    """Return the certain numbers that a pattern reads, by their address in the study, in the order met."""
    if isinstance(pattern, Reading):
        return {address: number for address, number, _ in pattern.stated}
    found: dict[str, Quantity] = {}
    for part in _parts(pattern).values():
        found |= stated_numbers(part)
    return found


def opened(template: Template, columns: Mapping[str, int]) -> Template:
    """Return a template that reads certain numbers from columns of their own.

    Parameters
    ----------
    template
        The block.
    columns
        Address of each number that it is to read so, to its column: beyond the study's own. A number that stands in
        several places of the block is one column in all of them.
    """
    own = sorted(columns[address] for address in stated_numbers(template.pattern) if address in columns)
    return dataclasses.replace(
        template, pattern=_opened(template.pattern, columns), columns=(*template.columns, *own)
    )


def _opened(pattern: Any, columns: Mapping[str, int]) -> Any:
    if isinstance(pattern, Reading):
        moved = [one for one in pattern.stated if one[0] in columns]
        rest = pattern.constant - sum(factor * number.value for _, number, factor in moved)
        terms = tuple((columns[address], factor) for address, _, factor in moved)
        return Reading(rest, terms + pattern.terms)
    parts = {key: _opened(part, columns) for key, part in _parts(pattern).items()}
    if isinstance(pattern, tuple):
        return tuple(parts.values())
    if isinstance(pattern, Mapping):
        return parts
    return dataclasses.replace(pattern, **parts) if parts else pattern


def _parts(pattern: Any) -> dict[Any, Any]:
    """Return what a pattern is made of, by field, key or place; nothing where it is one thing."""
    if isinstance(pattern, tuple):
        return dict(enumerate(pattern))
    if isinstance(pattern, Mapping):
        return dict(pattern)
    if dataclasses.is_dataclass(pattern) and not isinstance(pattern, type):
        return {field.name: getattr(pattern, field.name) for field in dataclasses.fields(pattern)}
    return {}
