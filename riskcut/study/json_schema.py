"""The JSON Schema of a study file: what an editor needs to show meaning and unit of each key while one types.

It is made from :mod:`riskcut.study.schema` and refuses less than ``riskcut check``: whatever a study may hold it
accepts, and what only the rules or pint can judge (levels that cross, names of stages, units) it lets pass.

Every mapping has two forms. In the first all that a study needs is required. The second, with ``Part`` after its
name, is what a section lays over: nothing is required, and null takes an entry away. Where a study has sections,
what they share may be incomplete too, since each may bring what is missing.

A definition has no description of its own: some editors would show it in place of that of the key.
"""

from __future__ import annotations

import json
import types
from collections.abc import Callable, Iterable
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from annotated_types import MinLen
from pydantic import BeforeValidator
from pydantic.fields import FieldInfo

from riskcut.study import fields, measures
from riskcut.study.json_numbers import SHARED, Json, certain, number
from riskcut.study.lookup import SECTIONS
from riskcut.study.measure import Measure
from riskcut.study.overlay import SECTION_KEYS
from riskcut.study.quantity import Quantity
from riskcut.study.schema import Entry, Study, UndrainedStrength

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

TEXT: Final[Json] = {"$ref": "#/$defs/Text"}
NUMBER_TEXT: Final[Json] = {"$ref": "#/$defs/NumberText"}
NAMES: Final[Json] = {"anyOf": [TEXT, {"type": "array", "items": TEXT}]}

SECTIONS_MEANING: Final = "Sections of a long cut, by name: what each changes, laid over what all share."

DRAWN: Final = {
    "constant": "one draw for all stages",
    "per_stage": "a draw for each stage or season",
    "per_section": "one draw for all stages",  # sections share their ground
}
"""How an uncertain number varies unless the writer states otherwise, in words."""


def _between(low: float, high: float) -> Json:
    return {"anyOf": [{"type": "number", "exclusiveMinimum": low, "exclusiveMaximum": high}, NUMBER_TEXT]}


def _reader(alias: Any) -> BeforeValidator:
    """Return the function by which an entry that is no measure is read."""
    return next(note for note in alias.__metadata__ if isinstance(note, BeforeValidator))


READERS: Final[dict[BeforeValidator, Json]] = {
    _reader(fields.Text): TEXT,
    _reader(fields.Name): TEXT,
    _reader(fields.Names): NAMES,
    _reader(fields.Between): {"type": "array", "items": TEXT, "minItems": 2, "maxItems": 2},
    _reader(fields.Years): {"$ref": "#/$defs/Duration"},
    _reader(fields.Rate): {
        "type": "string",
        "pattern": rf"^\s*{fields.RATE.pattern}\s*$",
        "examples": ["0.2 per year"],
    },
    _reader(fields.Probability): _between(0, 1),
    _reader(fields.Count): {"type": "integer", "minimum": 1, "maximum": fields.MOST_COUNTED},
    _reader(fields.Yes): {"type": "boolean"},
    _reader(fields.TargetPeriod): {"enum": list(fields.PERIODS)},
    _reader(fields.Beta): _between(0, 10),
    _reader(fields.Correlation): _between(-1, 1),
    _reader(fields.Choice): {"anyOf": [TEXT, {"type": "number"}]},
}
"""The form of each entry that :mod:`riskcut.study.fields` reads."""

MEASURES: Final[dict[Measure, str]] = {
    note: name
    for name, alias in vars(measures).items()
    for note in getattr(alias, "__metadata__", ())
    if isinstance(note, Measure)
}
"""The name of each measure, by which its definition is found."""


def as_text() -> str:
    """Return the schema as the text of a file."""
    return json.dumps(study_schema(), indent=1, ensure_ascii=False) + "\n"


def study_schema() -> Json:
    """Return the JSON Schema (draft 2020-12) of a study file.

    Returns
    -------
    dict
        Plain data. Each property has a ``description``, with the unit where it is a number.
    """
    return _Writer().study()


def measure_of(model: type[Entry], name: str) -> Measure | None:
    """Return the measure that a key of a mapping is read by, None where it is no number.

    A strength that may be one number or grow with depth is measured as the number.
    """
    field = model.model_fields[name]
    annotation, notes = _bare(field.annotation, field.metadata)
    if annotation is UndrainedStrength:
        return measure_of(UndrainedStrength, "at_top")
    return next((note for note in notes if isinstance(note, Measure)), None)


def description(model: type[Entry], name: str) -> str:
    """Return what a key of a mapping means and, of a number, its unit, its bounds and how often it is drawn."""
    field, measure = model.model_fields[name], measure_of(model, name)
    meaning = field.description or meaning_of(_bare(field.annotation)[0])
    if measure is None:
        return meaning
    return f"{meaning} {_in_words(measure)}; uncertain: {DRAWN[model.varies(name)]}."


