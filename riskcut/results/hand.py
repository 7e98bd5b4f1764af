"""The hand-calculation sheet: one limit state number by number, at the means and at its design point.

From the results tree alone.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import xarray as xr

from riskcut.results import reading
from riskcut.results.errors import ResultsError
from riskcut.results.estimate import Estimate
from riskcut.results.stated_numbers import owed
from riskcut.results.status import Status
from riskcut.results.wording import CAUTION, factor_of_safety, limit_state_label

WIDTH = 100
SHOWN_NUMBERS = 5
"""Most stated numbers that a sheet names."""
LEAST_CHANGE = 0.005
"""Of the index, for a stated number to be named."""
_WHERE = ("section", "stage", "limit_state")


@dataclass(frozen=True, slots=True)
class Step:
    """One number of the sheet; NaN where it is not defined."""

    symbol: str
    meaning: str
    unit: str
    value: float
    """At the means."""
    at_design_point: float
    """At the nearest design point; NaN also where there is none."""


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
    there = np.full_like(values, np.nan)
    if "step_value_at_design_point" in group:
        there = group["step_value_at_design_point"].to_numpy()[chosen]
    return [
        Step(str(symbol), str(meaning), str(unit), float(value), float(at_design_point))
        for symbol, meaning, unit, value, at_design_point in zip(*texts, values, there, strict=True)
    ]


def sheet(tree: xr.DataTree, *, section: str, stage: str, limit_state: str) -> str:
    """Return the sheet of one limit state as text.

    Raises
    ------
    ResultsError
        Where it does not exist, or does not apply there.
    """
    found = steps(tree, section=section, stage=stage, limit_state=limit_state)
    of = reading.estimate(tree, section, stage, limit_state)
    point = _DesignPoint.of(tree, of)
    group, place = tree["hand"].to_dataset(), reading.labels(tree, "limit_state").index(limit_state)
    resistance, action = found[-2], found[-1]
    fails, safety = resistance.value < action.value, _safety(resistance.value, action.value)
    lines = [
        str(tree.attrs["title"]),
        f"{limit_state_label(limit_state)}, section {section}, stage {stage}",
        "",
        _told(str(group["formula"].to_numpy()[place])),
        "",
        *_table(found, with_point=point.exists),
        "",
        _told(f"In the system: {_in_system(tree, of)}."),
        f"{'R < S: it fails' if fails else 'R >= S: it stands'} at the means; factor of safety "
        f"{factor_of_safety(safety)}.",
        "The means are those of the inputs, not characteristic values.",
        _told(point.sentence(resistance, action)),
        *_owed(tree, of),
        "",
        *_range_of_use(group, of, place, with_point=point.exists),
        *(_told(source) for source in str(group["sources"].to_numpy()[place]).splitlines()),
        "",
        textwrap.fill(CAUTION, WIDTH),
    ]
    return "\n".join(line.rstrip() for line in lines)


@dataclass(frozen=True, slots=True)
class _DesignPoint:
    """What a sheet tells of the design point of its limit state."""

    exists: bool
    beta: float = math.nan
    points: int = 0
    residual: float = math.nan
    allowed: float = math.nan
    reason: str = ""
    """Why there is none, or why it is not to be trusted."""

    @classmethod
    def of(cls, tree: xr.DataTree, of: Estimate) -> _DesignPoint:
        """Return that of one limit state."""
        if "design_point" not in tree.children or "design_residual" not in tree["design_point"]:
            return cls(False, reason=f"none was looked for (method: {tree['reliability']['method'].item()})")
        where = [reading.labels(tree, dim).index(getattr(of, dim)) for dim in _WHERE]
        at = tree["design_point"].dataset.isel(dict(zip(_WHERE, where, strict=True)))
        points, reason = int(at["design_points"]), str(at["design_reason"].item())
        return cls(
            exists=points > 0,
            beta=float(at["first_order_reliability_index"]),
            points=points,
            residual=float(at["design_residual"]),
            allowed=float(at["design_residual_allowed"]),
            reason="" if int(at["design_status"]) == Status.COMPUTED else reason,
        )

    def sentence(self, resistance: Step, action: Step) -> str:
        """Tell where it is, and how well R and S agree there; or why there is none."""
        if not self.exists:
            return f"No numbers at a design point: {self.reason.rstrip('.')}."
        r, s = resistance.at_design_point, action.at_design_point
        nearest = f", the nearest of {self.points}" if self.points > 1 else ""
        unit = "" if resistance.unit == "1" else f" {resistance.unit}"
        doubt = f" It is not to be trusted: {self.reason}" if self.reason else ""
        return (
            f"The design point is the likeliest place of failure (beta {self.beta:.2f} to first order{nearest}). "
            f"R and S differ by {abs(r - s):.1e}{unit} there, {self.residual:.0e} standard deviations from equality; "
            f"the search allows {self.allowed:.0e}.{doubt}"
        )


def _table(found: list[Step], *, with_point: bool) -> Iterator[str]:
    """Yield a line for each number, and one for the factor of safety."""
    resistance, action = found[-2], found[-1]
    safety = Step(
        "R/S",
        "factor of safety",
        "1",
        _safety(resistance.value, action.value),
        _safety(resistance.at_design_point, action.at_design_point),
    )
    width = max(len(step.symbol) for step in found)
    yield f"  {'':<{width}}  {'means':>12}" + (f"  {'design point':>12}" if with_point else "")
    for step in (*found, safety):
        unit = "" if step.unit == "1" else step.unit
        there = f"  {_number(step.at_design_point):>12}" if with_point else ""
        yield f"  {step.symbol:<{width}}  {_number(step.value):>12}{there} {unit:<7} {step.meaning}"


def _range_of_use(group: xr.Dataset, of: Estimate, place: int, *, with_point: bool) -> Iterator[str]:
    """Yield the limits of a mechanism's range of use, and which of them are left."""
    if "range_of_use" not in group:
        return
    yield "Range of use:"
    for limit in str(group["range_of_use"].to_numpy()[place]).splitlines():
        yield textwrap.fill(limit, WIDTH, initial_indent="  ", subsequent_indent="    ")
    for where in ("means", "design point") if with_point else ("means",):
        name = f"range_left_at_{where.replace(' ', '_')}"
        left = str(
            group[name].sel(dict(zip(_WHERE, (of.section, of.stage, of.limit_state), strict=True))).item()
        )
        yield _told(
            f"  Left at the {where}: {'; '.join(left.splitlines()) or 'none that is checked by number'}."
        )
    yield ""


