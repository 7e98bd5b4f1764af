"""The JSON Schema of one number of a study: bare, with its unit as a text, or uncertain."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from riskcut.study.families import (
    COMMON_KEYS,
    DISTRIBUTIONS,
    FIT_KEYS,
    FITS,
    LEAST_SHAPE,
    MOST_SHAPE,
    SPREAD_KEYS,
)
from riskcut.study.measure import MOST, Measure
from riskcut.study.number_entries import LARGEST_COV
from riskcut.study.units import MINUS

Json = dict[str, Any]

FIGURE: Final = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
UNIT: Final = rf"[A-Za-zµ\u03bc%°0-9/^*·¹²³⁻{MINUS}+\s-]*"
"""Signs that a unit may hold. Whether it fits is for ``riskcut check``: pint knows more units than a pattern."""

OF_LEVEL: Final = tuple(key for key in SPREAD_KEYS if key != "cov")
"""Without the ratio of spread to mean, which of a level would hang on the datum."""

SPREAD_TEXT: Final = rf"^\s*[+]?{FIGURE}{UNIT}$"


def _distributions(keys: Sequence[str]) -> Json:
    """Return the sets of keys that state a distribution, each with the distributions that it may be."""
    kinds: dict[tuple[str, ...], list[str]] = {}
    for kind, (must, one_of) in DISTRIBUTIONS.items():
        for needed in [(*must, key) for key in one_of if key in keys] or [must]:
            kinds.setdefault(needed, []).append(kind)

    def without(others: Sequence[str]) -> Json:
        return {"not": {"anyOf": [{"required": [key]} for key in others]}}

    return {
        "oneOf": [
            {"required": ["fit", "data"], **without([*keys, "dist"])},
            *(
                {
                    # what is meant without dist is a normal or a uniform number
                    "required": [*needed, *([] if {"normal", "uniform"} & set(of) else ["dist"])],
                    "properties": {"dist": {"enum": of}},
                    **without([key for key in (*keys, *FIT_KEYS) if key not in needed]),
                }
                for needed, of in kinds.items()
            ),
        ]
    }


SPREAD: Final[Json] = {"$ref": "#/$defs/Spread"}

SHARED: Final[dict[str, Json]] = {
    "Text": {"type": "string", "pattern": r"\S"},
    "NumberText": {"type": "string", "pattern": rf"^\s*[-+{MINUS}]?{FIGURE}{UNIT}$"},
    "Duration": {
        "type": "string",
        "pattern": rf"^\s*[+]?{FIGURE}\s*[A-Za-z]{UNIT}$",
        "examples": ["2 weeks", "1 month", "50 years"],
    },
    "Spread": {
        "anyOf": [
            {"type": "number", "exclusiveMinimum": 0, "maximum": MOST},
            {"type": "string", "pattern": SPREAD_TEXT},
        ]
    },
    "Cov": {
        "anyOf": [
            {"type": "number", "exclusiveMinimum": 0, "maximum": LARGEST_COV},
            {"type": "string", "pattern": SPREAD_TEXT},
        ]
    },
    "Shape": {
        "anyOf": [
            {"type": "number", "minimum": LEAST_SHAPE, "exclusiveMaximum": MOST_SHAPE},
            {"$ref": "#/$defs/NumberText"},
        ]
    },
    "Distribution": _distributions(SPREAD_KEYS),
    "DistributionOfLevel": _distributions(OF_LEVEL),
    "Dist": {"enum": list(DISTRIBUTIONS)},
    "Fit": {"enum": list(FITS)},
    "Varies": {"enum": ["constant", "per_stage", "per_section"]},
    "Basis": {"enum": ["measured", "published", "judgement"]},
    "DataFile": {"type": "string", "pattern": r"^(?!/)[^\n]*\S"},
}
"""Definitions that all numbers share."""


def certain(measure: Measure) -> Json:
    """Return the forms of a certain number: a figure within the measure's bounds, or one with its unit."""
    value: Json = {"type": "number", "minimum": -MOST, "maximum": MOST}
    if measure.above is not None:
        value |= {"exclusiveMinimum": measure.above}
    if measure.at_least is not None:
        value |= {"minimum": measure.at_least}
    if measure.at_most is not None:
        value |= {"maximum": measure.at_most}
    return {"anyOf": [value, {"$ref": "#/$defs/NumberText"}]}