class _Writer:
    """Writes definitions as they are first needed."""

    def __init__(self) -> None:
        self.definitions: dict[str, Json] = dict(SHARED)

    def study(self) -> Json:
        whole = self._mapping(Study, part=False)
        part = {key: self._field(Study, key, Study.model_fields[key], part=True) for key in SECTION_KEYS}
        properties: Json = {}
        for key, form in whole["properties"].items():
            # What may come from the sections is spelt out below, once for either way to write a study.
            kept = ("description", "default") if key in SECTION_KEYS else form
            properties[key] = {name: value for name, value in form.items() if name in kept}
        properties[SECTIONS] = {
            "description": SECTIONS_MEANING,
            **_named(self._section(part), more_than_none=True),
        }
        shared = [key for key in whole["required"] if key in SECTION_KEYS]
        return {
            "$schema": DIALECT,
            "title": "A study of riskcut",
            "description": "Ground, water, loads, works and stages of a deep excavation; any number may be "
            "uncertain. Levels in m above the site datum; else kN, m, kPa, degrees.",
            "type": "object",
            "properties": properties,
            "additionalProperties": False,
            "required": [key for key in whole["required"] if key not in SECTION_KEYS],
            "if": {"required": [SECTIONS]},
            "then": {"properties": part},
            "else": {
                "properties": {key: whole["properties"][key] for key in SECTION_KEYS},
                "required": shared,
            },
            "$defs": self.definitions,
        }

    def _section(self, part: Json) -> Json:
        return self._defined(
            "Section",
            lambda: {
                "type": "object",
                "properties": part,
                "additionalProperties": False,
            },
        )

    def _defined(self, name: str, write: Callable[[], Json]) -> Json:
        if name not in self.definitions:
            self.definitions[name] = {}  # keeps its place, and ends the search where a form holds itself
            self.definitions[name] = write()
        return {"$ref": f"#/$defs/{name}"}

    def _entry(self, model: type[Entry], *, part: bool) -> Json:
        name = model.__name__.removesuffix("Entry") + ("Part" if part else "")
        return self._defined(name, lambda: self._mapping(model, part=part))

    def _number(self, measure: Measure) -> Json:
        name = MEASURES[measure]
        plain = self._defined(f"{name}Certain", lambda: certain(measure))
        return self._defined(name, lambda: number(measure, plain))

    def _mapping(self, model: type[Entry], *, part: bool) -> Json:
        """Return the form of a mapping of fixed keys."""
        written: Json = {
            "type": "object",
            "properties": {
                name: self._field(model, name, field, part=part) for name, field in model.model_fields.items()
            },
            "additionalProperties": False,
        }
        needed = [name for name, field in model.model_fields.items() if field.is_required()]
        return written if part or not needed else {**written, "required": needed}

    def _field(self, model: type[Entry], name: str, field: FieldInfo, *, part: bool) -> Json:
        """Return the form of one key, with what it means and what stands where it is left out."""
        annotation, notes = _bare(field.annotation, field.metadata)
        default: Json = {}
        if isinstance(field.default, Quantity):
            default = {"default": field.default.value}
        elif isinstance(field.default, str | bool) and field.default != "":
            default = {"default": field.default}
        return {
            "description": description(model, name),
            **default,
            **self._form(annotation, notes, part=part),
        }

    def _form(self, annotation: Any, notes: list[Any], *, part: bool) -> Json:
        """Return what may be written where an annotation stands; in a part it may be null."""
        form = self._stated(annotation, notes, part=part)
        if part:
            return {"anyOf": [*(form.get("anyOf") or [form]), {"type": "null"}]}
        return form

    def _stated(self, annotation: Any, notes: list[Any], *, part: bool) -> Json:
        some = not part and any(isinstance(note, MinLen) for note in notes)
        for note in notes:
            if isinstance(note, Measure):
                return self._number(note)
            if isinstance(note, BeforeValidator) and note in READERS:
                form = READERS[note]
                return _not_empty(form) if some and form is NAMES else form
        if annotation is UndrainedStrength:
            at_top = UndrainedStrength.model_fields["at_top"]
            one_number = self._stated(*_bare(at_top.annotation, at_top.metadata), part=False)
            return {"anyOf": [one_number, self._entry(UndrainedStrength, part=part)]}
        if isinstance(annotation, type) and issubclass(annotation, Entry):
            return self._entry(annotation, part=part)
        if get_origin(annotation) is Literal:
            return {"enum": list(get_args(annotation))}
        inner, inner_notes = _bare(get_args(annotation)[-1])
        each = self._form(inner, inner_notes, part=part)
        if get_origin(annotation) is list:
            return {"type": "array", "items": each}
        if isinstance(inner, type) and issubclass(inner, Entry):
            return _named({"description": meaning_of(inner), **each}, more_than_none=some)
        return {"type": "object", "additionalProperties": each}


def _bare(annotation: Any, notes: Iterable[Any] = ()) -> tuple[Any, list[Any]]:
    """Return an annotation without ``| None`` and ``Annotated``, and all notes to it."""
    found = [*notes]
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            found += more
        elif get_origin(annotation) in (Union, types.UnionType) and type(None) in get_args(annotation):
            annotation = next(arg for arg in get_args(annotation) if arg is not type(None))
        else:
            return annotation, found


def meaning_of(annotation: Any) -> str:
    """Return the first sentence that the class of a mapping says of itself."""
    doc = annotation.__doc__ if isinstance(annotation, type) and issubclass(annotation, Entry) else None
    return (doc or "").strip().split("\n\n")[0]


def _in_words(measure: Measure) -> str:
    """Return unit, bounds and example of a measure as the second sentence of a description."""
    wanted = (
        measure.wanted if measure.unit != "1" else measure.wanted.replace("number", "number without unit", 1)
    )
    return wanted[:1].upper() + wanted[1:]


def _named(each: Json, *, more_than_none: bool) -> Json:
    """Return a mapping from names of the writer's own."""
    return {
        "type": "object",
        "propertyNames": {"pattern": f"^{fields.NAME.pattern}$"},
        "additionalProperties": each,
        **({"minProperties": 1} if more_than_none else {}),
    }


def _not_empty(form: Json) -> Json:
    return {"anyOf": [{**one, "minItems": 1} if one.get("type") == "array" else one for one in form["anyOf"]]}