def _owed(tree: xr.DataTree, of: Estimate) -> list[str]:
    """Tell the few stated numbers that the index owes most to."""
    most = [one for one in owed(tree, of) if abs(one.change) >= LEAST_CHANGE][:SHOWN_NUMBERS]
    if not most:
        return []
    told = [f"  {one.words}" for one in most]
    return ["", "What beta owes to numbers stated without uncertainty (to first order):", *told]


def _in_system(tree: xr.DataTree, of: Estimate) -> str:
    note = reading.governing_note(tree, of)
    return ("yes" if reading.governs(tree, of) else "no") + (f"; {note}" if note else "")


def _safety(resistance: float, action: float) -> float:
    return resistance / action if action > 0 else math.nan if math.isnan(action) else math.inf


def _told(text: str) -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent="  ")


def worst_states(tree: xr.DataTree, named: str | None = None) -> list[tuple[str, str, str]]:
    """Return section, stage and name of each governing limit state at its worst, or of any that is named."""
    found = []
    for limit_state in reading.labels(tree, "limit_state") if named is None else [named]:
        rows = reading.estimates(tree, limit_state=limit_state)
        worst = reading.worst([row for row in rows if named is not None or reading.governs(tree, row)])
        if worst is not None:
            found.append((worst.section, worst.stage, limit_state))
    return found


def _number(value: float) -> str:
    if math.isnan(value):
        return "undefined"
    if math.isinf(value):
        return "without end"
    exponent = 0 if value == 0 else int(np.floor(np.log10(abs(value))))
    return f"{value:.4e}" if not -4 <= exponent < 8 else f"{value:,.{max(4 - exponent, 0)}f}"