def number(measure: Measure, plain: Json) -> Json:
    """Return the forms of a number that may be uncertain.

    Parameters
    ----------
    measure
        Its unit and bounds.
    plain
        Reference to :func:`certain` of the same measure, which mean, low and high are.
    """
    unit = "without unit" if measure.unit == "1" else f"in {measure.unit}"
    place = unit + (" above the site datum" if measure.datum else "")
    spread = {"description": f"Standard deviation, {unit}.", **SPREAD}
    forms: Json = {
        "mean": {"description": f"Mean, {place}.", **plain},
        "sd": spread,
        "cov": {
            "description": 'Coefficient of variation, sd over mean: 0.15 or "15 %".',
            "$ref": "#/$defs/Cov",
        },
        "low": {"description": f"Least value of a number that has one (uniform, say), {place}.", **plain},
        "high": {"description": f"Largest value of a number that has one, {place}.", **plain},
        "mode": {"description": f"Most likely value of a triangular number, {place}.", **plain},
        "parent_mean": {"description": f"Mean before low and high cut off, {place}.", **plain},
        "parent_sd": {"description": f"Standard deviation before low and high cut off, {unit}.", **SPREAD},
        "location": {"description": f"Location of a generalised extreme value, {place}.", **plain},
        "scale": {"description": f"Scale of a generalised extreme value, {unit}.", **SPREAD},
        "shape": {
            "description": "Shape of a generalised extreme value: above 0 a heavy upper tail, below 0 an upper end.",
            "$ref": "#/$defs/Shape",
        },
        "dist": {
            "description": "Distribution; unless stated normal, with low and high uniform. gumbel: a maximum.",
            "$ref": "#/$defs/Dist",
        },
        "fit": {
            "description": "Distribution fitted to the data by maximum likelihood; empirical: the data themselves.",
            "$ref": "#/$defs/Fit",
        },
        "column": {
            "description": "Header of the column of the data file; may be left out where one has numbers.",
            "$ref": "#/$defs/Text",
        },
        "unit": {
            "description": f"Unit of the bare numbers of the column, {unit} unless stated.",
            "$ref": "#/$defs/Text",
        },
        "varies": {
            "description": "How often it is drawn: once, for each stage or season, for each section.",
            "$ref": "#/$defs/Varies",
        },
        "period": {
            "description": "Period of which it is the maximum, such as 1 year (water levels, loads).",
            "$ref": "#/$defs/Duration",
        },
        "shared": {
            "description": "The part of a number drawn for each stage that all stages share.",
            "type": "object",
            "properties": {"sd": spread},
            "additionalProperties": False,
            "required": ["sd"],
        },
        "basis": {"description": "What it rests on.", "$ref": "#/$defs/Basis"},
        "source": {"description": "Where it comes from, in words.", "$ref": "#/$defs/Text"},
        "data": {
            "description": "File that it was or (with fit) is fitted to, as a path from the study file.",
            "$ref": "#/$defs/DataFile",
        },
    }
    keys = OF_LEVEL if measure.datum else SPREAD_KEYS
    uncertain = {
        "type": "object",
        "properties": {key: forms[key] for key in (*keys, "dist", *FIT_KEYS, *COMMON_KEYS)},
        "additionalProperties": False,
        "allOf": [{"$ref": f"#/$defs/{'DistributionOfLevel' if measure.datum else 'Distribution'}"}],
    }
    return {"anyOf": [*certain(measure)["anyOf"], uncertain]}
