"""``riskcut explain ADDRESS``: what an entry of a study means, in which unit, how it may be written."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from riskcut.study.errors import Path, address
from riskcut.study.families import ALL_KEYS, EMPIRICAL
from riskcut.study.json_schema import SECTIONS_MEANING, description, meaning_of, measure_of
from riskcut.study.lookup import SECTIONS, keys_at, model_at, required, wanted_at
from riskcut.study.measure import Measure
from riskcut.study.overlay import SECTION_KEYS
from riskcut.study.schema import Study
from riskcut.study.variation import ACTIONS
from riskcut.uncertainty.fitting import FITTED

WIDTH = 100
FIT = (
    "fit takes the distribution from the numbers in a column of the data file, by maximum likelihood: "
    f"{', '.join(FITTED)}; {EMPIRICAL} takes the numbers as they are, and has no tails. column may be left out "
    "where there is one of numbers; unit says theirs, where it is another."
)
BY_MECHANISM = ("models", "model_factors")
"""Keys of a study below which the names are those of mechanisms and their members."""


def entry_at(name: str) -> Path | None:
    """Return the path of an address that the schema knows, None where it knows none.

    What a section changes stands where all sections have it: ``sections.west.water.table`` is ``water.table``.
    A part of a number is told with the number, and the names under ``model_factors`` with the whole.
    """
    path: Path = tuple(name.split("."))
    if path[0] == SECTIONS and len(path) > 2:
        path = path[2:]
    if path[0] in BY_MECHANISM:
        path = path[:1]
    for length in range(1, len(path)):
        if _measure(path[:length]) is not None and set(path[length:]) <= set(ALL_KEYS):
            path = path[:length]
            break
    known = path == (SECTIONS,) or model_at(path) is not None or _stands(path)
    return path if known else None


def _stands(path: Path) -> bool:
    """Whether a path is a key of a mapping of fixed keys."""
    parent = model_at(path[:-1])
    return parent is not None and str(path[-1]) in parent.model_fields


def _measure(path: Path) -> Measure | None:
    parent = model_at(path[:-1]) if path and _stands(path) else None
    return measure_of(parent, str(path[-1])) if parent is not None else None


def near(name: str) -> list[str]:
    """Return the addresses that stand beside one that the schema does not know."""
    path: Path = tuple(name.split("."))
    for length in range(len(path) - 1, -1, -1):
        if keys := keys_at(path[:length]):
            return [address((*path[:length], key)) for key in keys]
    return []


def content(path: Path) -> dict[str, Any]:
    """Return what is told of an entry, as plain data."""
    parent, model, measure = model_at(path[:-1]), model_at(path), _measure(path)
    if path == (SECTIONS,):
        meaning, keys = SECTIONS_MEANING, {key: description(Study, key) for key in SECTION_KEYS}
    else:
        own = parent is not None and _stands(path)
        meaning = description(parent, str(path[-1])) if parent is not None and own else meaning_of(model)
        keys = {key: description(model, key) for key in model.model_fields} if model is not None else {}
    action = parent is not None and parent.__name__ in ACTIONS
    return {
        "address": address(path),
        "meaning": meaning,
        "needed": required(path) or not _stands(path),
        "wanted": wanted_at(path).split(":")[0] if measure is None and not keys else "",
        "unit": measure.unit if measure is not None else None,
        "forms": list(_forms(str(path[-1]), measure, action=action)) if measure is not None else [],
        "keys": keys,
        "keys_needed": [key for key in keys if path != (SECTIONS,) and required((*path, key))],
    }


def text(path: Path) -> str:
    """Return what is told of an entry."""
    return "\n".join(_lines(content(path)))


def _lines(told: dict[str, Any]) -> Iterator[str]:
    yield told["address"] + ("" if told["needed"] else " (may be left out)")
    yield textwrap.fill(told["meaning"], WIDTH)
    if told["wanted"] and told["wanted"] not in told["meaning"].lower():
        yield textwrap.fill(f"Written as {told['wanted']}.", WIDTH)
    if told["address"] in BY_MECHANISM:
        yield "riskcut explain MECHANISM tells the names of each, and what may be stated of them."
    if told["forms"]:
        yield ""
        yield "Written as one of:"
        yield from (f"  {form}" for form in told["forms"])
        yield "and, within the braces: basis: measured, published or judgement; source: in words; data: a file"
        yield textwrap.fill(FIT, WIDTH)
    if told["keys"]:
        yield ""
        yield "Its keys, those that it needs marked *:"
        width = max(map(len, told["keys"])) + 3
        for key, meaning in told["keys"].items():
            head = f"{'*' if key in told['keys_needed'] else ' '} {key:<{width}}"
            yield textwrap.fill(meaning, WIDTH, initial_indent=head, subsequent_indent=" " * len(head))


def _forms(key: str, measure: Measure, *, action: bool) -> Iterator[str]:
    """Yield the ways to write a number, on the first of its measure's examples; a maximum only of an action."""
    first, _, with_unit = measure.example.partition(" or ")
    figure, spread = float(first), f"{0.1 * abs(float(first)):g}"
    yield f"{key}: {first}"
    if with_unit:
        yield f"{key}: {with_unit}"
    yield f"{key}: {{mean: {first}, sd: {spread}}}"
    if not measure.datum:
        yield f"{key}: {{dist: lognormal, mean: {first}, cov: 0.1}}"
    yield f"{key}: {{low: {figure - float(spread):g}, high: {figure + float(spread):g}}}"
    if action:
        yield f"{key}: {{dist: gumbel, mean: {first}, sd: {spread}, period: 1 year}}"
        yield f"{key}: {{fit: gev, data: records.csv, column: {key}, period: 1 year}}"
    else:
        yield f"{key}: {{fit: normal, data: tests.csv, column: {key}}}"
