"""Every number of a study with its address."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from riskcut.study.errors import Path
from riskcut.study.quantity import Quantity


def quantities(study: BaseModel) -> Iterator[tuple[Path, Quantity, str]]:
    """Yield the address of each number that the writer gave, the number, and the class of its mapping."""
    yield from _walk(study, (), "")


def _walk(node: Any, path: Path, mapping: str) -> Iterator[tuple[Path, Quantity, str]]:
    if isinstance(node, Quantity):
        yield path, node, mapping
    elif isinstance(node, BaseModel):
        # In the schema's order: the set of the fields that were given has none of its own.
        for name in type(node).model_fields:
            if name in node.model_fields_set:
                yield from _walk(getattr(node, name), (*path, name), type(node).__name__)
    elif isinstance(node, dict):
        for name, value in node.items():
            yield from _walk(value, (*path, name), mapping)
