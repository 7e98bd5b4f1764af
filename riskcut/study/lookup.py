"""What the schema says of an address: which keys it may have, what is wanted there, what may stand for it."""

from __future__ import annotations

import math
import types
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from riskcut.study.errors import Path, one_of
from riskcut.study.fields import PERIODS
from riskcut.study.measure import Measure
from riskcut.study.quantity import Quantity
from riskcut.study.schema import Entry, Study, UndrainedStrength

UNKNOWN = Quantity(kind="certain", value=math.nan, unit="")
"""Stands for a faulty number while the rules look at the rest: no comparison with it is true."""

SECTIONS = "sections"
"""The one key of a study that is read before the schema sees it."""


def _bare(annotation: Any) -> tuple[Any, Measure | None]:
    """Return an annotation without ``| None`` and ``Annotated``, and the measure that was in it."""
    measure = None
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *notes = get_args(annotation)
            measure = next((note for note in notes if isinstance(note, Measure)), measure)
        elif get_origin(annotation) in (Union, types.UnionType):
            annotation = next(arg for arg in get_args(annotation) if arg is not type(None))
        else:
            return annotation, measure


def _at(path: Path) -> Any:
    """Return the bare annotation at an address, None where the schema has no such address."""
    annotation: Any = Study
    for key in path:
        if isinstance(annotation, type) and issubclass(annotation, Entry):
            field = annotation.model_fields.get(str(key))
            annotation = None if field is None else _bare(field.annotation)[0]
        elif get_origin(annotation) in (dict, list):
            annotation = _bare(get_args(annotation)[-1])[0]
        else:
            return None
    return annotation


def model_at(path: Path) -> type[Entry] | None:
    """Return the class of the mapping at an address, None where there is no mapping of fixed keys."""
    annotation = _at(path)
    return annotation if isinstance(annotation, type) and issubclass(annotation, Entry) else None


def is_group(path: Path) -> bool:
    """Whether only a mapping of entries may stand at an address (a strength may be one number too)."""
    model = model_at(path)
    return get_origin(_at(path)) is dict or (model is not None and model is not UndrainedStrength)


def keys_at(path: Path) -> list[str]:
    """Return the keys that the mapping at an address may have, in the order of the schema."""
    model = model_at(path)
    names = list(model.model_fields) if model is not None else []
    return [*names, SECTIONS] if model is Study else names


def wanted_at(path: Path) -> str:
    """Return what is wanted at an address, in words."""
    parent = model_at(path[:-1]) if path else None
    field = parent.model_fields.get(str(path[-1])) if parent is not None else None
    annotation = _at(path)
    measure, meaning, what = None, "", ""
    if field is not None:
        measure = _bare(field.annotation)[1] or next(
            (n for n in field.metadata if isinstance(n, Measure)), None
        )
        meaning = _small((field.description or "").rstrip("."))
    if measure is not None:
        what = measure.wanted
    elif get_origin(annotation) is Literal:
        what = one_of(get_args(annotation))
    elif get_origin(annotation) is dict:
        inner = _bare(get_args(annotation)[1])[0]
        each = keys_at((*path, "*")) if isinstance(inner, type) and issubclass(inner, Entry) else []
        what = "a mapping of names" + (f", each with {', '.join(each)}" if each else "")
    elif get_origin(annotation) is list:
        what = "a name or a list of names" if get_args(annotation) == (str,) else "a list"
    elif keys := keys_at(path):
        what = f"a mapping with {', '.join(keys)}"
    elif path and path[-1] == "period":
        what = one_of(PERIODS)
    return ": ".join(part for part in (what, meaning) if part) or "a text"


def _small(sentence: str) -> str:
    """Return a sentence without its capital, unless it begins with a name (Young's)."""
    named = sentence.split(" ")[0].endswith("'s")
    return sentence if named else sentence[:1].lower() + sentence[1:]


def required(path: Path) -> bool:
    """Whether the key at an address must be there."""
    parent = model_at(path[:-1])
    field = parent.model_fields.get(str(path[-1])) if parent is not None else None
    return field is not None and field.is_required()


def stand_in(path: Path) -> Any:
    """Return what may stand in place of a faulty entry, None where the entry can be left out."""
    annotation = _at(path)
    if isinstance(annotation, type) and issubclass(annotation, Quantity):
        return UNKNOWN
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        return {
            name: stand_in((*path, name)) for name, f in annotation.model_fields.items() if f.is_required()
        }
    if get_origin(annotation) is dict and isinstance(get_args(annotation)[1], type) and required(path):
        return {"unknown": stand_in((*path, "unknown"))}
    if not required(path):
        return None
    if get_origin(annotation) is Literal:
        return get_args(annotation)[0]
    return ["unknown", "unknown"] if get_origin(annotation) is tuple else "unknown"
