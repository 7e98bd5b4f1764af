"""The hand-calculation sheet: one limit state at the means, number by number, from the results tree alone."""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass

import numpy as np
import xarray as xr

from riskcut.results import reading
from riskcut.results.errors import ResultsError
from riskcut.results.wording import CAUTION, factor_of_safety, limit_state_label

WIDTH = 100


@dataclass(frozen=True, slots=True)
class Step:
    """One number of the sheet."""

    symbol: str
    meaning: str
    unit: str
    value: float


def steps(tree: xr.DataTree, *, section: str, stage: str, limit_state: str) -> list[Step]:
    """Return the numbers of one limit state in the order of the calculation; R and S are the last two.

    Raises
    ------
    ResultsError
        Where it does not exist, or does not apply there.
    """
    reading.estimate(tree, section, stage, limit_state)  # names what is misspelt
    group = tree["hand"].to_dataset()
    chosen = (
        (group["step_section"].to_numpy() == section)
        & (group["step_stage"].to_numpy() == stage)
        & (group["step_limit_state"].to_numpy() == limit_state)
    )
    if not chosen.any():
        raise ResultsError(f"{limit_state} does not apply in {section} at {stage}")
    texts = (group[f"step_{name}"].to_numpy()[chosen] for name in ("symbol", "meaning", "unit"))
    values = group["step_value"].to_numpy()[chosen]
    return [
        Step(str(symbol), str(meaning), str(unit), float(value))
        for symbol, meaning, unit, value in zip(*texts, values, strict=True)
    ]


def sheet(tree: xr.DataTree, *, section: str, stage: str, limit_state: str) -> str:
    """Return the sheet of one limit state as text.

    Raises
    ------
    ResultsError
        Where it does not exist, or does not apply there.
    """
    found = steps(tree, section=section, stage=stage, limit_state=limit_state)
    group, place = tree["hand"].to_dataset(), reading.labels(tree, "limit_state").index(limit_state)
    width = max(len(step.symbol) for step in found)
    resistance, action = found[-2].value, found[-1].value
    safety = resistance / action if action > 0 else math.inf
    lines = [
        str(tree.attrs["title"]),
        f"{limit_state_label(limit_state)}, section {section}, stage {stage}",
        "",
        textwrap.fill(str(group["formula"].to_numpy()[place]), WIDTH, subsequent_indent="  "),
        "",
        *(_line(step, width) for step in found),
        "",
        f"{'R < S: it fails' if resistance < action else 'R >= S: it stands'} at the means; factor of safety "
        f"{factor_of_safety(safety)}.",
        "Every number is at the means of the inputs, not at characteristic values.",
        "",
        *(
            textwrap.fill(s, WIDTH, subsequent_indent="  ")
            for s in str(group["sources"].to_numpy()[place]).splitlines()
        ),
        "",
        textwrap.fill(CAUTION, WIDTH),
    ]
    return "\n".join(line.rstrip() for line in lines)


def _line(step: Step, width: int) -> str:
    unit = "" if step.unit == "1" else step.unit
    return f"  {step.symbol:<{width}}  {_number(step.value):>12} {unit:<7} {step.meaning}"


def worst_states(tree: xr.DataTree) -> list[tuple[str, str, str]]:
    """Return section, stage and name of each governing limit state at its worst."""
    found = []
    for limit_state in reading.labels(tree, "limit_state"):
        governing = [e for e in reading.estimates(tree, limit_state=limit_state) if reading.governs(tree, e)]
        if (worst := reading.worst(governing)) is not None:
            found.append((worst.section, worst.stage, limit_state))
    return found


def _number(value: float) -> str:
    if math.isnan(value):
        return "undefined"
    if math.isinf(value):
        return "without end"
    exponent = 0 if value == 0 else int(np.floor(np.log10(abs(value))))
    return f"{value:.4e}" if not -4 <= exponent < 8 else f"{value:,.{max(4 - exponent, 0)}f}"
