"""What the figure of the reliability indices by stage shows, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr
from scipy.special import ndtr

from riskcut.figures.choosing import SHOWN, names, worst_places
from riskcut.figures.labels import counted
from riskcut.figures.series import HIGHEST, SYSTEM, Series, all_series, targets
from riskcut.results.estimate import FIRST_ORDER_SAFETY
from riskcut.results.reading import estimate, stage_system, worst
from riskcut.results.status import Status
from riskcut.results.wording import in_words, limit_state_label, reliability_index


def describe(tree: xr.DataTree, sections: Sequence[str]) -> str:
    """Name the lowest index of each section, count what misses its target, and say how sure each is."""
    everything, stages = all_series(tree), names(tree, "stage")
    states = {series.name for section in sections for series in everything[section]} - {SYSTEM}
    parts = [
        f"Reliability index of {counted(len(states), 'limit state')} over {counted(len(stages), 'stage')}, "
        "with 95 % intervals."
    ]
    lowest = [f"{in_words(section)} {_lowest(tree, section)}" for section in sections]
    parts.append(f"Lowest that governs: {'; '.join(lowest)}.")
    if len(sections) == 1:
        parts.append(_lowest_system(tree, sections[0]))
    parts.append(_against_targets(tree, sections, everything))
    single = [series for section in sections for series in everything[section] if series.name != SYSTEM]
    kinds = []
    for many, words in (
        ([s.greater_than for s in single], "greater than a bound, no row failed (arrow up)"),
        ([s.less_than for s in single], "less than a bound, every row failed (arrow down)"),
        ([s.under(Status.FIRST_ORDER_ONLY) for s in single], "first order only (half filled)"),
        ([s.under(Status.UNTRUSTED) for s in single], "not to be trusted (hollow)"),
    ):
        count = sum(int(np.isfinite(numbers).sum()) for numbers in many)
        if count:
            kinds.append(f"{count:,} {words}")
    if kinds:
        parts.append(f"Drawn: {'; '.join(kinds)}.")
    over = sum(int((s.known > HIGHEST).sum()) for s in single)
    if over:
        parts.append(f"{over:,} above {HIGHEST:g}, where the axis may end.")
    return " ".join(part for part in parts if part)


def _against_targets(
    tree: xr.DataTree, sections: Sequence[str], everything: Mapping[str, Sequence[Series]]
) -> str:
    """Count the governing indices whose interval lies below the target, and about it; nothing without one."""
    short = about = compared = 0
    for section in sections:
        target = targets(tree, section)
        for series in everything[section]:
            if series.name == SYSTEM or not np.isfinite(target).any():
                continue
            shown = series.governing & np.isfinite(target) & np.isin(series.status, SHOWN)
            sure = np.isin(series.status, (Status.COMPUTED, Status.UPPER_BOUND_ONLY))
            below, above = sure & (series.upper < target), sure & (series.lower >= target)
            rare = series.status == Status.FIRST_ORDER_ONLY
            above |= rare & (FIRST_ORDER_SAFETY * ndtr(-series.index) <= ndtr(-target))
            compared += int(shown.sum())
            short += int((shown & below).sum())
            about += int((shown & ~below & ~above).sum())
    if not compared:
        return ""
    indices = counted(compared, "governing index", "governing indices")
    return f"Of {indices} with a target {short} {'falls' if short == 1 else 'fall'} short, {about} undecided."


def _lowest(tree: xr.DataTree, section: str) -> str:
    """Name the lowest index of a section, and how it stands to its target."""
    places = worst_places(tree, [section])
    if not places:
        return "nothing to fail"
    worst = estimate(tree, section, places[0].stage_name, places[0].limit_state_name)
    index = reliability_index(worst.reliability_index, *worst.index_bounds, status=worst.status)
    verdict = "no target" if worst.verdict == "no target" else f"{worst.verdict} (target {worst.target:.3g})"
    return f"{index}, {limit_state_label(worst.limit_state)}, at {in_words(worst.stage)}: {verdict}"


def _lowest_system(tree: xr.DataTree, section: str) -> str:
    """Name the lowest index of a stage as a system; nothing where no stage has one."""
    systems = [stage_system(tree, section, stage) for stage in names(tree, "stage")]
    lowest = worst([system for system in systems if system.status in SHOWN])
    if lowest is None:
        return ""
    said = reliability_index(lowest.reliability_index, *lowest.index_bounds, status=lowest.status)
    return f"Lowest stage as a system: {said}, {in_words(lowest.stage)}."
