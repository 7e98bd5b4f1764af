"""``riskcut mechanisms`` and ``riskcut explain``: what can fail, by which formula, and who says so."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from riskcut.cli import entries
from riskcut.mechanisms import catalogue
from riskcut.mechanisms.contract import Mechanism
from riskcut.study.errors import near_matches

WIDTH = 100


class UnknownNameError(Exception):
    """A name that neither a mechanism nor an entry of a study has."""

    exit_code = 2


def listing(*, as_json: bool) -> str:
    """Return the catalogue, a mechanism a paragraph."""
    if as_json:
        return json.dumps([_plain(m) for m in catalogue().values()], indent=2, ensure_ascii=False)
    lines = []
    for mechanism in catalogue().values():
        lines.append(f"{mechanism.name}: {mechanism.title.lower()}, in {mechanism.unit}")
        lines.append(textwrap.fill(mechanism.sentence, WIDTH, initial_indent="  ", subsequent_indent="  "))
    return "\n".join(
        [*lines, "", "riskcut explain NAME tells the formula, its range of use and its sources."]
    )


def explain(name: str, *, as_json: bool) -> str:
    """Return all that a mechanism says of itself, or what an entry of a study means.

    Raises
    ------
    UnknownNameError
        Where there is neither a mechanism nor an entry of that name.
    """
    known = catalogue()
    if name in known:
        return (
            json.dumps(_plain(known[name]), indent=2, ensure_ascii=False)
            if as_json
            else "\n".join(_text(known[name]))
        )
    path = entries.entry_at(name)
    if path is None:
        hint = near_matches(name, [*known, *entries.near(name)])
        wanted = f"a mechanism ({', '.join(known)}) or an address in a study (such as works.slab.thickness)"
        raise UnknownNameError(f"given {name!r}; wanted {wanted}{hint}")
    if as_json:
        return json.dumps(entries.content(path), indent=2, ensure_ascii=False)
    return entries.text(path)


def _text(mechanism: Mechanism) -> Iterator[str]:
    yield f"{mechanism.title} ({mechanism.name})"
    yield textwrap.fill(mechanism.sentence, WIDTH)
    yield ""
    yield f"It fails where R < S, both in {mechanism.unit}."
    yield textwrap.fill(mechanism.formula, WIDTH, initial_indent="  ", subsequent_indent="  ")
    yield ""
    width = max(len(symbol.symbol) for symbol in mechanism.symbols)
    for symbol in mechanism.symbols:
        yield f"  {symbol.symbol:<{width}}  {symbol.meaning}, {symbol.unit}"
    yield from _listed("Range of use", mechanism.range_of_use)
    yield from _listed(
        "Model factors (lognormal; a study may state its own under model_factors)", _factors(mechanism)
    )
    yield from _listed(f"Choices (in a study under models: {mechanism.name})", _options(mechanism))
    yield from _listed("Sources", mechanism.sources)
    yield from _listed("Not covered", mechanism.not_covered)


def _listed(heading: str, items: tuple[str, ...] | list[str]) -> Iterator[str]:
    yield ""
    yield f"{heading}:"
    for item in items or ["none"]:
        yield textwrap.fill(item, WIDTH, initial_indent="  - ", subsequent_indent="    ")


def _factors(mechanism: Mechanism) -> list[str]:
    return [
        f"{'every member' if member == '*' else member}: on {factor.term}; mean {factor.mean:g}, COV {factor.cov:g}"
        + (f", correlation {factor.correlation:g} between members" if factor.correlation else "")
        + f"; {factor.basis}: {factor.source}"
        for member, factor in mechanism.factors.items()
    ]


def _options(mechanism: Mechanism) -> list[str]:
    said = []
    for key, option in mechanism.options.items():
        if option.choices:
            range_of_it = f"one of {', '.join(option.choices)}"
        else:
            range_of_it = f"from {option.lowest:g} to {option.highest:g}"
        default = f"; {option.default} unless stated" if option.default is not None else ""
        said.append(f"{key}: {option.meaning}; {range_of_it}{default}")
    return said


def _plain(mechanism: Mechanism) -> dict[str, Any]:
    """Return a mechanism as plain data."""
    return {
        **{key: getattr(mechanism, key) for key in ("name", "title", "sentence", "unit", "formula")},
        "symbols": [asdict(symbol) for symbol in mechanism.symbols],
        **{key: list(getattr(mechanism, key)) for key in ("range_of_use", "sources", "not_covered")},
        "factors": {member: asdict(factor) for member, factor in mechanism.factors.items()},
        "options": {key: asdict(option) for key, option in mechanism.options.items()},
    }
